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
    from forebay.review import summary
    from forebay.review.alone import balance_said, reviewed
    from forebay.review.described import described_rig, of_then
    from forebay.shelf import Shelf
    from forebay.shelf.lives import choose, refuse_at_once
    from forebay.shelf.local import period_of

    with Shelf(shelf_path, create=False) as shelf:
        rig_id, rig, notes = described_rig(shelf, rig_path)
        choose(shelf, rig_id, board)
        refuse_at_once(shelf, rig_id)
        local = local_zone(zone, None if notes else rig)
        period = period_of(begin, end, day, local)
        if rig_path is None:
            rig, then = of_then(shelf, rig_id, rig, period)
            notes = [*notes, *then]
        if by:
            _span_by_span(shelf, rig, rig_id, local, by, period, notes, as_json)
        else:
            if as_json:
                print_json(balance_said(shelf, rig, rig_id, period).as_json())
            else:
                review = reviewed(shelf, rig, rig_id, local, period, notes)
                say(summary(review, events=False), end="")


def _span_by_span(shelf, rig, rig_id, zone, by, period, notes, as_json):
    """Print one line or document after the other, as they are worked out."""
    from forebay.balance.by import balances
    from forebay.review.spans import lines
    from forebay.shelf.local import maybe_iso
    from forebay.shelf.query import no_rows
    from forebay.shelf.told import rehearsal_said

    found = _watched(balances(shelf, rig, rig_id, zone, by, period))
    notes = [*rehearsal_said(shelf, rig_id), *notes]
    first = next(found, None)
    if first is None:
        raise no_rows(shelf, rig_id, zone)
    if as_json:
        print_json_list({"rig_id": rig_id, "by": by, "zone": str(zone), "notes": notes}, "spans", (
            {"begin_utc": maybe_iso(begin_s), "end_utc": maybe_iso(end_s),
             "balance": one.as_json()} for begin_s, end_s, one in _again(first, found)))
        return
    say_notes(notes)
    for line in lines(_again(first, found), by, zone, rig.rig.name):
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
