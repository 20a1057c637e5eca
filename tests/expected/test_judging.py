"""When a figure is worse, as expected, or cannot be told."""

import math
from datetime import UTC
from types import SimpleNamespace
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as of

from forebay.balance.measured import Measured
from forebay.expected import judging
from forebay.expected.figures import BY_KEY, EITHER, FIGURES
from forebay.expected.judging import (
    AS_EXPECTED,
    BETTER,
    CANNOT_TELL,
    NOT_KNOWN,
    OTHERWISE,
    SURE,
    WORSE,
    Usual,
    judged_row,
    overall,
)
from forebay.expected.spread import Figure
from forebay.expected.text import lead


def row(key, expected, u, actual, of_actual=0.0, usual=None):
    """Returns a judged row of plain numbers."""
    return judged_row(key, Figure(expected, u, {}), Measured(actual).with_noise(of_actual), "",
                      usual)


@given(of.sampled_from([one.key for one in FIGURES]), of.floats(0.01, 5.0), of.floats(-0.99, 0.99))
def test_within_what_is_not_known_nothing_is_worse(key, u, part):
    found = row(key, 100.0, u, 100.0 + part * SURE * u)

    assert found.verdict in (AS_EXPECTED, CANNOT_TELL)


@pytest.mark.parametrize(("key", "off", "verdict"), [
    ("up_L", -1.0, WORSE), ("up_L", 1.0, BETTER), ("hottest_degC", 1.0, WORSE),
    ("hottest_degC", -1.0, BETTER), ("pump_J", -1.0, OTHERWISE), ("end_L", 1.0, OTHERWISE)])
def test_beyond_it_the_way_decides(key, off, verdict):
    assert row(key, 100.0, 3.0, 100.0 + 1.01 * off * SURE * 3.0).verdict == verdict


def test_the_uncertainty_of_what_was_counts_as_well():
    assert row("up_L", 100.0, 3.0, 100.0 - 1.2 * SURE * 3.0, 3.0).verdict != WORSE


def test_chance_makes_a_healthy_day_worse_in_one_of_twenty_at_most():
    # Bonferroni: the shares of all tests of a day add up to what a day may have.
    tests = 2 * sum(one.worse != EITHER for one in FIGURES)

    assert tests * 0.5 * math.erfc(SURE / math.sqrt(2.0)) == pytest.approx(0.05)


def test_what_would_not_show_a_loss_of_a_third_cannot_be_told():
    assert row("up_L", 100.0, 20.0, 95.0).verdict == CANNOT_TELL


def test_the_days_before_tell_what_the_description_cannot():
    # Known to a fifth by the description, to a hundredth by six days like it.
    usual = Usual(0.10, 0.01, 6)

    assert row("lifted", 100.0, 20.0, 110.0, usual=usual).verdict == AS_EXPECTED
    found = row("lifted", 100.0, 20.0, 90.0, usual=usual)
    assert (found.verdict, found.why) == (WORSE, "beside the days before")


def test_what_is_not_measured_is_not_judged():
    found = judged_row("up_L", Figure(100.0, 1.0, {}), None, "no meter")

    assert (found.verdict, found.why) == (NOT_KNOWN, "no meter")


def test_one_figure_that_is_worse_makes_the_day_worse_and_one_that_is_otherwise_does_not():
    well = [row(one.key, 100.0, 0.1, 100.0) for one in FIGURES]
    assert overall(well) == AS_EXPECTED
    odd = [row("pump_J", 100.0, 0.1, 80.0) if one.key == "pump_J" else one for one in well]
    assert overall(odd) == AS_EXPECTED
    bad = [row("up_L", 100.0, 0.1, 80.0) if one.key == "up_L" else one for one in odd]
    assert overall(bad) == WORSE


def test_nothing_known_is_no_verdict():
    unknown = [judged_row(key, None, None, "") for key in BY_KEY]

    assert overall(unknown) == judging.NOT_KNOWN


def test_a_day_on_which_something_was_held_off_is_not_plainly_as_expected():
    day: Any = SimpleNamespace(verdict=AS_EXPECTED, rows=[], since_s=None)
    assert lead(day, UTC) == "The day was as expected."
    assert "only the time that the rig ran was as expected" in lead(day, UTC, is_held=True)
