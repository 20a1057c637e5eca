"""What keeps a person at the rig safe: the local stop, resets, a valve that says nothing."""

import pytest

from keeper import channels as ch
from keeper import modes as mo
from keeper.protection.elements import BOTH, number
from tests.keeper import statement as said
from tests.keeper.scripted import Bench
from tests.keeper.stimuli import SHOWN, Judged, delay_scans, number_of, readings_of
from tests.keeper.ways import (
    DULL,
    NIGHT,
    OVER_VOLTAGE,
    PRESSED,
    RELEASED,
    STOP_PRESSED,
    SUN,
    bench_in,
    drain,
    seconds,
    until,
)

STOP_RELEASED = (ch.C_STOP, 1)
COUNTED = [row.id for row in said.STATEMENT if row.does in said.COUNTS]
COUNTED_AT_REST = [name for name in COUNTED if "standstill" in said.BY_ID[name].armed]


# The local stop

@pytest.mark.parametrize("pressed_s", [1, 30])
@pytest.mark.parametrize(("start", "way"), [
    (mo.TRIAL, [SUN]), (mo.RUNNING, [NIGHT]), (mo.DRAINING, [DULL])])
def test_nothing_starts_before_the_wait_after_the_local_stop_is_released(start, way, pressed_s):
    """Who releases it is still beside the machines; the wait counts from the release."""
    bench = bench_in(mo.STANDSTILL)
    bench.run(100)
    if start == mo.DRAINING:
        drain(bench)
    bench.set(way)
    bench.run(10 * pressed_s, [STOP_PRESSED])
    released_at = bench.scan.scans
    wait = seconds(bench, "trip_wait_s")
    bench.run(wait - 1, [STOP_RELEASED])
    assert bench.state == mo.STANDSTILL
    until(bench, start)
    assert bench.scan.scans - released_at <= wait + 5  # it lets go after some scans


@pytest.mark.parametrize(("running", "stopped"), [
    (mo.TRIAL, mo.STANDSTILL), (mo.PUMPING, mo.STANDSTILL), (mo.RUNNING, mo.CLOSING),
    (mo.DRAINING, mo.CLOSING)])
def test_the_local_stop_ends_every_run_at_once(running, stopped):
    bench = bench_in(running, pump_least_on_s=3600)
    bench.run(2, [STOP_PRESSED])
    assert bench.state == stopped
    assert bench.board.outputs[ch.OUT_PUMP] == 0
    bench.run(300)
    assert bench.state == mo.STANDSTILL
    assert bench.board.outputs[ch.OUT_VALVE] == 0


def test_a_stop_is_no_trip_and_never_locks_out():
    bench = bench_in(mo.STANDSTILL)
    for _ in range(10):
        bench.run(5, [STOP_PRESSED])
        bench.run(5, [STOP_RELEASED])
    assert not any(bench.scan.sequence.lockout.trips)
    assert bench.scan.sequence.lockout.sides == 0


# Resets: two guards, each alone

def locked(**changes):
    """A healthy bench that is locked out from its start on, as after a restart."""
    bench = Bench(tuple(changes.items()))
    bench.scan.sequence.lockout.sides = BOTH
    return bench


def press(bench):
    bench.run(12, [PRESSED])
    bench.run(1, [RELEASED])


def slowest_scans(settings):
    """The longest delay of what trips or locks a rig at rest [scans]."""
    readings = readings_of(number_of("fitted", settings))
    return max(delay_scans(name, settings) for name in COUNTED_AT_REST
               if said.is_there(said.BY_ID[name], readings))


# What is judged in a run alone, as 80-VLV, says nothing about a rig at rest.
@pytest.mark.parametrize("changes", [
    {}, {"valve_travel_ms": 40000}, {"no_flow_delay_ms": 60000, "prime_ms": 60000}])
def test_no_press_resets_before_the_slowest_cause_has_had_its_time(changes):
    """All is well, and nothing counts: the board just cannot know yet."""
    bench = locked(**changes)
    slowest = slowest_scans(bench.settings)
    bench.run(slowest - 13)
    press(bench)
    assert bench.scan.uptime_ds == slowest
    assert bench.scan.sequence.lockout.sides == BOTH
    press(bench)
    assert bench.scan.sequence.lockout.sides == 0


@pytest.mark.parametrize("name", COUNTED_AT_REST)
def test_a_cause_that_only_counts_is_there(name):
    """Long after the start; the element has not acted, and other elements see nothing."""
    judged = Judged("standstill", name)
    judged.uptime_ds = slowest_scans(judged.settings)
    judged.show(())
    assert not judged.protection.cause_present()
    judged.show(SHOWN[name].beyond)
    assert not judged.protection.acting[number(name) - 1]
    assert judged.protection.cause_present()


def test_no_press_resets_while_a_cause_only_counts():
    """A valve that is off by more than its gap for a second: 48-VLV acts after six."""
    bench = locked()
    bench.run(300)
    press(bench)
    assert bench.scan.sequence.lockout.sides == 0
    bench.scan.sequence.lockout.sides = BOTH
    bench.run(5, [(ch.VALVE_PERMILLE, 56)])
    press(bench)
    assert not any(bench.scan.protection.acting)
    assert bench.scan.sequence.lockout.sides == BOTH


@pytest.mark.parametrize("name", COUNTED_AT_REST)
def test_a_cause_that_acts_is_there_until_it_lets_go(name):
    judged = Judged("standstill", name)
    shown, delay = SHOWN[name], delay_scans(name, judged.settings)
    judged.uptime_ds = slowest_scans(judged.settings)
    judged.show(shown.beyond, delay + 1)
    assert judged.protection.cause_present()
    inside = shown.inside if shown.inside is not None else shown.edge
    judged.show(inside, 2 * delay + 1)
    assert judged.protection.cause_present()
    judged.show(inside, 1)
    assert not judged.protection.cause_present()


@pytest.mark.parametrize("contact", [ch.C_71H_UP, ch.C_71L_UP, ch.C_71L_LO, ch.C_STOP])
def test_what_only_stops_is_no_cause_that_bars_a_reset(contact):
    bench = locked()
    bench.run(300, [(contact, 0)])
    assert any(bench.scan.protection.acting)
    press(bench)
    assert bench.scan.sequence.lockout.sides == 0


@pytest.mark.parametrize("name", ["12-GEN", "59-GEN"])
def test_a_wheel_that_runs_on_under_a_shut_valve_bars_the_reset(name):
    bench = locked()
    bench.run(300)
    bench.run(100, SHOWN[name].beyond)
    press(bench)
    assert bench.scan.sequence.lockout.sides == BOTH


# Who may reset what

@pytest.mark.parametrize("name", COUNTED)
def test_it_locks_both_sides_out_after_its_retries_and_says_who_may_reset(name):
    bench = bench_in(mo.STANDSTILL)
    lockout, protection = bench.scan.sequence.lockout, bench.scan.protection
    protection.struck[number(name) - 1] = 1
    retries = 2 if said.BY_ID[name].does == said.TRIP else 0
    for _ in range(retries):
        lockout.count(protection)
        assert lockout.sides == 0
    lockout.count(protection)
    assert lockout.sides == BOTH
    assert lockout.element == number(name)
    assert lockout.only_at_rig() == (said.BY_ID[name].who == said.AT_RIG)


def test_a_rig_locked_out_for_reasons_unknown_is_reset_only_at_the_rig():
    assert locked().scan.sequence.lockout.only_at_rig()


# A valve that reports nothing

NO_FEEDBACK = 0x3FFF & ~(1 << ch.VALVE_PERMILLE)


def test_a_valve_without_feedback_is_given_its_travel_before_it_counts_as_shut():
    bench = Bench([("fitted", NO_FEEDBACK)])
    travel = 60
    bench.run(travel - 1, [SUN])
    assert bench.state == mo.CLOSING
    bench.run(1)
    assert bench.state == mo.STANDSTILL


def test_after_a_run_a_valve_without_feedback_counts_as_shut_only_after_its_travel():
    bench = bench_in(mo.RUNNING, fitted=NO_FEEDBACK)
    bench.run(100)
    until(bench, mo.CLOSING, [SUN])
    while bench.board.outputs[ch.OUT_VALVE]:
        bench.run()
    travel = 60
    bench.run(travel - 1)
    assert bench.state == mo.CLOSING
    assert bench.board.outputs[ch.OUT_PUMP] == 0
    until(bench, mo.TRIAL)
    assert bench.scan.sequence.commanded_shut_periods >= travel


# The dump load

@pytest.mark.parametrize("state", [mo.RUNNING, mo.STANDSTILL, mo.PUMPING])
@pytest.mark.parametrize("name", ["12-GEN", "59-GEN"])
def test_overspeed_and_over_voltage_each_alone_bring_the_dump_load(name, state):
    bench = bench_in(state)
    bench.run(delay_scans(name, bench.settings), SHOWN[name].beyond)
    assert bench.board.outputs[ch.OUT_DUMP] == 0
    bench.run(1)
    acting = [row.id for row in said.STATEMENT if bench.scan.protection.acting[number(row.id) - 1]]
    assert acting == [name]
    assert bench.board.outputs[ch.OUT_DUMP] == 1
    bench.run(50, [(ch.GENERATOR_MV, 0), (ch.GENERATOR_MA, 0)])
    assert bench.board.outputs[ch.OUT_DUMP] == 0


def test_nothing_else_that_acts_brings_the_dump_load():
    for name in said.IDS:
        if name not in ("12-GEN", "59-GEN"):
            bench = Bench()
            for row in said.IDS:
                bench.scan.protection.acting[number(row) - 1] = int(row == name)
            bench.scan._drive(bench.scan.values, bench.state)
            assert bench.board.outputs[ch.OUT_DUMP] == 0


def test_the_dump_load_helps_on_while_the_wheel_of_a_tripped_turbine_slows_down():
    bench = bench_in(mo.RUNNING)
    bench.run(100)
    until(bench, mo.CLOSING, [OVER_VOLTAGE])
    bench.run(10)
    assert bench.board.outputs[ch.OUT_DUMP] == 1
