"""From a shelf's journal to a judgement: the order of work."""

import math
from collections.abc import Callable, Sequence

import numpy as np

from forebay.balance.measured import Measured
from forebay.expected import judging
from forebay.expected.conditions import (
    FILE_FRAC,
    Conditions,
    conditions_of,
    panel_read,
    span_of,
)
from forebay.expected.figures import BY_KEY, FIGURES, Actual, actual_of
from forebay.expected.judging import LEAST_BEFORE, WORSE, Judged, Usual, judged_row
from forebay.expected.panelsun import COOLED_W_M2_K, Curve, beside
from forebay.expected.spread import Figure, Quick, alone, quick
from forebay.plan import lifting
from forebay.plan.lifting import Machine
from forebay.rig import Rig, instruments
from forebay.rig.doubt import doubt
from forebay.shelf import Clock, Journal
from forebay.sun import SunTrack

Period = tuple[float, float]
BLOCK_MIN = 10           # a piece of the day in which a rate is compared
LEAST_BLOCK_L = 2.0      # of less water a rate is no rate
LEAST_BLOCKS = 4         # on either side of a change
SURE_OF_STEP = 4.0       # t of the step in the rate, the day searched for it; a guess
LEAST_STOOD_MIN = 30     # the pump stood for so long though there was sun
WAITS = 2.0              # more than so many of its longest waits, and what chance adds to them
LEAST_SCATTER = 0.01     # of a day's figures, however alike the days before were; a guess
NO_FILE = "only a sun that was measured beside it tells (--sun)"
QUICK_BY = "a model by the minute (ask for the keeper itself with --full)"


def expected_of(journal: Journal, clock: Clock, rig: Rig, rig_id: int, period: Period,
                track: SunTrack | None = None, usual: dict[str, Usual] | None = None,
                play: Callable[[Conditions], dict[str, float]] | None = None) -> Judged:
    """Return a span of a decoded journal, judged.

    period: (begin, end) [s since 1970 UTC], from before one sunrise to before the next;
    track: the sun, where a file tells it; usual: of the days before (`maybe_usual`); play:
    returns the figures of the full twin by key, whose uncertainties are the quick model's.
    """
    conditions = conditions_of(journal, clock, rig, period, track)
    actual = actual_of(journal, clock, rig, rig_id, span_of(journal, clock, period), period)
    found = quick(rig, conditions) if conditions.sun is not None else None
    figures, by, notes = _figures(found, conditions, play)
    if track is not None and found is not None:
        actual.values["panel"], figures["panel"] = _panel(rig, conditions, journal, clock)
    if track is None:
        actual.why_not["panel"] = NO_FILE
    # The days before were seen by the panel's own sun: beside them so is this one.
    alike = {} if track is None or not usual else pair_on(
        journal, clock, rig, rig_id, period, lifting.machine(rig.plant()))[0]
    # Where nothing tells the sun, what no meter reads is still the first thing to say.
    unlit = {} if found else dict.fromkeys(BY_KEY, "the sun is not known")
    rows = [judged_row(one.key, figures.get(one.key), actual.values[one.key],
                       {**unlit, **actual.why_not}.get(one.key, ""), (usual or {}).get(one.key),
                       alike.get(one.key)) for one in FIGURES]
    verdict = judging.overall(rows)
    said, since_s = judging.causes(rows), None
    if found is not None:
        stood = _stood(found, actual, rig.plant()["limits.holdoff_longest_s"])
        if stood is not None:
            at_s, minutes = stood
            said.append(f"The pump stood for {minutes / 60:.1f} h in all in which it should have"
                        " run.")
        if verdict == WORSE:
            since_s = _since(found, actual, conditions) or (
                conditions.begin_s + stood[0] if stood and _is_fill_worse(rows) else None)
    return Judged(conditions, rows, verdict, said, since_s, by, actual,
                  [*conditions.notes, *notes])


def _panel(rig, conditions, journal, clock):
    """Return (the sun that the panel shows over the file's, what is expected of that)."""
    doubts, values = doubt(rig), rig.plant()
    name = "panel.short_circuit_current_A"
    u = math.hypot(FILE_FRAC, doubts[name] / values[name])
    expected = Figure(1.0, u, {"the file's sun": FILE_FRAC, name: doubts[name] / values[name]})
    if not instruments.is_fitted(values, "panel_meter"):
        return None, expected
    span = span_of(journal, clock, (conditions.begin_s, conditions.end_s))
    volts, amps = panel_read(span, conditions.begin_s, conditions.minutes)
    sun = conditions.sun
    shown = beside(Curve(values), volts, amps, sun.poa_W_m2,
                   sun.cell_degC - sun.poa_W_m2 / COOLED_W_M2_K)
    if shown is None:
        return None, expected
    return Measured(shown[0]).with_noise(shown[0] * shown[1]), expected


def _is_fill_worse(rows):
    return any(one.key == "up_L" and one.verdict == WORSE for one in rows)


def _figures(found, conditions, play):
    """Return (figures by key, what worked them out, notes)."""
    if found is None:
        return {}, "nothing", []
    if play is None:
        return found.figures, QUICK_BY, []
    played = play(conditions)
    figures = {}
    for key, one in found.figures.items():
        value = played.get(key, math.nan)
        # The spread goes with the size; of a temperature or a level it stays.
        scale = value / one.value if one.value and key not in ("hottest_degC", "end_L") else 1.0
        figures[key] = one if math.isnan(value) else Figure(value, one.u * abs(scale), one.parts)
    return figures, "the keeper itself on the simulated rig, scan by scan", []


def maybe_usual(pairs: Sequence[tuple[dict[str, float], dict[str, float]]]) -> dict[str, Usual]:
    """Return how figures stood on earlier days, by key; of too few days none.

    pairs: (expected, actual) of each day, by key.
    """
    found = {}
    for one in FIGURES:
        logs = [math.log(actual[one.key] / expected[one.key]) for expected, actual in pairs
                if expected.get(one.key, 0.0) > 0.0 and actual.get(one.key, 0.0) > 0.0]
        if one.key not in ("hottest_degC", "end_L") and len(logs) >= LEAST_BEFORE:
            found[one.key] = Usual(float(np.mean(logs)),
                                   max(LEAST_SCATTER, float(np.std(logs, ddof=1))), len(logs))
    return found


def pair_of(judged: Judged) -> tuple[dict[str, float], dict[str, float]]:
    """Return (expected, actual) of a day by key, for `maybe_usual` of a later one."""
    known = [one for one in judged.rows if one.expected is not None and one.actual is not None]
    return ({one.key: one.expected.value for one in known if one.expected},
            {one.key: one.actual.value for one in known if one.actual})


def pair_on(journal: Journal, clock: Clock, rig: Rig, rig_id: int, period: Period,
            machine: Machine) -> tuple[dict[str, float], dict[str, float]]:
    """Return (expected, actual) of a day by key, as `pair_of`, without their uncertainties.

    machine: the rig's pump and panel, tabled (`forebay.plan.lifting.machine`).
    """
    conditions = conditions_of(journal, clock, rig, period)
    if conditions.sun is None:
        return {}, {}
    actual = actual_of(journal, clock, rig, rig_id, span_of(journal, clock, period), period)
    return alone(rig, conditions, machine), {
        key: one.value for key, one in actual.values.items() if one is not None}


def _stood(found: Quick, actual: Actual, holdoff_s: float):
    """Return (when first [s since the begin], minutes in all) that the pump stood in vain."""
    should = found.alone.runs & ~actual.runs
    minutes = int(found.alone.runs.sum()) - int(actual.runs.sum())
    # Each start is a trial of the sun, and may come later by a wait.
    waits_min = holdoff_s / 60.0 * math.sqrt(max(1, found.alone.starts))
    if minutes < max(LEAST_STOOD_MIN, WAITS * waits_min):
        return None
    return 60.0 * float(np.argmax(should)), minutes


def _since(found: Quick, actual: Actual, conditions) -> float | None:
    """Return from when on [s since 1970 UTC] less was lifted; None = all day, or not told.

    The rate's logarithm beside the expected one, in pieces: one step by least squares.
    """
    ends = np.arange(BLOCK_MIN, conditions.minutes, BLOCK_MIN)
    both = [np.diff(values[ends - 1], prepend=0.0) for values in
            (found.came.by_minute_up_L[:, 0], actual.by_minute_up_L)]
    runs = (both[0] > LEAST_BLOCK_L) & (both[1] > LEAST_BLOCK_L)
    logs, at_min = np.log(both[1][runs] / both[0][runs]), (ends - BLOCK_MIN)[runs]
    best = None
    for place in range(LEAST_BLOCKS, len(logs) - LEAST_BLOCKS + 1):
        before, after = logs[:place], logs[place:]
        left = float(((before - before.mean()) ** 2).sum() + ((after - after.mean()) ** 2).sum())
        if best is None or left < best[0]:
            best = (left, place, before.mean() - after.mean())
    if best is None:
        return None
    left, place, drop = best
    u = math.sqrt(max(left, 1e-12) / (len(logs) - 2) * (1.0 / place + 1.0 / (len(logs) - place)))
    return conditions.begin_s + 60.0 * float(at_min[place]) if drop > SURE_OF_STEP * u else None
