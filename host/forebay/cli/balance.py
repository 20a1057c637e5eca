"""forebay balance"""

import click

from forebay.cli.options import (
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


@click.command("balance")
@period_options
@zone_option
@shelf_option
@rig_option
@board_option
@json_option
def command(begin, end, day, zone, shelf_path, rig_path, board, as_json) -> None:
    """Say where the energy and the water went, with uncertainties.

    Energies and volumes come from the board's totals; every +- is two
    standard uncertainties, from the rig's stated meters. What no meter reads
    follows from a model of the rig where it can, and bears a mark, an m; what
    cannot be known is named.

    \b
    Example:
      forebay balance --json > balance.json
      forebay balance --date 2026-03-01
    """
    from forebay.review import review_of, summary
    from forebay.review.described import described_rig
    from forebay.shelf import Shelf
    from forebay.shelf.lives import choose, refuse_at_once
    from forebay.shelf.local import period_of

    with Shelf(shelf_path, create=False) as shelf:
        rig_id, rig, notes = described_rig(shelf, rig_path)
        choose(shelf, rig_id, board)
        refuse_at_once(shelf, rig_id)
        local = local_zone(zone, None if notes else rig)
        period = period_of(begin, end, day, local)
        review = review_of(shelf, rig, rig_id, local, period, notes)
    if as_json:
        print_json(review.balance.as_json())
    else:
        say(summary(review, events=False), end="")
