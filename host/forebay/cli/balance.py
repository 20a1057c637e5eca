"""forebay balance"""

import click

from forebay.cli.options import (
    Progress,
    board_option,
    json_option,
    local_zone,
    period_options,
    print_json,
    print_json_list,
    rig_option,
    say_notes,
    shelf_option,
    zone_option,
)
from forebay.cli.saying import say

KINDS = ("day", "night", "month", "cycle")


@click.command("balance")
@click.option("--by", type=click.Choice(KINDS),
              help="Span by span instead of in one: local days or months, nights from dusk to"
              " dawn, or cycles, each from the begin of a filling to the next behind a light.")
@period_options
@zone_option
@shelf_option
@rig_option
@board_option
@json_option
def command(by, begin, end, day, zone, shelf_path, rig_path, board, as_json) -> None:
    """Say where the energy and the water went, with uncertainties.

    Energies and volumes come from the board's totals; every +- is two
    standard uncertainties, from the rig's stated meters. What no meter reads
    follows from a model of the rig where it can, and bears a mark, an m; what
    cannot be known is named.

    \b
    Example:
      forebay balance --json > balance.json
      forebay balance --date 2026-03-01
      forebay balance --by day --from 2026-03-01
    """
    from forebay.described import described
    from forebay.review import summary
    from forebay.review.alone import balance_said, reviewed
    from forebay.shelf import Shelf
    from forebay.shelf.lives import choose, refuse_at_once
    from forebay.shelf.local import maybe_iso, period_of

    with Shelf(shelf_path, create=False) as shelf:
        rigs = described(shelf, rig_path)
        choose(shelf, rigs.rig_id, board)
        refuse_at_once(shelf, rigs.rig_id)
        local = local_zone(zone, rigs.known)
        period = period_of(begin, end, day, local)
        if by:
            _span_by_span(shelf, rigs, local, by, period, as_json)
            return
        then = rigs.of(period)
        notes = [*rigs.notes, *then.said(local)]
        if as_json:
            found = balance_said(shelf, then.rig, rigs.rig_id, period)
            found.notes[:0] = notes
            print_json({**found.as_json(), "description_utc": maybe_iso(then.came_s)})
        else:
            review = reviewed(shelf, then.rig, rigs.rig_id, local, period, notes)
            say(summary(review, events=False), end="")


def _span_by_span(shelf, rigs, zone, by, period, as_json):
    """Print one line or document after the other, as they are worked out."""
    from forebay.balance.by import NIGHT, balances, how_told, no_span
    from forebay.review.spans import Read, lines
    from forebay.shelf.told import rehearsal_said

    found = (Read(*one, rigs.of(one[:2])) for one in _watched(
        balances(shelf, rigs.rig_of, rigs.rig_id, zone, by, period)))
    notes = [*rehearsal_said(shelf, rigs.rig_id), *rigs.notes, *rigs.said_of_parts(period, zone)]
    if by == NIGHT:
        notes.append(how_told(rigs.rig_of(period)))
    first = next(found, None)
    if first is None:
        raise no_span(shelf, rigs.rig_of(period), rigs.rig_id, zone, by, period)
    if as_json:
        head = {"rig_id": rigs.rig_id, "by": by, "zone": str(zone), "notes": notes}
        print_json_list(head, "spans", (one.as_json() for one in _again(first, found)))
        return
    say_notes(notes)
    for line in lines(_again(first, found), by, zone, rigs.newest.rig.name):
        say(line)


def _again(first, others):
    yield first
    yield from others


def _watched(found):
    """Yield what is found, and tell how far it is."""
    progress = Progress("balance", "spans")
    for count, one in enumerate(found, 1):
        progress(count, 0)
        yield one
    progress.close()
