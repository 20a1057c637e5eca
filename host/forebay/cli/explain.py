"""forebay explain"""

import click

from forebay.cli.options import check_page, json_option, print_json, units_option, write_whole
from forebay.cli.saying import say
from forebay.rig import DEMOS

PAGE = "explain.html"


@click.command("explain")
@click.argument("rig_path", required=False, metavar="[RIG.toml]", type=click.Path(dir_okay=False))
@click.option("--demo", type=click.Choice(DEMOS),
              help=f"Without a RIG.toml: which packaged rig; without it, {DEMOS[0]}.")
@click.option("--out", type=click.Path(dir_okay=False), metavar="FILE.html",
              help=f"Where to write the page; without it, {PAGE}.")
@units_option
@json_option
def command(rig_path, demo, out, system, as_json) -> None:
    """Show on one page what a rig does and why, from its own numbers.

    For whoever asks: a neighbour, a child of twelve, a building officer. The
    page prints on paper and needs no network: the rig drawn to scale, what
    is stored and for how long it lights, where water and energy go, what
    keeps it in bounds, and what can hurt someone. With --json the page is
    written only where --out names one.

    \b
    Example:
      forebay explain
      forebay explain my-rig.toml --out for-the-neighbours.html
      forebay explain my-rig.toml --units us
    """
    from forebay import explain, rig

    if rig_path and demo:
        raise click.UsageError("give a RIG.toml or --demo, not both")
    path = out or (None if as_json else PAGE)
    if path:
        check_page(path)
    facts = explain.facts_of(rig.load(rig_path, demo or DEMOS[0]))
    if path:
        write_whole(path, explain.page(facts, system))
    if as_json:
        print_json(explain.document(facts))
    else:
        say("\n".join(explain.lines(facts, system)))
    if path:
        say(f"page: {path}", err=True)
