"""forebay watch"""

import click

from forebay.cli.options import json_option, line_rig_option


@click.command("watch")
@click.option("--port", metavar="P", help="Serial port of the board (/dev/ttyACM0, COM3), or"
              " HOST:PORT; without it, the one plugged in, or used last.")
@click.option("--every", "every_s", type=click.FloatRange(0.2, 3600), metavar="S",
              help="Seconds between two readings; without it, 1 on a terminal, else 10.")
@click.option("--once", is_flag=True, help="Show the board once and end.")
@click.option("--proved", metavar="YYYY-MM-DD", help="Note the day of this rig's proof test.")
@line_rig_option
@json_option
def command(port, every_s, once, proved, as_json) -> None:
    """Show a board's live values, state and events, until Ctrl-C.

    On a terminal it draws one page again and again; into a file or a pipe it
    writes a line a reading. It finds the board again after a restart.
    It only looks: what it shows protects nothing.

    \b
    Example:
      forebay watch
      forebay watch --port /dev/ttyACM0 --once
    """
    from forebay.watch.session import watch

    watch(port, every_s=every_s, once=once, as_json=as_json, proved=proved)
