"""What this computer's shelf knows of the board that is watched: last pull, room, times."""

from dataclasses import dataclass
from datetime import tzinfo

from forebay.described import SHELF_NAME
from forebay.errors import InputError
from forebay.rig import load_text
from forebay.shelf import Anchor, Shelf
from forebay.shelf.lives import board_text
from forebay.shelf.local import zone_at
from forebay.shelf.room import Holding, holdings


@dataclass
class Known:
    """Of one board: holding, at its last pull; anchor, the last tie of its count to UTC.

    zone: of its rig.  None each where the shelf has none.
    """

    holding: Holding | None = None
    anchor: Anchor | None = None
    zone: tzinfo | None = None


def known_of(live: dict[str, int]) -> Known:
    """Return what the shelf in the user's folder knows of a board, by its registers."""
    board = board_text(live["board_id"])
    try:
        with Shelf(create=False) as shelf:
            rig_id = live["rig_id"]
            of = shelf.boards(rig_id)
            anchors = [one for one in shelf.clock(rig_id).anchors
                       if of.get(one.generation) == board]
            held = [one for one in holdings(shelf, rig_id) if one.board == board]
            zone = _zone(shelf, rig_id)
    except InputError:
        return Known()  # nothing was pulled here, or it is not to be read: then nothing is known
    return Known(held[-1] if held else None,
                 max(anchors, key=lambda one: one.utc_s) if anchors else None, zone)


def _zone(shelf, rig_id):
    toml = shelf.rig_toml(rig_id)
    return zone_at(load_text(toml, SHELF_NAME, is_kept=True).site) if toml else None
