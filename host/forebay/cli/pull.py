"""forebay pull"""

import click

from forebay.cli.options import (
    Progress,
    json_option,
    line_rig_option,
    port_option,
    print_json,
    shelf_option,
)
from forebay.cli.saying import say


@click.command("pull")
@port_option
@line_rig_option
@shelf_option
@json_option
def command(port: str | None, shelf_path: str | None, as_json: bool) -> None:
    """Fetch what a board has recorded onto the shelf.

    Only what the shelf lacks is fetched, and a pull that was interrupted goes
    on where it stopped. The board keeps its journal.

    \b
    Example:
      forebay pull
      forebay pull --port /dev/ttyACM0
    """
    from forebay import lastused
    from forebay.shelf import Shelf
    from forebay.wire import pull
    from forebay.wire.line import port_of_board

    port = port_of_board(port)
    progress = Progress("pull", "bytes")
    with Shelf(shelf_path) as shelf:
        try:
            report = pull(port, shelf, progress)
        finally:
            progress.close()
        _mark_rehearsed(shelf, report.rig_id)
    lastused.note(port=port)
    if as_json:
        print_json(report.as_json())
    else:
        say("\n".join(report.lines()))
        say(f"shelf: {shelf.path}", err=True)


def _mark_rehearsed(shelf, rig_id):
    """Let the shelf know where the rig is one that `rehearse --serve` made up."""
    from forebay import lastused
    from forebay.shelf.told import rehearsed_of

    text = lastused.rehearsed(rig_id)
    if text is None:
        return
    try:
        shelf.note_rehearsal(rig_id, rehearsed_of(text))
    except ValueError as error:
        say("This rig is rehearsed, and what was kept of the rehearsal cannot be read"
            f" ({error}): the shelf does not say so.", err=True)
