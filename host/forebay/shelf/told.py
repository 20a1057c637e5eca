"""What no board writes, and the shelf keeps all the same: notes of a person, and rehearsals.

A note says what somebody did or saw at the rig, and when.  A life of a journal that a
rehearsal wrote is marked as that, with what it was asked to do, so that nobody takes its
figures for measured ones.
"""

import json
from abc import abstractmethod
from dataclasses import asdict, dataclass, replace
from datetime import UTC, datetime
from typing import NamedTuple

from forebay.shelf.cells import U32_MOST
from forebay.shelf.opening import ShelfError
from forebay.shelf.part import ShelfPart

EVERY_LIFE = -1   # a rehearsed rig that has no other lives
TEXT_MOST = 500   # letters of a note (a guess: some lines)
ALL_TIME = (float("-inf"), float("inf"))


class Note(NamedTuple):
    """A person's note: its number on the shelf, its time [s since 1970 UTC], when it was written.
    """

    note_id: int
    utc_s: float
    text: str
    written_utc: str


@dataclass(frozen=True)
class Rehearsed:
    """What a rehearsal was asked to do.

    day: the local day that was played; sun: where its sun came from; demo: name of the
    packaged rig, "" = a description was given; seed: of the instruments' errors [-];
    faults: (time [s since 1970 UTC], name); presses: of the button [s since 1970 UTC];
    setpoint_W: lamp power asked for [W], None = the rig's; assumed: sentences;
    hours: how much of the day was played [h], None = it is served and goes on.
    place: latitude and longitude [deg, north and east positive] of the sun, None = not told;
    digest: of the description that was played (`forebay.rig.Rig.digest`), "" = not told.
    """

    day: str
    sun: str
    demo: str
    seed: int
    faults: tuple[tuple[float, str], ...] = ()
    presses: tuple[float, ...] = ()
    setpoint_W: float | None = None
    assumed: tuple[str, ...] = ()
    hours: float | None = None
    place: tuple[float, float] | None = None
    digest: str = ""

    def with_fault(self, utc_s: float, name: str) -> "Rehearsed":
        """Return it with one fault more, at a time [s since 1970 UTC]."""
        return replace(self, faults=(*self.faults, (utc_s, name)))

    def as_text(self) -> str:
        """Return it as the shelf keeps it."""
        return json.dumps(asdict(self))


def rehearsed_of(text: str) -> Rehearsed:
    """Return what `Rehearsed.as_text` gave.  Raises ValueError for any other text."""
    told = json.loads(text)
    try:
        found = Rehearsed(**told)
        faults = tuple((float(utc_s), str(name)) for utc_s, name in found.faults)
        return replace(
            found, day=str(found.day), sun=str(found.sun), demo=str(found.demo), faults=faults,
            seed=int(found.seed), presses=tuple(map(float, found.presses)),
            setpoint_W=None if found.setpoint_W is None else float(found.setpoint_W),
            assumed=tuple(map(str, found.assumed)),
            hours=None if found.hours is None else float(found.hours),
            place=None if found.place is None else _pair(found.place),
            digest=str(found.digest))
    except TypeError as error:
        raise ValueError(str(error)) from None


def _pair(found):
    latitude_deg, longitude_deg = map(float, found)
    return latitude_deg, longitude_deg


class TellingShelf(ShelfPart):
    """The part of a shelf that keeps them."""

    board: str | None

    def add_note(self, rig_id: int, utc_s: float, text: str) -> Note:
        """Keep a note of a time [s since 1970 UTC] and return it.

        White space in the text becomes single blanks.  Raises ShelfError for one that is empty
        or longer than TEXT_MOST letters, and for a
        time that no shelf can hold.
        """
        text = " ".join(text.split())
        if not 0 < len(text) <= TEXT_MOST:
            raise ShelfError(f"a note of {len(text)} letters: it must have 1 to {TEXT_MOST}")
        if not 0 <= utc_s <= U32_MOST:
            raise ShelfError("the time of a note must be in 1970 to 2106")
        written = datetime.now(UTC).isoformat(timespec="seconds")
        with self._writing(rig_id) as db:
            number = db.execute(
                "INSERT INTO notes (rig_id, utc_s, text, written_utc) VALUES (?, ?, ?, ?)",
                (rig_id, utc_s, text, written)).lastrowid
        return Note(number, utc_s, text, written)

    def remove_note(self, rig_id: int, note_id: int) -> Note:
        """Remove a note and return it; ShelfError if the rig has none of that number."""
        found = [one for one in self.notes(rig_id) if one.note_id == note_id]
        if not found:
            raise ShelfError(f"there is no note {note_id} of that rig on the shelf {self.path}")
        with self._writing(rig_id) as db:
            db.execute("DELETE FROM notes WHERE (rig_id, note_id) = (?, ?)", (rig_id, note_id))
        return found[0]

    def notes(self, rig_id: int, period: tuple[float, float] | None = None) -> list[Note]:
        """Return the notes of a rig by time.

        period: (begin, end) [s since 1970 UTC], the end not included; None = all.
        """
        begin_s, end_s = period or ALL_TIME
        found = self.read("SELECT note_id, utc_s, text, written_utc FROM notes WHERE rig_id = ?"
                          " ORDER BY utc_s, note_id", rig_id)
        return [Note(*row) for row in found if begin_s <= row[1] < end_s]

    def note_rehearsal(self, rig_id: int, told: Rehearsed, life: int | None = None) -> None:
        """Mark a life of a rig as rehearsed, or all that it will ever have (None)."""
        with self._writing(rig_id) as db:
            db.execute("INSERT INTO rehearsals VALUES (?, ?, ?) ON CONFLICT DO UPDATE"
                       " SET told = excluded.told",
                       (rig_id, EVERY_LIFE if life is None else life, told.as_text()))

    def rehearsed(self, rig_id: int) -> list[Rehearsed]:
        """Return the rehearsals among the lives of a rig that are shown; none for a real rig.

        Raises ShelfError for a mark that cannot be read.
        """
        return list(self.rehearsed_lives(rig_id).values())

    def rehearsed_lives(self, rig_id: int) -> dict[int, Rehearsed]:
        """Return the same by the life of each; EVERY_LIFE stands for all that have none."""
        found = self.read("SELECT of_life, told FROM rehearsals WHERE rig_id = ?"
                          " ORDER BY of_life", rig_id)
        shown = {EVERY_LIFE, *self.generations(rig_id)} if found else set()
        try:
            return {life: rehearsed_of(text) for life, text in found if life in shown}
        except ValueError as error:
            raise ShelfError(f"the shelf {self.path} is damaged: its mark of a rehearsal cannot"
                             f" be read ({error})") from None

    @abstractmethod
    def generations(self, rig_id: int) -> list[int]:
        """Return the numbers [-] of the journals that are held of a rig."""


def rehearsal_said(shelf: TellingShelf, rig_id: int) -> list[str]:
    """Return in a line that what a shelf holds of a rig is rehearsed; nothing where none is.

    For balance, export and whoever else hands figures on.
    """
    found = shelf.rehearsed(rig_id)
    if not found:
        return []
    faults = sorted({name for one in found for _, name in one.faults})
    days = sorted({one.day for one in found})
    told = f", with these faults brought on: {', '.join(faults)}" if faults else ""
    return [f"REHEARSAL of the simulated day {', '.join(days)}: nobody measured these figures"
            f"{told}."]
