"""Every segment on the shelf, every CRC: what is damaged, newer, cut short or not yet pulled.

Owns the look at bytes; what the records say of each other is for its
neighbours.
"""

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import NamedTuple

from forebay.shelf import Shelf
from forebay.shelf.segments import HEADER, MARK, RECORD_HEAD, name_of, read
from keeper.journal.records import HEAD, PAYLOAD_MOST, STREAMS, TRAILER


class Damage(NamedTuple):
    """Bytes of a segment that are no record.  at, size [bytes]; what: in plain words."""

    generation: int
    stream: int
    number: int
    at: int
    size: int
    what: str

    @property
    def name(self) -> str:
        """The file's name on the board."""
        return name_of(self.stream, self.number)


class Place(NamedTuple):
    """A segment on the shelf, with the numbers [-] of its first and last record, None if none."""

    generation: int
    stream: int
    number: int
    first_seq: int | None
    last_seq: int | None
    is_sound: bool


@dataclass
class Segments:
    """What all segments are: counts and bytes by stream, and what is wrong with some."""

    counts: list[int] = field(default_factory=lambda: [0] * STREAMS)
    sizes: list[int] = field(default_factory=lambda: [0] * STREAMS)
    places: list[Place] = field(default_factory=list)
    damage: list[Damage] = field(default_factory=list)
    newer: list[tuple[str, int]] = field(default_factory=list)
    cut_bytes: int = 0
    not_pulled: list[str] = field(default_factory=list)


def look(shelf: Shelf, rig_id: int, progress: Callable[[int, int], None]) -> Segments:
    """Return what every segment of a rig holds; progress: called with (done, all) segments."""
    keys = shelf.read("SELECT rowid, life, stream, number, first_seq, last_seq FROM segments"
                      " WHERE rig_id = ? ORDER BY life, stream, first_seq", rig_id)
    lives = set(shelf.generations(rig_id))
    keys = [key for key in keys if key[1] in lives]
    found = Segments()
    for done, (rowid, generation, stream, number, first, last) in enumerate(keys, 1):
        data = shelf.read("SELECT data FROM segments WHERE rowid = ?", rowid)[0][0]
        damage = _look_at(found, rig_id, generation, stream, number, data)
        found.damage += damage
        newer = bool(found.newer) and found.newer[-1][0] == name_of(stream, number)
        whole = not damage and not newer
        found.places.append(Place(generation, stream, number, first, last, whole))
        found.counts[stream] += 1
        found.sizes[stream] += len(data)
        progress(done, len(keys))
    found.not_pulled = shelf.not_pulled(rig_id)
    return found


def _look_at(found, rig_id, generation, stream, number, data):
    segment = read(data)
    if segment.newer:
        found.newer.append((name_of(stream, number), segment.newer))
    damage = [Damage(generation, stream, number, at, size, "no record fits its CRC")
              for at, size in segment.damaged]
    if segment.header_damaged:
        damage.append(Damage(generation, stream, number, 0, HEADER.size, "its header is damaged"))
    elif len(data) >= HEADER.size and not segment.newer:
        named = HEADER.unpack_from(data)[2:5]
        if named != (stream, number, rig_id):
            what = f"its header names segment {named[1]} of stream {named[0]}, rig {named[2]}"
            damage.append(Damage(generation, stream, number, 0, HEADER.size, what))
    if segment.torn and len(data) >= HEADER.size:
        at = len(data) - segment.torn
        if _is_cut(data, at):
            found.cut_bytes += segment.torn
        else:
            damage.append(Damage(generation, stream, number, at, segment.torn,
                                 "its end fits no CRC"))
    return damage


def _is_cut(data, at):
    """Return whether a record begins at `at` that goes on beyond the end of what is there."""
    if data[at] != MARK or len(data) - at < RECORD_HEAD.size:
        return data[at] == MARK
    _, kind, length, _ = RECORD_HEAD.unpack_from(data, at)
    return kind != 0 and length <= PAYLOAD_MOST and at + HEAD + length + TRAILER > len(data)
