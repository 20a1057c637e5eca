"""Orders and their refusals."""

import pytest

from keeper import channels as ch
from keeper import events as ev
from keeper import modes as mo
from keeper import settings as st
from keeper.operation import orders as od
from tests.keeper.ways import DULL, NIGHT, SUN, WATER
from tests.keeper.whole import Rig, lock_out, unlocked


@pytest.fixture
def rig(tmp_path):
    return unlocked(tmp_path)


def test_every_order_bounds_its_arguments_and_has_a_number_of_its_own():
    assert [row[od.O_CODE] for row in od.ORDERS] == list(range(1, len(od.ORDERS) + 1))
    for row in od.ORDERS:
        assert row[od.O_A_LOW] <= row[od.O_A_HIGH]
        assert row[od.O_B_LOW] <= row[od.O_B_HIGH]


@pytest.mark.parametrize("row", od.ORDERS, ids=lambda row: str(row[od.O_CODE]))
def test_an_argument_out_of_range_changes_nothing(rig, row):
    for a, b in ((row[od.O_A_HIGH] + 1, row[od.O_B_LOW]), (row[od.O_A_LOW] - 1, row[od.O_B_LOW]),
                 (row[od.O_A_LOW], row[od.O_B_HIGH] + 1), (row[od.O_A_LOW], row[od.O_B_LOW] - 1)):
        assert rig.keeper.order(row[od.O_CODE], a, b) == od.RANGE
    rig.run(50)
    assert rig.keeper.state == mo.STANDSTILL


def test_an_order_that_does_not_exist_is_refused(rig):
    assert rig.keeper.order(0, 0, 0) == od.UNKNOWN
    assert rig.keeper.order(len(od.ORDERS) + 1, 0, 0) == od.UNKNOWN


def test_every_order_is_an_event_with_its_outcome(rig):
    rig.keeper.order(od.RELEASE, 0, 0)
    rig.keeper.order(99, 0, 0)
    told = [tuple(slot[:3]) for slot in rig.keeper.events.slots if slot[0] == ev.ORDER]
    assert (ev.ORDER, od.RELEASE, od.DONE) in told
    assert (ev.ORDER, 99, od.UNKNOWN) in told


def test_light_by_order_holds_its_power_and_runs_out(rig):
    assert rig.keeper.order(od.LIGHT, 800, 1) == od.DONE
    rig.until(mo.RUNNING)
    assert rig.keeper.setpoint_mW == 800
    rig.run(700)
    assert rig.keeper.state in (mo.CLOSING, mo.STANDSTILL)


def test_light_below_the_useful_is_refused_and_a_missing_step_too(rig):
    assert rig.keeper.order(od.LIGHT, 299, 10) == od.NOT_USEFUL
    assert rig.keeper.order(od.BRIGHTNESS, 4, 10) == od.NO_STEP
    assert rig.keeper.order(od.BRIGHTNESS, 3, 10) == od.DONE
    assert rig.keeper.setpoint_mW == 1000


def test_rest_stops_the_light_and_the_pump_and_runs_out(rig):
    rig.until(mo.RUNNING, [NIGHT])
    assert rig.keeper.order(od.REST, 1, 0) == od.DONE
    rig.until(mo.STANDSTILL)
    rig.until(mo.RUNNING)
    rig.until(mo.PUMPING, [SUN, WATER])
    rig.keeper.order(od.REST, 1, 0)
    rig.until(mo.STANDSTILL, most=5)
    rig.until(mo.TRIAL)


def test_the_pump_can_be_forbidden_and_allowed(rig):
    rig.until(mo.PUMPING, [SUN, WATER])
    rig.keeper.order(od.PUMP_ALLOWED, 0, 60)
    rig.until(mo.STANDSTILL, most=5)
    rig.run(500)
    assert rig.keeper.state == mo.STANDSTILL
    rig.keeper.order(od.PUMP_ALLOWED, 1, 0)
    rig.until(mo.TRIAL)


def test_maintenance_is_refused_politely_while_something_runs(rig):
    rig.until(mo.PUMPING, [SUN, WATER])
    assert rig.keeper.order(od.MAINTAIN, 1, 0) == od.RUNS
    assert rig.keeper.order(od.MAINTAIN, 2, 1) == od.DONE
    rig.until(mo.MAINTENANCE, most=20)
    assert rig.keeper.stay_out
    assert rig.board.outputs[:ch.OUT_DRIVE] == [0] * ch.OUT_DRIVE
    assert rig.board.outputs[ch.OUT_DRIVE] <= 0  # at most it is pressed shut
    rig.keeper.order(od.MAINTAIN, 0, 0)
    rig.until(mo.TRIAL)


@pytest.mark.parametrize("way", ["light", "drain"])
def test_maintenance_leaves_only_once_the_valve_is_shut(rig, way):
    """The program used to leave with the valve open, and with nobody to shut it."""
    if way == "light":
        rig.until(mo.RUNNING, [NIGHT])
    else:
        rig.keeper.order(od.DRAIN_DOWN, 1, 10)
        rig.until(mo.DRAINING)
    rig.run(300)
    assert rig.board.outputs[ch.OUT_VALVE] > 300
    assert rig.keeper.order(od.MAINTAIN, 2, 1) == od.DONE
    for _ in range(100):
        rig.run(1)
        if rig.keeper.stay_out:
            break
        assert rig.keeper.state in (mo.CLOSING, mo.STANDSTILL)
    assert rig.keeper.stay_out
    assert rig.board.outputs[:ch.OUT_DRIVE] == [0] * ch.OUT_DRIVE
    assert rig.board.outputs[ch.OUT_DRIVE] <= 0  # at most it is pressed shut


def test_over_voltage_is_watched_in_maintenance_too(rig):
    rig.keeper.order(od.MAINTAIN, 1, 0)
    rig.until(mo.MAINTENANCE)
    rig.run(10, [(ch.GENERATOR_MV, 15000)])
    assert rig.board.outputs[ch.OUT_DUMP] == 1


def test_whoever_releases_the_local_stop_meets_no_start_at_once(rig):
    rig.until(mo.PUMPING, [SUN, WATER])
    rig.until(mo.STANDSTILL, [(ch.C_STOP, 0)])
    rig.run(100)
    rig.run(1, [(ch.C_STOP, 1)])
    rig.run(95)
    assert rig.keeper.state == mo.STANDSTILL
    rig.until(mo.TRIAL, most=400)


def test_a_rest_does_not_shorten_a_longer_ban_of_the_pump(rig):
    rig.keeper.order(od.PUMP_ALLOWED, 0, 60)
    rig.keeper.order(od.REST, 1, 0)
    rig.run(900, [SUN, WATER])
    assert rig.keeper.state == mo.STANDSTILL


def test_maintenance_goes_before_a_valve_that_does_not_shut(rig):
    rig.until(mo.RUNNING, [NIGHT])
    rig.board.valve_follows = False
    rig.run(1, [(ch.VALVE_PERMILLE, 500)])
    rig.keeper.order(od.MAINTAIN, 2, 0)
    rig.until(mo.MAINTENANCE, most=100)


def test_drain_down_opens_the_valve_and_ends_shut(rig):
    rig.until(mo.RUNNING, [NIGHT])
    rig.keeper.order(od.DRAIN_DOWN, 1, 1)
    rig.until(mo.DRAINING)
    rig.run(100)
    assert rig.board.outputs == [0, 1000, 1, 1, 0]
    rig.until(mo.CLOSING, [DULL])
    rig.until(mo.STANDSTILL)
    rig.run(10)
    assert rig.board.outputs == [0] * len(ch.OUTPUTS)


def test_no_order_overrides_protection(rig):
    rig.run(10, [(ch.C_71L_UP, 0)])
    rig.keeper.order(od.LIGHT, 600, 10)
    rig.run(300)
    assert rig.keeper.state == mo.STANDSTILL
    rig.run(10, [(ch.C_STOP, 0)])
    rig.keeper.order(od.DRAIN_DOWN, 1, 10)
    rig.run(300)
    assert rig.board.outputs == [0] * len(ch.OUTPUTS)


def test_a_lockout_is_reset_by_an_order_of_one_who_has_seen_it(rig):
    assert rig.keeper.order(od.RESET, 1, 0) == od.NOTHING_LOCKED
    lock_out(rig)
    assert rig.locked
    assert rig.keeper.order(od.RESET, 0, 0) == od.RANGE
    assert rig.keeper.order(od.RESET, 1, 0) == od.CAUSE_PRESENT
    assert rig.keeper.order(od.LIGHT, 600, 1) == od.LOCKED
    rig.run(60, [(ch.MOTOR_MDEGC, 20000)])
    assert rig.keeper.order(od.RESET, 1, 0) == od.DONE
    assert not rig.locked


@pytest.mark.parametrize("cause", [(ch.C_71HH_UP, 0), (ch.PUMP_MA, 500)])
def test_some_lockouts_are_reset_only_at_the_rig(rig, cause):
    if cause[0] == ch.PUMP_MA:
        rig.run(60, [cause])
        rig.run(60, [(ch.PUMP_MA, 0)])
    else:
        lock_out(rig, cause)
        rig.run(60, [(ch.C_71HH_UP, 1)])
    assert rig.locked
    assert rig.keeper.order(od.RESET, 1, 0) == od.ONLY_AT_RIG
    rig.press()
    assert not rig.locked


def test_the_clock_is_set_by_order(rig):
    assert rig.keeper.order(od.CLOCK, 20000, 3600) == od.DONE
    assert rig.keeper.core.sequence.light.clock_known
    assert rig.keeper.clock_days == 20000


def test_the_safe_mode_holds_whatever_is_ordered(tmp_path):
    rig = Rig(tmp_path, safe_reason=2)
    rig.run(300, [SUN, WATER])
    assert rig.keeper.state == mo.MAINTENANCE
    assert rig.keeper.order(od.LIGHT, 600, 10) == od.SAFE
    assert rig.keeper.order(od.MAINTAIN, 0, 0) == od.SAFE
    rig.run(300, [NIGHT])
    assert rig.keeper.state == mo.MAINTENANCE
    assert rig.board.outputs == [0] * len(ch.OUTPUTS)


def test_a_keeper_that_shuts_its_valve_after_a_start_is_not_busy_with_a_trip(tmp_path):
    rig = Rig(tmp_path)
    rig.board.outputs[ch.OUT_VALVE] = 600
    rig.run(5)
    assert rig.keeper.state == mo.CLOSING
    assert not rig.keeper.busy


def test_fallback_settings_are_legal():
    assert st.problems(st.fallback()) == []
