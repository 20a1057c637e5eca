"""forebay check"""

import click

from forebay.cli.options import (
    Progress,
    json_option,
    local_zone,
    print_json,
    rig_option,
    shelf_option,
    zone_option,
)
from forebay.cli.saying import say


@click.command("check")
@zone_option
@shelf_option
@rig_option
@json_option
def command(zone, shelf_path, rig_path, as_json) -> None:
    """Say whether what was pulled is whole, and what is lost and why.

    Every CRC, number and total on the shelf is looked at; nothing is changed.
    It also says how many days the board still holds, so when to pull next.

    \b
    Example:
      forebay check --json > check.json
    """
    from forebay.review.described import described_rig
    from forebay.shelf import Shelf
    from forebay.shelf.checking import check
    from forebay.shelf.checking.text import document, lines

    progress = Progress("check", "segments")
    with Shelf(shelf_path, create=False) as shelf:
        rig_id, rig, assumed = described_rig(shelf, rig_path)
        local = local_zone(zone, None if assumed else rig)
        try:
            found = check(shelf, rig_id, progress)
        finally:
            progress.close()
    if as_json:
        print_json(document(found))
    else:
        say("\n".join(lines(found, local)))
