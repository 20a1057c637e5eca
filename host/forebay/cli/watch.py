"""forebay watch"""

import click

from forebay.cli.options import Quantity, json_option, line_rig_option, port_option


@click.command("watch")
@port_option
@click.option("--every", "every_s", type=Quantity("time", 0.2, 3600), metavar="TIME",
              help='Between two readings, such as "2 s"; without it, 1 s on a terminal, else'
              " 10 s.")
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
