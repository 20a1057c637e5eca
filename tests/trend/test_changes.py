"""The test for a change: what it finds, what it leaves alone."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as of

from forebay.trend.changes import (
    LEAST_DAYS,
    RAMP,
    STEP,
    Series,
    found_in,
    found_with_notes,
    maybe_change,
    scatter,
)

DAYS, SCATTER, METERS = 80, 0.015, 0.005


def series(shape, seed, spread=SCATTER):
    """Returns days of a shape with scatter and meters' noise."""
    draw = np.random.default_rng(seed)
    values = np.asarray(shape, float)
    noise = np.hypot(spread, METERS) * draw.standard_normal(len(values))
    return Series(np.arange(len(values), dtype=float), values + noise,
                  np.full(len(values), METERS))


def changed(of_days):
    """Returns the change that there is."""
    found = maybe_change(of_days)
    assert found is not None
    return found


def stepped(day, size, days=DAYS):
    """Returns a shape with a step on a day."""
    return size * (np.arange(days) >= day)


@pytest.mark.parametrize("seed", range(5))
def test_a_step_is_found_with_its_size_and_its_day(seed):
    one = changed(series(stepped(50, -0.2), seed))

    assert one.kind == STEP
    assert one.earliest <= 50 <= one.latest
    assert abs(one.size + 0.2) < 3.0 * one.u
    assert one.u < 0.01


@pytest.mark.parametrize("seed", range(5))
def test_a_ramp_is_found_with_its_rate(seed):
    one = changed(series(np.maximum(0.0, np.arange(DAYS) - 40) * -0.008, seed))

    assert one.kind == RAMP
    assert abs(one.rate + 0.008) < 4.0 * one.rate_u + 0.001
    assert abs(one.day - 40) <= 6


@pytest.mark.parametrize("seed", range(20))
def test_days_that_only_scatter_have_not_changed(seed):
    assert found_in(series(np.zeros(DAYS), seed)) == []


def test_coverage_of_the_size_of_steps():
    # Of 200 steps the size lies within 2 u in about 95 %; 90 to 99 % is what chance leaves.
    held = []
    for seed in range(200):
        one = maybe_change(series(stepped(40, 0.15), 1000 + seed))
        held.append(one is not None and abs(one.size - 0.15) <= 2.0 * one.u)

    assert 0.90 <= np.mean(held) <= 0.99


def test_two_steps_are_both_found():
    days = found_in(series(stepped(25, -0.2) + stepped(55, 0.3), 3))

    assert [one.kind for one in days] == [STEP, STEP]
    assert [abs(one.day - at) <= 1 for one, at in zip(days, (25, 55), strict=True)] == [True] * 2


LENGTHS = [(30, 20, 30), (50, 10, 20), (20, 10, 50), (15, 40, 25), (8, 60, 12)]


@pytest.mark.parametrize("sizes", [(0.3, -0.3), (-0.3, 0.3), (0.3, -0.15), (-0.2, 0.3)])
@pytest.mark.parametrize("lengths", LENGTHS)
def test_each_of_two_steps_is_measured_between_its_own_segments(sizes, lengths):
    # Of a mean of n days u is s / sqrt(n), by textbooks; of a difference of two the root of the
    # sum of squares.  5 u by chance: one number of 1.7 million (two-sided normal).
    before, between, behind = lengths
    shape = stepped(before, sizes[0], sum(lengths)) + stepped(before + between, sizes[1],
                                                             sum(lengths))
    found = found_in(series(shape, 11))

    assert [one.kind for one in found] == [STEP, STEP]
    day_u = np.hypot(SCATTER, METERS)
    sides = ((before, between), (between, behind))
    for one, size, (n, m) in zip(found, sizes, sides, strict=True):
        assert abs(one.size - size) < 5.0 * day_u * np.sqrt(1.0 / n + 1.0 / m)
        # Of 80 days the scatter itself is known to some 15 %: three times that.
        assert one.u == pytest.approx(day_u * np.sqrt(1.0 / n + 1.0 / m), rel=0.45)


def test_coverage_of_the_sizes_of_two_steps():
    # As of single steps: about 95 % lie within 2 u, and 90 to 99 % is what chance leaves of 200.
    held = []
    for seed in range(100):
        before, between, behind = LENGTHS[seed % len(LENGTHS)]
        days = before + between + behind
        shape = stepped(before, 0.3, days) + stepped(before + between, -0.3, days)
        found = found_in(series(shape, 2000 + seed))
        held += [len(found) == 2 and abs(one.size - size) <= 2.0 * one.u
                 for one, size in zip(found, (0.3, -0.3), strict=False)]

    assert 0.90 <= np.mean(held) <= 0.99
    assert len(held) == 200


def test_notes_a_few_days_apart_measure_each_step_by_itself():
    found = found_with_notes(series(stepped(40, 0.3) - stepped(43, 0.3), 8),
                             [(0, 39.5), (1, 42.5)])

    assert [one.note for one in found] == [0, 1]
    for one, size in zip(found, (0.3, -0.3), strict=True):
        assert abs(one.size - size) < 5.0 * np.hypot(SCATTER, METERS) / np.sqrt(3)


def test_a_drift_and_its_sudden_end_are_measured_beside_each_other():
    at = np.arange(DAYS)
    ramp, end = found_with_notes(series(np.where(at < 55, np.maximum(0.0, at - 20) * -0.008, 0.0),
                                        6), [(0, 54.5)])

    # The drift has fallen by 34 days of it at the last day before its end.
    for one, size in ((ramp, -0.008 * 34), (end, 0.008 * 34)):
        assert abs(one.size - size) < 5.0 * one.u
        assert one.u < 0.02


def test_the_end_of_a_drift_is_found_without_a_note():
    at = np.arange(DAYS)
    shape = np.where(at < 55, np.maximum(0.0, at - 20) * -0.008, 0.0)
    found = found_in(series(shape, 6))

    assert found[0].size < 0.0
    assert any(one.size > 0.0 and abs(one.day - 55) <= 2 for one in found)


def test_a_few_days_tell_nothing():
    few = series(stepped(3, -1.0, LEAST_DAYS - 1), 1)

    assert maybe_change(few) is None


def test_a_wild_day_is_no_change():
    shape = np.zeros(DAYS)
    shape[30] = 0.12

    assert found_in(series(shape, 4)) == []


@given(of.floats(-100.0, 100.0), of.floats(0.01, 100.0), of.integers(0, 30))
def test_another_unit_or_origin_finds_the_same_day(origin, unit, seed):
    one = series(stepped(50, -0.2), seed)
    other = Series(one.days, origin + unit * one.values, unit * one.u)
    found, same = changed(one), changed(other)

    assert (found.day, found.kind) == (same.day, same.kind)
    assert same.size == pytest.approx(unit * found.size, rel=1e-6)


@given(of.integers(0, 200), of.floats(0.005, 0.2))
def test_the_scatter_is_found_in_spite_of_a_change(seed, spread):
    found = scatter(*series(stepped(60, 1.0, 120), seed, spread)[1:])

    assert found == pytest.approx(spread, rel=0.5)


def test_a_note_at_the_day_of_a_cure_tells_it_from_a_drift():
    shape = np.where(np.arange(DAYS) < 50, np.maximum(0.0, np.arange(DAYS) - 20) * -0.01, 0.0)
    ramp, cure = found_with_notes(series(shape, 5), [(0, 49.6)])

    assert (ramp.kind, ramp.is_cure) == (RAMP, False)
    assert cure.is_cure
    assert cure.note == 0
    assert cure.day == 50.0
    assert abs(cure.size - 0.29) < 0.05


def test_a_note_at_which_nothing_changed_changes_nothing():
    quiet = series(np.zeros(DAYS), 6)

    assert found_with_notes(quiet, [(0, 30.5)]) == found_in(quiet) == []


def test_a_few_days_behind_a_note_tell_what_a_search_does_not():
    young = series(stepped(77, 0.045), 9)

    assert found_in(young) == []
    assert [one.note for one in found_with_notes(young, [(0, 76.5)])] == [0]
