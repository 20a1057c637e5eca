"""The judgement: expected beside actual, as expected or worse by so much, or it cannot be told.

A figure is worse where it departs, the worse way, by more than chance gives in one day of
twenty at most: the false alarms of a whole day are FALSE_A_DAY, shared evenly by the figures
that can be worse and by the two comparisons, with the description and with the days before
(Bonferroni's inequality; normal distribution, GUM G.1).
"""

import math
from dataclasses import dataclass, field
from statistics import NormalDist
from typing import NamedTuple

from forebay.balance.measured import Measured
from forebay.expected.conditions import Conditions
from forebay.expected.figures import BY_KEY, EITHER, FIGURES, MORE, Actual
from forebay.expected.spread import Figure
from forebay.shelf.local import maybe_iso

FALSE_A_DAY = 0.05
COMPARISONS = 2
_TESTS = COMPARISONS * sum(one.worse != EITHER for one in FIGURES)
SHARE = FALSE_A_DAY / _TESTS
SURE = NormalDist().inv_cdf(1.0 - SHARE)   # standard uncertainties, one-sided
TELLING_FRAC = 0.30      # a departure that would not show by so much cannot be told; a choice
# Of little, a share says nothing: a departure less than this needs no telling; choices.
TELLING = {"up_L": 10.0, "pump_J": 7200.0, "lifted": 0.0, "hottest_degC": 15.0, "light_h": 0.5,
           "lamps_J": 900.0, "given": 0.0, "panel": 0.0, "end_L": 60.0}
AS_EXPECTED, WORSE, BETTER, OTHERWISE = "as expected", "worse", "better", "otherwise"
CANNOT_TELL, NOT_KNOWN = "cannot tell", "not known"
LEAST_BEFORE = 4         # days before that make a usual day


class Usual(NamedTuple):
    """How a figure stood to what was expected on the days before: ln(actual / expected).

    mean [-]; scatter: standard deviation of one day [-]; days.
    """

    mean: float
    scatter: float
    days: int


class Row(NamedTuple):
    """One figure judged.

    off: actual less expected; u: its standard uncertainty; both in the figure's SI unit.
    usual: the same beside the days before, as shares (off, least that shows), None where
    there are too few.
    """

    key: str
    expected: Figure | None
    actual: Measured | None
    verdict: str
    why: str
    off: float = 0.0
    u: float = 0.0
    usual: tuple[float, float] | None = None

    @property
    def off_frac(self) -> float:
        """The departure as a share of what was expected [-]."""
        return self.off / self.expected.value if self.expected and self.expected.value else 0.0


@dataclass(frozen=True)
class Judged:
    """A span judged: rows in the order of FIGURES; causes, notes: sentences.

    verdict: of all together; since_s: from when on it was worse [s since 1970 UTC], None = all
    the time, or not told; by: what worked it out; description_s: when the description came that
    it was judged by [s since 1970 UTC], None = it was named.
    """

    conditions: Conditions
    rows: list[Row]
    verdict: str
    causes: list[str]
    since_s: float | None
    by: str
    actual: Actual
    notes: list[str] = field(default_factory=list)
    description_s: float | None = None

    def row(self, key: str) -> Row:
        """Return one row by its figure's key."""
        return next(one for one in self.rows if one.key == key)

    def as_json(self) -> dict:
        """Return the judgement as documented in docs/json.md."""
        found = self.conditions
        return {
            "begin_utc": maybe_iso(found.begin_s), "end_utc": maybe_iso(found.end_s),
            "sun_by": found.by, "sun_told_h": round(found.told_h, 2),
            "daylight_h": round(found.light_h, 2), "worked_out_by": self.by,
            "verdict": self.verdict, "worse_since_utc": maybe_iso(self.since_s),
            "looks_like": self.causes,
            "figures": {one.key: _row_json(one) for one in self.rows},
            "description_utc": maybe_iso(self.description_s), "notes": self.notes}


def _row_json(row: Row) -> dict:
    def pair(found):
        return None if found is None else {"value": _digits(found.value), "u": _digits(found.u)}

    usual = row.usual and {"off_frac": _digits(row.usual[0]), "shows_from_frac":
                           _digits(row.usual[1])}
    known = row.expected is not None and row.actual is not None
    return {"expected": pair(row.expected), "actual": pair(row.actual),
            "off": _digits(row.off) if known else None, "off_u": _digits(row.u) if known else None,
            "beside_days_before": usual, "verdict": row.verdict, "why": row.why or None}


def _digits(number):
    return float(f"{number:.5g}") if math.isfinite(number) else None


def judged_row(key: str, expected: Figure | None, actual: Measured | None, why_not: str,
               usual: Usual | None = None, alike: float | None = None) -> Row:
    """Return one figure judged, against the description and against the days before.

    alike: what was expected as on those days, where that is another sun's; None = the same.
    """
    if expected is None or not math.isfinite(expected.value):
        return Row(key, None, actual, NOT_KNOWN, why_not or "nothing tells the sun")
    if actual is None:
        return Row(key, expected, None, NOT_KNOWN, why_not)
    off, u = actual.value - expected.value, math.hypot(actual.u, expected.u)
    beside = _beside(usual, expected.value if alike is None else alike, actual)
    verdict = _verdict(key, off, SURE * u)
    why = "by the description" if verdict != AS_EXPECTED else ""
    if verdict == AS_EXPECTED and beside is not None and abs(beside[0]) > beside[1]:
        verdict, why = _verdict(key, *beside), "beside the days before"
    if verdict == AS_EXPECTED and beside is None and SURE * u > max(
            TELLING_FRAC * abs(expected.value), TELLING[key]):
        verdict = CANNOT_TELL
        why = f"less than {_least_said(key, expected, u)} off would not show"
    return Row(key, expected, actual, verdict, why, off, u, beside)


def _least_said(key, expected, u):
    figure = BY_KEY[key]
    if expected.value and key != "hottest_degC":
        return f"{100 * SURE * u / abs(expected.value):.0f} %"
    return f"{SURE * u * figure.scale:.3g} {figure.unit}"


def _beside(usual, expected, actual):
    """Return (share off beside the days before, the least that shows), None if not known."""
    from scipy.special import stdtrit

    if usual is None or not expected > 0.0 or actual.value <= 0.0:
        return None
    off = math.log(actual.value / expected) - usual.mean
    sure = float(stdtrit(usual.days - 1, 1.0 - SHARE))
    return off, sure * usual.scatter * math.sqrt(1.0 + 1.0 / usual.days)


def _verdict(key, off, sure):
    if abs(off) <= sure:
        return AS_EXPECTED
    worse = BY_KEY[key].worse
    if worse == EITHER:
        return OTHERWISE
    return WORSE if (off > 0.0) == (worse == MORE) else BETTER


def overall(rows: list[Row]) -> str:
    """Return the verdict of all figures together."""
    judged = [one.verdict for one in rows if BY_KEY[one.key].worse != EITHER]
    for verdict in (WORSE, BETTER):
        if verdict in judged:
            return verdict
    known = [one for one in judged if one != NOT_KNOWN]
    if known.count(AS_EXPECTED) > len(known) / 2:
        return AS_EXPECTED
    return CANNOT_TELL if known else NOT_KNOWN


def causes(rows: list[Row]) -> list[str]:
    """Return what the departures look like, in a person's words."""
    by = {one.key: one.verdict for one in rows}
    said = []
    if by.get("lifted") == WORSE:
        said.append("Less water for the same energy: a clogged strainer or filter, air, a worn"
                    " pump, or a meter in the rising main that reads too little.")
    elif by.get("up_L") == WORSE:
        said.append("Less water, and no less a watt hour: the pump ran less than the sun allows;"
                    " see its stops and trips.")
    if by.get("given") == BETTER:
        said.append("A litre gives more light than it should: a narrower nozzle does that (scale,"
                    " a leaf), and takes from the most light; or the meter reads too little.")
    if by.get("given") == WORSE:
        said.append("A litre gives less light than it should: a worn or wet turbine, a nozzle"
                    " out of line, a leak behind the meter.")
    if by.get("panel") == WORSE:
        said.append("The panel gives less than its sun should: dust, shade, a tired or broken"
                    " panel, a bad joint.")
    if by.get("hottest_degC") == WORSE:
        said.append("The motor was hotter than it should be: its cooling, or its bearings.")
    if by.get("light_h") == WORSE and by.get("up_L") != WORSE and (
            by.get("given") != WORSE):
        said.append("Less light from the same water: it went elsewhere (a leak, a drained tank),"
                    " or the light was ended.")
    return said
