"""One CSV file: a line of names, then one line a row or event.

RFC 4180 with line feeds; numbers with a point, times in ISO 8601 UTC, truth
as 0 and 1, empty where nothing is known.
"""

from pathlib import Path

import numpy as np
import pandas as pd

from forebay.export.aside import Aside
from forebay.export.tables import Piece
from forebay.shelf.columns import TIME, TRUTH, Column


class CsvFile:
    """Takes pieces and writes them to one file."""

    def __init__(self, place: Path, columns: tuple[Column, ...], aside: Aside):
        self.columns = columns
        self._file = open(aside.new(place), "w", encoding="utf-8", newline="")
        self._file.write(",".join(column.name for column in columns) + "\n")

    def write(self, piece: Piece) -> None:
        """Add the lines of a piece."""
        texts = {column.name: _texts(column, piece.values[column.name])
                 for column in self.columns}
        pd.DataFrame(texts).to_csv(self._file, header=False, index=False, lineterminator="\n")

    def close(self) -> None:
        """End the file."""
        self._file.close()


def _texts(column, values):
    if column.kind == TIME:
        texts = np.char.add(np.datetime_as_string(values), "Z")
        return np.where(np.isnat(values), "", texts)
    if column.kind == TRUTH:
        if values.dtype == bool:
            return values.astype(np.uint8)
        # Of objects only where some are not known.
        return np.array(["" if value is None else int(value) for value in values], object)
    return values
