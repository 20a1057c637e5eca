"""What a calibration found: figures beside those that stood, points, and how they lie."""

import math
from dataclasses import dataclass, field
from typing import Any, NamedTuple

from forebay import units
from forebay.calibrate.fitting import Fit
from forebay.rig import Rig
from forebay.rig.beginning.questions import shown
from forebay.rig.beginning.writing import UNITS
from forebay.rig.doubt import of_figure
from forebay.rig.keys import COUNT
from forebay.rig.schema import KEYS, PLACE_OF

DIGITS = 6
DISAGREE_U = 2.0      # beyond which two figures are said to disagree (GUM 6.3.3, k = 2)
DOUBT_DIGITS = 2      # of an uncertainty, as is the trade's custom (GUM 7.2.6)


class Figure(NamedTuple):
    """A figure that was found, by "section.key", beside the one that stood [plain unit each].

    u, before_u: standard uncertainties.
    """

    place: str
    value: float
    u: float
    before: float
    before_u: float

    @property
    def moved_u(self) -> float:
        """By how many standard uncertainties of their difference the two lie apart [-]."""
        spread = math.hypot(self.u, self.before_u)
        return (self.value - self.before) / spread if spread else 0.0

    @property
    def is_better(self) -> bool:
        """Whether it is known at least as surely as the one that stood.

        As parts of either where they are of one sign: a large value is no worse for its size.
        """
        if self.value * self.before > 0:
            return self.u / abs(self.value) <= self.before_u / abs(self.before)
        return self.u <= self.before_u

    def said(self, value: float) -> str:
        """Return a value of it as people read it."""
        return said(self.place, value)

    def as_json(self) -> dict[str, Any]:
        """Return it as documented in docs/json.md."""
        return {"key": self.place, "unit": unit_of(self.place), "value": self.value, "u": self.u,
                "before": self.before, "before_u": self.before_u, "moved_u": self.moved_u}


class Drawn(NamedTuple):
    """Points and a fitted curve, in units that people read.

    title, across, up: texts, the latter with their units; names: of the points; apart:
    places of those that lie far from the fit; curve_x, curve_y: of the fit.
    """

    title: str
    across: str
    up: str
    x: list[float]
    y: list[float]
    u_y: list[float]
    names: list[str]
    apart: list[int]
    curve_x: list[float]
    curve_y: list[float]

    def as_json(self) -> dict[str, Any]:
        """Return it as documented in docs/json.md."""
        return {"title": self.title, "across": self.across, "up": self.up, "points": [
            {"name": name, "x": x, "y": y, "u_y": u, "apart": place in self.apart}
            for place, (name, x, y, u) in enumerate(
                zip(self.names, self.x, self.y, self.u_y, strict=True))]}


@dataclass
class Outcome:
    """What a task found.

    doubts: new standard uncertainties of instruments by "section.key" [plain unit], each
    with the one that stood; facts: "section.key" -> value of what is no number with an
    uncertainty, None = taken out; told: rows (what, text) beside the figures; notes:
    sentences.
    """

    task: str
    figures: list[Figure] = field(default_factory=list)
    doubts: dict[str, tuple[float, float]] = field(default_factory=dict)
    facts: dict[str, Any] = field(default_factory=dict)
    drawn: list[Drawn] = field(default_factory=list)
    told: list[tuple[str, str]] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)

    def changes(self) -> dict[str, Any]:
        """Return what is to be written, by "section.key" [plain unit]; None = taken out."""
        found: dict[str, Any] = {one.place: rounded(one.place, one.value) for one in self.figures}
        found.update({place: float(f"{new:.{DOUBT_DIGITS}g}")
                      for place, (new, _) in self.doubts.items()})
        found.update(self.facts)
        return found

    def settle(self) -> None:
        """Let stand what was found less surely than it is known, and say so.

        An uncertainty of instruments then does not grow by it either.
        """
        worse = [one for one in self.figures if not one.is_better]
        self.figures = [one for one in self.figures if one not in worse]
        if worse:
            self.doubts = {place: pair for place, pair in self.doubts.items()
                           if pair[0] <= pair[1]}
        self.notes += [f"{one.place} stands: it was found as"
                       f" {said_u(one.place, one.value, one.u)}, less surely than it is known"
                       f" (u {said_u(one.place, one.before, one.before_u).split('(u ')[1]}."
                       + (f" The two lie {abs(one.moved_u):.1f} u apart: one of them is wrong."
                          if abs(one.moved_u) > DISAGREE_U else "") for one in worse]

    def as_json(self) -> dict[str, Any]:
        """Return it as documented in docs/json.md."""
        return {"task": self.task, "figures": [one.as_json() for one in self.figures],
                "uncertainties": [{"key": place, "value": new, "before": before}
                                  for place, (new, before) in self.doubts.items()],
                "facts": self.facts,
                "fits": [one.as_json() for one in self.drawn],
                "told": [{"what": what, "text": text} for what, text in self.told],
                "notes": self.notes}


def unit_of(place: str) -> str:
    """Return the plain unit of a key, "" of one without."""
    key = KEYS[place]
    if not key.is_quantity:
        return ""
    return key.unit


def said(place: str, value: float) -> str:
    """Return a value of a key [plain unit] as people read it."""
    key = KEYS[place]
    if not key.is_quantity or not key.unit:
        return f"{value:.{DIGITS}g}"
    return shown(value, key.kind, UNITS.get(key.kind, key.unit), DIGITS)


def said_u(place: str, value: float, u: float) -> str:
    """Return a value and its standard uncertainty in one unit, as people read them."""
    key = KEYS[place]
    if not key.is_quantity or not key.unit:
        return f"{value:.{DIGITS}g} (u {u:.{DOUBT_DIGITS}g})"
    unit = UNITS.get(key.kind, key.unit)
    if unit == "/L" or key.kind == "pulses by volume":
        return f"{value:.{DIGITS}g} {unit} (u {u:.{DOUBT_DIGITS}g})"
    size = units.convert(value, key.kind, unit)
    off = units.convert(value + u, key.kind, unit) - size
    return f"{size:.{DIGITS}g} {unit} (u {off:.{DOUBT_DIGITS}g})"


def rounded(place: str, value: float) -> float | int:
    """Return a figure as its key takes it: whole numbers of a count."""
    return round(value) if KEYS[place].kind == COUNT else float(f"{value:.{DIGITS}g}")


def figure(rig: Rig, place: str, value: float, u: float, *, before: float | None = None,
           stands: str | None = None) -> Figure:
    """Return a figure beside the one that a rig has.

    before: where the rig states none; stands: the key whose doubt that one has.
    """
    values = rig.plant()
    stood = values[PLACE_OF[place]] if before is None else before
    named = stands or place
    doubt = of_figure({**values, PLACE_OF[named]: stood}, named, named in rig.assumed)
    return Figure(place, value, u, float(stood), doubt)


def stretched_said(fit: Fit, what: str) -> list[str]:
    """Return in a sentence that points scatter more than was stated, where they do."""
    if fit.is_stated and fit.stretch > MUCH:
        return [f"The points of {what} scatter {fit.stretch:.1f} times as much as was stated;"
                " the uncertainty is widened by that."]
    return []


MUCH = 1.5


def apart_said(fit: Fit, names: list[str]) -> list[str]:
    """Return a sentence for each point that lies apart: it is in the fit all the same."""
    def off(place):
        spread = fit.spreads[place]
        return (f"{abs(fit.residuals[place] / spread):.1f} standard uncertainties off" if spread
                else "off")

    return [f"{names[place]} lies {off(place)} the fit. It is in the fit: look for the cause, and"
            " measure it again." for place in fit.apart()]
