"""forebay check"""

import click

from forebay.cli.options import (
    Progress,
    board_option,
    json_option,
    local_zone,
    print_json,
    rig_option,
    shelf_option,
    zone_option,
)
from forebay.cli.saying import say
from forebay.exits import Exit


@click.command("check")
@zone_option
@shelf_option
@rig_option
@board_option
@json_option
def command(zone, shelf_path, rig_path, board, as_json) -> None:
    """Say whether what was pulled is whole, and what is lost and why.

    Every CRC, number and total on the shelf is looked at; nothing is changed.
    It also says how many days the board still holds, so when to pull next.
    Exit code 0: sound; 3: incomplete, what is here is whole; 4: damaged.

    \b
    Example:
      forebay check --json > check.json
    """
    from forebay.described import described
    from forebay.shelf import Shelf
    from forebay.shelf.checking import Verdict, check
    from forebay.shelf.checking.text import document, lines
    from forebay.shelf.lives import choose

    progress = Progress("check", "segments")
    with Shelf(shelf_path, create=False) as shelf:
        rigs = described(shelf, rig_path)
        choose(shelf, rigs.rig_id, board)
        local = local_zone(zone, rigs.known)
        try:
            found = check(shelf, rigs.rig_id, progress)
        finally:
            progress.close()
    if as_json:
        print_json(document(found))
    else:
        say("\n".join(lines(found, local)))
    click.get_current_context().exit({
        Verdict.SOUND: Exit.DONE, Verdict.INCOMPLETE: Exit.INCOMPLETE,
        Verdict.DAMAGED: Exit.DAMAGED}[found.verdict])
