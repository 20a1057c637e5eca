"""forebay dispatch"""

import sys
from collections.abc import Callable
from datetime import datetime

import click

from forebay.cli.options import json_option, line_rig_option, port_option, print_json
from forebay.cli.saying import say


class Orders(click.Group):
    """A group that lists its orders as they are written here."""

    def list_commands(self, ctx) -> list[str]:
        """Return the names of the orders."""
        return list(self.commands)


@click.group("dispatch", cls=Orders)
def command() -> None:
    """Order a board: light, rest, pump, drain-down, reset, clock, prove.

    The board decides: protection stands above every order, and every hold
    ends by itself. Orders are signed with the key that was made when the
    board was flashed; what came of one is read back from the board.
    `forebay dispatch ORDER --help` says more.

    \b
    Example:
      forebay dispatch light "0.6 W" --for "4 h"
      forebay dispatch last --till 23:30
    """


def line_options(function: Callable) -> Callable:
    """Add --port, --rig and --json."""
    return port_option(line_rig_option(json_option(function)))


for_option = click.option("--for", "duration", required=True, metavar="TIME",
                          help='How long, such as "4 h" or "90 min"; at most 24 h. A number alone'
                          " is in s.")


def _do(port, as_json, make, before=None):
    """Open the line, carry out the wish that `make(wishes)` gives, tell what came of it."""
    from forebay import lastused
    from forebay.dispatch import wishes
    from forebay.wire import Board
    from forebay.wire.line import port_of_board

    wish = make(wishes)
    port = port_of_board(port)
    with Board(port) as board:
        if before is not None:
            before(wishes, board)
        report = wishes.carry_out(board, wish)
    lastused.note(port=port)
    if as_json:
        print_json(report.as_json())
    else:
        say("\n".join(report.lines()))


@command.command("light")
@click.argument("power")
@for_option
@line_options
def light(power, duration, port, as_json) -> None:
    """Hold a lamp power, day or night.

    POWER is such as "0.6 W" or "600 mW"; a number alone is in W. Below the least useful power the
    board refuses: a fixed nozzle gives few more hours, choose a shorter time.

    \b
    Example:
      forebay dispatch light "0.6 W" --for "4 h"
    """
    _do(port, as_json, lambda wishes: wishes.light(power, duration))


@command.command("brightness")
@click.argument("step", type=click.IntRange(1, 8))
@for_option
@line_options
def brightness(step, duration, port, as_json) -> None:
    """Hold a brightness step of the button.

    \b
    Example:
      forebay dispatch brightness 2 --for "3 h"
    """
    _do(port, as_json, lambda wishes: wishes.brightness(step, duration))


@command.command("last")
@click.option("--till", metavar="HH:MM", help="Time of the rig's zone; without it, dawn.")
@line_options
def last(till, port, as_json) -> None:
    """Make tonight's light last till dawn, or till a time.

    The board dims it as far as that buys time.

    \b
    Example:
      forebay dispatch last --till 23:30
    """
    from forebay.zones import now_at_rig

    _do(port, as_json, lambda wishes: wishes.last(till, now_at_rig()))


@command.command("rest")
@for_option
@line_options
def rest(duration, port, as_json) -> None:
    """Standstill: no light and no pump for so long.

    \b
    Example:
      forebay dispatch rest --for "12 h"
    """
    _do(port, as_json, lambda wishes: wishes.rest(duration))


@command.command("pump")
@click.argument("how", type=click.Choice(["allow", "forbid"]))
@click.option("--for", "duration", metavar="TIME",
              help='How long it is forbidden, such as "4 h"; without it, 24 h.')
@line_options
def pump(how, duration, port, as_json) -> None:
    """Allow the pump, or forbid it for a while.

    Allowed, it starts as soon as sun and tanks permit.

    \b
    Example:
      forebay dispatch pump forbid --for "6 h"
    """
    _do(port, as_json, lambda wishes: wishes.pump(how == "allow", duration))


@command.command("drain-down")
@click.option("--end", is_flag=True, help="End it.")
@click.option("--for", "duration", metavar="TIME",
              help='How long at most, such as "2 h"; without it, 24 h.')
@line_options
def drain_down(end, duration, port, as_json) -> None:
    """Empty pump, filter and pipes, against frost.

    The valve opens with the pump off, and the water runs out: see that it
    does no harm where it goes.

    \b
    Example:
      forebay dispatch drain-down --for "2 h"
    """
    _do(port, as_json, lambda wishes: wishes.drain_down(end, duration))


@command.command("maintenance")
@click.option("--stop", is_flag=True, help="End what runs; without it, the board refuses then.")
@click.option("--end", is_flag=True, help="The work is done.")
@line_options
def maintenance(stop, end, port, as_json) -> None:
    """Let everything stand for work on the rig.

    It does not make the rig safe to touch: open and lock the isolator, shut
    the hand valve. Local rules and licensed people come first.

    \b
    Example:
      forebay dispatch maintenance --stop
    """
    _do(port, as_json, lambda wishes: wishes.maintenance(end, stop))


@command.command("reset")
@click.option("--seen-on-site", is_flag=True, help="Somebody has seen the rig; do not ask.")
@line_options
def reset(seen_on_site, port, as_json) -> None:
    """Reset a lockout, once a person has seen why.

    Shows what locked out and what acted first, and asks. Over-full, a welded
    switch and overspeed are reset at the rig only, by its button.

    \b
    Example:
      forebay dispatch reset
    """
    def before(wishes, board):
        _, lines = wishes.lockout_of(board)
        say("\n".join(lines), err=True)
        if not seen_on_site:
            _ask()

    _do(port, as_json, lambda wishes: wishes.reset(), before)


def _ask():
    if not sys.stdin.isatty():
        raise click.UsageError("nobody can be asked here: say --seen-on-site if somebody has"
                               " seen the rig")
    click.confirm("Has somebody seen the rig, and mended the cause", abort=True, err=True)


@command.command("clock")
@line_options
def clock(port, as_json) -> None:
    """Set the board's clock to this computer's.

    \b
    Example:
      forebay dispatch clock
    """
    _do(port, as_json, lambda wishes: wishes.clock(datetime.now().astimezone()))


@command.command("release")
@line_options
def release(port, as_json) -> None:
    """End every hold: the rig's own rules again.

    \b
    Example:
      forebay dispatch release
    """
    _do(port, as_json, lambda wishes: wishes.release())


@command.command("prove")
@click.option("--sooner", "element", metavar="ELEMENT",
              help="Let this element act sooner for ten minutes; with --at.")
@click.option("--at", "limit", metavar="LIMIT", help='From where on, such as "30 degC".')
@click.option("--try-pump", is_flag=True, help="Try the pump now, whatever the sun says.")
@click.option("--blink", "times", type=click.IntRange(1, 20), metavar="TIMES",
              help="Blink the board's own light, 1 to 20 times.")
@click.option("--end", is_flag=True, help="Let everything act as it is set.")
@line_options
def prove(element, limit, try_pump, times, end, port, as_json) -> None:
    """Let an element act sooner, or try the pump, for a proof test.

    Never later: the board refuses what is not towards the safe side. What
    was lowered is restored after ten minutes, by --end, or by a restart.
    `forebay prove` orders all of it by itself.

    \b
    Example:
      forebay dispatch prove --sooner 26-MOT --at "30 degC"
      forebay dispatch prove --end
    """
    from forebay.dispatch import proofs

    asked = [element is not None, try_pump, times is not None, end]
    if sum(asked) != 1 or (element is None) != (limit is None):
        raise click.UsageError("say one of --sooner ELEMENT --at LIMIT, --try-pump, --blink,"
                               " --end")
    _do(port, as_json, lambda _: proofs.sooner(element, limit) if element else
        proofs.try_pump() if try_pump else proofs.blink(times) if times else proofs.end())


@command.command("access")
@click.option("--rig", "rig_path", metavar="RIG.toml", type=click.Path(dir_okay=False),
              help="Description of the rig; without it, the one used last.")
@json_option
def access(rig_path, as_json) -> None:
    """Show how to reach the wireless board's own access point.

    It opens for ten minutes when the rig's button is held for more than ten
    seconds. Not tried on a radio yet.

    \b
    Example:
      forebay dispatch access --rig rig.toml
    """
    from forebay import lastused
    from forebay.dispatch.access import access_of

    found = access_of(rig_path or lastused.rig())
    if as_json:
        print_json(found.as_json())
    else:
        say("\n".join(found.lines()))
