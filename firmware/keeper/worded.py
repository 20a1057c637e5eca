"""Joins the keeper's tables with their words, where somebody can read them.

On the board the words would take a third of its memory: MicroPython leaves
them alone, and the rows end before them.
"""

import sys

WORDS_AT_HAND = sys.implementation.name != "micropython"


def worded(name, rows) -> tuple:
    """Return rows with the words of `keeper.texts` behind, by the first column of each row."""
    if not WORDS_AT_HAND:
        return rows
    from keeper import texts
    words = getattr(texts, name)
    return tuple([row + words[row[0]] for row in rows])


def numbered(name, count) -> tuple:
    """Return `count` rows of words alone, by their number; on the board, empty rows."""
    if not WORDS_AT_HAND:
        return ((),) * count
    from keeper import texts
    words = getattr(texts, name)
    return tuple([words[number] for number in range(count)])
