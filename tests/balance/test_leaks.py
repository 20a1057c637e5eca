"""Verdicts on tanks at rest: tight, leaking, filling by itself, or a sensor that drifts."""

import numpy as np
import pytest

from forebay.balance.covered import row_seconds
from forebay.balance.instruments import Meters
from forebay.balance.leaks import DRIFT, GAIN, LEAK, TIGHT, UNKNOWN, leak_of, moves_of
from forebay.balance.levels import Levels
from forebay.balance.measured import Measured
from forebay.balance.plant import Store
from keeper import channels as ch
from keeper.modes import PUMPING, STANDSTILL
from tests.balance import rig as plant
from tests.balance.small import rows

METERS, STORE = Meters(plant.DEMO.sensors), Store(plant.DEMO, None)
HOUR_ROWS = 60
FULL = 1 << (ch.C_71H_UP - ch.COLUMNS)


def levels_of(some):
    ends_s = some.uptime_ds / 10.0
    return Levels(some, ends_s, row_seconds(some), METERS, 1.1, [(0, len(some) - 1)])


def resting(hours, mm_h, start_mm=500.0, seed=None, state=STANDSTILL):
    """Rows of a minute at rest; 1 mm is a litre.  seed: of the noise of 600 readings of 5 mm."""
    minutes = np.arange(round(hours * HOUR_ROWS))
    level_mm = start_mm + mm_h * (minutes + 0.5) / 60
    if seed is not None:
        level_mm = level_mm + np.random.default_rng(seed).normal(0, 5 / 600**0.5, len(minutes))
    return rows(*[(1, 600 * (n + 1), 600, state, {ch.LEVEL_MM: round(level_mm[n])})
                  for n in minutes.tolist()])


def verdict(some, rest_change, moves=None):
    return leak_of(levels_of(some).rests(), STORE, METERS, rest_change, moves)


def change(litres, u=0.64):
    return Measured(litres).with_noise(u)


def test_a_tank_that_stands_still_is_tight_and_says_how_much_could_have_gone_unseen():
    found = verdict(resting(6, 0.0, seed=1), change(0.3))
    assert found.kind == TIGHT
    assert found.litres_h is not None
    assert found.rest_h == pytest.approx(6, rel=0.01)
    most = found.litres_h.value + 2 * found.litres_h.u
    assert found.words == (f"No leak is seen: at rest the tank lost no more than {most:.2g} L/h.")


def test_a_leak_has_its_size_and_the_rate_holds_what_was_true():
    # 22.5 L in 8 h: by the slope of 480 rows.
    for seed in range(20):
        found = verdict(resting(8, -22.5 / 8, seed=seed), change(-22.5))
        assert found.kind == LEAK
        assert found.litres_h is not None
        assert found.litres_h.value == pytest.approx(22.5 / 8, abs=2 * found.litres_h.u)
        assert found.litres_h.u < 0.05
    assert "L/h at rest" in found.words
    assert "level sensor that drifts would read the same" in found.words


def test_a_tank_that_has_run_empty_has_leaked_at_the_rate_before_that():
    # It used to be the mean over a night of which the tank stood empty for nine tenths.
    short = resting(1, -70.0, start_mm=90.0, seed=3)
    empty = resting(9, 0.0, start_mm=0.0, seed=4)
    key = [(1, 600 * (n + 1), 600, STANDSTILL if n != HOUR_ROWS else PUMPING,
            {ch.LEVEL_MM: int(level)})
           for n, level in enumerate(np.concatenate([short.stored[ch.LEVEL_MM],
                                                     empty.stored[ch.LEVEL_MM]]))]
    found = verdict(rows(*key), change(-90.0))
    assert found.kind == LEAK
    assert found.litres_h is not None
    assert found.litres_h.value == pytest.approx(70, abs=2 * found.litres_h.u)
    assert found.rest_h < 1.1


def test_the_slopes_own_uncertainty_is_that_of_a_fit_and_of_rounding():
    # 61 rows of a minute: 1 / (s sqrt(sum (t - mean)^2)), and rounding's worst slope beside it.
    found = verdict(resting(61 / 60, 0.0), change(0.0)).litres_h
    minutes = np.arange(61) - 30.0
    noise_mm = np.hypot(5 / 600**0.5, 1 / 12**0.5)
    fit = noise_mm / np.sqrt((minutes**2).sum()) * 60
    assert found is not None
    assert found.u > fit
    assert found.u < 2 * fit


def test_tight_tanks_are_called_leaking_in_less_than_a_twentieth():
    called = 0
    for seed in range(200):
        chance = float(np.random.default_rng(1000 + seed).normal())
        found = verdict(resting(3, 0.0, 500 + seed / 7, seed), change(0.64 * chance))
        called += found.kind != TIGHT
    assert called <= 0.05 * 200


def test_water_that_went_at_once_is_told_from_one_that_leaks():
    # What the slopes do not show but the change does: the board was off, or somebody took it.
    found = verdict(resting(3, 0.0, seed=4), change(-22.5))
    assert found.kind == LEAK
    assert found.words.startswith("The tank lost 22.5 +- 1.3 L outside of light")


def test_rain_is_a_gain():
    found = verdict(resting(4, 2.0, seed=5), change(8.0))
    assert found.kind == GAIN
    assert found.words.startswith("Outside of filling the tank gained 8.0 +- 1.3 L: rain")


def test_without_a_level_or_a_rest_nothing_is_known():
    for some in (resting(1, 0.0, state=PUMPING), rows((1, 600, 600, STANDSTILL, {}))):
        found = verdict(some, change(-5.0))
        assert (found.kind, found.litres, found.litres_h) == (UNKNOWN, None, None)
    assert verdict(resting(2, 0.0), None).kind == UNKNOWN


def marked(mm_h, mark_mm):
    """Two fillings, a day at rest between them; the full float lifts at a level that reads so."""
    records, at_ds = [], 0
    for day, mark in enumerate(mark_mm):
        for step in range(6):
            at_ds += 100
            records.append((1, at_ds, 100, PUMPING, {ch.LEVEL_MM: mark - 3 + step}))
        for minute in range(720):
            at_ds += 600
            level_mm = mark + 2 + mm_h * (minute + 0.5) / 60
            records.append((1, at_ds, 600, STANDSTILL, {ch.LEVEL_MM: round(level_mm)}))
        del day
    some = rows(*records)
    some.contacts[:] = FULL
    begun = np.flatnonzero(some.state == PUMPING)
    some.contacts[begun[3:6]] = some.contacts[begun[9:]] = 0
    return some


@pytest.mark.parametrize(("mm_h", "marks", "kind"), [
    # Over half a day 48 mm go; then the float lifts at 900 mm again, or at 852.
    (-4.0, (900, 900), LEAK), (-4.0, (900, 852), DRIFT), (4.0, (900, 948), DRIFT),
    (4.0, (900, 900), GAIN)])
def test_a_drift_moves_a_floats_mark_and_a_leak_does_not(mm_h, marks, kind):
    some = marked(mm_h, marks)
    levels = levels_of(some)
    moves = moves_of(some, some.uptime_ds / 10.0, levels, plant.DEMO, {"full_float", "level"})
    assert moves is not None
    assert moves.apart_s == pytest.approx(43_260)
    assert moves.shift_m.value == pytest.approx((marks[1] - marks[0]) / 1000, abs=2e-3)
    found = leak_of(levels.rests(), STORE, METERS, change(24 * mm_h), moves)
    assert found.kind == kind
    assert ("would read the same" in found.words) is False


def test_a_float_that_is_not_there_or_moved_once_tells_nothing():
    some = marked(-4.0, (900, 900))
    levels, ends_s = levels_of(some), some.uptime_ds / 10.0
    assert moves_of(some, ends_s, levels, plant.DEMO, {"level"}) is None
    once = some.take(np.arange(len(some)) < 400)
    assert moves_of(once, once.uptime_ds / 10.0, levels_of(once), plant.DEMO,
                    {"full_float"}) is None
