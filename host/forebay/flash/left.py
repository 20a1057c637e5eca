"""What a rig leaves to hardware or a person must have been read before its board is flashed."""

from collections.abc import Callable
from typing import Any

from forebay import lastused
from forebay.flash.errors import FlashError
from forebay.rig import remaining, summary

# Called with the lines that a person is to read; returns whether they were, None = nobody is
# there to be asked.
Confirm = Callable[[list[str]], bool | None]


def confirm_read(rig: Any, said_read: bool, confirm: Confirm) -> None:
    """Have it read and confirmed what a rig leaves to hardware or a person, once for each change.

    rig: forebay.rig.Rig; said_read: it was said beforehand that it is read.
    Raises FlashError if it was not confirmed.
    """
    values = rig.plant()
    digest = summary.digest(values)
    if not digest or lastused.hazards_read(rig.rig_id) == digest:
        return
    left = remaining.left_to_hardware(values)
    if not said_read:
        answer = confirm([f"{rig.rig.name}: with its instruments these hazards are left to"
                          " hardware alone, or to a person:", *summary.hazards(values)])
        if answer is None:
            raise FlashError(f"{rig.rig.name} leaves {len(left)} hazards to hardware alone or to a"
                             f" person ({', '.join(left)}): read on the page of forebay rehearse"
                             " what remains for each, then say --hazards-read")
        if not answer:
            raise FlashError("nothing was flashed: the hazards left to hardware were not"
                             " confirmed as read")
    lastused.note_hazards_read(rig.rig_id, digest)
