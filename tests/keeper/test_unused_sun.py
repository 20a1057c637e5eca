"""Daylight that starts no pump for half an hour is told once a day, and nothing else is."""

import pytest

from keeper import channels as ch
from keeper import events as ev
from keeper import modes as mo
from tests.keeper.scripted import Bench
from tests.keeper.ways import SUN, WATER

NEAR_MV, HALF_HOUR = 25500, 18000   # below a start voltage of 26 V
NEAR = (ch.PANEL_MV, NEAR_MV)
DARK = (ch.PANEL_MV, 0)


@pytest.fixture
def bench():
    bench = Bench()
    bench.run(200)
    return bench


def told(bench):
    return [event[1:4] for event in bench.events if event[0] == ev.SUN_UNUSED]


def test_it_is_told_after_half_an_hour_with_the_highest_voltage(bench):
    bench.run(9000, [NEAR])
    bench.run(1, [(ch.PANEL_MV, 25940)])
    bench.run(HALF_HOUR - 9001 - 1, [NEAR])
    assert told(bench) == []
    bench.run(2)
    assert told(bench) == [(0, 25940, mo.STANDSTILL)]


def test_it_is_told_once_a_day(bench):
    bench.run(3 * HALF_HOUR, [NEAR])
    assert len(told(bench)) == 1
    bench.run(300, [DARK])
    bench.run(2 * HALF_HOUR, [NEAR])
    assert len(told(bench)) == 2


def test_a_voltage_that_only_flickers_over_the_limit_is_told_as_well(bench):
    for _ in range(HALF_HOUR // 20 + 2):
        bench.run(15, [NEAR])
        bench.run(5, [SUN])
    assert told(bench) == [(0, SUN[1], mo.STANDSTILL)]


@pytest.mark.parametrize("bar", [
    (ch.C_71H_UP, 0), (ch.C_71L_LO, 0), (ch.C_STOP, 0), (ch.VALVE_PERMILLE, 100)])
def test_what_bars_a_start_is_no_want_of_sun(bench, bar):
    bench.run(2 * HALF_HOUR, [NEAR, bar])
    assert told(bench) == []


@pytest.mark.parametrize("panel_mV", [3000, 15000, 23300, ch.INVALID])
def test_dusk_and_a_dull_day_are_no_sun(bench, panel_mV):
    bench.run(2 * HALF_HOUR, [(ch.PANEL_MV, panel_mV)])
    assert told(bench) == []


def test_a_day_on_which_the_pump_has_started_needs_no_word(bench):
    bench.run(200, [SUN, WATER])
    assert bench.state == mo.PUMPING
    bench.run(600, [NEAR, (ch.PULSES_UP, 0)])
    assert bench.state == mo.STANDSTILL
    bench.run(2 * HALF_HOUR)
    assert told(bench) == []
