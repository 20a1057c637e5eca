"""Nights that the real keeper wrote on the twin come again under unchanged settings.

What is expected of each was written down before it was first played as a test: every event
whose cause lasts two rows comes again, of the same kind, element and in the same order; here
those with shorter causes come again too, as their own readings are in the events.
"""

import pytest

from forebay.replay.comparing import events_of, fidelity
from forebay.replay.jobs import job_of, ran
from tests.replay.played import LIT_S, PUMPING_S, span
from tests.replay.warm import stage

# fault, when [s], hours played, an element that must be among what comes again, times told
DAYS = [
    ("jacket-blocked", PUMPING_S, 2.5, "26-MOT", 3),
    ("air-in-pump", PUMPING_S, 2.0, "37-PMP", 4),          # the fourth locks out
    ("strainer-blocked", PUMPING_S, 2.0, "80-PMP", 1),
    ("load-lost", LIT_S, 5.0, "59-GEN", 4),
    ("motor-sensor-open", PUMPING_S, 2.0, "3-MOT", 1),
]


def replayed(days):
    came = ran(job_of(days, days.settings), python=stage())
    found, _ = fidelity(days, came)
    return came, found


@pytest.mark.parametrize(("name", "at_s", "hours", "element", "times"), DAYS)
def test_what_a_fault_brought_about_comes_again(name, at_s, hours, element, times):
    days = span(((at_s, name),), hours)
    recorded = [one.words for one in events_of(days.journal, days.time.event, days.time,
                                               days.settings, days.begin + 1, days.end)]
    assert recorded.count(f"{element} acted") >= times   # the day holds what it is for
    came, found = replayed(days)
    assert found.wrong == []
    assert found.swapped == []
    assert len(found.reproduced) == found.recorded
    assert came.told["astray"] == []


def test_a_whole_day_without_a_fault_comes_again_with_its_full_tank_and_its_light():
    days = span()
    came, found = replayed(days)
    words = [one.words for one in found.reproduced]
    assert "71H-UP acted" in words
    assert "standstill left: light due" in words
    assert found.wrong == found.undecidable == []
    assert came.told["found"] == []      # dusk explains the light: nobody wished it


def test_two_days_of_the_same_rig_differ_where_their_faults_do():
    # A comparison that cannot fail is none: another day's record is not this one's.
    days = span(((PUMPING_S, "air-in-pump"),), 2.0)
    other = ran(job_of(span(((PUMPING_S, "strainer-blocked"),), 2.0), days.settings),
                python=stage())
    found, _ = fidelity(days, other)
    assert found.wrong or found.undecidable
    assert "37-PMP acted" not in [one.words for one in found.reproduced]


def test_a_process_that_has_replayed_another_day_gives_what_a_new_one_gives():
    days = span(((PUMPING_S, "air-in-pump"),), 2.0)
    replayed(span(((PUMPING_S, "strainer-blocked"),), 2.0))
    after, alone = replayed(days)[0], ran(job_of(days, days.settings))
    assert after.told == alone.told
    assert list(after.event) == list(alone.event)
    assert (after.journal.rows.stored == alone.journal.rows.stored).all()
