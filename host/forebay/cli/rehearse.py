"""forebay rehearse"""

import json
import textwrap

import click

from forebay.cli.options import Quantity, hours_bar, json_option, print_json, write_whole
from forebay.twin.faults import NAMES

TERMINAL_COLUMNS = 80
_NAMES = textwrap.fill(", ".join(map(str, NAMES)), TERMINAL_COLUMNS - 4, break_on_hyphens=False)
EPILOG = f"\b\nFaults, each described in docs/faults.md:\n{_NAMES}"


@click.command("rehearse", epilog=EPILOG)
@click.argument("rig_path", required=False, metavar="[RIG.toml]", type=click.Path(dir_okay=False))
@click.option("--sun", metavar="FILE|clear",
              help="Measured day (SURFRAD daily file or CSV), or a modelled clear day;"
                   " without it, the demo's measured day.")
@click.option("--date", metavar="LOCAL-DAY", help="Local day, YYYY-MM-DD.")
@click.option("--assume-dark", is_flag=True, help="Take daylight that the file lacks as dark.")
@click.option("--station", metavar="LAT,LON,HEIGHT",
              help="Where the sun was measured, in degrees (east positive) and m.")
@click.option("--fault", "faults", multiple=True, metavar="NAME@HH:MM",
              help="Bring on a fault at a local time; may be given again. Names are below.")
@click.option("--setpoint", "setpoint_W", type=Quantity("power"), metavar="POWER",
              help='Lamp power of the night, such as "0.3 W".')
@click.option("--python", default="auto", metavar="auto|here|PROGRAM",
              help="What the simulation runs under: auto takes pypy3 where it is found, here"
                   " is forebay's own Python; the results are the same to the last digit.")
@click.option("--out", metavar="DIR", help="New folder for all results; else rehearsal[-N].")
@json_option
def command(rig_path, sun, date, assume_dark, station, faults, setpoint_W, python, out,
            as_json) -> None:
    """Play a day and a night of a rig through, without hardware.

    The board's own program runs against a simulated rig under measured sun;
    its journal comes over a real local serial line, and is balanced and
    reviewed as from a roof. For rehearsal only.

    \b
    Example:
      forebay rehearse
      forebay rehearse --fault upper-float-stuck@09:30 --out stuck
    """
    from forebay.rehearse import plan, rehearse
    from forebay.rehearse.report import CAUTION, closing_lines, document
    from forebay.rehearse.run import files
    from forebay.review import page, summary

    planned = plan(rig_path, sun=sun, date=date, assume_dark=assume_dark, station=station,
                   faults=faults, setpoint_W=setpoint_W, out=out)
    with hours_bar("rehearsal") as progress:
        run = rehearse(planned, progress, python=python)
    found = document(run)
    paths = files(planned)
    write_whole(paths["review"], page(run.review))
    write_whole(paths["report"], json.dumps(found, indent=2, allow_nan=False) + "\n")
    if as_json:
        print_json(found)
    else:
        click.echo(summary(run.review), nl=False)
        click.echo("\n".join(closing_lines(run)))
        click.echo(click.wrap_text(CAUTION, TERMINAL_COLUMNS), err=True)
    if run.interrupted:
        raise KeyboardInterrupt
