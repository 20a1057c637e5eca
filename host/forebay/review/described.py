"""Which rig of a shelf, and by which description."""

from datetime import UTC, datetime
from pathlib import Path

from forebay.rig import load, load_text
from forebay.shelf import Shelf, ShelfError
from forebay.shelf.query import reach

SHELF_NAME = "the shelf's rig.toml"  # for errors


def described_rig(shelf: Shelf, path: Path | str | None = None):
    """Return (rig_id, description, notes on what was assumed).

    path: a description; None = the newest that the shelf keeps of its only
    rig, or else the demo's.  Raises ShelfError if the shelf lacks that rig,
    and what `forebay.rig.load` raises.
    """
    if path is not None:
        rig = load(path)
        return _on_shelf(shelf, rig), rig, []
    rig_id = shelf.only_rig()
    toml = shelf.rig_toml(rig_id)
    if toml is None:
        note = "The shelf keeps no description of this rig: the demo's stands in (see --rig)."
        return rig_id, load(), [note]
    return rig_id, load_text(toml, SHELF_NAME, is_kept=True), []


def of_then(shelf: Shelf, rig_id: int, rig, period: tuple[float, float] | None):
    """Return (description, notes): of the kept ones that with which a period was recorded.

    rig: the newest.  period: (begin, end) [s since 1970 UTC], None = all that is there.
    A description came to the shelf when the board was flashed by it.  A rehearsal has no time
    of its own.
    """
    versions = shelf.rig_versions(rig_id)
    if len(versions) < 2 or rig.toml_text != versions[-1][1] or shelf.rehearsed(rig_id):
        return rig, []
    newest_s = versions[-1][0]
    period = period or reach(shelf, rig_id)
    if period is None or period[1] > newest_s:
        return rig, [f"Read by the description of {_day(newest_s)}, the newest of"
                     f" {len(versions)} on the shelf. Days from before are read by the one of"
                     " then where --date or a span names them alone."]
    then = [one for one in versions if one[0] <= period[0]] or versions[:1]
    when_s, toml = then[-1]
    return load_text(toml, SHELF_NAME, is_kept=True), [
        f"Read by the description of {_day(when_s)}, with which it was recorded; the newest is of"
        f" {_day(newest_s)} (--rig names another)."]


def _day(utc_s):
    return datetime.fromtimestamp(utc_s, UTC).date().isoformat()


def _on_shelf(shelf, rig):
    if rig.rig_id in [held for held, _ in shelf.rigs()]:
        return rig.rig_id
    held = ", ".join(name or str(number) for number, name in shelf.rigs()) or "nothing"
    raise ShelfError(f"the shelf {shelf.path} does not hold {rig.rig.name!r}; it holds {held}")
