"""Derived values at their limits, each figure worked out by hand.

The settings are those of `tests.keeper.scripted`: dry limit 100 mA + 200 uA/V2,
judged from 12 V; stalled below 6 ohm from 240 mA; winding 10 ohm; a tank in
which a litre is a millimetre; pulses of 1 mL.
"""

import pytest

from keeper import channels as ch
from keeper import modes as mo
from keeper.protection import derived as dv
from keeper.protection.derived import Derived
from tests.keeper.scripted import HEALTHY, settings_with

PUMP_JUDGED = (dv.MISSING_MA, dv.STALL_MV, dv.NO_FLOW_UP_MW)
NOTHING_OF_THE_PUMP = (*PUMP_JUDGED, dv.OPEN_LEAD_MV, dv.LITTLE_FLOW_MW)
MINUTE, HOUR = 600, 36000  # periods
EVERY_STATE = range(len(mo.STATES))


class Work:
    """Derived values of readings that change, scan after scan."""

    def __init__(self, state=mo.STANDSTILL, pump_on=0, told=0, numbers=()):
        self.why = [ch.OUT_OF_RANGE] * ch.COLUMNS
        self.derived = Derived(settings_with(numbers), self.why)
        self.derived.pump_on, self.derived.commanded = pump_on, told
        self.state = state
        self.values = [0] * dv.VALUES
        self.set(HEALTHY)

    def set(self, changes):
        for place, value in changes:
            self.values[place] = value

    def fill(self, changes=(), periods=1, scans=1):
        """Takes scans of changed readings; returns the values."""
        self.set(changes)
        for _ in range(scans):
            self.derived.fill(self.values, self.state, periods)
        return self.values


def pumped(panel_mV, pump_mA, *others):
    values = Work(mo.PUMPING, pump_on=1).fill([(ch.PANEL_MV, panel_mV), (ch.PUMP_MA, pump_mA),
                                               *others])
    return tuple(values[place] for place in PUMP_JUDGED)


# The pump

@pytest.mark.parametrize(("panel_mV", "pump_mA", "missing"), [
    (24000, 150, 65), (24999, 150, 65),        # 100 + 576 x 0.2 = 215; whole volts count
    (12000, 100, 28), (11999, 0, 0),           # 100 + 144 x 0.2 = 128; below 12 V no word
    (24000, 215, 0), (24000, 300, -85),
    (24000, 50, 165), (24000, 49, 0)])         # less than an idle motor: an open lead
def test_a_dry_pump_lacks_current_from_the_least_judged_voltage_on(panel_mV, pump_mA, missing):
    assert pumped(panel_mV, pump_mA)[0] == missing


def test_the_gain_of_the_dry_limit_is_in_millionths():
    """24^2 V2 x 10 mA/V2 = 5.76 A, and 0.1 A at no voltage."""
    work = Work(mo.PUMPING, pump_on=1, numbers=[("dry_gain_uA_V2", 10_000)])
    assert work.fill([(ch.PANEL_MV, 24000), (ch.PUMP_MA, 860)])[dv.MISSING_MA] == 5000


def test_a_dry_pump_is_seen_though_the_meter_shows_a_flow():
    assert pumped(24000, 150, (ch.FLOW_UP, 30000)) == (65, 0, 0)


@pytest.mark.parametrize(("panel_mV", "pump_mA", "stall"), [
    (6000, 2000, 6000), (11999, 2000, 1), (12000, 2000, 0), (13000, 2000, -1000),
    (1000, 240, 440), (1000, 239, 0)])         # 6 x 240 = 1440 mV; less current hurts no motor
def test_a_standing_motor_lacks_voltage_for_its_current(panel_mV, pump_mA, stall):
    assert pumped(panel_mV, pump_mA)[1] == stall


def test_the_power_without_flow_is_volts_times_amperes():
    assert pumped(20000, 501)[2] == 10020
    assert pumped(20000, 501, (ch.FLOW_UP, 10000))[2] == 0


@pytest.mark.parametrize("lost", [ch.PANEL_MV, ch.PUMP_MA])
def test_without_volts_or_amperes_nobody_can_judge_the_pump(lost):
    assert pumped(24000, 150, (lost, ch.INVALID)) == (ch.INVALID,) * 3


@pytest.mark.parametrize("contact", [ch.C_71HH_UP, ch.C_STOP])
def test_a_motor_that_the_hardware_cut_is_not_judged_by_any_of_the_three(contact):
    for panel_mV, pump_mA in ((24000, 0), (6000, 2000), (20000, 600)):
        assert pumped(panel_mV, pump_mA, (contact, 0)) == (0, 0, 0)


def test_a_pump_that_is_off_is_judged_only_for_current_that_it_should_not_draw():
    values = Work().fill([(ch.PANEL_MV, 24000), (ch.PUMP_MA, 150)])
    assert [values[place] for place in NOTHING_OF_THE_PUMP] == [0] * 5
    assert values[dv.WELDED_MA] == 150
    assert Work().fill([(ch.PUMP_MA, ch.INVALID)])[dv.WELDED_MA] == ch.INVALID
    assert Work(mo.PUMPING, pump_on=1).fill([(ch.PUMP_MA, 150)])[dv.WELDED_MA] == 0


# Valve, generator, lamps

@pytest.mark.parametrize("told", [0, 300])
def test_a_valve_that_says_nothing_counts_as_where_it_was_told_to_stand(told):
    values = Work(told=told).fill([(ch.VALVE_PERMILLE, ch.INVALID), (ch.FLOW_DOWN, 0)])
    assert values[dv.VALVE_GAP] == ch.INVALID
    assert values[dv.NO_FLOW_DOWN] == told


def test_the_valves_gap_has_no_sign():
    for position in (340, 260):
        assert Work(told=300).fill([(ch.VALVE_PERMILLE, position)])[dv.VALVE_GAP] == 40
    assert Work(told=300).fill([(ch.VALVE_PERMILLE, 300)])[dv.VALVE_GAP] == 0


def test_a_flow_down_is_one_from_where_it_is_surely_seen():
    open_valve = (ch.VALVE_PERMILLE, 300)
    assert Work(told=300).fill([open_valve, (ch.FLOW_DOWN, 10000)])[dv.NO_FLOW_DOWN] == 0
    assert Work(told=300).fill([open_valve, (ch.FLOW_DOWN, 9999)])[dv.NO_FLOW_DOWN] == 300
    assert Work(told=300).fill([open_valve, (ch.FLOW_DOWN, 0)])[dv.NO_FLOW_DOWN] == 300


@pytest.mark.parametrize("state", EVERY_STATE)
def test_a_flow_through_a_valve_told_shut_counts_where_no_water_should_go_down(state):
    shut = (mo.STANDSTILL, mo.TRIAL, mo.PUMPING, mo.MAINTENANCE)
    flow = [(ch.FLOW_DOWN, 7)]
    assert Work(state).fill(flow)[dv.SHUT_FLOW] == (7 if state in shut else 0)
    assert Work(state, told=1).fill(flow)[dv.SHUT_FLOW] == 0


@pytest.mark.parametrize(("mV", "flow", "said"), [
    (999, 10000, 600), (1000, 10000, 0), (999, 9999, 0)])
def test_a_wheel_under_water_gives_a_volt_at_least(mV, flow, said):
    readings = [(ch.VALVE_PERMILLE, 600), (ch.FLOW_DOWN, flow), (ch.GENERATOR_MV, mV)]
    assert Work(told=600).fill(readings)[dv.NO_VOLTS] == said


@pytest.mark.parametrize(("mA", "dark"), [(-3, 12000), (4, 12000), (5, 0), (ch.INVALID, 0)])
def test_lamps_draw_five_milliamperes_at_least(mA, dark):
    assert Work().fill([(ch.GENERATOR_MV, 12000), (ch.LAMP_MA, mA)])[dv.DARK_LAMPS_MV] == dark


@pytest.mark.parametrize(("mA", "inner"), [
    (100, 13000), (1, 12010), (0, 12000), (-100, 12000), (ch.INVALID, 12000)])
def test_the_inner_voltage_adds_what_the_winding_takes(mA, inner):
    assert Work().fill([(ch.GENERATOR_MV, 12000), (ch.GENERATOR_MA, mA)])[dv.EMF_MV] == inner


def test_without_the_generators_voltage_nothing_is_known_of_the_wheel_and_the_lamps():
    values = Work(told=600).fill([(ch.GENERATOR_MV, ch.INVALID), (ch.FLOW_DOWN, 9)])
    assert [values[place] for place in (dv.NO_VOLTS, dv.DARK_LAMPS_MV, dv.EMF_MV)] == (
        [ch.INVALID] * 3)


# A motor's reading that stands still

def test_a_reading_is_still_from_its_last_move_while_the_pump_works():
    work = Work(mo.PUMPING, pump_on=1)
    work.fill([(ch.MOTOR_MDEGC, 20000)])
    assert work.fill(scans=10)[dv.MOTOR_STILL_S] == 1
    assert work.fill(periods=100)[dv.MOTOR_STILL_S] == 11
    assert work.fill([(ch.MOTOR_MDEGC, 20062)])[dv.MOTOR_STILL_S] == 0
    assert work.fill(scans=19)[dv.MOTOR_STILL_S] == 1
    assert work.fill()[dv.MOTOR_STILL_S] == 2
    for state in EVERY_STATE:
        if state != mo.PUMPING:
            work.state = state
            assert work.fill(scans=50)[dv.MOTOR_STILL_S] == 0
            work.fill([(ch.MOTOR_MDEGC, 30000 + state)])  # it moved before the run
            work.state = mo.PUMPING
            assert work.fill(scans=9)[dv.MOTOR_STILL_S] == 0
            assert work.fill()[dv.MOTOR_STILL_S] == 1


# Limits that no rig chooses

def test_the_guesses_that_fix_a_value_are_those_that_are_stated():
    """Common practice, no source: each is a guess, and a person should see it change."""
    assert 2 ** dv.MEAN_SHIFT == 128               # scans that the mean level remembers
    assert dv.SETTLE_PERIODS == 2 * MINUTE                 # a tank comes to rest
    assert dv.LEAK_WATCH_PERIODS == 6 * HOUR               # a leak is looked for anew
    assert dv.COMPARISON_MOST_PERIODS == HOUR           # level and volumes are compared anew
    assert dv.JUDGED_MM == 50
    assert (dv.COOLS_TAUS, dv.WARMS_TAUS) == (1, 3)  # straight lines beside an exponential
    assert dv.LAG_MDEGC == 3000


def test_before_the_first_scan_has_driven_anything_the_pump_counts_as_off_and_the_valve_as_shut():
    work = Work()
    work.derived = Derived(settings_with(), work.why)
    values = work.fill([(ch.PUMP_MA, 300), (ch.PANEL_MV, 24000), (ch.FLOW_DOWN, 7),
                        (ch.VALVE_PERMILLE, 40)])
    assert values[dv.WELDED_MA] == 300
    assert (values[dv.VALVE_GAP], values[dv.SHUT_FLOW]) == (40, 7)
    assert (values[dv.STARTS_MILLI], values[dv.THERMAL]) == (0, 0)
    assert (values[dv.LEAK_MM], values[dv.LEVEL_GAP], values[dv.MOTOR_STILL_S]) == (0, 0, 0)
