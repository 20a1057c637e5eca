"""One CSV file: a line of names, then one line a row or event.

RFC 4180 with line feeds; numbers with a point, times in ISO 8601 UTC, truth
as 0 and 1, empty where nothing is known.

A field is turned into text once for each value that it takes in a piece; the lines are
put together as one table of bytes, of which the unused places are left out.
"""

import csv
import io
from pathlib import Path

import numpy as np
import pandas as pd

from forebay.export.aside import Aside
from forebay.export.tables import Piece
from forebay.shelf.columns import NUMBER, TEXT, TIME, TRUTH, WHOLE, Column

# For an empty field that is the whole line: else a reader passes an empty line by.
ALONE = b'""'


class CsvFile:
    """Takes pieces and writes them to one file."""

    def __init__(self, place: Path, columns: tuple[Column, ...], aside: Aside):
        self.columns = columns
        self._file = open(aside.new(place), "wb")
        self._file.write(",".join(column.name for column in columns).encode() + b"\n")

    def write(self, piece: Piece) -> None:
        """Add the lines of a piece."""
        texts = [_texts(column, piece.values[column.name]) for column in self.columns]
        if len(texts) == 1:
            texts = [np.where(texts[0] == b"", ALONE, texts[0])]
        self._file.write(_lines(texts))

    def close(self) -> None:
        """End the file."""
        self._file.close()


def _lines(texts):
    """Return the lines of columns of texts, each an array of bytes padded with NUL."""
    widths = [text.dtype.itemsize + 1 for text in texts]
    table = np.zeros((len(texts[0]), sum(widths)), np.uint8)
    at = 0
    for text, width in zip(texts, widths, strict=True):
        table[:, at:at + width - 1] = text.view(np.uint8).reshape(len(text), width - 1)
        table[:, at + width - 1] = ord(",")
        at += width
    table[:, -1] = ord("\n")
    return table[table != 0].tobytes()


def _texts(column, values):
    """Return a column as texts [bytes], b"" where nothing is known."""
    if column.kind == TIME:
        texts = np.datetime_as_string(values).astype("S")
        return np.where(np.isnat(values), b"", np.char.add(texts, b"Z"))
    places, known = pd.factorize(values)
    texts = [SAID[column.kind](value) for value in known.tolist()]
    # Place -1, the last one: not known.
    return np.array([*texts, b""])[places]


def _quoted(text):
    """Return a text as RFC 4180 has it: in quotes where it holds what parts fields."""
    out = io.StringIO()
    csv.writer(out, lineterminator="").writerow([text, 0])
    return out.getvalue().removesuffix(",0").encode()


# What a value of each kind is written as.
SAID = {
    NUMBER: lambda value: repr(value).encode(),
    WHOLE: lambda value: str(value).encode(),
    TRUTH: lambda value: b"1" if value else b"0",
    TEXT: _quoted,
}
