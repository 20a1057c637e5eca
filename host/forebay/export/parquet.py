"""A folder of Parquet files, one for each rig and local day.

The folders carry the values (`rig=7/date=2026-03-01/rows.parquet`), so that an
engine for many files reads only the days that it is asked for.
"""

import sys
from pathlib import Path
from typing import Any

from forebay.export.aside import Aside, ExportError
from forebay.export.tables import Piece
from forebay.shelf.columns import NUMBER, TEXT, TIME, TRUTH, WHOLE, Column

COMPRESSION = "zstd"


def arrow() -> tuple[Any, Any]:
    """Return the two modules of pyarrow that are needed; ExportError if it is not installed."""
    try:
        import pyarrow
        import pyarrow.parquet
    except ImportError as error:
        raise ExportError("Parquet needs the package pyarrow: install it with"
                          f" {sys.executable} -m pip install pyarrow, or export to a name that"
                          " ends in .csv") from error
    return pyarrow, pyarrow.parquet


class ParquetFolder:
    """Takes pieces in order of time and writes each day to a file of its own."""

    def __init__(self, folder: Path, rig_id: int, name: str, columns: tuple[Column, ...],
                 aside: Aside):
        """Write files called `name` for the columns below a folder."""
        self._arrow, self._parquet = arrow()
        self.folder = folder / f"rig={rig_id}"
        self.name = name
        self.columns = columns
        self.aside = aside
        self.schema = _schema(self._arrow, columns)
        self._day = None
        self._writer = None
        other = next((path for path in folder.glob("rig=*/date=*/*.parquet")
                      if path.name != name), None)
        if other:
            raise ExportError(f"{folder} holds {other.name} of an other kind: give {name} a"
                              " folder of its own")

    def write(self, piece: Piece) -> None:
        """Add the lines of a piece."""
        if piece.day != self._day:
            self.close()
            place = self.folder / f"date={piece.day}" / self.name
            self._writer = self._parquet.ParquetWriter(
                str(self.aside.new(place)), self.schema, compression=COMPRESSION)
            self._day = piece.day
        arrays = [self._array(column, piece.values[column.name]) for column in self.columns]
        assert self._writer is not None
        self._writer.write_table(self._arrow.Table.from_arrays(arrays, schema=self.schema))

    def _array(self, column, values):
        # NaN is how the shelf says "not known"; Parquet has a null for that.
        return self._arrow.array(values, type=self.schema.field(column.name).type,
                                 from_pandas=True)

    def close(self) -> None:
        """End the file of the day."""
        if self._writer is not None:
            self._writer.close()
            self._writer = None


def _schema(arrow, columns):
    kinds = {TIME: arrow.timestamp("ms", tz="UTC"), NUMBER: arrow.float64(),
             WHOLE: arrow.int64(), TRUTH: arrow.bool_(), TEXT: arrow.string()}
    return arrow.schema([
        arrow.field(column.name, kinds[column.kind],
                    metadata={"unit": column.unit, "meaning": column.meaning})
        for column in columns])
