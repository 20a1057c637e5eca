"""forebay export"""

from pathlib import Path

import click

from forebay.cli.options import (
    Progress,
    board_option,
    json_option,
    local_zone,
    period_options,
    print_json,
    rig_option,
    shelf_option,
    zone_option,
)
from forebay.cli.saying import say


@click.command("export")
@click.option("--out", required=True, metavar="PATH",
              help="File for CSV (its name ends in .csv), else folder for Parquet.")
@click.option("--columns", metavar="A,B", help="Which columns, in this order; without it, all.")
@period_options
@click.option("--events", is_flag=True, help="Events instead of rows.")
@click.option("--whole", is_flag=True,
              help="Folder for `forebay compare`: rows, events, totals and the description.")
@click.option("--force", is_flag=True, help="Replace files that are there.")
@zone_option
@shelf_option
@rig_option
@board_option
@json_option
def command(out, columns, begin, end, day, events, whole, force, zone, shelf_path, rig_path, board,
            as_json) -> None:
    """Write rows or events for other programs, as CSV or Parquet.

    Times are UTC with the bound of what is known of them; quantities carry
    their SI unit in the column's name. Parquet lies in one folder for each
    rig and local day, rig=ID/date=DAY. Files appear whole or not at all.

    \b
    Example:
      forebay export --out rows.csv --date 2026-03-01
      forebay export --out store --columns utc,panel_V,panel_A
    """
    from forebay.described import described
    from forebay.export import Wish, export
    from forebay.many.store import put
    from forebay.shelf import Shelf
    from forebay.shelf.lives import at_once_said, choose

    progress = Progress("export", "segments")
    with Shelf(shelf_path, create=False) as shelf:
        rigs = described(shelf, rig_path)
        choose(shelf, rigs.rig_id, board)
        for line in at_once_said(shelf, rigs.rig_id):
            say(f"{line} The column life tells them apart, --board chooses one.", err=True)
        if whole:
            if columns or events or day:
                raise click.UsageError("--whole is all of them: give it without --columns,"
                                       " --events and --date")
            every = put(shelf, rigs, Path(out), local_zone(zone, rigs.known), force,
                        (begin, end), progress)
            progress.close()
            _say_whole(every, as_json)
            return
        wish = Wish(Path(out), local_zone(zone, rigs.known), columns, begin, end,
                    day, events, force)
        try:
            done = export(shelf, rigs.rig_id, wish, progress)
        finally:
            progress.close()
    if as_json:
        print_json(done.as_json())
    else:
        say("\n".join(done.summary()))


def _say_whole(every, as_json):
    """Tell of a store's parts."""
    if as_json:
        print_json({"parts": [one.as_json() for one in every]})
    else:
        say("\n".join(line for one in every for line in one.summary()))
