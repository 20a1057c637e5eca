"""forebay new"""

import difflib
import sys

import click

from forebay.cli.saying import folded, say
from forebay.errors import InputError
from forebay.rig import DEMOS
from forebay.rig.beginning.questions import QUESTIONS, completed_by
from forebay.rig.instruments import INSTRUMENTS

_NAMES = [one.name for one in INSTRUMENTS]


def _questions(command):
    """Add a flag for each question about the rig."""
    for one in reversed(QUESTIONS):
        command = click.option(one.flag, one.name, metavar="VALUE", help=one.help)(command)
    return command


@click.command("new")
@click.argument("name")
@click.option("--from", "source", metavar="RIG.toml", type=click.Path(dir_okay=False),
              help="Carry this rig over: its figures, marks and comments, with the flags on top.")
@click.option("--demo", type=click.Choice(DEMOS), help="Copy a packaged rig as it is.")
@_questions
@click.option("--with", "fit", metavar="INSTRUMENT", multiple=True, type=click.Choice(_NAMES),
              help="An instrument that is there, by its key of [sensors]; may be given again.")
@click.option("--without", "unfit", metavar="INSTRUMENT", multiple=True,
              type=click.Choice(_NAMES), help="One that is not; likewise.")
@click.option("--yes", is_flag=True, help="Ask nothing: what no flag says is assumed.")
@click.option("--out", metavar="FILE.toml", type=click.Path(dir_okay=False),
              help="The file; without it, the name with hyphens, in this folder.")
def command(name, source, demo, fit, unfit, yes, out, **given) -> None:
    """Begin a description of a rig of your own.

    NAME is what it is called; the board's identity follows from it. What no
    flag says is asked on a terminal; Enter takes what stands in brackets.
    Every figure that you do not state is scaled from a packaged rig with few
    instruments, stands in the file with the way to measure it, and is listed
    there in [assumed] until you take it out. Without a flag, a question or
    --from the file is a copy of that rig. Nothing is overwritten.

    \b
    Example:
      forebay new "north terrace"
      forebay new "drum" --tank "200 L" --head "5.5 m" --panel-power "50 W"
      forebay new "drum 2" --from drum.toml --with level
    """
    from forebay.rig import beginning

    stated = {one.name: one.read(given[one.name]) for one in QUESTIONS
              if given[one.name] is not None}
    asks = not (yes or demo or source) and sys.stdin.isatty()
    if demo and (source or stated or fit or unfit):
        raise InputError("--demo copies a packaged rig as it is: it goes without --from and"
                         " without flags about the rig")
    if source:
        begun = beginning.carried(name, source, stated, fit, unfit, out)
    elif demo or not (asks or stated or fit or unfit):
        begun = beginning.copied(name, demo or DEMOS[-1], out)
    else:
        if asks:
            stated = completed_by(_ask, stated)
            fit = fit or (() if unfit else _ask_fit(beginning.modest_fitted()))
        fitted = (beginning.modest_fitted() | set(fit)) - set(unfit)
        try:
            begun = beginning.fresh(name, stated, fitted, out)
        except InputError:
            if asks:
                _say_again(stated)
            raise
    _tell(begun)


def _ask(question, default):
    """Return what a person answers to a question [SI]; None = what stands in brackets."""
    def read(text):
        try:
            return question.read(text) if text.strip() else None
        except InputError as error:
            raise click.UsageError(str(error)) from None

    return click.prompt(f"{question.text} [{question.shown(default)}]", default="",
                        show_default=False, value_proc=read, err=True)


def _ask_fit(there):
    """Return the instruments that a person has beside those of the modest rig."""
    def read(text):
        names = [one.strip() for one in text.split(",") if one.strip()]
        for one in names:
            if one not in _NAMES:
                near = difflib.get_close_matches(one, _NAMES, 1) or [", ".join(_NAMES)]
                raise click.UsageError(f"{one!r}: no key of [sensors]; did you mean {near[0]}?")
        return names

    return click.prompt(f"Instruments beside {', '.join(sorted(there))}: their keys of [sensors],"
                        " with commas [none]", default="", show_default=False, value_proc=read,
                        err=True)


def _say_again(stated):
    """Say what was answered as flags, so that nobody has to type it anew."""
    flags = " ".join(f'{one.flag} "{one.shown(stated[one.name])}"' for one in QUESTIONS
                     if one.name in stated)
    say(f"your answers as flags, to change one: {flags}", err=True)


def _tell(begun):
    """Say what was written, how much of it is assumed, what is left to do."""
    say(f"written: {begun.path}")
    say(f"assumed: {len(begun.rig.assumed)} of its {len(begun.rig.figures)} figures, see [assumed]"
        " in it; host/docs/rig.md\nsays how each is found")
    say(f"next: forebay plan {begun.path}, then replace its figures by yours")
    if begun.left:
        say(f"With its instruments {begun.left} kinds of hazard are left to hardware or a person:"
            " the\nrehearsal's page says what remains for each.")
    for line in begun.doubts:
        say(folded(line), err=True)
