"""What protection judges but no instrument reads, each by a case worked out by hand."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as some

from keeper import channels as ch
from keeper import modes as mo
from keeper.protection import derived as dv
from keeper.protection.derived import Derived, Heat, Starts
from tests.keeper.scripted import HEALTHY, settings_with
from tests.keeper.small_int import SmallInt


def values_with(changes):
    values = [0] * dv.VALUES
    for place, value in (*HEALTHY, *changes):
        values[place] = value
    return values


def filled(changes, state=mo.STANDSTILL, pump_on=0, told=0, scans=1, numbers=()):
    one = Derived(settings_with(numbers), [0] * ch.COLUMNS)
    one.pump_on, one.commanded = pump_on, told
    values = values_with(changes)
    for _ in range(scans):
        one.fill(values, state, 1)
    return values


def test_current_through_a_switch_that_is_off_is_a_welded_one():
    assert filled([(ch.PUMP_MA, 300)])[dv.WELDED_MA] == 300
    assert filled([(ch.PUMP_MA, 300)], pump_on=1)[dv.WELDED_MA] == 0


def test_the_current_that_a_dry_pump_lacks_by_hand():
    """24 V: 100 mA + 24^2 * 200 uA/V2 = 215 mA; a pump that draws 150 mA lacks 65."""
    dry = [(ch.PANEL_MV, 24000), (ch.PUMP_MA, 150)]
    assert filled(dry, pump_on=1)[dv.MISSING_MA] == 65
    assert filled(dry)[dv.MISSING_MA] == 0
    assert filled([(ch.PANEL_MV, 11900), (ch.PUMP_MA, 0)], pump_on=1)[dv.MISSING_MA] == 0


@pytest.mark.parametrize("contact", [ch.C_71HH_UP, ch.C_STOP])
def test_a_motor_that_the_hardware_has_cut_says_nothing(contact):
    cut = [(ch.PANEL_MV, 24000), (ch.PUMP_MA, 0), (contact, 0)]
    values = filled(cut, pump_on=1)
    assert values[dv.MISSING_MA] == values[dv.STALL_MV] == values[dv.NO_FLOW_UP_MW] == 0


def test_a_standing_motor_shows_few_volts_for_its_current():
    """6 ohm at 2 A would be 12 V for a turning one; 6 V lack 6 V."""
    stalled = [(ch.PANEL_MV, 6000), (ch.PUMP_MA, 2000)]
    assert filled(stalled, pump_on=1)[dv.STALL_MV] == 6000
    assert filled([*stalled, (ch.FLOW_UP, 9999)], pump_on=1)[dv.STALL_MV] == 6000
    assert filled([*stalled, (ch.FLOW_UP, 10000)], pump_on=1)[dv.STALL_MV] == 0
    weak = [(ch.PANEL_MV, 600), (ch.PUMP_MA, 200)]
    assert filled(weak, pump_on=1)[dv.STALL_MV] == 0


def test_power_without_flow_is_only_seen_while_no_flow_surely_is():
    """10 W; a few pulses may be noise, or the trickle of a sun that gives 2 W more."""
    busy = [(ch.PANEL_MV, 20000), (ch.PUMP_MA, 500)]
    for flow, power_mW in ((0, 10000), (1, 8000), (9999, 8000), (10000, 0)):
        assert filled([*busy, (ch.FLOW_UP, flow)], pump_on=1)[dv.NO_FLOW_UP_MW] == power_mW


def test_a_flow_is_little_from_where_it_is_seen_to_where_it_is_useful():
    busy = [(ch.PANEL_MV, 20000), (ch.PUMP_MA, 500)]
    for flow, power_mW in ((0, 0), (9999, 0), (10000, 10000), (24999, 10000), (25000, 0)):
        assert filled([*busy, (ch.FLOW_UP, flow)], pump_on=1)[dv.LITTLE_FLOW_MW] == power_mW
    assert filled([*busy, (ch.FLOW_UP, 20000)])[dv.LITTLE_FLOW_MW] == 0


@pytest.mark.parametrize(("panel_mV", "pump_mA", "lead_mV", "missing"), [
    (24000, 0, 24000, 0), (24000, 49, 24000, 0),    # even an idle motor draws 50 mA
    (24000, 50, 0, 165), (11999, 0, 0, 0), (12000, -3, 12000, 0)])
def test_an_open_lead_draws_nothing_and_a_dry_pump_little(panel_mV, pump_mA, lead_mV, missing):
    values = filled([(ch.PANEL_MV, panel_mV), (ch.PUMP_MA, pump_mA)], pump_on=1)
    assert (values[dv.OPEN_LEAD_MV], values[dv.MISSING_MA]) == (lead_mV, missing)


def test_the_inner_voltage_of_the_generator_by_hand():
    """12 V and 100 mA through 10 ohm: 13 V."""
    assert filled([(ch.GENERATOR_MV, 12000), (ch.GENERATOR_MA, 100)])[dv.EMF_MV] == 13000
    assert filled([(ch.GENERATOR_MV, 12000), (ch.GENERATOR_MA, ch.INVALID)])[dv.EMF_MV] == 12000
    assert filled([(ch.GENERATOR_MV, ch.INVALID)])[dv.EMF_MV] == ch.INVALID


def test_what_the_generator_gives_and_the_lamps_do_not_take_by_hand():
    """11 V x 60 mA = 660 mW; 60 mA less 52 = 8. From 14.5 V on the clamp may take some."""
    def lit(*changes, state=mo.RUNNING):
        values = filled([(ch.GENERATOR_MV, 11000), (ch.GENERATOR_MA, 60), (ch.LAMP_MA, 52),
                         *changes], state, told=500)
        return values[dv.GENERATOR_MW], values[dv.LAMP_GAP_MA]

    assert lit() == (660, 8)
    assert lit((ch.LAMP_MA, 70)) == (660, 10)
    assert lit((ch.GENERATOR_MV, 14499)) == (869, 8)
    assert lit((ch.GENERATOR_MV, 14500)) == (870, 0)
    assert lit((ch.LAMP_MA, ch.INVALID)) == (660, ch.INVALID)
    for lost in (ch.GENERATOR_MV, ch.GENERATOR_MA):
        assert lit((lost, ch.INVALID)) == (ch.INVALID, ch.INVALID)
    for state in range(len(mo.STATES)):
        if state != mo.RUNNING:
            assert lit(state=state) == (0, 0)


def test_water_without_volts_is_told_by_the_opening_of_the_valve():
    running = [(ch.VALVE_PERMILLE, 600), (ch.FLOW_DOWN, 10000)]
    hums = [(ch.VALVE_PERMILLE, 600), (ch.FLOW_DOWN, 9999)]
    assert filled([*hums, (ch.GENERATOR_MV, 0)], told=600)[dv.NO_VOLTS] == 0
    assert filled([*running, (ch.GENERATOR_MV, 0)], told=600)[dv.NO_VOLTS] == 600
    assert filled([*running, (ch.GENERATOR_MV, 9000)], told=600)[dv.NO_VOLTS] == 0
    assert filled([(ch.VALVE_PERMILLE, 600)], told=600)[dv.NO_VOLTS] == 0
    assert filled([*running, (ch.GENERATOR_MV, ch.INVALID)], told=600)[dv.NO_VOLTS] == ch.INVALID


def test_volts_without_current_at_the_lamps():
    volts = (ch.GENERATOR_MV, 12000)
    assert filled([volts, (ch.LAMP_MA, 0)])[dv.DARK_LAMPS_MV] == 12000
    assert filled([volts, (ch.LAMP_MA, 50)])[dv.DARK_LAMPS_MV] == 0
    assert filled([volts, (ch.LAMP_MA, ch.INVALID)])[dv.DARK_LAMPS_MV] == 0


def test_the_valve_against_what_it_was_told():
    assert filled([(ch.VALVE_PERMILLE, 300)], told=500)[dv.VALVE_GAP] == 200
    assert filled([(ch.VALVE_PERMILLE, 700)], told=500)[dv.VALVE_GAP] == 200
    assert filled([(ch.VALVE_PERMILLE, ch.INVALID)], told=500)[dv.VALVE_GAP] == ch.INVALID
    assert filled([(ch.VALVE_PERMILLE, 300)], told=300)[dv.NO_FLOW_DOWN] == 300
    assert filled([(ch.VALVE_PERMILLE, 300), (ch.FLOW_DOWN, 10000)])[dv.NO_FLOW_DOWN] == 0


def test_a_flow_counts_as_through_a_shut_valve_only_when_it_should_be_shut():
    flows = [(ch.FLOW_DOWN, 20000)]
    assert filled(flows)[dv.SHUT_FLOW] == 20000
    assert filled(flows, told=1)[dv.SHUT_FLOW] == 0
    for state in (mo.CLOSING, mo.RUNNING, mo.DRAINING):
        assert filled(flows, state)[dv.SHUT_FLOW] == 0


@pytest.mark.parametrize(("witness", "flow"), [
    ((ch.GENERATOR_MV, 999), 0), ((ch.GENERATOR_MV, 1000), 20000),
    ((ch.GENERATOR_MV, ch.INVALID), 0),
    ((ch.VALVE_PERMILLE, 60), 0), ((ch.VALVE_PERMILLE, 61), 20000),
    ((ch.VALVE_PERMILLE, ch.INVALID), 0)])
def test_a_meter_at_a_shut_valve_is_believed_with_a_witness_alone(witness, flow):
    assert filled([(ch.FLOW_DOWN, 20000), witness])[dv.SHUT_LEAK] == flow
    assert filled([(ch.FLOW_DOWN, 0), witness])[dv.SHUT_LEAK] == 0
    assert filled([(ch.FLOW_DOWN, 20000), witness], mo.RUNNING)[dv.SHUT_LEAK] == 0


def test_a_level_that_falls_at_rest_bears_the_meter_out():
    """20 mm of fall are no witness, 21 are; told is the fall of the scan before."""
    one = Derived(settings_with(), [0] * ch.COLUMNS)
    values = values_with([(ch.LEVEL_MM, 400), (ch.FLOW_DOWN, 20000)])
    for _ in range(dv.SETTLE_PERIODS + 10):
        one.fill(values, mo.STANDSTILL, 1)
    for level_mm, flow in ((380, 0), (379, 20000)):
        values[ch.LEVEL_MM] = level_mm
        for _ in range(2000):
            one.fill(values, mo.STANDSTILL, 1)
        assert values[dv.LEAK_MM] == 400 - level_mm
        assert values[dv.SHUT_LEAK] == flow


class Run:
    """A motor of tau 60 s that must read 3 K warmer than its water in the end."""

    def __init__(self):
        self.one = Derived(settings_with([("motor_rise_mdegC", 3000)]), [0] * ch.COLUMNS)

    def lacks(self, motor_mdegC, water_mdegC, scans, state=mo.PUMPING):
        values = values_with([(ch.MOTOR_MDEGC, motor_mdegC), (ch.WATER_MDEGC, water_mdegC)])
        for _ in range(scans):
            self.one.fill(values, state, 1)
        return values[dv.MISSING_RISE_MDEGC]


def test_a_motor_that_should_warm_has_three_time_constants_for_it_by_hand():
    """From 10 degC less 3 K to 15 + 3: 11 K in 180 s, half of it in 90."""
    run = Run()
    assert run.lacks(10000, 15000, 1) == -3000
    assert run.lacks(10000, 15000, 899) == 7000 + 5500 - 10000
    assert run.lacks(10000, 15000, 900) == 18000 - 10000
    assert run.lacks(17999, 15000, 5000) == 1
    assert run.lacks(18000, 15000, 5000) == 0


def test_a_motor_that_may_cool_has_one_time_constant_for_it_by_hand():
    """From 40 degC less 3 K to 15 + 3: 19 K in 60 s, half of it in 30."""
    run = Run()
    run.lacks(40000, 15000, 1)
    assert run.lacks(20000, 15000, 299) == 27500 - 20000
    assert run.lacks(20000, 15000, 300) == 18000 - 20000


def test_each_run_begins_with_the_motor_as_it_is():
    run = Run()
    assert run.lacks(10000, 15000, 1800) == 8000
    for state in range(len(mo.STATES)):
        if state != mo.PUMPING:
            assert run.lacks(12000, 15000, 1, state) == 0
            assert run.lacks(12000, 15000, 1) == -3000


@pytest.mark.parametrize(("motor", "water"), [(ch.INVALID, 15000), (10000, ch.INVALID)])
def test_without_both_thermometers_nobody_knows_where_one_is(motor, water):
    run = Run()
    assert run.lacks(motor, water, 5) == ch.INVALID
    assert run.lacks(10000, 15000, 4) == -3000
    assert run.lacks(motor, water, 11) == ch.INVALID
    # 11 K of way, 3 s of 180: 16 permille of it.
    assert run.lacks(10000, 15000, 10) == -3000 + 11 * 16


def test_the_mean_level_follows_a_step_and_forgets_noise():
    one = Derived(settings_with(), [0] * ch.COLUMNS)
    values = values_with([(ch.LEVEL_MM, 400)])
    for _ in range(50):
        one.fill(values, mo.STANDSTILL, 1)
    assert values[dv.LEVEL_MEAN] == 400
    values[ch.LEVEL_MM] = 500
    for _ in range(128):
        one.fill(values, mo.STANDSTILL, 1)
    assert 455 <= values[dv.LEVEL_MEAN] <= 470  # 1 - 1/e of the step
    values[ch.LEVEL_MM] = ch.INVALID
    one.fill(values, mo.STANDSTILL, 1)
    assert values[dv.LEVEL_MEAN] == ch.INVALID


def filling(level_rises, meter_counts, mm=60):
    """Raises 1 m2 of water by `mm`, a litre a second: 1 mm a second; returns the gap."""
    one = Derived(settings_with(), [0] * ch.COLUMNS)
    values = values_with([(ch.LEVEL_MM, 300)])
    for second in range(mm + 30):
        values[ch.PULSES_UP] = 100 if meter_counts and second < mm else 0
        if level_rises:
            values[ch.LEVEL_MM] = 300 + min(second, mm)
        for _ in range(10):
            one.fill(values, mo.PUMPING, 1)
            values[ch.PULSES_UP] = 100 if meter_counts and second < mm else 0
    return values[dv.LEVEL_GAP]


def test_level_and_volumes_that_agree_leave_no_gap():
    assert filling(True, True) <= 15  # the mean level lags 13 s behind: 13 mm


def test_a_level_that_stands_still_shows_against_the_volumes():
    assert filling(False, True) >= 50


def test_a_meter_that_stands_still_shows_against_the_level():
    assert filling(True, False) >= 49


def test_a_leak_is_the_fall_since_the_tank_came_to_rest():
    one = Derived(settings_with(), [0] * ch.COLUMNS)
    values = values_with([(ch.LEVEL_MM, 400)])
    for _ in range(dv.SETTLE_PERIODS + 10):
        one.fill(values, mo.STANDSTILL, 1)
    assert values[dv.LEAK_MM] == 0
    values[ch.LEVEL_MM] = 370
    for _ in range(3000):
        one.fill(values, mo.STANDSTILL, 1)
    assert 29 <= values[dv.LEAK_MM] <= 30
    one.fill(values, mo.PUMPING, 1)
    assert values[dv.LEAK_MM] == 0


def test_the_motor_s_reading_is_watched_only_while_it_pumps():
    values = filled([], mo.PUMPING, scans=101)
    assert values[dv.MOTOR_STILL_S] == 10
    assert filled([], mo.STANDSTILL, scans=101)[dv.MOTOR_STILL_S] == 0


def heated(heat, pump_mA, seconds):
    for _ in range(seconds * 10):
        heat.pass_time(pump_mA, 1)
    return heat.heat // 1000


def test_the_heat_of_the_motor_follows_the_exponential_of_iec_60255_149():
    """H = (I/base)^2 (1 - exp(-t/tau)): 63.2 % after tau at the base current; from memory."""
    assert heated(Heat(1000, 60), 1000, 60) == pytest.approx(632, abs=6)
    assert heated(Heat(1000, 60), 1000, 600) == pytest.approx(1000, abs=2)
    # 1.5 times the base current trips after tau ln(2.25 / 1.25) = 35 s.
    assert heated(Heat(1000, 60), 1500, 34) < 1000 <= heated(Heat(1000, 60), 1500, 37)


def test_a_motor_cools_with_the_same_time_constant():
    heat = Heat(1000, 60)
    heat.heat = heat.FULL
    assert heated(heat, 0, 60) == pytest.approx(368, abs=6)


@given(some.integers(10, 8000), some.integers(10, 36000), some.integers(-500, 8000),
       some.integers(1, 600))
@settings(max_examples=100)
def test_the_heat_stays_a_small_number_at_any_setting(base, tau, pump_mA, periods):
    heat = Heat(SmallInt(base), SmallInt(tau))
    for _ in range(30):
        heat.pass_time(SmallInt(pump_mA), SmallInt(periods))
        assert 0 <= heat.heat < 1 << 28


def test_starts_run_out_over_an_hour_divided_by_the_allowance():
    starts = Starts(6)
    for _ in range(3):
        starts.count()
    for _ in range(6000):  # 10 min: one of six an hour
        starts.pass_time(1)
    assert starts.milli == 2000
    for _ in range(50):
        starts.count()
    assert starts.milli == starts.full


EXTREME = settings_with([("dry_gain_uA_V2", 100000), ("stall_mohm", 60000),
                         ("generator_mohm", 60000), *[(f"volume_{step}_mL", 62500000 * step)
                                                      for step in range(1, 17)],
                         ("level_full_mm", 52),
                         ("pulse_up_nL", 500000000), ("pulse_down_nL", 500000000),
                         ("pump_judge_mV", 500), ("stall_least_mA", 1),
                         ("thermal_tau_s", 36000), ("motor_rise_mdegC", 100000),
                         ("useful_flow_uL_s", 1000000)])


@given(some.lists(some.tuples(some.integers(0, ch.READ - 1), some.booleans()), max_size=30),
       some.integers(0, 1), some.sampled_from([0, 1000]),
       some.integers(0, len(mo.STATES) - 1), some.sampled_from([1, 1, 13, 600]))
@settings(max_examples=150)
def test_no_intermediate_leaves_31_bits_at_extreme_settings(story, pump_on, told, state, periods):
    one = Derived([SmallInt(value) for value in EXTREME], [0] * ch.COLUMNS)
    one.pump_on, one.commanded = pump_on, told
    values = [SmallInt(value) for value in values_with([])]
    for place, high in story:
        if place < ch.COLUMNS:
            values[place] = SmallInt(ch.CHANNELS[place][ch.CH_HIGH if high else ch.CH_LOW])
        elif place in (ch.PULSES_UP, ch.PULSES_DOWN):
            values[place] = SmallInt(1 if high else 0)
        for _ in range(20):
            one.fill(values, state, SmallInt(periods))
