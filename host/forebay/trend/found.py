"""What has changed in a rig's days, figure by figure, with what its person did."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import UTC, date, timedelta, tzinfo
from typing import Any, NamedTuple

import numpy as np

from forebay.shelf.local import iso_local, maybe_iso
from forebay.shelf.told import Note
from forebay.trend.changes import RAMP, STEP, Change, Series, found_with_notes
from forebay.trend.figures import FOLLOWED, LESS, Day, Followed

DAY_S = 86400.0
LATELY_DAYS = 7
WEEK_DAYS = 7


class Anew(NamedTuple):
    """A flash of another description: the first day that it reads, and when it came
    [s since 1970 UTC].
    """

    first: date
    came_s: float


@dataclass(frozen=True)
class Finding:
    """A change of one figure, as a person is told it.

    first: the first day of the change, and the days between which that lies; size, u: in
    the figure's shown unit (% of the description, or its own); is_worse; is_open: no later
    change has taken it back; note, noted: of a person at that day, and the day of the note;
    anew: the flash of another description then, for which it is taken: not for a change of
    the rig.
    """

    figure: Followed
    change: Change
    first: date
    earliest: date
    latest: date
    size: float
    u: float
    is_worse: bool
    is_open: bool
    note: Note | None = None
    noted: date | None = None
    anew: Anew | None = None

    @property
    def looks_like(self) -> str:
        """What such a change looks like, "" where nothing is to be feared."""
        if self.anew:
            return ""
        return self.figure.looks if self.is_worse else self.figure.other


@dataclass(frozen=True)
class Line:
    """One figure over the days: series (days counted from the first), why it is not known.

    usual, lately: means in the shown unit, of the days before the first change and of the last
    ones; None without days.
    """

    figure: Followed
    series: Series
    findings: list[Finding]
    why_not: str = ""
    usual: float | None = None
    lately: float | None = None

    def shown(self) -> np.ndarray:
        """Return the values in the shown unit."""
        return np.array([shown(self.figure, float(one)) for one in self.series.values])


@dataclass(frozen=True)
class Trend:
    """Days of a rig, followed: lines in the order of FOLLOWED, findings with the gravest first.

    begin_s: of the first day [s since 1970 UTC]; anew: flashes of another description, in order;
    zone: in which a note's day is told; span: what each value is of, a day or a week.
    """

    name: str
    first: date | None
    last: date | None
    days: int
    lines: list[Line]
    notes: list[Note] = field(default_factory=list)
    begin_s: float = 0.0
    anew: list[Anew] = field(default_factory=list)
    zone: tzinfo = UTC
    span: str = "day"

    @property
    def findings(self) -> list[Finding]:
        """Changes of all figures: open and worse first, then by time."""
        found = [one for line in self.lines for one in line.findings]
        return sorted(found, key=lambda one: (not (one.is_open and one.is_worse),
                                              not one.is_open, one.first))

    def as_json(self) -> dict[str, Any]:
        """Return the trend as documented in docs/json.md."""
        first = self.first
        return {
            "name": self.name, "first_day": first and first.isoformat(),
            "last_day": self.last and self.last.isoformat(), "days": self.days,
            "findings": [_finding_json(one) for one in self.findings],
            "figures": {line.figure.key: {
                "unit": line.figure.unit, "usual": _digits(line.usual),
                "lately": _digits(line.lately), "why_not": line.why_not or None,
                "days": [] if first is None else [
                    {"day": (first + timedelta(float(day))).isoformat(), "value": _digits(value),
                     "u": _digits(_u(line.figure, value, float(u)))}
                    for day, value, u in zip(line.series.days, line.shown().tolist(),
                                             line.series.u, strict=True)]}
                for line in self.lines},
            "descriptions": [{"first_day": one.first.isoformat(), "utc": maybe_iso(one.came_s)}
                             for one in self.anew],
            "notes": [{"utc_s": one.utc_s, "text": one.text} for one in self.notes]}


def _finding_json(one: Finding) -> dict[str, Any]:
    change = one.change
    per_day = change.rate and {"value": _digits(_scaled(one, change.rate)),
                               "u": _digits(abs(_scaled(one, change.rate_u)))}
    return {"figure": one.figure.key, "kind": change.kind, "first_day": one.first.isoformat(),
            "between": [one.earliest.isoformat(), one.latest.isoformat()],
            "size": _digits(one.size), "u": _digits(one.u), "unit": one.figure.unit,
            "per_day": per_day or None, "z": _digits(change.z), "is_worse": one.is_worse,
            "is_open": one.is_open, "is_cure": change.is_cure,
            "looks_like": one.looks_like or None, "note": one.note and one.note.text,
            "description_utc": one.anew and maybe_iso(one.anew.came_s)}


def _scaled(one, slope):
    """Return a slope in the shown unit for small changes."""
    return 100.0 * slope if one.figure.is_ratio else slope


def _digits(number):
    return None if number is None or not math.isfinite(number) else float(f"{number:.4g}")


def shown(figure: Followed, value: float) -> float:
    """Return a followed value in the unit that it is shown in."""
    return 100.0 * math.exp(value) if figure.is_ratio else value


def _u(figure, value, u):
    return value * u if figure.is_ratio else u


def trend_of(name: str, days: Sequence[Day], notes: Sequence[Note] = (),
             by_week: bool = False, zone: tzinfo = UTC) -> Trend:
    """Return what has changed over some days, in order of time.

    by_week: seven are pooled; zone: in which a note's day is told.
    """
    if not days:
        return Trend(name, None, None, 0, [_empty(one, "no day is held") for one in FOLLOWED])
    first, begin_s = days[0].day, days[0].begin_s
    placed = [(number, (one.utc_s - begin_s) / DAY_S) for number, one in enumerate(notes)]
    told = [(one, date.fromisoformat(iso_local(one.utc_s, zone, "%Y-%m-%d"))) for one in notes]
    anew = described_anew(days)
    lines = [_line(one, days, anew, told, placed, by_week) for one in FOLLOWED]
    return Trend(name, first, days[-1].day, len(days), lines, list(notes), begin_s, anew, zone,
                 "week" if by_week else "day")


def described_anew(days: Sequence[Day]) -> list[Anew]:
    """Return where days in order begin to be read by another description."""
    return [Anew(one.day, one.description_s) for before, one in zip(days, days[1:], strict=False)
            if one.description_s is not None and one.description_s != before.description_s]


def _empty(figure, why):
    nothing = np.zeros(0)
    return Line(figure, Series(nothing, nothing, nothing), [], why)


def series_of(figure: str, days: Sequence[Day], first: date, by_week: bool = False) -> Series:
    """Return one figure of the days that have it; days are counted from `first` [d].

    by_week: seven are pooled; a week in which another description was flashed is two.
    """
    known = [(float((one.day - first).days), *one.values[figure]) for one in days
             if figure in one.values]
    table = np.array(known).reshape(-1, 3).T
    series = Series(table[0], table[1], table[2])
    if not by_week:
        return series
    return _pooled(series, [(one.first - first).days for one in described_anew(days)])


def _pooled(series, anew):
    """Return weeks: plain means, as the scatter from day to day outweighs the days' own u.

    anew: days from which on another description reads: no mean is of days on both sides.
    """
    keys = np.stack([series.days // WEEK_DAYS, np.searchsorted(anew, series.days, "right")])
    parts = [series.part((keys == one[:, None]).all(axis=0))
             for one in np.unique(keys, axis=1).T]
    return Series(np.array([one.days[0] for one in parts]),
                  np.array([one.values.mean() for one in parts]),
                  np.array([math.sqrt((one.u ** 2).sum()) / len(one.u) for one in parts]))


def _line(figure, days, anew, notes, placed, by_week):
    first = days[0].day
    series = series_of(figure.key, days, first, by_week)
    if not len(series.days):
        return _empty(figure, _why_not(figure, days))
    changes = found_with_notes(series, placed)
    flashed = [maybe_anew(one, first, anew, WEEK_DAYS if by_week else 1) for one in changes]
    findings = [_finding(figure, series, number, changes, flashed, first, notes)
                for number in range(len(changes))]
    values = np.array([shown(figure, float(one)) for one in series.values])
    healthy = values[series.days < changes[0].day] if changes else values
    return Line(figure, series, findings, "", float(np.mean(healthy if len(healthy) else values)),
                float(values[series.days > series.days[-1] - LATELY_DAYS].mean()))


def maybe_anew(change: Change, first: date, anew: Sequence[Anew], apart_days: int
               ) -> Anew | None:
    """Return the flash of another description at which a step came, None where it came at none.

    first: the day from which the change's are counted; apart_days: so far from one another the
    series' days are [d]: the flash's own day is read by one of both.
    """
    if change.kind != STEP:
        return None
    return next((one for one in anew if change.earliest - apart_days
                 <= (one.first - first).days <= change.latest + apart_days), None)


def _why_not(figure, days):
    reasons = [one.why_not.get(figure.key, "") for one in days]
    return max(set(reasons), key=reasons.count)


def _finding(figure, series, number, changes, flashed, first, notes):
    change = changes[number]
    since = changes[number - 1].day if number else -math.inf
    before = series.values[(series.days >= since) & (series.days < change.day)]
    level = float((before if change.kind == RAMP else before[-LATELY_DAYS:]).mean())
    begun = shown(figure, level)
    size = shown(figure, level + change.size) - begun
    u = abs(shown(figure, level + change.size) * change.u) if figure.is_ratio else change.u
    # A description takes nothing back.
    behind = sum(changes[later].size for later in range(number + 1, len(changes))
                 if flashed[later] is None)
    # Taken back: what came behind it goes the other way by more than half of it.
    is_open = not change.is_cure and behind * change.size >= -0.5 * change.size ** 2
    day = [first + timedelta(float(one)) for one in (change.day, change.earliest, change.latest)]
    anew = flashed[number]
    note, noted = (None, None) if change.note is None else notes[change.note]
    return Finding(figure, change, day[0], day[1], day[2], size, u,
                   anew is None and (change.size < 0.0) == (figure.worse == LESS), is_open,
                   note, noted, anew)
