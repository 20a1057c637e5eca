"""Options and habits that commands share."""

import json
import os
import sys
import tempfile
import textwrap
import time
from collections.abc import Callable, Iterable
from contextlib import contextmanager
from pathlib import Path

import click

from forebay import units
from forebay.cli.saying import folded, say
from forebay.errors import InputError

PROGRESS_S = 0.2
HOURS, MINUTES = 24, 60
BAR_COLUMNS = 40
PAGE_BEGIN = b"<!doctype html"


class OutputError(InputError):
    """A file that was asked for cannot be written."""


class Quantity(click.ParamType):
    """A quantity as people write it, "0.3 W" or 0.3, given in the SI unit of its dimension.

    least, most: its range, in that unit; None = open.
    """

    name = "quantity"

    def __init__(self, dimension: str, least: float | None = None, most: float | None = None):
        self.dimension = dimension
        self.least, self.most = least, most

    def convert(self, value, param, ctx) -> float:
        """Return a text as a number; a usage error says what it must be."""
        try:
            found = units.parse(value, self.dimension) if isinstance(value, str) else value
        except units.UnitError as error:
            self.fail(f"{value!r}: {error.reason}", param, ctx)
        if self.least is not None and found < self.least:
            self.fail(f"{value!r}: must be at least {units.show(self.least, self.dimension)}",
                      param, ctx)
        if self.most is not None and found > self.most:
            self.fail(f"{value!r}: must be at most {units.show(self.most, self.dimension)}",
                      param, ctx)
        return found


def port_option(command: Callable) -> Callable:
    """Add --port P."""
    return click.option(
        "--port",
        metavar="P",
        help="Port of the board (/dev/ttyACM0, COM3), or HOST:PORT; without it, the one that"
        " is plugged in or was used last.",
    )(command)


def shelf_option(command: Callable) -> Callable:
    """Add --shelf PATH."""
    return click.option(
        "--shelf",
        "shelf_path",
        type=click.Path(dir_okay=False),
        metavar="PATH",
        help="Where what was pulled is kept; without it, in the user's data folder.",
    )(command)


def rig_option(command: Callable) -> Callable:
    """Add --rig RIG.toml."""
    return click.option(
        "--rig",
        "rig_path",
        type=click.Path(dir_okay=False),
        metavar="RIG.toml",
        help="Description of the rig; without it, the one of then, kept on the shelf.",
    )(command)


def line_rig_option(command: Callable) -> Callable:
    """Add --rig RIG.toml, which is from then on the rig used last (see `forebay.links`)."""
    return click.option(
        "--rig",
        type=click.Path(dir_okay=False),
        metavar="RIG.toml",
        expose_value=False,
        callback=_note_rig,
        help="Description of the rig, whose [link] an RS-485 line is asked with; without it,"
        " the one used last.",
    )(command)


def _note_rig(context, option, path):
    if path:
        from forebay import lastused
        from forebay.rig import load

        load(path)
        lastused.note(rig=path)


def board_option(command: Callable) -> Callable:
    """Add --board ID."""
    return click.option(
        "--board",
        metavar="ID",
        help="Only what came from one board: its number, or the begin or end of it.",
    )(command)


def period_options(command: Callable) -> Callable:
    """Add --from, --to and --date, as `begin`, `end` and `day`."""
    for option in (
        click.option("--date", "day", metavar="LOCAL-DAY", help="One local day, YYYY-MM-DD."),
        click.option("--to", "end", metavar="TIME", help="Local day or time before which."),
        click.option("--from", "begin", metavar="TIME",
                     help="Local day or time from which on."),
    ):
        command = option(command)
    return command


def zone_option(command: Callable) -> Callable:
    """Add --zone NAME."""
    return click.option(
        "--zone",
        metavar="NAME",
        help="Time zone of local days and times, such as Europe/Madrid; without it, the one"
        " that the rig's description names, else whole hours from UTC by its longitude, or UTC"
        " where the shelf keeps no description.",
    )(command)


def local_zone(name: str | None, rig=None):
    """Return the zone that --zone names, else that of a rig's site, else UTC.

    Raises InputError if there is no such zone.
    """
    from datetime import UTC

    from forebay.shelf.local import zone_at, zone_named

    if name is not None:
        return zone_named(name)
    return zone_at(rig.site) if rig else UTC


def units_option(command: Callable) -> Callable:
    """Add --units [metric|us], as `system`: the forebay.showing.System that text is shown in."""
    from forebay.showing import METRIC, SYSTEMS

    return click.option(
        "--units",
        "system",
        type=click.Choice(list(SYSTEMS)),
        default=METRIC.name,
        show_default=True,
        callback=lambda context, option, name: SYSTEMS[name],
        help="Units of the text: metric, or those of the United States. Electrical units are"
        " the same in both, and --json stays in SI.",
    )(command)


def say_notes(notes: Iterable[str]) -> None:
    """Print what is to be known before any figure, a paragraph each."""
    for note in notes:
        say(folded(note))


def json_option(command: Callable) -> Callable:
    """Add --json."""
    return click.option(
        "--json", "as_json", is_flag=True, help="Print one JSON document instead of text."
    )(command)


def print_json(document: dict) -> None:
    """Print a document to stdout, with the keys in their documented order."""
    click.echo(json.dumps(document, indent=2, allow_nan=False))


def print_json_list(head: dict, key: str, documents: Iterable[dict]) -> None:
    """Print one document whose last key is a list, an item as soon as it is worked out."""
    opening = json.dumps(head, indent=2, allow_nan=False).removesuffix("\n}")
    click.echo(f"{opening},\n  {json.dumps(key)}: [", nl=False)
    between = "\n"
    for document in documents:
        text = json.dumps(document, indent=2, allow_nan=False)
        click.echo(between + textwrap.indent(text, "    "), nl=False)
        between = ",\n"
    click.echo("\n  ]\n}")


class Progress:
    """Tells on stderr how far a long part is, where a person watches; call it with (done, all)."""

    def __init__(self, label: str, unit: str):
        self.label = label
        self.unit = unit
        self.shown = False
        self._next_s = 0.0

    def __call__(self, done: float, total: float) -> None:
        now_s = time.monotonic()
        if not sys.stderr.isatty() or now_s < self._next_s:
            return
        self._next_s = now_s + PROGRESS_S
        self.shown = True
        share = f"{100 * done / total:3.0f} % " if total else ""
        text = f"\r{self.label}: {share}({done:,.0f} {self.unit})  "
        click.echo(text, nl=False, err=True)

    def close(self) -> None:
        """End the line, if one was begun."""
        if self.shown:
            click.echo("", err=True)


@contextmanager
def hours_bar(label: str):
    """Give a function that shows on stderr, where a person watches, how far a day is.

    It is called with (hours done, hours in all).
    """
    with click.progressbar(
        length=HOURS * MINUTES, label=label, file=sys.stderr, hidden=not sys.stderr.isatty(),
        item_show_func=lambda done: f"{done or 0.0:.1f} h of {HOURS}", show_eta=False,
        show_percent=False, width=BAR_COLUMNS,
    ) as bar:
        yield lambda done, _: bar.update(round(done * MINUTES) - bar.pos, done)


def check_page(path: Path | str) -> None:
    """Let a page replace a page or an empty file only; OutputError for any other file."""
    try:
        with open(path, "rb") as file:
            begin = file.read(len(PAGE_BEGIN))
    except OSError:
        return  # not there, or the writing tells what is wrong
    if begin and begin.lower() != PAGE_BEGIN:
        raise OutputError(f"{path} is there and is no page: nothing is overwritten,"
                          " name another file with --out")


def refuse_taken(path: Path | str, force: bool) -> None:
    """Refuse a place that is taken before any work is done, unless it may be replaced."""
    if not force and Path(path).exists():
        raise OutputError(f"{path} is there: nothing is overwritten without --force")


def write_whole(path: Path | str, text: str) -> None:
    """Write a file so that it is there whole or not at all; OutputError if it cannot be."""
    path = Path(path)
    try:
        handle, aside = tempfile.mkstemp(dir=path.parent, prefix=path.name, suffix=".new")
        try:
            with os.fdopen(handle, "w", encoding="utf-8") as file:
                file.write(text)
            os.chmod(aside, 0o644)
            os.replace(aside, path)
        except BaseException:
            os.unlink(aside)
            raise
    except OSError as error:
        raise OutputError(f"cannot write {path}: {error.strerror or error}") from error
