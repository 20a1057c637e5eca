"""What is said on a terminal: no byte in it may steer the terminal.

Names and texts come from files, shelves and boards that others wrote.  Whatever
is no printable letter of them is shown as Python writes it: an escape as
`\\x1b`.
"""

import textwrap

import click

COLUMNS = 80


def printable(text: str, lines: bool = True) -> str:
    """Return a text with all that is not printable spelled out; lines: line ends stay."""
    return "".join(
        letter if letter.isprintable() or (lines and letter == "\n")
        else letter.encode("unicode_escape").decode() for letter in text)


def folded(text: str) -> str:
    """Return a text in lines of at most COLUMNS; a tag such as FI-UP stays whole."""
    return textwrap.fill(text, COLUMNS, break_on_hyphens=False)


def say(text: str, err: bool = False, end: str = "\n") -> None:
    """Print a text of any origin on stdout, or on stderr."""
    click.echo(printable(text) + end, nl=False, err=err)
