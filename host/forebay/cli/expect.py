"""forebay expect"""

import click

from forebay.cli.options import (
    Progress,
    board_option,
    hours_bar,
    json_option,
    local_zone,
    print_json,
    rig_option,
    say_notes,
    shelf_option,
    zone_option,
)
from forebay.cli.saying import say


@click.command("expect")
@click.option("--date", "day", metavar="LOCAL-DAY",
              help="The day, YYYY-MM-DD, with the night after it; without it, the last one.")
@click.option("--sun", "sun", metavar="FILE",
              help="File of measured sun; without it, the panel's own record.")
@click.option("--station", metavar="LAT,LON,HEIGHT", help="Where that file was measured.")
@click.option("--full", is_flag=True,
              help="Play the day through the whole simulated rig, scan by scan: some minutes.")
@click.option("--before", default=14, show_default=True, type=click.IntRange(0, 60),
              help="Days before it that make out what is usual for this rig.")
@zone_option
@shelf_option
@rig_option
@board_option
@json_option
def command(day, sun, station, full, before, zone, shelf_path, rig_path, board, as_json) -> None:
    """Say what a day should have given, beside what it gave.

    The described rig is put under the day's own sun, its own water and its
    own wishes for light. A figure is worse where chance, the meters and what
    is not known of the rig do not explain it; what cannot be told is said so.

    \b
    Example:
      forebay expect --date 2026-03-01
      forebay expect --sun roof.csv --full --json
    """
    from forebay.described import described
    from forebay.expected.shelved import Wish, judged_on
    from forebay.expected.text import lines
    from forebay.shelf import Shelf
    from forebay.shelf.lives import choose, refuse_at_once
    from forebay.shelf.told import rehearsal_said

    progress = Progress("days before", "days")
    with Shelf(shelf_path, create=False) as shelf:
        rigs = described(shelf, rig_path)
        choose(shelf, rigs.rig_id, board)
        refuse_at_once(shelf, rigs.rig_id)
        rehearsed = rehearsal_said(shelf, rigs.rig_id)
        local = local_zone(zone, rigs.known)
        with hours_bar("expect") as bar:
            found = judged_on(shelf, rigs, Wish(day, sun, station, full, before), local,
                              progress, bar)
        progress.close()
    if as_json:
        print_json({**found.as_json(), "rehearsed": rehearsed})
    else:
        say_notes(rehearsed)
        say("\n".join(lines(found, local)))
