"""A sitting at a rig: asks for one reading after the other until no other tells more.

Owns the order of questions and what is kept between two sittings.  It neither prints nor
knows who answers; which reading comes next is the search's.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from forebay.asking import Answers, Choice, Kept, Quantity, Skipped
from forebay.errors import InputError
from forebay.finding import words
from forebay.finding.cases import NOTHING, Cases
from forebay.finding.faults import Fault
from forebay.finding.search import Option, Reading, Search
from forebay.finding.symptoms import SYMPTOMS
from forebay.hardware.build import Build
from forebay.rig import Rig

MOST_V = 100.0     # of what a person may type: beyond every voltage of a rig this size
NEAREST = 3        # of those ruled out, which are told where none is left
KEPT = "find "     # what the names begin with under which a sitting keeps its findings
_SYMPTOM = f"{KEPT}symptom"
# How a search may end.
FOUND, ALIKE, NOTHING_OPEN, UNSETTLED, NO_FIT = (
    "found", "alike", "nothing open", "unsettled", "no single fault")


class NoSuchSymptom(InputError):
    """A symptom that the search does not know: which, and which it does."""


@dataclass(frozen=True)
class Told:
    """One reading that was asked for: its volts, or why it was left out."""

    point: str
    at: str
    mode: str
    volts: float | None = None
    left_out: str = ""

    def line(self) -> str:
        """Return it as a line."""
        shown = f"{self.volts:8.2f} V" if self.volts is not None else f"{'-':>8}  "
        why = f"  left out: {self.left_out}" if self.left_out else f"  {self.at}"
        return f"  {self.point:5} {self.mode:11}{shown}{why}"[:words.WIDTH]


@dataclass(frozen=True)
class Finding:
    """What a search came to.

    outcome: one of FOUND, ALIKE (no reading tells those left apart), NOTHING_OPEN, UNSETTLED
    (points were left out that would tell more), NO_FIT.  left: likeliest first.  apart: what
    tells them further apart, that no reading of direct volts does.
    """

    rig: str
    symptom: str
    outcome: str
    left: tuple[Fault, ...]
    readings: tuple[Told, ...]
    apart: str = ""

    @property
    def asked(self) -> int:
        """How many readings were given."""
        return sum(one.volts is not None for one in self.readings)

    def as_json(self) -> dict[str, Any]:
        """Return it as a document."""
        return {
            "rig": self.rig, "symptom": self.symptom, "says": SYMPTOMS[self.symptom].says,
            "outcome": self.outcome, "asked": self.asked,
            "left": [{"id": one.id, "words": one.words, "how": one.how, "what": one.what,
                      "place": one.place} for one in self.left],
            "readings": [{"point": one.point, "at": one.at, "mode": one.mode,
                          "volts_V": one.volts, "left_out": one.left_out}
                         for one in self.readings],
        }

    def lines(self) -> list[str]:
        """Return it as text of 80 columns."""
        count = f"{self.asked} reading{'' if self.asked == 1 else 's'}"
        return [*words.hung(f"{SYMPTOMS[self.symptom].says}: {count}", ""),
                *(one.line() for one in self.readings), *self._verdict()]

    def _verdict(self) -> list[str]:
        also = SYMPTOMS[self.symptom].also
        aside = words.hung(f"Or it is {also}.", "") if also else []
        if self.outcome == NOTHING_OPEN:
            return [*words.hung("Nothing open was found: every reading is that of a whole rig."
                                " A joint that is loose now and then shows only while it is"
                                " loose: wiggle the leads with the meter on.", ""), *aside]
        if self.outcome == NO_FIT:
            return words.hung("No single fault gives these readings: two at once, a reading"
                              " taken elsewhere, in another state or with the probes crossed."
                              " Nearest are:", "") + self._listed() + words.hung(
                                  "Take the readings again.", "")
        real = [one for one in self.left if one != NOTHING]
        head = {FOUND: "It is this:", ALIKE: f"One of these {len(self.left)}, which no reading"
                " tells apart:"}.get(self.outcome, f"One of these {len(self.left)}; points that"
                                     " were left out would tell more:")
        return [head, *self._listed(), *words.hung(self.apart, ""), *words.mend(real), *aside]

    def _listed(self) -> list[str]:
        return [line for one in self.left for line in words.hung(f"- {one.words}", "  ")]


def find(rig: Rig, answers: Answers, tell: Callable[[str], None], kept: Kept, *,
         symptom: str = "", live: Mapping[str, int] | None = None) -> Finding:
    """Ask for readings until no other tells more, and return what is left.

    symptom: a name in SYMPTOMS; "" asks for it.  live: what the rig's sensors read, by channel,
    with the board's `state` if it is known.  What was answered is kept after each answer, and
    let go at the end.  Raises Left where the person leaves, AskedError where an answer cannot be
    used, Unfinished where one cannot be kept, NoSuchSymptom.
    """
    symptom = symptom or kept.found.get(_SYMPTOM, "") or _asked_symptom(answers)
    if symptom not in SYMPTOMS:
        raise NoSuchSymptom(f"{symptom!r} is no symptom of the wiring; {', '.join(SYMPTOMS)} are")
    if kept.found.get(_SYMPTOM, symptom) != symptom:
        forget(kept)
    kept.keep(_SYMPTOM, symptom)
    one = _Sitting(Build.of(rig), symptom, answers, tell, kept, live or {})
    finding = one.run()
    forget(kept)
    return finding


def forget(kept: Kept) -> None:
    """Let go of what a search has kept."""
    for name in [name for name in kept.found if name.startswith(KEPT)]:
        kept.forget(name)


def _asked_symptom(answers: Answers) -> str:
    given = answers.to(Choice("symptom", "What is seen?", {
        name: one.says for name, one in SYMPTOMS.items()}))
    if isinstance(given, Skipped):
        raise NoSuchSymptom(f"without a symptom there is nothing to search for; name one of"
                            f" {', '.join(SYMPTOMS)}")
    return given


class _Sitting:
    """One search, from the first question to the last."""

    def __init__(self, build: Build, symptom: str, answers: Answers, tell, kept: Kept, live):
        self.build, self.symptom = build, symptom
        self.answers, self.tell, self.kept = answers, tell, kept
        self.told: list[Told] = []
        self.mode = ""
        tell("Working out what each fault of the wiring would show ...")
        self.search = Search(Cases.of(build, symptom), live)

    def run(self) -> Finding:
        """Ask until no reading tells more."""
        for line in words.cautions(self.build, self.symptom):
            self.tell(line)
        while (option := self.search.next()) is not None:
            self.ask(option)
        outcome, left = self._outcome(), self._left()
        apart = "" if outcome == NO_FIT else words.alternating(self.build, left)
        return Finding(self.build.name, self.symptom, outcome, left, tuple(self.told), apart)

    def ask(self, option: Option) -> None:
        """Get one reading, from what is kept or from the person."""
        point = self.search.cases.points[option.place]
        name = f"{KEPT}{option.mode} {point.id}"
        if name not in self.kept.found:
            given = self._answer(option)
            self.kept.keep(name, {"left_out": given.reason} if isinstance(given, Skipped)
                           else {"volts": given})
        found = self.kept.found[name]
        if "left_out" in found:
            self.search.leave_out(option.mode, option.place)
        else:
            self.search.read(Reading(option.mode, option.place, found["volts"]))
        self.told.append(Told(point.id, point.at, option.mode, found.get("volts"),
                              found.get("left_out", "")))

    def _answer(self, option: Option) -> Any:
        point, place = (self.search.cases.points[option.place],
                        self.search.cases.places[option.place])
        if self.mode != option.mode:
            self.mode = option.mode
            self._tell(f"The rig now: {words.state(self.symptom, option.mode)}.")
        self._tell(f"{len(self.search.left)} faults are left. Next {point.id}, {point.at}:"
                   f" {words.probes_at(self.build, point)}.")
        for line in filter(None, (words.waiting(point, option.mode), words.climbing(place))):
            self._tell(line)
        return self.answers.to(Quantity(f"{point.id}-{option.mode}",
                                        f"{point.id} ({option.mode}) reads", "voltage", "V",
                                        -MOST_V, MOST_V))

    def _tell(self, text: str) -> None:
        for line in words.hung(text, ""):
            self.tell(line)

    def _left(self) -> tuple[Fault, ...]:
        left = self.search.left or self.search.nearest[:NEAREST]
        return tuple(self.search.fault(one) for one in left)

    def _outcome(self) -> str:
        left = self.search.left
        if not left:
            return NO_FIT
        if self.search.nothing_is_wrong:
            return NOTHING_OPEN
        if self.search.options(left_out=True):
            return UNSETTLED
        return FOUND if len(left) == 1 else ALIKE
