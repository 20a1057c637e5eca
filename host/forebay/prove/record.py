"""What a proof test leaves: a dated record on the shelf, lines for a terminal, a page.

Must not know how a step was judged.
"""

import textwrap
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, tzinfo
from html import escape
from typing import Any

from forebay.paper import CAUTION, document, section
from forebay.prove.found import FAILED, PASSED, SKIPPED
from forebay.shelf import Shelf

KIND, KIND_SINGLE = "proof test", "proof of single steps"
VERSION = 1
COLUMNS = 80
MARKS = {PASSED: "ok", FAILED: "NOT", SKIPPED: "left out"}


@dataclass(frozen=True)
class Record:
    """A proof test: rig's name, begin and end [s since 1970 UTC], its steps in order.

    steps: name, title, outcome, finding, said, utc_s of each.
    """

    rig_id: int
    rig: str
    begun_s: float
    ended_s: float
    steps: list[dict[str, Any]]

    def count(self, outcome: str) -> int:
        """Return how many steps came to an outcome [-]."""
        return sum(step["outcome"] == outcome for step in self.steps)

    @property
    def is_proven(self) -> bool:
        """Whether every step passed: what was left out is not proven."""
        return bool(self.steps) and self.count(PASSED) == len(self.steps)

    def as_json(self) -> dict[str, Any]:
        """Return it as documented in docs/json.md."""
        return {"version": VERSION, "rig_id": self.rig_id, "rig": self.rig,
                "begun_utc_s": round(self.begun_s, 1), "ended_utc_s": round(self.ended_s, 1),
                "passed": self.count(PASSED), "failed": self.count(FAILED),
                "left_out": self.count(SKIPPED), "steps": self.steps}

    @classmethod
    def of(cls, found: Mapping[str, Any]) -> "Record":
        """Return what `as_json` gave."""
        return cls(found["rig_id"], found["rig"], found["begun_utc_s"], found["ended_utc_s"],
                   list(found["steps"]))

    def verdict(self) -> str:
        """Return the outcome in one sentence."""
        failed = self.count(FAILED)
        left = self.count(SKIPPED)
        begin = (f"{failed} of {len(self.steps)} steps not as they must be: the rig may not run"
                 " until they are" if failed else
                 f"{self.count(PASSED)} of {len(self.steps)} steps as they must be")
        return begin + (f"; {left} left out, each with its reason" if left else "")

    def lines(self) -> list[str]:
        """Return it as lines for a terminal."""
        found = [f"Proof test of {self.rig}: {self.verdict()}."]
        for step in self.steps:
            found += textwrap.wrap(
                f"{MARKS[step['outcome']]:8}  {step['title']}: {step['said']}", COLUMNS,
                initial_indent="  ", subsequent_indent=" " * 12, break_on_hyphens=False)
        return [*textwrap.wrap(found[0], COLUMNS, break_on_hyphens=False), *found[1:]]


def page(record: Record, zone: tzinfo | None) -> str:
    """Return a record as one self-contained page of HTML."""
    def when(utc_s, form="%Y-%m-%d %H:%M"):
        return datetime.fromtimestamp(utc_s, zone).strftime(form)

    rows = "".join(
        f"<tr><td>{escape(when(step['utc_s'], '%H:%M'))}</td>"
        f"<td{' class=grave' if step['outcome'] == FAILED else ''}>"
        f"{MARKS[step['outcome']]}</td><td>{escape(step['title'])}</td>"
        f"<td>{escape(step['said'])}</td></tr>" for step in record.steps)
    title = f"Proof test of {record.rig}"
    body = (f"<h1>{escape(title)}</h1>\n<p class=when>{when(record.begun_s)} to"
            f" {when(record.ended_s)}</p>\n<p class=lead>{escape(record.verdict())}.</p>\n"
            + section("Steps", '<div class="scroll"><table><tr><th>at</th><th>outcome</th>'
                      f"<th>step</th><th>what was seen</th></tr>{rows}</table></div>")
            + section("Signed", "<p>By, on:</p>")
            + f'\n<p class="caution">{escape(CAUTION)}</p>')
    return document(title, body)


def newest(shelf: Shelf, rig_id: int) -> tuple[float, Record] | None:
    """Return (time [s since 1970 UTC], record) of the newest proof test of a rig, None if none."""
    found = shelf.records(KIND, rig_id)
    return (found[-1].utc_s, Record.of(found[-1].document)) if found else None


def keep(shelf: Shelf, record: Record, is_whole: bool) -> None:
    """Keep a record on the shelf; one of some steps alone is no proof test."""
    shelf.add_record(KIND if is_whole else KIND_SINGLE, record.rig_id, record.as_json(),
                     record.ended_s)
