"""Trips, retries, lockout, and the press of the button that ends it."""

import pytest

from keeper import channels as ch
from keeper import events as ev
from keeper import modes as mo
from keeper.protection import elements as el
from tests.keeper.scripted import Bench
from tests.keeper.ways import (
    COOL,
    DRY,
    DULL,
    HOT,
    NIGHT,
    OVER_VOLTAGE,
    PRESSED,
    RELEASED,
    SUN,
    WATER,
    bench_in,
    posted,
    seconds,
    stays,
    until,
)


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


def test_more_trips_than_retries_lock_out():
    bench = locked_out()
    assert bench.scan.sequence.lockout.sides == el.BOTH
    assert [event[1:3] for event in posted(bench, ev.LOCKOUT)] == [(el.number("26-MOT"), 3)]
    stays(bench, mo.STANDSTILL, 5000, [COOL])
    assert bench.scan.sequence.lockout.sides == el.BOTH


def test_a_lockout_turns_both_modes_off():
    bench = locked_out()
    stays(bench, mo.STANDSTILL, 1000, [SUN, COOL])
    stays(bench, mo.STANDSTILL, 1000, [NIGHT, DRY])


def press(bench, scans):
    bench.run(30, [RELEASED])
    bench.run(scans, [PRESSED])
    bench.run(2, [RELEASED])


def test_release_press_release_resets_a_lockout_whose_cause_is_gone():
    bench = locked_out()
    bench.run(100, [COOL])
    press(bench, 20)
    assert bench.scan.sequence.lockout.sides == 0
    assert posted(bench, ev.LOCKOUT_RESET)[0][1] == el.number("26-MOT")
    trip_pump(bench)
    assert bench.scan.sequence.lockout.sides == 0  # the trips count anew


@pytest.mark.parametrize("scans", [9, 101, 3000])
def test_too_short_or_too_long_a_press_resets_nothing(scans):
    bench = locked_out()
    bench.run(100, [COOL])
    press(bench, scans)
    assert bench.scan.sequence.lockout.sides == el.BOTH


@pytest.mark.parametrize("cause", [HOT, (ch.C_71HH_UP, 0)])
def test_no_press_resets_a_lockout_while_its_cause_is_there(cause):
    bench = locked_out(cause)
    bench.run(100)
    press(bench, 20)
    assert bench.scan.sequence.lockout.sides == el.BOTH
    bench.run(100, [COOL, (ch.C_71HH_UP, 1)])
    press(bench, 20)
    assert bench.scan.sequence.lockout.sides == 0


def test_a_button_that_is_held_at_the_start_counts_for_nothing():
    bench = Bench()
    bench.run(50, [PRESSED])
    bench.scan.sequence.lockout.sides = el.BOTH
    bench.run(5, [RELEASED])
    bench.run(200)
    assert bench.scan.sequence.lockout.sides == el.BOTH
    press(bench, 20)
    assert bench.scan.sequence.lockout.sides == 0


def test_trips_far_apart_never_lock_out():
    bench = Bench([("trip_window_s", 60)])
    for _ in range(5):
        trip_pump(bench)
        bench.run(700, [DULL])
    assert bench.scan.sequence.lockout.sides == 0


def test_turbine_trips_close_the_valve_and_lock_out():
    bench = Bench()
    for _ in range(3):
        until(bench, mo.RUNNING, [NIGHT, (ch.GENERATOR_MV, 9000)])
        until(bench, mo.CLOSING, [OVER_VOLTAGE])
        until(bench, mo.STANDSTILL)
    assert bench.scan.sequence.lockout.sides == el.BOTH
    assert posted(bench, ev.LOCKOUT)[0][1] == el.number("59-GEN")


def test_trips_of_different_elements_are_counted_apart():
    bench = Bench()
    for cause in (HOT, (ch.C_71HH_UP, 0), HOT, (ch.C_71HH_UP, 0)):
        until(bench, mo.PUMPING, [SUN, WATER, COOL, (ch.C_71HH_UP, 1)])
        until(bench, mo.STANDSTILL, [cause])
    assert bench.scan.sequence.lockout.sides == 0


def test_a_cause_that_only_the_rig_resets_is_not_covered_by_a_later_one():
    bench = Bench()
    lockout, protection = bench.scan.sequence.lockout, bench.scan.protection
    for name in ("48-SHT", "3-SW", "48-SHT"):
        protection.struck = [0] * len(el.ELEMENTS)
        protection.struck[el.number(name) - 1] = 1
        lockout.count(protection)
    assert lockout.element == el.number("3-SW")


def test_a_dead_monitor_lets_no_cause_go():
    bench = Bench()
    bench.run(300)
    bench.run(50, [(ch.PUMP_MA, 500)])
    assert bench.scan.sequence.lockout.element == el.number("3-SW")
    bench.run(50, [(ch.PUMP_MA, ch.INVALID)])
    press(bench, 20)
    assert bench.scan.sequence.lockout.sides == el.BOTH


def test_a_reset_does_not_open_the_valve_of_a_drain_down_again():
    bench = Bench()
    bench.run(300)
    bench.scan.sequence.drain = 6000
    until(bench, mo.DRAINING)
    bench.scan.sequence.lockout.sides = el.BOTH
    until(bench, mo.STANDSTILL)
    press(bench, 20)
    bench.run(50)
    assert bench.scan.sequence.lockout.sides == 0
    assert bench.state == mo.STANDSTILL


def test_a_pump_current_beyond_its_monitor_heats_the_model():
    bench = Bench([("thermal_base_mA", 2000)])
    until(bench, mo.TRIAL, [SUN])
    bench.run(60, [(ch.PUMP_MA, ch.INVALID + ch.CLIPPED)])
    assert bench.scan.derived.heat.heat > 0
