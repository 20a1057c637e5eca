"""States of operation: every transition, minimum times, hold-off, trips and lockout."""

import pytest

from keeper import channels as ch
from keeper import elements as el
from keeper import events as ev
from keeper import modes as mo
from keeper import settings as st
from tests.keeper.scripted import Bench

SUN = (ch.PANEL_MV, 30000)
DULL = (ch.PANEL_MV, 10000)
NIGHT = (ch.PANEL_MV, 0)
WATER = (ch.PULSES_UP, 5)
DRY = (ch.PULSES_UP, 0)
FULL, NOT_FULL = (ch.C_71H_UP, 0), (ch.C_71H_UP, 1)
EMPTY = (ch.C_71L_UP, 0)
HOT, COOL = (ch.MOTOR_MDEGC, 60000), (ch.MOTOR_MDEGC, 20000)
OVER_VOLTAGE = (ch.GENERATOR_MV, 15000)
PRESSED, RELEASED = (ch.BUTTON, 1), (ch.BUTTON, 0)

# How to come to a state from a fresh start: inputs, one stage after the other.
WAY_TO = {
    mo.STANDSTILL: [(mo.STANDSTILL, [DULL])],
    mo.TRIAL: [(mo.TRIAL, [SUN])],
    mo.PUMPING: [(mo.PUMPING, [SUN, WATER])],
    mo.RUNNING: [(mo.RUNNING, [NIGHT])],
    mo.CLOSING: [(mo.RUNNING, [NIGHT]), (mo.CLOSING, [(ch.VALVE_PERMILLE, 500), EMPTY])],
}
# What brings a cause about, by the mode of the state that it ends.
BRINGS = {
    (mo.SUN_ENOUGH, el.STANDSTILL_MODE): [SUN],
    (mo.LIGHT_DUE, el.STANDSTILL_MODE): [NIGHT],
    (mo.WATER_SEEN, el.PUMP_MODE): [WATER],
    (mo.TOO_WEAK, el.PUMP_MODE): [DRY],
    (mo.STOPPED, el.PUMP_MODE): [FULL],
    (mo.TRIPPED, el.PUMP_MODE): [HOT],
    (mo.LIGHT_OVER, el.TURBINE_MODE): [DULL],
    (mo.STOPPED, el.TURBINE_MODE): [EMPTY],
    (mo.TRIPPED, el.TURBINE_MODE): [OVER_VOLTAGE],
    (mo.VALVE_SHUT, el.TURBINE_MODE): [(ch.VALVE_PERMILLE, 0)],
}


def until(bench, state, changes=(), most=3000):
    """Scans until a state is reached; returns the scans [-] that it took."""
    bench.set(changes)
    for scan in range(most):
        bench.run()
        assert bench.unsafe() is None
        if bench.state == state:
            return scan + 1
    raise AssertionError(f"{mo.STATES[state][0]} not reached, in {mo.STATES[bench.state][0]}")


def bench_in(state, **changes):
    """A bench that has come to a state; changes: settings by name."""
    bench = Bench(tuple(changes.items()))
    for stage, inputs in WAY_TO[state]:
        until(bench, stage, inputs)
    return bench


def seconds(bench, name):
    """A setting in scans [-]."""
    return bench.settings[st.index(name)] * 10


def posted(bench, code):
    return [event for event in bench.events if event[0] == code]


@pytest.mark.parametrize(
    ("source", "cause", "target"),
    mo.TRANSITIONS,
    ids=[f"{mo.STATES[a][0]}-{mo.CAUSES[b][0]}".replace(" ", "_") for a, b, _ in mo.TRANSITIONS],
)
def test_every_transition_of_the_table_is_taken(source, cause, target):
    bench = bench_in(source)
    bench.set(BRINGS[cause, mo.MODE_OF[source]])
    while not posted(bench, ev.STATE) or posted(bench, ev.STATE)[-1][1:3] != (source, cause):
        bench.run()
        assert bench.unsafe() is None
        assert bench.scan.scans < 3000
    assert bench.state == target
    assert bench.board.outputs[ch.OUT_PUMP] == int(target in (mo.TRIAL, mo.PUMPING))
    before = bench.board.outputs[ch.OUT_VALVE]
    if target == mo.CLOSING:
        bench.run()
        assert bench.board.outputs[ch.OUT_VALVE] < before or before == 0


def test_a_cause_without_an_entry_leads_to_the_safe_state():
    bench = bench_in(mo.PUMPING)
    sequence = bench.scan.sequence
    sequence._enter(mo.LIGHT_DUE, bench.scan.values, bench.scan.protection, 0)
    assert bench.state == mo.SAFE_STATE
    bench.scan._drive(bench.scan.values, mo.PUMPING)
    assert bench.board.outputs == [0, 0]


def test_a_fresh_start_closes_a_valve_that_stands_open_no_faster_than_its_rate():
    bench = Bench()
    bench.board.outputs[ch.OUT_VALVE] = 600
    told = [600]
    while bench.state == mo.CLOSING:
        bench.run()
        told.append(bench.board.outputs[ch.OUT_VALVE])
    rate = bench.settings[st.index("valve_rate_permille_s")] // 10
    assert all(0 <= a - b <= rate for a, b in zip(told, told[1:], strict=False))
    assert bench.state == mo.STANDSTILL


@pytest.mark.parametrize("state", [mo.TRIAL, mo.PUMPING])
@pytest.mark.parametrize("trip", [HOT, FULL, (ch.C_71HH_UP, 0), (ch.C_71L_LO, 0)])
def test_protection_passes_by_the_least_run_of_the_pump(state, trip):
    bench = bench_in(state, pump_least_on_s=3600)
    assert until(bench, mo.STANDSTILL, [trip]) <= 12
    assert bench.board.outputs[ch.OUT_PUMP] == 0


def test_weak_sun_waits_for_the_least_run_of_the_pump():
    bench = bench_in(mo.PUMPING, pump_least_on_s=30)
    on_for = bench.scan.sequence.pump.periods
    scans = until(bench, mo.STANDSTILL, [DULL, DRY])
    assert on_for + scans == pytest.approx(seconds(bench, "pump_least_on_s"), abs=1)
    assert posted(bench, ev.STATE)[-1][2] == mo.TOO_WEAK


def test_a_gap_in_the_flow_shorter_than_a_trial_does_not_stop_the_pump():
    bench = bench_in(mo.PUMPING)
    bench.run(300)
    for _ in range(5):
        bench.run(seconds(bench, "trial_s") - 5, [DRY])
        bench.run(40, [WATER])
    assert bench.state == mo.PUMPING


def test_the_pump_rests_at_least_as_long_as_set_after_protection_stopped_it():
    bench = bench_in(mo.PUMPING, pump_least_off_s=20)
    until(bench, mo.STANDSTILL, [FULL])
    assert until(bench, mo.TRIAL, [NOT_FULL]) == seconds(bench, "pump_least_off_s")


def test_a_trial_without_water_ends_after_its_time_and_is_no_trip():
    bench = bench_in(mo.TRIAL)
    assert until(bench, mo.STANDSTILL) == seconds(bench, "trial_s")
    assert bench.scan.sequence.trips == [0, 0]
    assert posted(bench, ev.HELD_OFF)[0][1:3] == (el.PUMP, 5)


def test_the_hold_off_doubles_up_to_its_longest():
    bench = Bench()
    waits = []
    for _ in range(5):
        until(bench, mo.TRIAL, [SUN])
        until(bench, mo.STANDSTILL)
        waits.append(until(bench, mo.TRIAL) / 10)
        until(bench, mo.STANDSTILL)
        waits.append(posted(bench, ev.HELD_OFF)[-2][2])
    assert [event[2] for event in posted(bench, ev.HELD_OFF)] == [5, 10] + [15] * 8
    assert waits[0] == 5
    assert max(waits) == 15


def test_a_good_run_begins_the_hold_off_anew():
    bench = bench_in(mo.TRIAL)
    until(bench, mo.STANDSTILL)
    until(bench, mo.TRIAL)
    until(bench, mo.STANDSTILL)
    until(bench, mo.PUMPING, [WATER])
    bench.run(seconds(bench, "holdoff_longest_s") + 10)
    until(bench, mo.STANDSTILL, [DRY])
    assert [event[2] for event in posted(bench, ev.HELD_OFF)] == [5, 10, 5]


def test_a_dull_day_of_failed_starts_ends_without_lockout():
    bench = Bench([("holdoff_s", 1), ("holdoff_longest_s", 1)])
    bench.run(6000, [SUN])
    assert len(posted(bench, ev.HELD_OFF)) > 50
    assert bench.scan.sequence.lockouts == 0


def test_the_sun_must_hold_for_its_wait():
    bench = bench_in(mo.STANDSTILL)
    for _ in range(10):
        bench.run(seconds(bench, "start_wait_s") - 1, [SUN])
        bench.run(1, [DULL])
    assert bench.state == mo.STANDSTILL


def test_night_begins_after_its_wait_and_a_flash_of_light_does_not_end_it():
    bench = bench_in(mo.STANDSTILL)
    assert until(bench, mo.RUNNING, [NIGHT]) == seconds(bench, "dark_s")
    bench.run(seconds(bench, "dark_s") - 1, [SUN])
    bench.run(1, [NIGHT])
    assert bench.state == mo.RUNNING
    assert until(bench, mo.CLOSING, [DULL]) == seconds(bench, "dark_s")


@pytest.mark.parametrize("state", [mo.STANDSTILL, mo.RUNNING])
def test_an_untrusted_panel_voltage_keeps_day_and_night_as_they_were(state):
    bench = bench_in(state)
    bench.run(1000, [(ch.PANEL_MV, 70000)])
    assert bench.state == state


def test_without_a_setpoint_there_is_no_light():
    bench = bench_in(mo.STANDSTILL, setpoint_mW=0)
    bench.run(1000, [NIGHT])
    assert bench.state == mo.STANDSTILL


def test_the_turbine_rests_before_it_starts_again():
    bench = bench_in(mo.RUNNING, light_least_off_s=20)
    until(bench, mo.CLOSING, [EMPTY])
    until(bench, mo.STANDSTILL)
    assert until(bench, mo.RUNNING, [(ch.C_71L_UP, 1)]) == seconds(bench, "light_least_off_s")


def test_a_valve_that_does_not_report_shut_keeps_the_pump_off():
    bench = Bench()
    bench.run(500, [SUN, (ch.VALVE_PERMILLE, 100)])
    assert bench.state == mo.CLOSING
    bench.run(500, [(ch.VALVE_PERMILLE, 2000)])  # no reading at all
    assert bench.state == mo.CLOSING
    until(bench, mo.TRIAL, [(ch.VALVE_PERMILLE, 0)])


def test_a_valve_that_opens_by_itself_at_standstill_keeps_the_pump_off():
    bench = bench_in(mo.STANDSTILL)
    so_far = len(bench.events)
    bench.run(500, [SUN, (ch.VALVE_PERMILLE, 100)])
    assert len(bench.events) == so_far
    until(bench, mo.TRIAL, [(ch.VALVE_PERMILLE, 0)])


def test_a_valve_that_reports_shut_too_early_keeps_the_pump_off_until_it_is_told_shut():
    bench = Bench([("valve_rate_permille_s", 10), ("start_wait_s", 1)])
    bench.board.outputs[ch.OUT_VALVE] = 600
    bench.run(1)
    bench.run(100, [SUN, (ch.VALVE_PERMILLE, 0)])
    assert bench.board.outputs[ch.OUT_VALVE] > 0
    assert bench.state == mo.CLOSING
    until(bench, mo.TRIAL)


def trip_pump(bench):
    """One trip from pumping, with the motor cool again afterwards."""
    until(bench, mo.PUMPING, [SUN, WATER, COOL])
    until(bench, mo.STANDSTILL, [HOT])
    bench.run(30, [COOL])


def test_a_trip_waits_and_then_tries_again():
    bench = bench_in(mo.PUMPING)
    until(bench, mo.STANDSTILL, [HOT])
    assert until(bench, mo.TRIAL, [COOL]) == seconds(bench, "trip_wait_s")
    assert bench.scan.protection.first == 0  # a new run


def locked_out(cause=HOT):
    bench = Bench()
    for _ in range(3):
        until(bench, mo.PUMPING, [SUN, WATER, COOL, (ch.C_71HH_UP, 1)])
        until(bench, mo.STANDSTILL, [cause])
    return bench


def test_more_trips_than_retries_lock_the_side_out():
    bench = locked_out()
    assert bench.scan.sequence.lockouts == el.PUMP
    assert [event[1:3] for event in posted(bench, ev.LOCKOUT)] == [(el.number("26-MOT"), 3)]
    bench.run(5000, [COOL])
    assert bench.state == mo.STANDSTILL
    assert bench.scan.sequence.lockouts == el.PUMP


def test_the_other_side_still_runs_while_one_is_locked_out():
    bench = locked_out()
    until(bench, mo.RUNNING, [NIGHT, COOL, DRY])


def press(bench, scans):
    bench.run(5, [RELEASED])
    bench.run(scans, [PRESSED])
    bench.run(2, [RELEASED])


def test_release_press_release_resets_a_lockout_whose_cause_is_gone():
    bench = locked_out()
    bench.run(100, [COOL])
    press(bench, 20)
    assert bench.scan.sequence.lockouts == 0
    assert posted(bench, ev.LOCKOUT_RESET)[0][1] == el.number("26-MOT")
    trip_pump(bench)
    assert bench.scan.sequence.lockouts == 0  # the trips count anew


@pytest.mark.parametrize("scans", [9, 101, 3000])
def test_too_short_or_too_long_a_press_resets_nothing(scans):
    bench = locked_out()
    bench.run(100, [COOL])
    press(bench, scans)
    assert bench.scan.sequence.lockouts == el.PUMP


@pytest.mark.parametrize("cause", [HOT, (ch.C_71HH_UP, 0)])
def test_no_press_resets_a_lockout_while_its_cause_is_there(cause):
    bench = locked_out(cause)
    bench.run(100)
    press(bench, 20)
    assert bench.scan.sequence.lockouts == el.PUMP
    bench.run(100, [COOL, (ch.C_71HH_UP, 1)])
    press(bench, 20)
    assert bench.scan.sequence.lockouts == 0


def test_a_button_that_is_held_at_the_start_counts_for_nothing():
    bench = Bench()
    bench.run(50, [PRESSED])
    bench.scan.sequence.lockouts = el.PUMP
    bench.run(5, [RELEASED])
    assert bench.scan.sequence.lockouts == el.PUMP
    press(bench, 20)
    assert bench.scan.sequence.lockouts == 0


def test_trips_far_apart_never_lock_out():
    bench = Bench([("trip_window_s", 60)])
    for _ in range(5):
        trip_pump(bench)
        bench.run(700, [DULL])
    assert bench.scan.sequence.lockouts == 0


def test_a_turbine_trip_closes_the_valve_and_locks_its_own_side_out():
    bench = Bench()
    for _ in range(3):
        until(bench, mo.RUNNING, [NIGHT, (ch.GENERATOR_MV, 9000)])
        until(bench, mo.CLOSING, [OVER_VOLTAGE])
        until(bench, mo.STANDSTILL)
    assert bench.scan.sequence.lockouts == el.TURBINE
    assert posted(bench, ev.LOCKOUT)[0][1] == el.number("59-GEN")
    until(bench, mo.TRIAL, [SUN, (ch.GENERATOR_MV, 0)])


def test_both_sides_locked_out_are_reset_by_one_press_each_with_its_own_element():
    bench = locked_out()
    bench.set([COOL, DRY])
    for _ in range(3):
        until(bench, mo.RUNNING, [NIGHT, (ch.GENERATOR_MV, 9000)])
        until(bench, mo.CLOSING, [OVER_VOLTAGE])
        until(bench, mo.STANDSTILL)
    bench.run(50, [(ch.GENERATOR_MV, 0)])
    press(bench, 20)
    named = [event[1] for event in posted(bench, ev.LOCKOUT_RESET)]
    assert named == [el.number("26-MOT"), el.number("59-GEN")]
