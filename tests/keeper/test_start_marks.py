"""A start of the pump is on flash before the pump runs: power that goes hides no trip."""

import pytest

from keeper import channels as ch
from keeper import modes as mo
from keeper import settings as st
from keeper.channels import OUT_PUMP
from keeper.protection import elements as el
from tests.keeper.scripted import settings_with
from tests.keeper.ways import SUN, WATER
from tests.keeper.whole import unlocked

DRY = (ch.PUMP_MA, 40)           # far below what its voltage demands
NUMBERS = settings_with()
RETRIES = NUMBERS[st.index("trip_retries")]
WAIT_SCANS = 10 * NUMBERS[st.index("trip_wait_s")]
PROVEN_SCANS = 1500
SLACK_SCANS = 3                  # that a mark may take


@pytest.fixture
def rig(tmp_path):
    return unlocked(tmp_path)


def start_dry(rig, most):
    """Lets the pump start dry, as soon as it may; returns whether it did."""
    for _ in range(most):
        rig.run(1, [SUN, DRY])
        if rig.board.outputs[OUT_PUMP]:
            return True
    return False


def saves(rig, monkeypatch):
    saved = []
    memory = rig.keeper.retained.memory
    save = memory.save
    monkeypatch.setattr(memory, "save", lambda values: (saved.append(values), save(values))[1])
    return saved


def test_the_mark_is_on_flash_before_the_pump_is_on(rig, monkeypatch):
    rig.run(100)
    saved = saves(rig, monkeypatch)
    seen = []
    save = rig.keeper.retained.memory.save
    monkeypatch.setattr(rig.keeper.retained.memory, "save", lambda values: (
        seen.append(rig.board.outputs[OUT_PUMP]), save(values))[1])
    rig.until(mo.TRIAL, [SUN])
    assert seen == [0]
    assert saved[0][12] == 1


def test_a_start_waits_no_longer_for_its_mark_than_a_few_scans(tmp_path):
    with_memory = unlocked(tmp_path / "with")
    with_memory.run(700)  # the count of starts, unknown at first, runs out
    start_scans = 10 * NUMBERS[st.index("start_wait_s")]
    with_memory.until(mo.TRIAL, [SUN], most=start_scans + SLACK_SCANS)


def test_a_run_that_went_well_leaves_no_mark_and_writes_twice(rig, monkeypatch):
    rig.run(100)
    saved = saves(rig, monkeypatch)
    rig.until(mo.PUMPING, [SUN, WATER])
    rig.run(PROVEN_SCANS + 20)
    assert rig.keeper.state == mo.PUMPING
    assert [values[12] for values in saved] == [1, 0]
    rig.boot()
    rig.run(100)
    assert sum(rig.keeper.core.sequence.lockout.trips) == 0


@pytest.mark.parametrize("dry_scans", [5, 15, 19])
def test_power_that_goes_while_an_element_counts_is_a_trip_after_the_restart(rig, dry_scans):
    assert start_dry(rig, 600)
    rig.run(dry_scans - 1)
    assert not rig.keeper.core.protection.acting[el.number("37-PMP") - 1]
    rig.boot()
    assert not start_dry(rig, WAIT_SCANS - 10)
    assert rig.keeper.core.sequence.lockout.trips[el.number("48-PMP") - 1] == 1


@pytest.mark.parametrize("after_scans", [3, 25])
def test_dry_starts_end_after_the_retries_whenever_power_goes(rig, after_scans):
    """3 scans after the start nothing has tripped; at 25 the trip of 2 s is 0.5 s old."""
    dry_starts = 0
    for _ in range(30):
        if not start_dry(rig, 700):
            break
        dry_starts += 1
        rig.run(after_scans)
        rig.boot()
    assert dry_starts <= RETRIES + 1
    assert rig.locked == el.BOTH


def test_a_cut_before_the_count_was_saved_counts_it_once(rig):
    assert start_dry(rig, 600)
    for _ in range(5):
        rig.boot()
        rig.run(2)
    rig.run(100)
    assert rig.keeper.core.sequence.lockout.trips[el.number("48-PMP") - 1] == 1


def test_a_flash_that_cannot_be_written_stops_no_start(rig, monkeypatch):
    memory = rig.keeper.retained.memory
    monkeypatch.setattr(memory, "save", lambda _: False)
    rig.until(mo.PUMPING, [SUN, WATER])


def test_a_mark_whose_start_does_not_come_is_taken_off_again(rig, monkeypatch):
    saved = saves(rig, monkeypatch)
    rig.run(10 * NUMBERS[st.index("start_wait_s")] - 1, [SUN])
    while rig.keeper.retained.values()[12] == 0:
        rig.run(1)
    rig.run(PROVEN_SCANS + 50, [(ch.PANEL_MV, 10000)])
    assert rig.keeper.state == mo.STANDSTILL
    assert saved[-1][12] == 0


def test_a_trip_is_on_flash_in_the_slack_of_its_own_scan(rig):
    rig.until(mo.PUMPING, [SUN, WATER])
    rig.run(PROVEN_SCANS + 20)
    rig.run(1, [(ch.MOTOR_MDEGC, 56000)])
    while rig.keeper.state == mo.PUMPING:
        rig.run(1)
    rig.boot()
    assert rig.keeper.core.sequence.lockout.trips[el.number("26-MOT") - 1] == 1
