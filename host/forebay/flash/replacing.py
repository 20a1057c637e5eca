"""A new board in the place of one that is gone: what the shelf gives it of that one's past.

The shelf keeps which records are of which board, so history goes on by
itself.  What only a board holds are the totals: the new one goes on from
those that were pulled last, by a first segment of its journal, a record of
totals as the old one might have written it.  What was not pulled is lost.
"""

import types
from dataclasses import dataclass

import numpy as np

from forebay.flash.errors import FlashError
from forebay.flash.prompt import Prompt
from forebay.shelf import Shelf
from forebay.shelf.clock import DS_PER_S
from forebay.shelf.lives import board_text
from forebay.shelf.local import maybe_iso
from forebay.shelf.rows import total_values
from keeper.channels import LIMB
from keeper.journal import records

JOURNAL = "/journal"
FIRST_NUMBER = 1
FIRST = f"{JOURNAL}/{records.LETTERS[records.EVENTS]}{FIRST_NUMBER:05d}"
CHIP_BYTES = 8  # of the chip's number, as a keeper publishes it


@dataclass(frozen=True)
class Past:
    """What a new board goes on from.

    rig_id; board: number of the old one; totals: in the order and units of
    `keeper.channels.TOTALS`; known_utc: of the last record that was pulled, "" = not known.
    """

    rig_id: int
    board: str
    totals: tuple[int, ...]
    known_utc: str = ""

    def said(self) -> str:
        """Return a sentence for a person."""
        till = f" of {self.known_utc}" if self.known_utc else ""
        return (f"in the place of board {self.board}: it goes on from the totals{till}; what that"
                " board recorded later is lost, and what it had learnt of its nights. The new one"
                " knows nothing of the rig's past, so it starts locked out, its motor taken for"
                " hot: look, then reset it by its button")


def past_of(shelf: Shelf, text: str) -> Past:
    """Return what the shelf knows of a board; text: its number, or the begin or end of it.

    Raises FlashError that names the boards there are.
    """
    known = {board: rig_id for rig_id, _ in shelf.rigs()
             for board in shelf.boards(rig_id).values() if board}
    asked = text.lower()
    meant = [one for one in known if asked and (one.startswith(asked) or one.endswith(asked))]
    if len(meant) != 1:
        what = "more than one" if len(meant) > 1 else "none"
        there = ", ".join(sorted(known)) or "none that told its number"
        raise FlashError(f"--replaces {text!r} is {what} of the boards on the shelf {shelf.path}:"
                         f" {there}")
    board = meant[0]
    shelf.board, before = board, shelf.board
    try:
        return _past(shelf, known[board], board)
    finally:
        shelf.board = before


def _past(shelf, rig_id, board):
    journal = shelf.journal(rig_id)
    tables = (journal.totals, journal.events, journal.summaries)
    key = np.concatenate([(one["generation"].astype(np.int64) << 16) | one["boot"]
                          for one in tables])
    uptime_ds = np.concatenate([one["uptime_ds"].astype(np.int64) for one in tables])
    totals = np.concatenate([total_values(one["totals"]) for one in tables])
    if not len(key):
        raise FlashError(f"the shelf holds no record of board {board} that its totals could be"
                         " taken from: flash the new one without --replaces")
    last = key == key.max()  # in one start a total never falls
    newest_s = uptime_ds[last].max() / DS_PER_S
    utc_s = shelf.clock(rig_id).utc([int(key.max()) >> 16], [int(key.max()) & 0xFFFF],
                                    [newest_s * DS_PER_S])
    return Past(rig_id, board, tuple(totals[last].max(axis=0).tolist()),
                maybe_iso(float(utc_s[0])) or "")


def first_segment(past: Past) -> bytes:
    """Return the first segment of a journal that goes on from a past.

    Its one record is of start 0, so that the board's own starts begin with 1.
    """
    held = types.SimpleNamespace(uptime_ds=0, low=[total % LIMB for total in past.totals],
                                 high=[total // LIMB for total in past.totals])
    record = bytearray(records.TOTALS_RECORD)
    records.put_totals(record, 0, 0, 0, held)
    return records.segment_head(records.EVENTS, FIRST_NUMBER, past.rig_id) + bytes(record)


def give(prompt: Prompt, chip: str, past: Past) -> None:
    """Put the first segment on a board that has recorded nothing yet.

    chip: the number of its chip, in hexadecimal.  Raises FlashError for the old board
    itself, or one with a journal, before anything is written.
    """
    if chip and board_text(int(chip[:2 * CHIP_BYTES] or "0", 16)) == past.board:
        raise FlashError(f"this is board {past.board} itself: flash it without --replaces")
    there = prompt.tree(JOURNAL).files
    data = first_segment(past)
    if set(there) - {FIRST, FIRST + ".new"} or (
            FIRST in there and prompt.maybe_read(FIRST) != data):
        raise FlashError("this board has recorded already, so it cannot go on from another one's"
                         " totals: pull it and remove its /journal, or flash it without"
                         " --replaces")
    prompt.make_folder(JOURNAL)
    prompt.replace(FIRST, data)
