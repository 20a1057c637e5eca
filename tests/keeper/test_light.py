"""Wishes for light: button, dusk, clock, holds that run out, and the night's plan."""

import pytest
from hypothesis import given
from hypothesis import strategies as some

from keeper import channels as ch
from keeper import events as ev
from keeper import modes as mo
from keeper.operation.button import LONG, NONE, OPEN_SCANS, SHORT, Button
from keeper.operation.night import Night
from keeper.protection.volumes import Volumes
from tests.keeper.scripted import settings_with
from tests.keeper.ways import (
    DULL,
    MINUTES,
    NIGHT,
    PRESSED,
    RELEASED,
    SUN,
    WATER,
    bench_in,
    posted,
    until,
)


def light(bench):
    return bench.scan.sequence.light


def tap(bench):
    """A short press of the button."""
    bench.run(OPEN_SCANS + 1, [RELEASED])
    bench.run(3, [PRESSED])
    bench.run(2, [RELEASED])


def test_taps_at_night_step_the_brightness_up_and_then_off_till_dawn():
    bench = bench_in(mo.RUNNING)
    assert light(bench).setpoint_mW == 600
    tap(bench)
    assert light(bench).setpoint_mW == 1000
    tap(bench)
    until(bench, mo.STANDSTILL)
    tap(bench)
    assert light(bench).setpoint_mW == 300
    until(bench, mo.RUNNING)


def test_the_next_night_begins_with_the_ordinary_light_again():
    bench = bench_in(mo.RUNNING)
    tap(bench)
    tap(bench)
    until(bench, mo.STANDSTILL)
    bench.run(300, [DULL])
    until(bench, mo.RUNNING, [NIGHT])
    assert light(bench).setpoint_mW == 600


def test_a_tap_by_day_lights_for_a_while_and_runs_out():
    bench = bench_in(mo.STANDSTILL)
    tap(bench)
    until(bench, mo.RUNNING)
    assert light(bench).setpoint_mW == 300
    assert until(bench, mo.CLOSING) == pytest.approx(2 * MINUTES, abs=60)
    assert light(bench).setpoint_mW == 600


def test_light_by_day_stops_no_pump_that_runs_and_the_pump_waits_for_the_light():
    bench = bench_in(mo.PUMPING)
    tap(bench)
    bench.run(100)
    assert bench.state == mo.PUMPING
    until(bench, mo.STANDSTILL, [(ch.C_71H_UP, 0)])
    until(bench, mo.RUNNING, [(ch.C_71H_UP, 1), SUN, WATER])
    until(bench, mo.CLOSING)
    until(bench, mo.TRIAL)


@pytest.mark.parametrize(("scans", "press"), [
    (1, SHORT), (9, SHORT), (10, LONG), (100, LONG), (101, NONE), (5000, NONE)])
def test_a_press_is_told_by_its_length_once_it_is_over(scans, press):
    button = Button()
    for _ in range(OPEN_SCANS):
        assert button.follow(0, 1) == NONE
    for _ in range(scans):
        assert button.follow(1, 1) == NONE
    assert button.follow(0, 1) == press
    assert button.follow(0, 1) == NONE


def test_a_button_held_at_the_start_is_not_heard():
    button = Button()
    button.follow(0, 1)  # as a contact reads before it has been looked at often enough
    for _ in range(15):
        button.follow(1, 1)
    assert button.follow(0, 1) == NONE


def test_one_scan_after_a_stall_is_no_long_press():
    button = Button()
    for _ in range(OPEN_SCANS):
        button.follow(0, 1)
    button.follow(1, 13)
    assert button.follow(0, 1) == SHORT


CLOCKED = {"at_dusk": 0, "clock_on_min": 1200, "clock_off_min": 60}


def test_the_clock_lights_over_midnight():
    bench = bench_in(mo.STANDSTILL, **CLOCKED)
    light(bench).set_clock(1200 * 60 - 30)
    bench.run(290)
    assert not light(bench).due()
    until(bench, mo.RUNNING, most=40)
    light(bench).set_clock(86400 - 2)
    bench.run(600)
    assert bench.state == mo.RUNNING
    light(bench).set_clock(3600 - 5)
    until(bench, mo.CLOSING, most=60)


def test_a_clock_that_nobody_set_is_said_once_at_dusk_and_orders_nothing():
    bench = bench_in(mo.STANDSTILL, **CLOCKED)
    for _ in range(2):
        bench.run(300, [NIGHT])
        bench.run(300, [DULL])
    assert [event[2] for event in posted(bench, ev.CLOCK_UNKNOWN)] == [1200]
    assert bench.state == mo.STANDSTILL


def test_a_measured_night_is_what_the_next_plan_counts_on():
    bench = bench_in(mo.STANDSTILL)
    bench.run(200)
    bench.run(60, [NIGHT])
    left = light(bench).minutes_left()
    assert left == 900  # unknown: the longest night of the site
    for _ in range(700):
        bench.step(60000)
        bench.drain()
    bench.run(60, [DULL])
    assert light(bench).last_night_min == pytest.approx(700, abs=2)
    bench.run(60, [NIGHT])
    assert light(bench).minutes_left() == pytest.approx(700, abs=2)


def test_darkness_that_is_no_night_teaches_nothing():
    bench = bench_in(mo.STANDSTILL)
    bench.run(3000, [NIGHT])
    bench.run(100, [DULL])
    assert light(bench).last_night_min == 0


# The budget

def night():
    return Night(settings_with(), Volumes(settings_with()))


def test_hours_of_light_by_hand():
    """900 L at 0.6 W: point 4.8 of 8 gives 18057 mJ/L; 900 L x 18.057 J/L / 0.6 W = 451 min."""
    one = night()
    assert one.water_mL(960) == 900_000
    assert one.lasts_min(600, 900_000) == 451


@given(some.integers(300, 1000), some.integers(0, 1000), some.integers(0, 1440))
def test_a_plan_is_the_most_that_lasts_and_never_below_the_useful(wanted, level, minutes):
    one = night()
    sure, most = one.water_mL(level), one.most_mL(level)
    power, lasts = one.plan(wanted, sure, most, minutes)
    assert min(wanted, 300) <= power <= wanted
    if lasts:
        assert one.lasts_min(power, most) >= minutes
        brighter = power + max(1, (wanted - 300) // 16)
        if power < wanted and brighter <= wanted:
            assert one.lasts_min(brighter, sure) < minutes * 1.04 + 1
    else:
        assert power == wanted
        assert one.lasts_min(min(300, wanted), most) <= minutes


def test_what_the_rig_measures_replaces_what_was_worked_out():
    one = night()
    for _ in range(40):  # quarter hours at 0.6 W that gave 15 J/L
        one.learn(900, 540_000, 36_000)
    assert one.specific_mJ_L(600) == pytest.approx(15_000, rel=0.01)
    assert one.specific_mJ_L(125) == pytest.approx(5277, rel=0.01)  # far away: not touched


def test_a_quarter_with_little_water_teaches_nothing():
    one = night()
    before = list(one.curve)
    one.learn(900, 540_000, 4000)
    one.learn(0, 1, 50_000)
    assert one.curve == before


@given(some.lists(some.tuples(some.integers(1, 3600), some.integers(1, 10**8),
                              some.integers(1, 10**8)), max_size=50))
def test_nothing_that_is_learned_breaks_the_curve(quarters):
    one = night()
    for seconds, energy, water in quarters:
        one.learn(seconds, energy, water)
    assert min(one.curve) >= 1
    assert one.lasts_min(1, 1) >= 0
