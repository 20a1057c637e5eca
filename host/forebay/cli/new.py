"""forebay new"""

import click

from forebay.cli.saying import say
from forebay.rig import DEMOS


@click.command("new")
@click.argument("name")
@click.option("--demo", type=click.Choice(DEMOS), default=DEMOS[-1], show_default=True,
              help="Which packaged rig it begins from.")
@click.option("--out", metavar="FILE.toml", type=click.Path(dir_okay=False),
              help="The file; without it, the name with hyphens, in this folder.")
def command(name, demo, out) -> None:
    """Begin a description of a rig of your own, from a packaged one.

    NAME is what it is called; the board's identity follows from it. The file
    is a whole rig at once, with a comment on each part: replace each figure by
    what you measure, and say which instruments are fitted. Nothing is
    overwritten.

    \b
    Example:
      forebay new "north terrace"
    """
    from forebay.rig.beginning import begin

    path, left = begin(name, demo, out)
    say(f"written: {path}")
    say(f"next: replace its figures by yours, then forebay rehearse {path}")
    if left:
        say(f"With its instruments {left} kinds of hazard are left to hardware or a person: the"
            "\nrehearsal's page says what remains for each.")
