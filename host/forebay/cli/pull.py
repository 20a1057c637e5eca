"""forebay pull"""

import click

from forebay.cli.options import Progress, json_option, line_rig_option, print_json, shelf_option


@click.command("pull")
@click.option(
    "--port",
    required=True,
    metavar="P",
    help="Serial port of the board (/dev/ttyACM0, COM3), or HOST:PORT.",
)
@line_rig_option
@shelf_option
@json_option
def command(port: str, shelf_path: str | None, as_json: bool) -> None:
    """Fetch what a board has recorded onto the shelf.

    Only what the shelf lacks is fetched, and a pull that was interrupted goes
    on where it stopped. The board keeps its journal.

    \b
    Example:
      forebay pull --port /dev/ttyACM0
    """
    from forebay.shelf import Shelf
    from forebay.wire import pull

    progress = Progress("pull", "bytes")
    with Shelf(shelf_path) as shelf:
        try:
            report = pull(port, shelf, progress)
        finally:
            progress.close()
    if as_json:
        print_json(report.as_json())
    else:
        click.echo("\n".join(report.lines()))
        click.echo(f"shelf: {shelf.path}", err=True)
