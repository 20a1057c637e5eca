"""Drain-down: when it may begin, what it must not do to the lamps, and how it ends."""

import pytest

from keeper import channels as ch
from keeper import events as ev
from keeper import modes as mo
from keeper.protection import elements as el
from tests.keeper.ways import (
    COOL,
    DRY,
    DULL,
    EMPTY,
    FULL,
    HOT,
    MINUTES,
    NIGHT,
    OVER_VOLTAGE,
    PRESSED,
    RELEASED,
    STOP_PRESSED,
    SUN,
    WATER,
    bench_in,
    drain,
    end_orders,
    maintain,
    posted,
    seconds,
    until,
)

STOP_RELEASED = (ch.C_STOP, 1)
QUIET = (ch.GENERATOR_MV, 9000)
TRAVEL = 60  # scans: valve_travel_ms


# When it may begin

def test_a_drain_that_is_ordered_at_rest_begins_at_once():
    bench = bench_in(mo.STANDSTILL)
    bench.run(200)
    assert until(bench, mo.DRAINING, drain) == 1


def test_a_drain_waits_as_long_after_a_trip_of_the_turbine_as_light_does():
    bench = bench_in(mo.RUNNING)
    until(bench, mo.CLOSING, [OVER_VOLTAGE])
    drain(bench)
    assert until(bench, mo.DRAINING, [QUIET]) == seconds(bench, "trip_wait_s")


def test_a_drain_that_trips_waits_and_then_goes_on():
    bench = bench_in(mo.DRAINING)
    until(bench, mo.CLOSING, [OVER_VOLTAGE])
    assert until(bench, mo.DRAINING, [QUIET]) == seconds(bench, "trip_wait_s")


def test_a_trip_of_the_pump_delays_no_drain():
    bench = bench_in(mo.PUMPING)
    until(bench, mo.STANDSTILL, [HOT])
    assert until(bench, mo.DRAINING, drain) == 1


@pytest.mark.parametrize("state", [mo.STANDSTILL, mo.DRAINING])
def test_a_lockout_keeps_the_valve_shut_however_a_drain_was_ordered(state):
    bench = bench_in(state)
    bench.run(100)
    bench.scan.sequence.lockout.sides = el.BOTH
    drain(bench)
    until(bench, mo.STANDSTILL)
    bench.run(300)
    assert bench.state == mo.STANDSTILL
    assert bench.board.outputs == [0] * len(ch.OUTPUTS)


def test_drains_that_trip_too_often_lock_out_and_end():
    bench = bench_in(mo.DRAINING)
    for _ in range(3):
        until(bench, mo.DRAINING, [QUIET])
        until(bench, mo.STANDSTILL, [OVER_VOLTAGE])
    assert [event[1] for event in posted(bench, ev.LOCKOUT)] == [el.number("59-GEN")]
    bench.run(300, [QUIET])
    assert bench.state == mo.STANDSTILL


def test_the_press_that_ends_a_lockout_ends_the_drain_in_the_same_scan():
    bench = bench_in(mo.STANDSTILL)
    bench.run(200)
    bench.scan.sequence.lockout.sides = el.BOTH
    drain(bench)
    bench.run(15, [PRESSED])
    bench.run(20, [RELEASED])
    assert bench.scan.sequence.lockout.sides == 0
    assert mo.DRAINING not in [event[3] for event in posted(bench, ev.STATE)]


def test_a_drain_waits_for_the_local_stop_and_for_the_wait_after_it():
    bench = bench_in(mo.STANDSTILL)
    bench.run(10, [STOP_PRESSED])
    drain(bench)
    bench.run(300)
    assert bench.state == mo.STANDSTILL
    assert 0 <= until(bench, mo.DRAINING, [STOP_RELEASED]) - seconds(bench, "trip_wait_s") <= 5


def test_the_local_stop_ends_a_drain_and_it_goes_on_after_the_wait():
    bench = bench_in(mo.DRAINING)
    bench.run(50)
    assert until(bench, mo.CLOSING, [STOP_PRESSED]) <= 3
    assert posted(bench, ev.STATE)[-1][2] == mo.STOPPED
    bench.run(300)
    assert bench.state == mo.STANDSTILL
    assert 0 <= until(bench, mo.DRAINING, [STOP_RELEASED]) - seconds(bench, "trip_wait_s") <= 5


@pytest.mark.parametrize(
    "changes", [(ch.SUPPLY_MV, 11000), (ch.GENERATOR_MV, ch.INVALID), (ch.VALVE_PERMILLE, 300)]
)
def test_what_stops_the_turbine_in_a_drain_lets_none_begin(changes):
    """A weak supply, an unknown generator voltage, a valve that stands where it should not."""
    bench = bench_in(mo.STANDSTILL)
    bench.run(200, [changes])
    drain(bench)
    bench.run(200)
    assert bench.state == mo.STANDSTILL
    assert bench.board.outputs == [0] * len(ch.OUTPUTS)


@pytest.mark.parametrize(
    "changes",
    [EMPTY, (ch.LEVEL_MM, 0), (ch.C_71H_LO, 0), FULL, (ch.C_71L_LO, 0), HOT,
     (ch.WATER_MDEGC, 1000), (ch.WATER_MDEGC, ch.INVALID)],
)  # fmt: skip
def test_a_drain_is_for_frost_and_empty_tanks_and_no_matter_of_the_pump(changes):
    bench = bench_in(mo.STANDSTILL)
    bench.run(700, [changes])
    until(bench, mo.DRAINING, drain, most=1)
    bench.run(700)
    assert bench.state == mo.DRAINING


@pytest.mark.parametrize("wish", [[NIGHT], [SUN, WATER]], ids=["light", "pump"])
def test_while_a_drain_waits_nothing_else_begins(wish):
    bench = bench_in(mo.RUNNING, trip_wait_s=60)
    until(bench, mo.CLOSING, [OVER_VOLTAGE])
    until(bench, mo.STANDSTILL, [QUIET])
    drain(bench)
    bench.run(500, wish)
    assert bench.state == mo.STANDSTILL
    until(bench, mo.DRAINING, most=100)


@pytest.mark.parametrize("state", [mo.TRIAL, mo.PUMPING, mo.RUNNING])
def test_an_ordered_drain_ends_what_runs_first(state):
    bench = bench_in(state, pump_least_on_s=3600)
    assert until(bench, mo.STANDSTILL, drain) <= 45
    assert posted(bench, ev.STATE)[-1 if state != mo.RUNNING else -2][2] == mo.ORDERED_OFF
    assert until(bench, mo.DRAINING) == 1


def test_a_drain_counts_as_no_light_and_no_start():
    bench = bench_in(mo.STANDSTILL)
    until(bench, mo.DRAINING, drain)
    assert bench.scan.derived.starts.counted == 0
    bench.scan.protection.first = 5
    end_orders(bench)
    until(bench, mo.STANDSTILL)
    until(bench, mo.DRAINING, drain)
    assert bench.scan.protection.first == 5  # no new run


# How it ends

def test_a_drain_ends_with_its_time():
    bench = bench_in(mo.STANDSTILL)
    bench.scan.sequence.drain_periods = MINUTES
    until(bench, mo.DRAINING)
    assert until(bench, mo.CLOSING) == MINUTES - 1
    assert posted(bench, ev.STATE)[-1][2] == mo.ORDER_OVER


def test_a_late_scan_ends_a_drain_and_owes_nothing():
    bench = bench_in(mo.DRAINING)
    bench.scan.sequence.drain_periods = 5
    bench.step(1300)
    assert bench.state == mo.CLOSING
    assert bench.scan.sequence.drain_periods == 0


@pytest.mark.parametrize("position", [500, ch.INVALID])
def test_maintenance_waits_the_valve_s_time_to_travel_where_it_does_not_report_shut(position):
    bench = bench_in(mo.DRAINING)
    bench.run(60)
    bench.run(1, [(ch.VALVE_PERMILLE, position)])
    maintain(bench)
    while bench.board.outputs[ch.OUT_VALVE]:
        bench.run()
    assert until(bench, mo.MAINTENANCE) == TRAVEL


def test_maintenance_ends_a_drain():
    bench = bench_in(mo.DRAINING)
    bench.run(60)
    until(bench, mo.CLOSING, maintain, most=1)
    until(bench, mo.MAINTENANCE, most=45)
    assert posted(bench, ev.STATE)[-1][1:3] == (mo.CLOSING, mo.MAINTENANCE_ORDERED)
    assert bench.board.outputs[:ch.OUT_DRIVE] == [0] * ch.OUT_DRIVE
    assert bench.board.outputs[ch.OUT_DRIVE] <= 0  # at most it is pressed shut
    bench.run(100, [DULL, COOL, DRY])
    assert bench.state == mo.MAINTENANCE
