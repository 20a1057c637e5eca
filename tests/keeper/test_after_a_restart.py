"""What trips leave behind over a restart: waits, and a lockout saved in a noisy moment."""

import pytest

from keeper import channels as ch
from keeper import modes as mo
from keeper import settings as st
from keeper.protection.elements import BOTH
from tests.keeper.ways import COOL, DULL, HOT, NIGHT, OVER_VOLTAGE, SUN, WATER
from tests.keeper.whole import unlocked

FORCED_SCANS = 50    # a change that protects waits no longer for a quiet moment
LOOKED_SCANS = 10    # how often a change is looked for
WAIT_SCANS = 100     # after a trip
USUAL_SCANS = 70     # a start without any wait: sun or night, and the valve seen shut


@pytest.fixture
def rig(tmp_path):
    one = unlocked(tmp_path)
    one.keeper.core.derived.starts.milli = 0  # full on a brand-new board: 66-PMP would bar
    one.run(20)
    return one


def chatter(rig, scans):
    """The lower tank's float chatters: 71H-LO counts in every scan and never acts."""
    for scan in range(scans):
        rig.run(1, [(ch.C_71H_LO, int(scan > 0 and scan % 3 != 1))])
        assert rig.keeper.busy
        assert not rig.keeper.core.protection.hold & 2


def test_a_lockout_is_saved_within_seconds_while_a_short_delay_runs_all_the_time(rig):
    rig.run(200)
    chatter(rig, 30)
    saved = rig.keeper.retained.memory.sequence
    rig.keeper.core.sequence.lockout.sides = BOTH
    chatter(rig, FORCED_SCANS - 3)
    assert rig.keeper.retained.memory.sequence == saved  # it waits for a quiet moment at first
    chatter(rig, 2 * LOOKED_SCANS)
    assert rig.keeper.retained.memory.sequence > saved
    rig.boot()
    assert rig.locked == BOTH


def test_a_lockout_is_saved_within_seconds_while_the_tripped_valve_still_moves(tmp_path):
    rig = unlocked(tmp_path)
    rig.run(200)
    rig.numbers[st.index("valve_rate_permille_s")] = 10
    rig.numbers[st.index("trip_retries")] = 0
    rig.boot()
    rig.until(mo.RUNNING, [NIGHT])
    rig.run(300)
    rig.until(mo.CLOSING, [OVER_VOLTAGE])
    assert rig.locked == BOTH
    for _ in range(FORCED_SCANS + 2 * LOOKED_SCANS):
        rig.run(1)
        assert rig.keeper.busy
    rig.boot()
    assert rig.locked == BOTH


def started(rig, state, changes):
    """Scans from a restart until a state is reached."""
    rig.boot()
    before = rig.keeper.core.scans
    rig.until(state, changes)
    return rig.keeper.core.scans - before


def test_after_a_restart_the_pump_waits_as_after_the_trip_before_it(rig):
    rig.until(mo.PUMPING, [SUN, WATER])
    rig.until(mo.STANDSTILL, [HOT])
    rig.run(60, [COOL, DULL])
    assert started(rig, mo.TRIAL, [COOL, SUN]) >= WAIT_SCANS
    assert started(rig, mo.RUNNING, [COOL, NIGHT]) <= USUAL_SCANS  # the light has not tripped


def test_after_a_restart_the_light_waits_as_after_the_trip_before_it(rig):
    rig.until(mo.RUNNING, [NIGHT])
    rig.until(mo.CLOSING, [OVER_VOLTAGE])
    rig.run(100, [(ch.GENERATOR_MV, 0)])
    assert started(rig, mo.RUNNING, [NIGHT]) >= WAIT_SCANS
    assert started(rig, mo.TRIAL, [SUN]) <= USUAL_SCANS  # the pump has not tripped


def test_after_a_restart_without_trips_nothing_waits(rig):
    rig.run(200, [DULL])
    assert started(rig, mo.TRIAL, [SUN]) <= USUAL_SCANS
    assert started(rig, mo.RUNNING, [NIGHT]) <= USUAL_SCANS


def test_after_a_restart_both_sides_wait_for_a_trip_of_the_valve(rig):
    """48-VLV holds off both sides."""
    rig.run(100, [DULL])
    rig.board.valve_follows = False
    rig.run(100, [(ch.VALVE_PERMILLE, 200)])
    rig.board.valve_follows = True
    rig.run(200)
    assert started(rig, mo.TRIAL, [SUN]) >= WAIT_SCANS
    assert started(rig, mo.RUNNING, [NIGHT]) >= WAIT_SCANS


def test_trips_before_a_restart_are_forgotten_when_their_window_is_over(rig):
    """Else the next trips, weeks later, would lock out."""
    rig.numbers[st.index("trip_window_s")] = 60
    rig.until(mo.PUMPING, [SUN, WATER])
    rig.until(mo.STANDSTILL, [HOT])
    rig.run(60, [COOL, DULL])
    rig.boot()
    lockout = rig.keeper.core.sequence.lockout
    rig.run(500)
    assert (sum(lockout.trips), lockout.counted) == (1, 1)
    rig.run(200)
    assert (sum(lockout.trips), lockout.counted) == (0, 0)
