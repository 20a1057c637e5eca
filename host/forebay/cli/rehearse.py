"""forebay rehearse"""

import json
import sys
import textwrap

import click

from forebay.cli.options import (
    Quantity,
    board_option,
    hours_bar,
    json_option,
    print_json,
    shelf_option,
    write_whole,
    zone_option,
)
from forebay.cli.saying import folded, say
from forebay.rig import DEMOS
from forebay.twin.faults import NAMES

TERMINAL_COLUMNS = 80
PORT_MOST = 65535
SERVED_AT = "10:00"  # the sun is up
LINE = "line"
# What belongs to a day that is played, by the command's names, as typed.
DAY_OPTIONS = {"demo": "demo", "sun": "sun", "date": "date", "assume_dark": "assume-dark",
               "station": "station", "faults": "fault", "presses": "press",
               "setpoint_W": "setpoint", "serve": "serve", "speed": "speed", "at": "at",
               "out": "out"}
_NAMES = textwrap.fill(", ".join(map(str, NAMES)), TERMINAL_COLUMNS - 4, break_on_hyphens=False)
EPILOG = f"\b\nFaults, each described in host/docs/faults.md:\n{_NAMES}"


class ServedAt(click.ParamType):
    """A TCP port of this computer [-], or LINE for the value that is left out."""

    name = "port"

    def convert(self, value, param, ctx):
        """Return LINE or the number of the port."""
        if value == LINE or isinstance(value, int):
            return value
        if not (value.isascii() and value.isdigit() and int(value) <= PORT_MOST):
            self.fail(f"{value!r}: must be a TCP port, 0 (any that is free) to {PORT_MOST}, or"
                      " left out; RIG.toml stands ahead of --serve", param, ctx)
        return int(value)


@click.command("rehearse", epilog=EPILOG)
@click.argument("rig_path", required=False, metavar="[RIG.toml]", type=click.Path(dir_okay=False))
@click.option("--demo", metavar="|".join(DEMOS),
              help=f"Without a RIG.toml: which packaged rig, {DEMOS[0]} with every instrument or"
                   f" {DEMOS[1]} with the fewest.")
@click.option("--sun", metavar="FILE|clear",
              help="Sun of a file (README names the kinds: EPW, TMY3, PVGIS, NSRDB, SURFRAD,"
                   " CSV and more), or a modelled clear day; without it, the demo's measured"
                   " day.")
@click.option("--date", metavar="LOCAL-DAY",
              help="Local day, YYYY-MM-DD, or MM-DD of the file's year.")
@click.option("--assume-dark", is_flag=True, help="Take daylight that the file lacks as dark.")
@click.option("--station", metavar="LAT,LON,HEIGHT",
              help="Where the sun was measured, in degrees (east positive) and m.")
@click.option("--fault", "faults", multiple=True, metavar="NAME@HH:MM",
              help="Bring on a fault at a local time; may be given again. Names are below.")
@click.option("--press", "presses", multiple=True, metavar="HH:MM",
              help="Press the rig's button at a local time; may be given again.")
@click.option("--setpoint", "setpoint_W", type=Quantity("power"), metavar="POWER",
              help='Lamp power of the night, such as "0.3 W".')
@click.option("--serve", metavar="[PORT]", is_flag=False, flag_value=LINE, type=ServedAt(),
              help="Serve the board, as if it were plugged in, till Ctrl-C: on a serial line of"
                   " its own, or at a TCP port of this computer.")
@click.option("--speed", type=click.FloatRange(0.1, 1000), metavar="N",
              help="With --serve: let its time run N times as fast.")
@click.option("--at", metavar="HH:MM",
              help="With --serve: the local time at which it begins to answer; without it,"
                   f" {SERVED_AT}.")
@click.option("--replay", metavar="SPAN",
              help="Put what a board recorded through the keeper again, under the settings of"
                   " RIG.toml or --set: last, a local day with its night, or FROM..TO.")
@click.option("--set", "pairs", multiple=True, metavar="KEY=VALUE",
              help="With --replay: a key of rig.toml to try; may be given again.")
@shelf_option
@zone_option
@board_option
@click.option("--python", default="auto", metavar="auto|here|PROGRAM",
              help="What the simulation runs under: auto takes pypy3 where it is found, here"
                   " is forebay's own Python; the results are the same to the last digit.")
@click.option("--out", metavar="DIR", help="New folder for all results; else rehearsal[-N].")
@json_option
@click.pass_context
def command(context, rig_path, demo, sun, date, assume_dark, station, faults, presses, setpoint_W,
            serve, speed, at, replay, pairs, shelf_path, zone, board, python, out,
            as_json) -> None:
    """Play a day and a night of a rig through, without hardware.

    The board's own program runs against a simulated rig under measured sun;
    its journal comes over a real local serial line, and is balanced and
    reviewed as from a roof. For rehearsal only.

    With --serve it goes on in real time instead, day after day, for `watch`,
    `dispatch`, `pull` and any Modbus client, with a key of its own. A fault's
    name typed meanwhile brings that fault on; what hands do is typed as well,
    such as `button 2 s` or `lift LSH-UP`: `help` lists it.

    \b
    Example:
      forebay rehearse
      forebay rehearse --demo orchard
      forebay rehearse --sun weather.epw --date 06-21
      forebay rehearse --fault upper-float-stuck@09:30 --out stuck
      forebay rehearse --serve
      forebay rehearse --serve 5020 --speed 60
      forebay rehearse --replay last --set motor.trip_temperature=50
    """
    from forebay.rehearse import plan

    if replay is not None:
        _no_others(context)
        _replay(replay, rig_path, pairs, shelf_path, zone, board, python, as_json)
        return
    if pairs or shelf_path or zone or board:
        raise click.UsageError("--set, --shelf, --zone and --board go with --replay")

    planned = plan(rig_path, demo=demo, sun=sun, date=date, assume_dark=assume_dark,
                   station=station, faults=faults, presses=presses, setpoint_W=setpoint_W, out=out)
    if serve is not None:
        _serve(planned, serve, speed or 1.0, at or SERVED_AT, python, as_json)
    elif speed or at:
        raise click.UsageError("--speed and --at go with --serve: a day that is only played"
                               " through goes as fast as it can")
    else:
        _play(planned, python, as_json)


def _no_others(context):
    """Refuse options of a day that is played beside those of one that is replayed."""
    others = [f"--{name}" for place, name in DAY_OPTIONS.items()
              if context.get_parameter_source(place) is click.core.ParameterSource.COMMANDLINE]
    if others:
        raise click.UsageError(f"{', '.join(others)}: not with --replay, which has its sun,"
                               " faults and wishes from the record")


def _replay(replay, rig_path, pairs, shelf_path, zone, board, python, as_json):
    """Replay a recorded span and show what it tells."""
    from forebay.cli.options import Progress, local_zone
    from forebay.described import described
    from forebay.replay.asked import period_of_span, replayed, span_on
    from forebay.replay.text import CAUTION, document, lines
    from forebay.replay.trying import with_set
    from forebay.rig import load
    from forebay.shelf import Shelf
    from forebay.shelf.lives import choose, refuse_at_once

    with Shelf(shelf_path, create=False) as shelf:
        rigs = described(shelf)
        choose(shelf, rigs.rig_id, board)
        refuse_at_once(shelf, rigs.rig_id)
        local = local_zone(zone, rigs.known)
        period = period_of_span(shelf, rigs, replay, local)
        then = rigs.of(period)
        notes = [*rigs.notes, *then.said(local)]
        tried = with_set(load(rig_path) if rig_path else then.rig, pairs)
        span = span_on(shelf, then.rig, rigs.rig_id, period, local)
    progress = Progress("replay", "h")
    outcome = replayed(span, tried, progress, python)
    progress.close()
    if as_json:
        print_json({**document(outcome), "assumed": notes})
        return
    say("\n".join([*notes, *lines(outcome, local)]))
    say(folded(CAUTION), err=True)


def _play(planned, python, as_json):
    """Play the day through and show what came of it."""
    from forebay.rehearse import rehearse
    from forebay.rehearse.report import CAUTION, closing_lines, document
    from forebay.rehearse.run import files
    from forebay.review import page, summary

    with hours_bar("rehearsal") as progress:
        run = rehearse(planned, progress, python=python)
    found = document(run)
    paths = files(planned)
    write_whole(paths["review"], page(run.review))
    write_whole(paths["report"], json.dumps(found, indent=2, allow_nan=False) + "\n")
    if as_json:
        print_json(found)
    else:
        say(summary(run.review), end="")
        say("\n".join(closing_lines(run)))
        say(folded(CAUTION), err=True)
    if run.interrupted:
        raise KeyboardInterrupt


def _serve(planned, serve, speed, at, python, as_json):
    """Serve the board until it is ended."""
    from forebay.rehearse.live import serve as serve_live
    from forebay.rehearse.options import moment
    from forebay.rehearse.report import CAUTION

    def begun(live):
        write_whole(live.report, json.dumps(live.as_json(), indent=2) + "\n")
        if as_json:
            print_json(live.as_json())
            sys.stdout.flush()
        else:
            say("\n".join(live.opening_lines()))
            say(folded(CAUTION), err=True)

    live = serve_live(planned, None if serve == LINE else serve, ahead_s=moment(at, planned),
                      speed=speed, python=python, begun=begun,
                      tell=_tell)
    say("\n".join(live.closing_lines()), err=True)


def _tell(text):
    say("\n".join(textwrap.wrap(text, TERMINAL_COLUMNS, subsequent_indent="  ",
                                break_on_hyphens=False)), err=True)
