"""forebay plan"""

import click

from forebay.cli.options import check_page, json_option, print_json, units_option, write_whole
from forebay.cli.saying import say
from forebay.rig import DEMOS

LEAST_CLEARNESS, MOST_CLEARNESS = 0.15, 0.7


@click.command("plan")
@click.argument("rig_path", required=False, metavar="[RIG.toml]", type=click.Path(dir_okay=False))
@click.option("--demo", type=click.Choice(DEMOS),
              help=f"Without a RIG.toml: which packaged rig; without it, {DEMOS[0]}.")
@click.option("--check", is_flag=True, help="Only say whether the file is sound, and end.")
@click.option("--for", "wished", metavar='"3 h at 0.6 W, 9 nights of 10"',
              help="Say what tank, nozzle, pump and panel it takes.")
@click.option("--sun", metavar="FILE", type=click.Path(dir_okay=False),
              help="A year, or some days, of sun to average over; without it, modelled days.")
@click.option("--station", metavar="LAT,LON,HEIGHT",
              help="Where that sun was measured, in degrees (east positive) and m.")
@click.option("--clearness", type=click.FloatRange(LEAST_CLEARNESS, MOST_CLEARNESS), default=0.5,
              show_default=True, help="Of the modelled year: the mean share of the light above"
              " the air that comes down.")
@click.option("--compare", metavar="OTHER.toml", type=click.Path(dir_okay=False),
              help="Show another rig beside it.")
@click.option("--sweep", metavar="KEY=FROM..TO", help="Let one figure go over a range.")
@click.option("--write", metavar="FILE.toml", type=click.Path(dir_okay=False),
              help="With --for: write the rig that it takes, as a description to go on with.")
@click.option("--out", metavar="FILE.html", type=click.Path(dir_okay=False),
              help="Write the plan as a page, too.")
@units_option
@json_option
def command(rig_path, demo, check, wished, sun, station, clearness, compare, sweep, write, out,
            system, as_json) -> None:
    """Say what a rig can do, what limits it, what a change would gain.

    From its description alone, in a second or two: the store and what carries
    it, filling by month and sky, light and nozzle, the board's supply, where
    floats are mounted. Every figure that matters has its uncertainty; nothing
    here says that a support is safe.

    \b
    Example:
      forebay plan my-rig.toml
      forebay plan my-rig.toml --for "3 h at 0.6 W, 9 nights of 10"
      forebay plan my-rig.toml --sweep "turbine.nozzle_diameter=1.5 mm..3 mm"
      forebay plan my-rig.toml --check
    """
    if rig_path and demo:
        raise click.UsageError("give a RIG.toml or --demo, not both")
    if write and not wished:
        raise click.UsageError("--write goes with --for: it writes the rig that the wish takes")
    if check:
        _check(rig_path, demo, as_json)
        return
    from forebay import rig
    from forebay.plan import answering, document, text

    if out:
        check_page(out)
    found = answering.answer(rig.load(rig_path, demo or DEMOS[0]), answering.Asked(
        wished, sun, station, clearness, compare, sweep))
    if write:
        _write(write, found)
    if out:
        from forebay.plan.page import page

        write_whole(out, page(found, system))
    if as_json:
        print_json(document.document(found))
    else:
        say("\n".join(text.lines(found, system)))
    if out:
        say(f"page: {out}", err=True)


def _write(path, found):
    """Write the rig that was proposed; nothing is overwritten."""
    from pathlib import Path

    from forebay.errors import InputError
    from forebay.plan import sizing
    from forebay.rig import beginning

    if found.proposal is None:
        raise InputError(f"{path} is not written: nothing keeps that wish; plan says why without"
                         " --write")
    beginning.save(Path(path), sizing.described(found.rig, found.proposal), "--write")


def _check(rig_path, demo, as_json):
    """Say whether a description is sound, with all its faults at once."""
    from forebay.rig import RigError, checking

    found = checking.check(rig_path, demo or DEMOS[0])
    if as_json:
        print_json(found.as_json())
    elif found.rig:
        say("\n".join(found.lines()))
    if found.faults:
        raise RigError(found.faults)
