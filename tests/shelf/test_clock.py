"""Times from uptimes: within the stated bounds, in order, whatever happened to the board."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from forebay.shelf import Anchor, Clock
from forebay.shelf.anchors import tie
from forebay.shelf.clock import ends_of

HISTORIES = 1000
# The promise: a crystal within 50 parts in a million, wandering as it likes.
DRIFT_FRAC = 50e-6
ROUNDING_S = 1e-5


class History:
    """A board's life as it was: boots with wandering clocks, outages, contacts, lost contacts."""

    def __init__(self, seed):
        draw = np.random.default_rng(seed)
        self.anchors = []
        moments, true = [], []
        now_s = 1.7e9 + draw.uniform(0, 3e7)
        generation, boot = 0, 0
        for _ in range(draw.integers(1, 9)):
            if boot and draw.random() < 0.05:
                generation, boot = generation + 1, 0
            boot += 1
            # From seconds to two months; off for none, a moment, or days.
            length_s = 10 ** draw.uniform(1, 6.7)
            uptime_s, utc_s = wandering(draw, length_s, now_s)
            known_s = length_s - draw.uniform(0, min(60, length_s - 1))
            at_ds = np.unique(np.append(draw.uniform(0, known_s, 40), known_s) * 10 // 1)
            moments += [(generation, boot, int(at)) for at in at_ds]
            true += np.interp(at_ds / 10, uptime_s, utc_s).tolist()
            for _ in range(draw.integers(0, 4) if draw.random() < 0.5 else 0):
                self.anchors.append(contact(draw, generation, boot, uptime_s, utc_s))
            now_s = utc_s[-1] + draw.choice([0, draw.uniform(0, 5), 10 ** draw.uniform(1, 6)])
        self.moments = np.array(moments).T
        self.true_s = np.array(true)
        self.ends = ends_of(self.moments)


def wandering(draw, length_s, begin_s):
    """Returns knots (uptime [s], UTC [s]) of a boot whose crystal drifts a little."""
    share = np.sort(draw.uniform(0, 1, 4))
    uptime_s = np.concatenate([[0], share, [1]]) * length_s
    rate = 1 + draw.uniform(-DRIFT_FRAC, DRIFT_FRAC, 5)
    if draw.random() < 0.3:
        rate[:] = 1 + DRIFT_FRAC * draw.choice([-1, 1])
    return uptime_s, begin_s + np.concatenate([[0], np.cumsum(np.diff(uptime_s) * rate)])


def contact(draw, generation, boot, uptime_s, utc_s):
    """Returns the anchor that a pull at some moment of a boot would note."""
    before_s = draw.uniform(utc_s[0], utc_s[-1])
    after_s = before_s + 10 ** draw.uniform(-3, 0.5)
    scan_s = min(draw.uniform(before_s, after_s), utc_s[-1])
    told_ds = int(np.interp(scan_s, utc_s, uptime_s) * 10)
    return Anchor(generation, boot, told_ds, *tie(before_s, after_s))


def test_in_a_thousand_random_histories_the_true_times_lie_within_the_stated_bounds():
    bounded = unbounded = 0
    for seed in range(HISTORIES):
        history = History(seed)
        clock = Clock(history.anchors, history.ends)
        assert clock.left_out == [], seed
        found = clock.times(*history.moments)
        if not history.anchors:
            assert np.isnan(found.utc_s).all()
            continue
        assert (found.earliest_s <= history.true_s + ROUNDING_S).all(), seed
        assert (found.latest_s >= history.true_s - ROUNDING_S).all(), seed
        assert (abs(found.utc_s - history.true_s) <= found.bound_s + ROUNDING_S).all(), seed
        assert (np.diff(found.utc_s) >= 0).all(), seed
        bounded += np.isfinite(found.bound_s).sum()
        unbounded += np.isinf(found.bound_s).sum()
    # The histories hold both kinds, or the above would show little.
    assert min(bounded, unbounded) > 10_000


def test_bounds_are_no_wider_than_drift_and_contacts_explain():
    clock = Clock([Anchor(0, 1, 0, 1e9, 0.0), Anchor(0, 1, 864_000, 1e9 + 86_400, 0.0)])
    found = clock.times([0, 0, 0], [1, 1, 1], [0, 432_000, 1_728_000])
    # At a contact none; half way half a day of drift; a day behind it a day's.
    assert found.bound_s.tolist() == pytest.approx([0, 43_200 * 50e-6, 86_400 * 50e-6], abs=1e-6)


def test_between_two_anchors_the_boards_drift_is_taken_out():
    # A board that loses 40 ms in 1000 s, seen at both ends.
    clock = Clock([Anchor(0, 1, 0, 1e9, 0.0), Anchor(0, 1, 10000, 1e9 + 1000.04, 0.0)])
    assert clock.utc([0], [1], [5000])[0] == pytest.approx(1e9 + 500.02, abs=1e-6)


def test_a_boot_between_two_others_is_shown_in_the_middle_of_what_is_possible():
    clock = Clock([Anchor(0, 1, 0, 1000.0, 0.0), Anchor(0, 3, 0, 3000.0, 0.0)],
                  {(0, 1): 0.0, (0, 2): 500.0, (0, 3): 0.0})
    found = clock.times([0, 0], [2, 2], [0, 5000])
    # It began at 1000 s or later and ended at 3000 s or earlier: 1500 s are free.
    assert found.utc_s.tolist() == pytest.approx([1750, 2250], abs=0.1)
    assert found.bound_s.tolist() == pytest.approx([750, 750], abs=0.1)


def test_a_boot_before_the_first_contact_is_shown_as_late_as_can_be_and_its_bound_is_open():
    clock = Clock([Anchor(0, 2, 600, 1e9, 0.0)])
    found = clock.times([0, 0, 0], [1, 1, 2], [100, 900, 300])
    assert found.utc_s.tolist() == pytest.approx([1e9 - 60 - 80, 1e9 - 60, 1e9 - 30])
    assert found.bound_s[:2].tolist() == [math.inf, math.inf]
    assert found.latest_s[1] == pytest.approx(1e9 - 60, abs=0.01)
    assert not clock.is_anchored(0, 1)


def test_without_any_anchor_no_time_is_invented():
    found = Clock([]).times([0], [1], [100])
    assert np.isnan(found.utc_s).all()
    assert np.isinf(found.bound_s).all()


def test_rows_and_events_of_a_boot_without_an_anchor_share_one_time():
    # Used to be told apart: a boot's events were placed by the last event alone.
    clock = Clock([Anchor(0, 2, 0, 1000.0, 0.1)], ends_of(([0, 0], [1, 1], [500, 6000])))
    assert clock.utc([0, 0], [1, 1], [500, 6000]).tolist() == [450.0, 1000.0]
    assert clock.utc([0], [1], [500]).tolist() == [450.0]


def test_a_host_whose_clock_was_years_off_once_is_left_out_and_said():
    good = [Anchor(0, 1, 36_000 * day, 1.7e9 + 3600 * day, 0.1) for day in range(4)]
    clock = Clock([*good, Anchor(0, 1, 50_000, 0.0, 0.1)])
    assert clock.left_out == [Anchor(0, 1, 50_000, 0.0, 0.1)]
    assert clock.utc([0], [1], [50_000])[0] == pytest.approx(1.7e9 + 5000)
    assert clock.notes() == ["1 of 5 contacts with the host contradict the others and are left"
                             " out: was its clock wrong?"]


CONTACT = st.tuples(st.integers(1, 5), st.integers(0, 10**6), st.floats(0, 2e9))


@given(st.lists(CONTACT, max_size=8))
def test_order_never_reverses_even_when_contacts_contradict_each_other(contacts):
    anchors = {(boot, uptime): Anchor(0, boot, uptime, utc, 0.1)
               for boot, uptime, utc in contacts}
    boots = np.repeat(np.arange(1, 6), 11)
    uptimes = np.tile(np.arange(0, 1_100_000, 100_000), 5)
    found = Clock(list(anchors.values())).times(np.zeros(55), boots, uptimes)
    assert (np.diff(found.utc_s) >= -ROUNDING_S).all() or np.isnan(found.utc_s).any()
    assert np.isnan(found.utc_s).all() == (not contacts)
    known = np.isfinite(found.bound_s)
    assert (found.earliest_s[known] <= found.utc_s[known]).all()
    assert (found.utc_s[known] <= found.latest_s[known]).all()
