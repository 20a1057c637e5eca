"""A folder of Parquet files, one for each rig and local day, or local month.

The folders carry the values (`rig=7/date=2026-03-01/rows.parquet`), so that an
engine for many files reads only the days that it is asked for.  Of many rigs a file a
day is too small: there a month is one, and its lines tell their day.
"""

import sys
from pathlib import Path
from typing import Any

from forebay.export.aside import Aside, ExportError
from forebay.export.tables import NO_DAY, Piece
from forebay.shelf.columns import NUMBER, TEXT, TIME, TRUTH, WHOLE, Column

COMPRESSION = "zstd"
BY_DAY, BY_MONTH = "date", "month"
MONTH_LENGTH = len("2026-03")
DATE = Column(BY_DAY, "-", TEXT, 0, "local day; empty = not known",
              lambda table, times, absent: None)  # of the piece that its lines lie in


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
    """Takes pieces in order of time and writes each day or month to a file of its own."""

    def __init__(self, folder: Path, rig_id: int, name: str, columns: tuple[Column, ...],
                 aside: Aside, by: str = BY_DAY):
        """Write files called `name` for the columns below a folder; by: BY_DAY or BY_MONTH."""
        self._arrow, self._parquet = arrow()
        self.folder = folder / f"rig={rig_id}"
        self.name = name
        self.by = by
        self.columns = columns if by == BY_DAY else (DATE, *columns)
        self.aside = aside
        self.schema = _schema(self._arrow, self.columns)
        self._part = ""          # which day or month is held
        self._held: list[Any] = []
        other = next((path for path in folder.glob("rig=*/*=*/*.parquet")
                      if path.name != name), None)
        if other:
            raise ExportError(f"{folder} holds {other.name} of an other kind: give {name} a"
                              " folder of its own")

    def write(self, piece: Piece) -> None:
        """Add the lines of a piece."""
        part = piece.day
        if self.by == BY_MONTH and part != NO_DAY:
            part = part[:MONTH_LENGTH]
        if part != self._part:
            self.close()
            self._part = part
        day = None if piece.day == NO_DAY else piece.day
        arrays = [self._array(column, [day] * piece.lines if column is DATE
                              else piece.values[column.name]) for column in self.columns]
        self._held.append(self._arrow.Table.from_arrays(arrays, schema=self.schema))

    def _array(self, column, values):
        # NaN is how the shelf says "not known"; Parquet has a null for that.
        return self._arrow.array(values, type=self.schema.field(column.name).type,
                                 from_pandas=True)

    def close(self) -> None:
        """Write what is held, in one group of rows: a reader wants all of it or none."""
        if not self._held:
            return
        place = self.folder / f"{self.by}={self._part}" / self.name
        table = self._arrow.concat_tables(self._held)
        self._held = []
        self._parquet.write_table(table, str(self.aside.new(place)), compression=COMPRESSION,
                                  row_group_size=max(len(table), 1))


def _schema(arrow, columns):
    kinds = {TIME: arrow.timestamp("ms", tz="UTC"), NUMBER: arrow.float64(),
             WHOLE: arrow.int64(), TRUTH: arrow.bool_(), TEXT: arrow.string()}
    return arrow.schema([
        arrow.field(column.name, kinds[column.kind],
                    metadata={"unit": column.unit, "meaning": column.meaning})
        for column in columns])
