"""Weak sun is no fault: trials, hold-offs, and the least run and rest of the pump."""

import pytest

from keeper import channels as ch
from keeper import events as ev
from keeper import modes as mo
from keeper.operation.actuators import MinimumTimes
from tests.keeper.ways import DRY, SUN, WATER, bench_in, posted, seconds, stopped, until


@pytest.mark.parametrize(("useful", "enough"), [(49999, True), (50000, True), (50001, False)])
def test_the_least_useful_flow_is_enough(useful, enough):
    bench = bench_in(mo.TRIAL, useful_flow_uL_s=useful)
    bench.run(30, [WATER])
    assert bench.scan.values[ch.FLOW_UP] == 50000
    assert (bench.state == mo.PUMPING) == enough


def run_of(bench, wet_scans):
    """Pumps so long and then dries up; returns how long the pump ran with water [0.1 s]."""
    until(bench, mo.TRIAL, [SUN, DRY])
    until(bench, mo.PUMPING, [WATER])
    bench.run(wet_scans)
    until(bench, mo.STANDSTILL, [DRY])
    begun, ended = (event[4] for event in posted(bench, ev.STATE)[-2:])
    return ended - begun


def test_a_run_longer_than_the_next_hold_off_begins_the_hold_off_anew():
    told = {}
    for wet_scans in range(30, 70):
        bench = stopped(mo.TRIAL, [], pump_least_on_s=0, holdoff_s=5, holdoff_longest_s=40)
        run_ds = run_of(bench, wet_scans)
        told[run_ds] = posted(bench, ev.HELD_OFF)[-1][2]
    assert {99, 100, 101, 102} <= set(told)
    assert all(holdoff == (5 if run_ds > 100 else 10) for run_ds, holdoff in told.items())


def test_a_trial_alone_is_no_run_however_long():
    bench = stopped(mo.TRIAL, [], holdoff_s=1, holdoff_longest_s=60, trial_s=30)
    until(bench, mo.TRIAL)
    until(bench, mo.STANDSTILL)
    assert [event[2] for event in posted(bench, ev.HELD_OFF)] == [1, 2]


def test_a_hold_off_tells_the_state_that_it_ended():
    bench = stopped(mo.TRIAL, [], pump_least_on_s=0)
    run_of(bench, 100)
    assert [event[3] for event in posted(bench, ev.HELD_OFF)] == [mo.TRIAL, mo.PUMPING]


def test_water_that_comes_back_within_the_trial_s_time_begins_the_judgement_anew():
    bench = bench_in(mo.PUMPING, pump_least_on_s=0)
    for _ in range(5):
        bench.run(40, [DRY])  # the window holds water for ten of them
        bench.run(30, [WATER])
    assert bench.state == mo.PUMPING
    bench.set([DRY])
    while bench.scan.values[ch.FLOW_UP] >= 25000:
        bench.run()
    assert until(bench, mo.STANDSTILL) == seconds(bench, "trial_s") - 1


def test_the_least_run_counts_from_the_start_of_the_trial():
    bench = bench_in(mo.TRIAL, pump_least_on_s=30)
    begun_ds = bench.scan.uptime_ds
    until(bench, mo.PUMPING, [WATER])
    until(bench, mo.STANDSTILL, [DRY])
    assert bench.scan.uptime_ds - begun_ds == 300


def test_a_trial_that_fails_waits_for_no_least_run():
    bench = bench_in(mo.TRIAL, pump_least_on_s=3600)
    assert until(bench, mo.STANDSTILL) == seconds(bench, "trial_s")


# The wrapper of the least times

def test_least_times_by_the_scan():
    pump = MinimumTimes(2, 3)
    assert pump.may_start()
    assert not pump.may_stop()
    for on, least in ((1, 20), (0, 30)):
        pump.switch(on)
        pump.switch(on)  # again: changes nothing
        for passed in range(least):
            assert not pump.may_start()
            assert not pump.may_stop()
            if passed == least // 2:
                pump.switch(on)
            pump.tick(1)
        assert pump.may_stop() == bool(on)
        assert pump.may_start() == (not on)


def test_a_late_scan_ends_a_least_time_and_owes_nothing():
    pump = MinimumTimes(2, 3)
    pump.switch(1)
    pump.tick(600)
    assert pump.left_periods == 0
    assert pump.may_stop()
