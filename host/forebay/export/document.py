"""Writes host/docs/columns.md from the columns themselves.

Run `python -m forebay.export.document > host/docs/columns.md`.
"""

import click

from forebay.shelf.columns import EVENT_COLUMNS, ROW_COLUMNS, TOTAL_COLUMNS

HEAD = (
    "# Columns of an export\n\nWritten from `forebay.shelf.columns`; do not edit. CSV: times in"
    " ISO 8601, UTC; truth as 0 and 1; empty where nothing is known, where a reading could not"
    " be trusted, and where no instrument reads it: `absent` names the columns of that last"
    " kind. Parquet: the same names, a null in place of the empty; unit and meaning stand in"
    " each field's metadata; `rig` and `date` (the local day) come from the folders."
)


def text() -> str:
    """Return the page."""
    parts = [HEAD]
    for heading, columns in (("Rows", ROW_COLUMNS), ("Events", EVENT_COLUMNS),
                             ("Totals, as `--whole` writes them", TOTAL_COLUMNS)):
        lines = [f"| `{one.name}` | {one.unit} | {one.meaning} |" for one in columns]
        parts.append("\n".join([f"## {heading}\n", "| column | unit | meaning |", "|---|---|---|",
                                *lines]))
    return "\n\n".join(parts) + "\n"


if __name__ == "__main__":
    click.echo(text(), nl=False)
