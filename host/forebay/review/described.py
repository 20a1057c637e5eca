"""Which rig of a shelf, and by which description."""

from pathlib import Path

from forebay.rig import load, load_text
from forebay.shelf import Shelf, ShelfError

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


def _on_shelf(shelf, rig):
    if rig.rig_id in [held for held, _ in shelf.rigs()]:
        return rig.rig_id
    held = ", ".join(name or str(number) for number, name in shelf.rigs()) or "nothing"
    raise ShelfError(f"the shelf {shelf.path} does not hold {rig.rig.name!r}; it holds {held}")
