"""What must have passed before a start: each wait to the scan, and in late scans too."""

import pytest

from keeper import channels as ch
from keeper import events as ev
from keeper import modes as mo
from keeper.protection import elements as el
from tests.keeper.scripted import Bench
from tests.keeper.ways import (
    COOL,
    DRY,
    FULL,
    HOT,
    NIGHT,
    NOT_FULL,
    OVER_VOLTAGE,
    STOP_PRESSED,
    SUN,
    WATER,
    bench_in,
    posted,
    seconds,
    stopped,
    until,
)

STOP_RELEASED = (ch.C_STOP, 1)
QUIET = (ch.GENERATOR_MV, 9000)
COLD = (ch.WATER_MDEGC, 1000)
START_MV = 26000
NO_FEEDBACK = (1 << ch.COLUMNS) - 1 & ~(1 << ch.VALVE_PERMILLE)


def passed_until(bench, state, changes, pace_ms, most=3000):
    """Time [0.1 s] until a state is reached by scans that come every `pace_ms`."""
    bench.set(changes)
    begun_ds = bench.scan.uptime_ds
    for _ in range(most):
        bench.step(pace_ms)
        bench.drain()
        assert bench.unsafe() is None
        if bench.state == state:
            return bench.scan.uptime_ds - begun_ds
    raise AssertionError(f"{mo.STATES[state][0]} not reached, in {mo.STATES[bench.state][0]}")


def rested(**changes):
    """A rig at rest by day, whose waits have all run out."""
    bench = bench_in(mo.STANDSTILL, **changes)
    bench.run(300)
    return bench


# How a wait begins, what then asks for the start, and what follows it.
WAITS = {
    "sun": ("start_wait_s", lambda: rested(), [SUN], mo.TRIAL),
    "dark": ("dark_s", lambda: rested(), [NIGHT], mo.RUNNING),
    "trial": ("trial_s", lambda: bench_in(mo.TRIAL), [], mo.STANDSTILL),
    "weak sun": ("holdoff_s", lambda: stopped(mo.TRIAL, []), [], mo.TRIAL),
    "rest of the pump": (
        "pump_least_off_s",
        lambda: stopped(mo.TRIAL, [FULL], pump_least_off_s=20),
        [NOT_FULL],
        mo.TRIAL,
    ),
    "trip of the pump": ("trip_wait_s", lambda: stopped(mo.TRIAL, [HOT]), [COOL], mo.TRIAL),
    "trip of the turbine": (
        "trip_wait_s",
        lambda: stopped(mo.RUNNING, [OVER_VOLTAGE], mo.CLOSING),
        [QUIET],
        mo.RUNNING,
    ),
}


@pytest.mark.parametrize("pace_ms", [100, 300])
@pytest.mark.parametrize("wait", WAITS)
def test_a_start_comes_when_its_wait_is_over_and_not_one_scan_before(wait, pace_ms):
    name, begin, changes, target = WAITS[wait]
    bench = begin()
    wait_ds = seconds(bench, name)
    in_a_scan = pace_ms // 100
    assert passed_until(bench, target, changes, pace_ms) == -(-wait_ds // in_a_scan) * in_a_scan


def test_the_pump_does_not_start_before_the_sun_s_wait_and_starts_at_its_end():
    bench = rested(start_wait_s=7)
    bench.run(69, [SUN])
    assert (bench.state, bench.board.outputs[ch.OUT_PUMP]) == (mo.STANDSTILL, 0)
    bench.run(1)
    assert (bench.state, bench.board.outputs[ch.OUT_PUMP]) == (mo.TRIAL, 1)


def test_one_scan_below_the_start_voltage_begins_the_sun_s_wait_anew():
    bench = rested()
    bench.run(19, [(ch.PANEL_MV, START_MV)])
    bench.run(1, [(ch.PANEL_MV, START_MV - 1)])
    assert until(bench, mo.TRIAL, [(ch.PANEL_MV, START_MV)]) == 20


def test_a_panel_just_below_the_start_voltage_never_starts_the_pump():
    bench = rested()
    bench.run(300, [(ch.PANEL_MV, START_MV - 1)])
    assert bench.state == mo.STANDSTILL


def test_sun_counts_towards_the_wait_while_the_tank_is_full():
    bench = rested()
    bench.run(300, [FULL, SUN])
    assert until(bench, mo.TRIAL, [NOT_FULL]) <= 10


def test_the_pump_waits_for_the_day_however_soon_the_sun_is_enough():
    bench = rested(setpoint_mW=0, dark_s=9, start_wait_s=1)
    bench.run(300, [NIGHT])
    assert bench.state == mo.STANDSTILL
    assert until(bench, mo.TRIAL, [SUN]) == 90


@pytest.mark.parametrize("before", [mo.STANDSTILL, mo.TRIAL, mo.RUNNING])
@pytest.mark.parametrize(
    ("changes", "after"), [([SUN], mo.TRIAL), ([NIGHT], mo.RUNNING)], ids=["pump", "light"]
)
def test_whoever_releases_the_local_stop_has_the_trip_s_wait(before, changes, after):
    """Whether or not something ran, and for both modes."""
    bench = bench_in(before)
    bench.run(300, [STOP_PRESSED, *changes])
    assert bench.state == mo.STANDSTILL
    scans = until(bench, after, [STOP_RELEASED])
    # The element needs some scans to let go; the wait is counted from there.
    assert 0 <= scans - seconds(bench, "trip_wait_s") <= 5


def test_a_trip_of_the_pump_does_not_keep_the_light_waiting():
    bench = stopped(mo.TRIAL, [HOT])
    assert until(bench, mo.RUNNING, [COOL, NIGHT]) == seconds(bench, "dark_s")


def test_a_trip_of_the_turbine_does_not_keep_the_pump_waiting():
    bench = stopped(mo.RUNNING, [OVER_VOLTAGE], mo.CLOSING, trip_wait_s=30)
    assert until(bench, mo.TRIAL, [QUIET, SUN]) == seconds(bench, "dark_s")


def test_a_trip_at_rest_does_not_shorten_a_longer_hold_off():
    bench = stopped(mo.TRIAL, [], holdoff_s=60, holdoff_longest_s=60)
    bench.run(20, [HOT])
    assert len(posted(bench, ev.LOCKOUT)) == 0
    assert until(bench, mo.TRIAL, [COOL]) == seconds(bench, "holdoff_s") - 20


def test_another_trip_at_rest_begins_the_wait_anew():
    bench = stopped(mo.TRIAL, [HOT])
    bench.run(50, [COOL])
    bench.run(1, [(ch.C_71HH_UP, 0)])
    while not bench.scan.protection.acting[el.number("71HH-UP") - 1]:
        bench.run()
    assert until(bench, mo.TRIAL, [(ch.C_71HH_UP, 1)]) == seconds(bench, "trip_wait_s")


@pytest.mark.parametrize(
    ("changes", "held"),
    [
        ([FULL], el.PUMP), ([(ch.C_71L_LO, 0)], el.PUMP), ([(ch.C_71L_UP, 0)], el.TURBINE),
        ([(ch.C_71H_LO, 0)], el.TURBINE), ([COLD], el.BOTH), ([(ch.SUPPLY_MV, 11000)], el.BOTH),
        ([STOP_PRESSED], el.BOTH),
    ],
)  # fmt: skip
def test_what_holds_a_side_off_or_bars_its_start_keeps_it_from_starting(changes, held):
    """Frost only bars a start, the others stop as well; the other side is free."""
    bench = rested()
    bench.run(700, changes)
    bench.run(100, [SUN, WATER])
    assert (bench.state == mo.PUMPING) == (not held & el.PUMP)
    bench.run(200, [NIGHT, DRY])
    assert (bench.state == mo.RUNNING) == (not held & el.TURBINE)


def test_frost_stops_nothing_that_runs():
    bench = bench_in(mo.PUMPING)
    bench.run(700, [COLD])
    assert bench.state == mo.PUMPING
    until(bench, mo.STANDSTILL, [FULL])
    bench.run(300, [NOT_FULL])
    assert bench.state == mo.STANDSTILL


def test_starts_beyond_the_hour_s_allowance_keep_the_pump_off_and_not_the_light():
    changes = {"starts_per_hour": 2, "starts_most_milli": 1500, "starts_again_milli": 1000}
    bench = rested(holdoff_s=1, holdoff_longest_s=1, **changes)
    bench.run(600, [SUN])
    assert bench.scan.derived.starts.counted == 2
    assert bench.state == mo.STANDSTILL
    until(bench, mo.RUNNING, [NIGHT])


def test_a_start_is_counted_once_from_trial_to_standstill_and_light_is_none():
    bench = bench_in(mo.PUMPING)
    until(bench, mo.STANDSTILL, [FULL])
    until(bench, mo.RUNNING, [NOT_FULL, NIGHT, DRY])
    assert bench.scan.derived.starts.counted == 1


@pytest.mark.parametrize(("travel_ms", "scans"), [(200, 2), (6000, 60), (99_900, 999)])
def test_a_valve_without_a_position_counts_as_shut_after_its_time_to_travel(travel_ms, scans):
    """At a start too, and not at once."""
    bench = Bench([("fitted", NO_FEEDBACK), ("valve_travel_ms", travel_ms)])
    assert until(bench, mo.STANDSTILL) == scans


def test_at_a_start_a_valve_that_nobody_can_see_is_first_shut_at_its_rate():
    bench = Bench([("fitted", NO_FEEDBACK)])
    bench.set([(ch.VALVE_PERMILLE, ch.INVALID)])
    assert until(bench, mo.STANDSTILL) == 1000 // 25 + 60


def test_a_valve_without_a_position_keeps_the_pump_off_for_its_time_to_travel():
    """The time begins anew with each opening."""
    bench = bench_in(mo.RUNNING, fitted=NO_FEEDBACK, dark_s=1, start_wait_s=1)
    bench.run(60)
    assert bench.board.outputs[ch.OUT_VALVE] > 0
    until(bench, mo.CLOSING, [SUN])
    while bench.board.outputs[ch.OUT_VALVE]:
        bench.run()
    assert until(bench, mo.TRIAL) == seconds(bench, "valve_travel_ms") // 1000 + 1


# Counts that could run for years

@pytest.mark.parametrize("before", [5, 0])
def test_counts_go_on_for_310_days_and_stand_still(before):
    stands = 1 << 28  # periods of 0.1 s, and a small number on the board
    bench = rested()
    sequence = bench.scan.sequence
    bench.run(10, [FULL, SUN])
    sequence.sunny_periods = sequence.in_state_periods = stands - before
    sequence.commanded_shut_periods = stands - before
    bench.run(3)
    ends = stands - max(0, before - 3)
    assert (sequence.sunny_periods, sequence.in_state_periods) == (ends, ends)
    assert sequence.commanded_shut_periods == ends


def test_waits_that_are_over_stand_still_at_nothing():
    bench = rested()
    bench.run(50)
    assert bench.scan.sequence.wait_periods == [0, 0]
    assert bench.scan.sequence.pump.left_periods == 0


# The first-out

@pytest.mark.parametrize(
    ("state", "cause", "changes", "again"),
    [
        (mo.TRIAL, HOT, [COOL], mo.TRIAL),
        (mo.RUNNING, OVER_VOLTAGE, [QUIET], mo.RUNNING),
    ],
)
def test_the_first_out_is_kept_until_something_runs_again(state, cause, changes, again):
    bench = bench_in(state)
    until(bench, mo.STANDSTILL, [cause])
    first = bench.scan.protection.first
    assert first == posted(bench, ev.ACTED)[0][1]
    bench.run(50, changes)
    assert bench.scan.protection.first == first
    until(bench, again)
    assert bench.scan.protection.first == 0


def test_a_lockout_by_the_other_side_s_element_ends_a_run():
    """48-SHT names the turbine, and locks both: water runs past a shut valve, and turns it."""
    bench = bench_in(mo.PUMPING)
    until(bench, mo.STANDSTILL, [(ch.PULSES_DOWN, 5), (ch.GENERATOR_MV, 1000)])
    assert [event[1] for event in posted(bench, ev.LOCKOUT)] == [el.number("48-SHT")]
    assert posted(bench, ev.STATE)[-1][1:3] == (mo.PUMPING, mo.TRIPPED)
