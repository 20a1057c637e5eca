"""Starts and runs of the pump in a rig that lacks readings: of the panel, the pump, the water."""
# pyright: reportAttributeAccessIssue=false

import pytest

from keeper import channels as ch
from keeper import events as ev
from keeper import modes as mo
from tests.keeper.scripted import Bench
from tests.keeper.ways import FULL, NIGHT, NOT_FULL, SUN, posted, seconds, until

PANEL = 1 << ch.PANEL_MV | 1 << ch.PANEL_MA
FLOWS = 1 << ch.FLOW_UP | 1 << ch.FLOW_DOWN
NO_SUN = ch.ALL_FITTED & ~(PANEL | 1 << ch.PUMP_MA | FLOWS)   # nor current, nor flow
NO_FLOW = ch.ALL_FITTED & ~FLOWS
VOLTS_ALONE = NO_FLOW & ~(1 << ch.PUMP_MA)
NO_VOLTS = (ch.PANEL_MV, 0)


def pumping_by_power():
    """A bench that pumps and has no flow meter: the pump draws what lifts water."""
    bench = Bench([("fitted", NO_FLOW), ("useful_sure_mW", 30000)])
    until(bench, mo.TRIAL, [SUN])
    lifting_mA = bench.scan.sequence.useful_mW * 1000 // bench.inputs[ch.PANEL_MV] + 50
    until(bench, mo.PUMPING, [(ch.PUMP_MA, lifting_mA)])
    return bench


def causes(bench):
    """Why each state was left."""
    return [event[2] for event in posted(bench, ev.STATE)]


def test_without_a_reading_of_the_panel_the_pump_runs_whenever_nothing_bars_it():
    bench = Bench([("fitted", NO_SUN)])
    bench.set([NO_VOLTS])
    until(bench, mo.PUMPING)
    assert causes(bench)[-2:] == [mo.SUN_ENOUGH, mo.TRIAL_OVER]
    bench.run(20 * seconds(bench, "trial_s"))
    assert bench.state == mo.PUMPING
    until(bench, mo.STANDSTILL, [FULL])
    bench.run(20 * seconds(bench, "start_wait_s"))
    assert bench.state == mo.STANDSTILL
    until(bench, mo.TRIAL, [NOT_FULL])


def test_light_that_is_asked_for_ends_such_a_run_and_the_pump_waits_for_its_end():
    bench = Bench([("fitted", NO_SUN)])
    until(bench, mo.PUMPING)
    bench.scan.sequence.light.hold(300, 600)
    until(bench, mo.RUNNING)
    assert mo.ORDERED_OFF in causes(bench)
    assert bench.scan.sequence.starts.counted == 1  # none between the run and the light
    until(bench, mo.PUMPING)


def test_without_a_reading_of_the_panel_it_is_never_known_to_be_night():
    bench = Bench([("fitted", NO_SUN)])
    bench.set([NIGHT])
    bench.run(3 * seconds(bench, "dark_s"))
    assert not bench.scan.sequence.light.dark


def test_without_a_meter_water_is_seen_by_the_power_from_which_it_goes_up():
    bench = pumping_by_power()
    assert causes(bench)[-1] == mo.WATER_SEEN
    weak_mA = bench.scan.sequence.useful_mW * 1000 // bench.inputs[ch.PANEL_MV] - 5
    until(bench, mo.STANDSTILL, [(ch.PUMP_MA, weak_mA)])
    assert causes(bench)[-1] == mo.TOO_WEAK


def test_with_the_panels_volts_alone_a_run_ends_when_the_pump_pulls_them_down():
    bench = Bench([("fitted", VOLTS_ALONE)])
    until(bench, mo.PUMPING, [SUN])
    assert causes(bench)[-1] == mo.TRIAL_OVER
    until(bench, mo.STANDSTILL, [(ch.PANEL_MV, bench.scan.sequence.judge_mV - 1)])
    assert causes(bench)[-1] == mo.TOO_WEAK


@pytest.mark.parametrize("place", [ch.PANEL_MV, ch.PUMP_MA])
def test_a_reading_that_is_lost_ends_no_run_as_weak_sun(place):
    bench = pumping_by_power()
    until(bench, mo.STANDSTILL, [(place, ch.INVALID)])
    assert causes(bench)[-1] == mo.STOPPED


@pytest.mark.parametrize("absent", [*range(ch.COLUMNS, ch.FITTABLE)])
def test_a_contact_that_is_not_there_holds_nothing_and_is_told_as_open(absent):
    if absent == ch.BUTTON:
        return  # every rig has it
    bench = Bench([("fitted", ch.ALL_FITTED & ~(1 << absent))])
    bench.set([SUN, (absent, 0)])
    bench.run(600)
    assert bench.scan.values[absent] == ch.INVALID
    assert bench.scan.protection.hold == 0
    assert bench.state in (mo.TRIAL, mo.PUMPING, mo.STANDSTILL)
