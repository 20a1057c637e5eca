"""The table of rigs and days as a file: CSV or Parquet, whole or not at all."""

from pathlib import Path
from typing import Any

from forebay.export.aside import Aside
from forebay.export.parquet import arrow
from forebay.many.balancing import columns

CSV = ".csv"


def frame(rows: list[dict[str, Any]]) -> Any:
    """Return the rows as a pandas table with all its columns in order."""
    import pandas as pd

    return pd.DataFrame(rows, columns=columns())


def write(rows: list[dict[str, Any]], out: Path, force: bool = False) -> Path:
    """Write the rows, CSV where the name ends in .csv, else one Parquet file; return the place.

    Raises ExportError if it is there already, or cannot be written.
    """
    if out.suffix != CSV:
        arrow()
    table = frame(rows)
    with Aside(out.parent, force) as aside:
        place = aside.new(out)
        if out.suffix == CSV:
            table.to_csv(place, index=False)
        else:
            table.to_parquet(place, index=False)
        return aside.put_in_place()[0]
