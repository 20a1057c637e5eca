"""The `forebay` command: one group, each command in a file of its own.

A command's file is loaded when that command is asked for, so that help and
completion start as fast as click itself.  `main` is the only place that turns
errors into exit codes; they are listed in `forebay.exits`.
"""

import importlib
import importlib.util
import os
import signal
import sys

import click

from forebay import __version__
from forebay.cli.saying import printable
from forebay.errors import InputError
from forebay.exits import Exit

TOLD_MOST = 1000  # letters of a message

# name, what it does: the first line of its help.
COMMANDS = {
    "new": "Begin a description of a rig of your own.",
    "plan": "Say what a rig can do, what limits it, what a change would gain.",
    "hardware": "Make the sheets from which a rig is built: parts, wiring, cables, heights.",
    "explain": "Show on one page what a rig does and why, from its own numbers.",
    "rehearse": "Play a day and a night of a rig through, without hardware.",
    "dispatch": "Order a board: light, rest, pump, drain-down, reset, clock, prove.",
    "prove": "Prove a rig step by step: floats, sensors, stop, valve, pump, lamps.",
    "flash": "Bring a board up to date with this forebay and a rig.",
    "calibrate": "Measure figures of a rig at the rig, and write them down.",
    "watch": "Show a board's live values, state and events, until Ctrl-C.",
    "pull": "Fetch what a board has recorded onto the shelf.",
    "balance": "Say where the energy and the water went, with uncertainties.",
    "review": "Show the night on one page and in the terminal.",
    "expect": "Say what a day should have given, beside what it gave.",
    "trend": "Say what has changed from day to day: how much, and since when.",
    "note": "Keep what you did or saw at the rig, or list what was kept.",
    "check": "Say whether what was pulled is whole, and what is lost and why.",
    "compare": "Put many rigs side by side: the balance of each rig and day.",
    "export": "Write rows or events for other programs, as CSV or Parquet.",
}


class LazyGroup(click.Group):
    """A group whose commands are imported when they are needed."""

    def list_commands(self, ctx) -> list[str]:
        """Return the names of the commands that are installed."""
        return [name for name in COMMANDS if importlib.util.find_spec(_module(name))]

    def get_command(self, ctx, cmd_name: str) -> click.Command | None:
        """Return a command by name, None if there is none."""
        if cmd_name not in COMMANDS or importlib.util.find_spec(_module(cmd_name)) is None:
            return None
        return importlib.import_module(_module(cmd_name)).command

    def format_commands(self, ctx, formatter) -> None:
        """Write the list of commands without loading any of them."""
        with formatter.section("Commands"):
            formatter.write_dl([(name, COMMANDS[name]) for name in self.list_commands(ctx)])


def _module(name):
    return f"{__name__}.{name}"


@click.group(cls=LazyGroup, context_settings={"max_content_width": 80})
@click.version_option(__version__, message="forebay %(version)s")
@click.option("--traceback", is_flag=True, help="Show where an unexpected fault happened.")
def group(traceback: bool) -> None:
    """Companion of a small pumped-water energy store.

    Hobby-grade, not a safety-rated system: nothing here protects the rig.

    \b
    Example:
      forebay pull --port /dev/ttyACM0
      forebay review
    """


def main(arguments: list[str] | None = None) -> None:
    """Run the command line and leave with a code of `forebay.exits`."""
    arguments = sys.argv[1:] if arguments is None else arguments
    _unwind_when_told_to_end()
    _sums_on_one_core()
    sys.exit(int(run(arguments)))


def _unwind_when_told_to_end():
    """Let what is half done be cleared away when this program is told to end from outside."""
    for name, code in (("SIGHUP", Exit.HUNG_UP), ("SIGTERM", Exit.TERMINATED)):
        number = getattr(signal, name, None)
        # Who ignores it (nohup) goes on ignoring it.
        if number is not None and signal.getsignal(number) == signal.SIG_DFL:
            signal.signal(number, lambda *_, code=code: sys.exit(int(code)))


def _sums_on_one_core():
    """Keep numpy's linear algebra, which reads this as it is loaded, from sharing work out.

    No matrix here is large: threads that wait for their share of one take six times the
    processor's time of the search for a fault, and make it no faster.
    """
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")


def run(arguments: list[str]) -> Exit:
    """Run the command line and return how it ended; every message is on stderr."""
    try:
        with group.make_context("forebay", list(arguments)) as context:
            return _invoke(context)
    except click.exceptions.Exit as done:
        return Exit(done.exit_code)
    except click.exceptions.NoArgsIsHelpError as error:
        error.show()
        return Exit.INPUT
    except click.ClickException as error:
        _say(_wrong_usage(error, arguments))
        return Exit.INPUT


def _invoke(context):
    try:
        group.invoke(context)
    except (click.exceptions.Exit, click.ClickException):
        raise
    except InputError as error:
        for line in error.lines():
            _say(line)
        return Exit.INPUT
    except (KeyboardInterrupt, click.Abort):
        _say("interrupted; what was finished is kept")
        return Exit.INTERRUPTED
    except BrokenPipeError:
        # The reader of a pipe has seen enough; nothing more can be told to it.
        sys.stdout = None
        return Exit.DONE
    except Exception as error:  # noqa: BLE001 - the top: a person gets one line, not a trace
        if context.params["traceback"]:
            import traceback  # a tenth of the start-up time, seldom needed

            traceback.print_exc()
        _say(f"unexpected {type(error).__name__}: {error} (run `forebay --traceback ...`)")
        return Exit.FAULT
    return Exit.DONE


def _wrong_usage(error, arguments):
    context = getattr(error, "ctx", None)
    path = context.command_path if context else "forebay"
    return f"{error.format_message()}{_as_option(error, arguments)} (`{path} --help` says more)"


def _as_option(error, arguments):
    """Return which option takes a file that was given as if the command took it by itself."""
    context = getattr(error, "ctx", None)
    options = {option for one in context.command.params for option in one.opts
               } if context else set()
    for given in arguments:
        option = "--rig" if given.endswith(".toml") else "--shelf"
        if option in options and f"({given})" in error.message and os.path.isfile(given):
            return f": name it as {option} {given}"
    return ""


def _say(text):
    """Tell a person one line, and of a text without an end its beginning."""
    told = printable(text, lines=False)
    told = told if len(told) <= TOLD_MOST else told[:TOLD_MOST] + " ..."
    click.echo(f"forebay: {told}", err=True)
