"""forebay trend"""

import click

from forebay.cli.options import (
    Progress,
    board_option,
    json_option,
    local_zone,
    print_json,
    rig_option,
    say_notes,
    shelf_option,
    zone_option,
)
from forebay.cli.saying import say


@click.command("trend")
@click.option("--from", "begin", metavar="TIME", help="Local day or time from which on.")
@click.option("--to", "end", metavar="TIME", help="Local day or time before which.")
@click.option("--by", default="day", show_default=True, type=click.Choice(["day", "week"]),
              help="A value for each day, or for each seven days; where another description was"
                   " flashed the seven are cut.")
@zone_option
@shelf_option
@rig_option
@board_option
@json_option
def command(begin, end, by, zone, shelf_path, rig_path, board, as_json) -> None:
    """Say what has changed from day to day: how much, and since when.

    The figures are such that the weather falls out of them; the last year
    counts. Notes of yours (forebay note) at the day of a change are told
    beside it, and a cure is told from a drift.

    \b
    Example:
      forebay trend
      forebay trend --from 2026-03-01 --by week --json
    """
    from forebay.described import described
    from forebay.shelf import Shelf
    from forebay.shelf.lives import choose, refuse_at_once
    from forebay.shelf.local import period_of
    from forebay.shelf.told import rehearsal_said
    from forebay.trend import trend_on
    from forebay.trend.text import lines

    progress = Progress("trend", "days")
    with Shelf(shelf_path, create=False) as shelf:
        rigs = described(shelf, rig_path)
        choose(shelf, rigs.rig_id, board)
        refuse_at_once(shelf, rigs.rig_id)
        rehearsed = rehearsal_said(shelf, rigs.rig_id)
        period = period_of(begin, end, None, local_zone(zone, rigs.known))
        try:
            found = trend_on(shelf, rigs, period, by == "week", progress)
        finally:
            progress.close()
    if as_json:
        print_json({**found.as_json(), "assumed": rigs.notes, "rehearsed": rehearsed})
    else:
        say_notes([*rehearsed, *rigs.notes])
        say("\n".join(lines(found)))
