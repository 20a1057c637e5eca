"""forebay flash"""

import sys

import click

from forebay.cli.options import json_option, print_json, shelf_option
from forebay.cli.saying import say


@click.command("flash")
@click.argument("rig_path", required=False, metavar="[RIG.toml]", type=click.Path(dir_okay=False))
@click.option("--port", metavar="P", help="Serial port of the board; without it, the one that"
              " is plugged in.")
@click.option("--stop", is_flag=True, help="End what runs; without it, a running pump or light"
              " is left alone.")
@click.option("--no-pull", is_flag=True, help="Do not fetch the journal first.")
@click.option("--other-rig", is_flag=True, help="The board may have belonged to another rig.")
@click.option("--loader", is_flag=True, help="Replace a boot.py and main.py that no forebay"
              " wrote.")
@click.option("--wait", is_flag=True, help="Stay till the board has taken the new slot for good,"
              " 5 minutes.")
@click.option("--replaces", metavar="OLD-BOARD", help="The board is new, in the place of this one"
              " on the shelf (its number, or the begin or end of it): it gets the rig's key,"
              " the shelf's description unless one is named, and goes on from the totals.")
@click.option("--new-key", is_flag=True, help="Make a new key for the rig's orders; without it,"
              " the board gets the one there is.")
@click.option("--hazards-read", is_flag=True, help="You have read which hazards this rig's"
              " instruments leave to hardware or to a person; without it, it shows them and asks.")
@click.option("--interpreter", metavar="FILE.uf2", type=click.Path(dir_okay=False),
              help="MicroPython image for a board that has none yet.")
@shelf_option
@json_option
def command(rig_path, port, stop, no_pull, other_rig, loader, wait, replaces, new_key,
            hazards_read, interpreter, shelf_path, as_json) -> None:
    """Bring a board up to date with this forebay and a rig.

    The journal is pulled first; the running keeper is asked to make
    everything safe; only what differs is copied, into the slot that does not
    run. Cut off anywhere, the board has the old program with its settings or
    the new one with the new. The new one is on trial until it has run for five
    minutes. An older forebay's board is brought over as well.
    While it lasts nobody watches the rig: shut its hand valve before.
    A rig that lacks instruments leaves some hazards to its hardware alone, or
    to a person: they are shown first, and again whenever they change, and
    must be confirmed as read.

    \b
    Example:
      forebay flash rig.toml
      forebay flash rig.toml --port /dev/ttyACM0 --stop
      forebay flash --replaces e660583883123456
    """
    from forebay.flash.begin import flash_rig

    report = flash_rig(rig_path, port=port, stop=stop, pull=not no_pull, other_rig=other_rig,
                       renew_loader=loader, interpreter=interpreter, shelf_path=shelf_path,
                       ask=_ask if sys.stdin.isatty() else None, tell=_Stages(), wait=wait,
                       replaces=replaces, new_key=new_key, hazards_read=hazards_read,
                       confirm=_confirm)
    if as_json:
        print_json(report.as_json())
    else:
        say("\n".join(report.lines()))


def _ask(boards):
    """Let a person choose one of several boards."""
    for place, board in enumerate(boards, 1):
        say(f"{place}: {board.device} (USB number {board.serial_number})", err=True)
    chosen = click.prompt("which board", type=click.IntRange(1, len(boards)), err=True)
    return boards[chosen - 1].device


def _confirm(lines):
    """Show what is to be read; return whether a person says that it was, None = nobody is here."""
    if not sys.stdin.isatty():
        return None
    say("\n".join(lines), err=True)
    return click.prompt("type yes if you have read them", default="no", err=True) == "yes"


class _Stages:
    """Tells on stderr what is being done, a line a stage; how far, where a person watches."""

    def __init__(self):
        self.stage = ""
        self.shown = -1

    def __call__(self, stage, done, total):
        if stage != self.stage:
            self.stage, self.shown = stage, -1
            say(f"{stage} ...", err=True)
        share = 100 * done // total if total else 100
        if share > self.shown and total > 1 and sys.stderr.isatty():
            self.shown = share
            click.echo(f"  {share} %\r", nl=False, err=True)
