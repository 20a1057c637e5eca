"""Which board each journal on a shelf came from, and which one a board goes on with.

A *life* is one journal of one board: it begins anew when the board's
filesystem does.  A board is known by the number of its chip, as 16
hexadecimal digits; "" is one that does not tell it, or a life that was pulled
before the shelf kept it.  Lives of one board follow each other; those of two
boards need not.
"""

from typing import NamedTuple

import numpy as np

from forebay.shelf.clock import DS_PER_S, Anchor, Clock
from forebay.shelf.opening import ShelfError
from forebay.shelf.store import Shelf

UNTOLD = ""
UNTOLD_NAME = "a board that does not tell its number"


def board_text(board_id: int) -> str:
    """Return a board's number [-] as the shelf keeps it; 0 is none."""
    return f"{board_id:016x}" if board_id else UNTOLD


def named(board: str) -> str:
    """Return a board as a person reads it."""
    return board or UNTOLD_NAME


class Tries(NamedTuple):
    """Lives that a board may go on with, likeliest first, and the number of a new one.

    own: lives of that board, or of none if it does not tell its number;
    untold: the newest life of no known board, None = there is none.
    """

    own: list[int]
    untold: int | None
    new: int


def to_try(shelf: Shelf, rig_id: int, board: str, now: Anchor) -> Tries:
    """Return which lives a board that is met at an anchor can be writing.

    Boot number and uptime only ever grow in one life.  One that fell back was
    made anew: a formatted filesystem.  An uptime that is lower because it was
    read earlier, by another pull, is none such.
    """
    of = shelf.boards(rig_id)
    anchors = shelf.anchors(rig_id)
    own = _from_last_met([life for life in sorted(of) if of[life] == board], anchors, now)
    untold = [life for life in sorted(of) if of[life] == UNTOLD and board != UNTOLD]
    untold = _from_last_met(untold, anchors, now)
    return Tries(own, untold[-1] if untold else None, max(of, default=-1) + 1)


def _from_last_met(lives, anchors, now):
    """Return the lives from the last one that was met on, without it if it fell back."""
    met = [one for one in anchors if one.generation in lives]
    if not met:
        return lives
    last = met[-1]
    fell = now.boot < last.boot or (now.boot == last.boot and now.uptime_ds < last.uptime_ds
                                    and now.utc_s > last.utc_s)
    return [life for life in lives if life >= last.generation + fell]


def choose(shelf: Shelf, rig_id: int, text: str | None) -> None:
    """Let a shelf show only what came from one board of a rig, or from all of them.

    text: number of the board, or its begin or end if no other's is the same;
    None = all.  Raises ShelfError that names the boards.
    """
    boards = sorted(set(shelf.boards(rig_id).values()) - {UNTOLD})
    if text is None:
        return
    asked = text.lower()
    meant = [one for one in boards if one.startswith(asked) or one.endswith(asked)]
    if len(meant) != 1 or not asked:
        there = ", ".join(boards) or "none that told its number"
        what = "is more than one of" if len(meant) > 1 else "is none of"
        raise ShelfError(f"--board {text!r} {what} the boards of that rig on the shelf: {there}")
    shelf.board = meant[0]


def at_once(shelf: Shelf, rig_id: int) -> list[str]:
    """Return the boards of a rig that surely ran at the same time: no one rig has them both.

    One that did not tell its number may be any of the others, so it is none of them.
    """
    of, clock = shelf.boards(rig_id), shelf.clock(rig_id)
    if shelf.board is not None or len(set(of.values())) < 2:
        return []
    found: set[str] = set()
    ran: dict[str, float] = {}  # till when each board surely did [s]
    for begin_s, end_s, board in sorted(_surely_on(clock, of)):
        together = [other for other, till_s in ran.items() if other != board and till_s > begin_s]
        found |= {board, *together} if together else set()
        ran[board] = max(ran.get(board, -np.inf), end_s)
    return sorted(found)


def _surely_on(clock: Clock, of: dict[int, str]):
    """Yield (begin [s], end [s], board) of the time in which each boot surely ran."""
    keys = [(*key, last_s) for key, last_s in clock.lasts().items() if of.get(key[0])]
    if not keys:
        return
    life, boot, last_s = (np.array(part) for part in zip(*keys, strict=True))
    begins_s = clock.times(life, boot, np.zeros(len(life))).latest_s
    ends_s = clock.times(life, boot, last_s * DS_PER_S).earliest_s
    for begin_s, end_s, one in zip(begins_s.tolist(), ends_s.tolist(), life.tolist(), strict=True):
        if np.isfinite(begin_s) and np.isfinite(end_s) and begin_s < end_s:
            yield begin_s, end_s, of[one]


def at_once_said(shelf: Shelf, rig_id: int) -> list[str]:
    """Return in a line that boards of a rig ran at the same time, nothing where none did."""
    boards = at_once(shelf, rig_id)
    return [f"Boards {' and '.join(map(named, boards))} ran at the same time: no one rig has them"
            " both. Give one of the rigs a name of its own."] if boards else []


def refuse_at_once(shelf: Shelf, rig_id: int) -> None:
    """Raise ShelfError if two boards of a rig ran at once and none was chosen."""
    boards = at_once(shelf, rig_id)
    if boards:
        raise ShelfError(f"the shelf holds {len(boards)} boards of that rig that ran at the same"
                         f" time: {', '.join(map(named, boards))}; say which with --board, and"
                         " give one of the rigs a name of its own")
