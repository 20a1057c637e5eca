"""forebay hardware"""

from pathlib import Path

import click

from forebay.cli.options import json_option, print_json
from forebay.cli.saying import say
from forebay.rig import DEMOS


@click.command("hardware")
@click.argument("rig_path", required=False, metavar="[RIG.toml]", type=click.Path(dir_okay=False))
@click.option("--demo", type=click.Choice(DEMOS),
              help=f"Without a RIG.toml: which packaged rig; without it, {DEMOS[0]}.")
@click.option("--out", metavar="DIR", type=click.Path(file_okay=False),
              help="Write the sheets into this folder.")
@json_option
def command(rig_path, demo, out, as_json) -> None:
    """Make the sheets from which a rig is built: parts, wiring, cables, heights.

    Of the rig's own circuit, with only the instruments that it has: every
    part with what it must stand, a drawing for each circuit, test points and
    what a meter reads there, the cores of each cable, the heights of the
    floats. The circuit is checked first: what a part would not stand is told,
    and the exit code is then 2. None of it has been built yet.

    \b
    Example:
      forebay hardware
      forebay hardware my-rig.toml --out my-sheets
      forebay hardware --demo orchard --out orchard-sheets
    """
    from forebay import rig
    from forebay.docs.sheets.rig import files, makers
    from forebay.hardware import report, writing
    from forebay.hardware.build import Build

    if rig_path and demo:
        raise click.UsageError("give a RIG.toml or --demo, not both")
    build = Build.of(rig.load(rig_path, demo or DEMOS[0]))
    if out:
        writing.write(files(build), build.name, Path(out))
    found = report.of(build, makers(build))
    if as_json:
        print_json(found.as_json())
    else:
        say("\n".join(found.lines()))
    if out:
        say(f"sheets: {out}", err=True)
    found.raise_if_wrong()
