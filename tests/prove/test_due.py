"""An overdue proof test is reminded of, one that was passed is not."""

import pytest

from forebay.prove.found import FAILED, PASSED, SKIPPED
from forebay.prove.record import Record, keep
from forebay.review.due import overdue
from forebay.shelf import Shelf

DAY_S = 86400.0
AT_S = 1.8e9
RIG = 7


def kept(shelf, *outcomes):
    steps = [{"name": "stop", "title": "Local stop", "outcome": one, "finding": "", "said": "",
              "utc_s": AT_S} for one in outcomes]
    keep(shelf, Record(RIG, "rig", AT_S - 3600, AT_S, steps), is_whole=True)


def told(tmp_path, days, *outcomes):
    with Shelf(tmp_path / "shelf.sqlite") as shelf:
        if outcomes:
            kept(shelf, *outcomes)
        return [one.what for one in overdue(shelf, RIG, AT_S + days * DAY_S, None)]


@pytest.mark.parametrize(("days", "is_told"), [(0, False), (364.9, False), (365.1, True)])
def test_it_is_told_after_a_year_and_not_before(tmp_path, days, is_told):
    assert bool(told(tmp_path, days, PASSED)) == is_told


def test_how_long_it_is_overdue_is_said(tmp_path):
    assert "30 days overdue" in told(tmp_path, 395, PASSED)[0]


def test_one_that_was_not_passed_is_told_at_once(tmp_path):
    assert "1 of 2 steps not as they must be" in told(tmp_path, 1, PASSED, FAILED)[0]


def test_steps_that_were_left_out_are_told_and_are_not_proven(tmp_path):
    # One that left out all steps but one used to count for a year.
    assert "1 left out" in told(tmp_path, 1, PASSED, SKIPPED)[0]
    assert not Record(RIG, "rig", AT_S, AT_S, [{"outcome": PASSED}, {"outcome": SKIPPED}]
                      ).is_proven


def test_of_a_rig_that_this_shelf_knows_none_of_nothing_is_said(tmp_path):
    assert told(tmp_path, 4000) == []
