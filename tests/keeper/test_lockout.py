"""Trips, retries, lockout, and the press of the button that ends it."""

import pytest

from keeper import channels as ch
from keeper import elements as el
from keeper import events as ev
from keeper import modes as mo
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
