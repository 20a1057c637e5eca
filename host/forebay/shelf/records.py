"""Dated records of what a person found at a rig by a task: proof tests, calibrations.

A record is a JSON document under a kind, a time and a rig; what stands in it is its task's.
Nothing here reads one, and none is ever changed.
"""

import json
from datetime import UTC, datetime
from typing import Any, NamedTuple

from forebay.shelf.cells import U32_MOST
from forebay.shelf.opening import ShelfError
from forebay.shelf.part import ShelfPart

KIND_MOST = 40           # letters of a kind (a guess: a word or two)
DOCUMENT_MOST = 4_000_000  # letters of a document (a guess: some thousand readings)


class Record(NamedTuple):
    """A record: its number on the shelf, kind, time [s since 1970 UTC], document."""

    record_id: int
    kind: str
    utc_s: float
    document: dict[str, Any]


class RecordingShelf(ShelfPart):
    """The part of a shelf that keeps them."""

    def add_record(self, kind: str, rig_id: int, document: dict[str, Any],
                   utc_s: float | None = None) -> Record:
        """Keep a document of plain data and return its record.

        utc_s: its time [s since 1970 UTC], None = now.  Raises ShelfError for a kind, time
        or document that no shelf can hold.
        """
        at_s = datetime.now(UTC).timestamp() if utc_s is None else utc_s
        if not 0 < len(kind) <= KIND_MOST:
            raise ShelfError(f"a record's kind must have 1 to {KIND_MOST} letters")
        if not 0 <= at_s <= U32_MOST:
            raise ShelfError("the time of a record must be in 1970 to 2106")
        try:
            text = json.dumps(document, allow_nan=False)
        except (TypeError, ValueError) as error:
            raise ShelfError(f"a record of {kind} cannot be kept: {error}") from None
        if len(text) > DOCUMENT_MOST:
            raise ShelfError(f"a record of {len(text)} letters: it must have at most"
                             f" {DOCUMENT_MOST}")
        with self._writing(rig_id) as db:
            number = db.execute(
                "INSERT INTO records (rig_id, of_kind, utc_s, document) VALUES (?, ?, ?, ?)",
                (rig_id, kind, at_s, text)).lastrowid
        return Record(number, kind, at_s, json.loads(text))

    def records(self, kind: str, rig_id: int) -> list[Record]:
        """Return the records of a kind of a rig by time; ShelfError for one that is damaged."""
        found = self.read("SELECT record_id, of_kind, utc_s, document FROM records"
                          " WHERE (rig_id, of_kind) = (?, ?) ORDER BY utc_s, record_id",
                          rig_id, kind)
        return [Record(number, of_kind, at_s, self._document(number, text))
                for number, of_kind, at_s, text in found]

    def _document(self, number, text):
        try:
            document = json.loads(text)
        except ValueError:
            document = None
        if not isinstance(document, dict):
            raise ShelfError(f"the shelf {self.path} is damaged: its record {number} is no"
                             " document")
        return document
