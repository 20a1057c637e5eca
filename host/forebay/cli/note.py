"""forebay note"""

import os

import click

from forebay.cli.options import (
    json_option,
    local_zone,
    period_options,
    print_json,
    rig_option,
    shelf_option,
    zone_option,
)
from forebay.cli.saying import say

NONE = "no notes yet: `forebay note \"strainer cleaned\"` keeps one"
NONE_THEN = "no notes in that time: `forebay note` alone lists all"


@click.command("note")
@click.argument("text", required=False)
@click.option("--at", metavar="TIME", help="Local day or time of what is noted; without it, now.")
@click.option("--remove", type=int, metavar="N", help="Remove the note of that number.")
@period_options
@zone_option
@shelf_option
@rig_option
@json_option
def command(text, at, remove, begin, end, day, zone, shelf_path, rig_path, as_json) -> None:
    """Keep what you did or saw at the rig, or list what was kept.

    A note stands in every review of its time, in the plot and by itself, so
    that a strainer that was cleaned is told from one that drifted. Without a
    TEXT, the notes are listed.

    \b
    Example:
      forebay note "strainer cleaned" --at 2026-03-01T14:30
      forebay note
      forebay note --remove 2
    """
    from forebay.described import described
    from forebay.shelf import Shelf
    from forebay.shelf.local import period_of

    if (text is None and at) or (text is not None and remove is not None):
        raise click.UsageError("--at goes with a TEXT, --remove goes without one")
    if text is not None and os.path.isfile(text):
        raise click.UsageError(f"{text} is a file, and no words of yours: a shelf is named with"
                               " --shelf, a description with --rig")
    none = ""
    with Shelf(shelf_path, create=False) as shelf:
        rigs = described(shelf, rig_path)
        rig_id, local = rigs.rig_id, local_zone(zone, rigs.known)
        if remove is not None:
            found, did = [shelf.remove_note(rig_id, remove)], "removed"
        elif text is not None:
            found, did = [_added(shelf, rig_id, text, at, local)], "kept"
        else:
            period = period_of(begin, end, day, local)
            found, did = shelf.notes(rig_id, period), ""
            none = NONE if period is None else NONE_THEN
    _show(found, did, local, as_json, none)


def _added(shelf, rig_id, text, at, local):
    """Keep a note and return it."""
    from forebay.shelf.noting import note_time

    return shelf.add_note(rig_id, note_time(shelf, rig_id, at, local), text)


def _show(found, did, local, as_json, none):
    """Print notes, and what was done with them."""
    from forebay.shelf.local import iso_local, maybe_iso

    if as_json:
        print_json({"notes": [{"number": one.note_id, "utc": maybe_iso(one.utc_s),
                               "text": one.text, "written_utc": one.written_utc}
                              for one in found]})
        return
    for one in found:
        line = f"{one.note_id:3} {iso_local(one.utc_s, local)}  {one.text}"
        say(f"{did}: {line.strip()}" if did else line)
    if not found:
        say(none, err=True)
