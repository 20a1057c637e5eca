"""forebay review"""

import click

from forebay.cli.options import (
    Progress,
    board_option,
    check_page,
    local_zone,
    period_options,
    rig_option,
    shelf_option,
    write_whole,
    zone_option,
)
from forebay.cli.saying import say


@click.command("review")
@period_options
@zone_option
@shelf_option
@rig_option
@board_option
@click.option(
    "--out",
    default="review.html",
    show_default=True,
    type=click.Path(dir_okay=False),
    metavar="FILE",
    help="Where to write the page.",
)
def command(begin, end, day, zone, shelf_path, rig_path, board, out) -> None:
    """Show the night on one page and in the terminal.

    What matters first stands first: whether the night was good, what is
    locked out, held off, open or unsure, and what to do. The page needs no
    network: plot, events, energy, trend, what the day should have given and
    what was assumed are all in the one file.

    \b
    Example:
      forebay review --out last-night.html
    """
    from forebay.described import described
    from forebay.review import page, review_of, summary, with_judgement
    from forebay.shelf import Shelf
    from forebay.shelf.lives import choose, refuse_at_once
    from forebay.shelf.local import period_of

    check_page(out)
    with Shelf(shelf_path, create=False) as shelf:
        rigs = described(shelf, rig_path)
        choose(shelf, rigs.rig_id, board)
        refuse_at_once(shelf, rigs.rig_id)
        local = local_zone(zone, rigs.known)
        period = period_of(begin, end, day, local)
        then = rigs.of(period)
        review = review_of(shelf, then.rig, rigs.rig_id, local, period,
                           [*rigs.notes, *then.said(local)])
        progress = Progress("trend", "days")
        try:
            review = with_judgement(review, shelf, rigs, progress)
        finally:
            progress.close()
    write_whole(out, page(review))
    say(summary(review), end="")
    say(f"page: {out}", err=True)
