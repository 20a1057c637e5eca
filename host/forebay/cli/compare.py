"""forebay compare"""

from pathlib import Path

import click

from forebay.cli.options import (
    Progress,
    check_page,
    json_option,
    print_json,
    refuse_taken,
    write_whole,
)
from forebay.cli.saying import say


@click.command("compare")
@click.argument("store", type=click.Path(file_okay=False))
@click.option("--table", metavar="PATH",
              help="Also write one row a rig and day: CSV if it ends in .csv, else Parquet.")
@click.option("--out", type=click.Path(dir_okay=False), metavar="FILE.html",
              help="Also write a page of the rigs, with a drawing of each figure.")
@click.option("--workers", default=1, show_default=True, type=click.IntRange(1, 256),
              help="Processes of this computer that share the work.")
@click.option("--scheduler", metavar="ADDRESS",
              help="A running scheduler of Dask instead, such as tcp://host:8786.")
@click.option("--force", is_flag=True, help="Replace a table and a page that are there.")
@json_option
def command(store, table, out, workers, scheduler, force, as_json) -> None:
    """Put many rigs side by side: the balance of each rig and day.

    STORE is a folder that `forebay export --whole` filled, rig after rig.
    The work is spread over processes, or over a scheduler of Dask whose
    workers see the same folder. It needs the packages dask, distributed and
    pyarrow, which are put into the environment once.

    \b
    Example:
      forebay export --whole --out store
      forebay compare store --out rigs.html
      forebay compare store --table days.csv --workers 2
    """
    from forebay.many.page import lines_of, page, text
    from forebay.many.spreading import balanced
    from forebay.many.written import frame, write

    for place in (table, out):
        if place:
            refuse_taken(place, force)
    if out:
        check_page(out)
    progress = Progress("compare", "months of rigs")
    try:
        rows = balanced(Path(store), workers, scheduler, progress)
    finally:
        progress.close()
    if table:
        write(rows, Path(table), force)
    rigs = lines_of(frame(rows))
    if out:
        write_whole(out, page(rigs))
    if as_json:
        from forebay.many.document import as_document

        print_json(as_document(rigs))
    else:
        say("\n".join(text(rigs)))
    for kind, place in (("table", table), ("page", out)):
        if place:
            say(f"{kind}: {place}", err=True)
