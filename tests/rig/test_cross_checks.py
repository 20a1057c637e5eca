"""Rules between the keys of a description: one line each, with what must hold."""

import tomllib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from forebay.rig.loading import values_of
from forebay.twin.uphill import Uphill
from keeper.physics import water
from tests.rig.test_rig import changed, faults


@pytest.mark.parametrize(
    ("old", "new", "fault"),
    [
        ('height = "1.1 m"', 'height = "-1 m"',
         'upper.height = "-1 m": must be 0.1 m to 20 m'),
        ('height = "1.1 m"', 'height = "1,1 m"',
         'upper.height = "1,1 m": has a comma; use a decimal point; must be 0.1 m to 20 m'),
        ('height = "1.1 m"', "height = -1",
         "upper.height = -1: must be 0.1 m to 20 m (a number alone is in m)"),
        ('travel = "4 s"', 'travel = "4 m"',
         'valve.travel = "4 m": m does not fit a time; use s, ms, min or h;'
         " must be 0.5 s to 100 s"),
        ('travel = "4 s"', 'travel = "400"',
         'valve.travel = "400": must be 0.5 s to 100 s (a number alone is in s)'),
        ("hit_frac", "hit_frak", "turbine.hit_frak: unknown key; did you mean turbine.hit_frac?"),
        ("[penstock]", "[penstok]", "[penstok]: unknown section; did you mean [penstock]?"),
        ("[site]", "[qqqqqq]\n[site]", "[qqqqqq]: unknown section; remove it"),
        ("hit_frac = 0.60", "hit_frac = nan", "turbine.hit_frac = NaN: must be 0.05 to 1"),
        ("hit_frac = 0.60", "hit_frac = inf", "turbine.hit_frac = Infinity: must be 0.05 to 1"),
        ("hit_frac = 0.60", "hit_frac = true",
         "turbine.hit_frac = true: must be a number or text with a unit, 0.05 to 1"),
        ("cells = 48", "cells = true", "panel.cells = true: must be a whole number, 1 to 200"),
        ("cells = 48", "cells = 48.5", "panel.cells = 48.5: must be a whole number, 1 to 200"),
        ('on_power_loss = "stays"', "",
         'valve.on_power_loss: missing; set "stays" or "closes"'),
        ('on_power_loss = "stays"', 'on_power_loss = "maybe"',
         'valve.on_power_loss = "maybe": must be "stays" or "closes"'),
        ('"1.0 W"]', "-1]",
         "lamps.steps[3] = -1: must be 20 mW to 1 kW (a number alone is in W)"),
        ('["0.3 W", "0.6 W", "1.0 W"]', '"1 W"',
         'lamps.steps = "1 W": must be a list of 1 to 8 values of 20 mW to 1 kW'),
        ('empty_volume = "50 L"', 'empty_volume = "960 L"',
         'upper.empty_volume = "960 L": must be below upper.full_volume = "960 L"'),
        ('start_volume = "60 L"', 'start_volume = "1001 L"',
         'upper.start_volume = "1001 L": must not be above upper.overflow_volume = "1000 L"'),
        ('overflow_volume = "1000 L"', 'overflow_volume = "1101 L"',
         'upper.overflow_volume = "1101 L": must not be above what the tank holds to the brim,'
         " 1100 L"),
        ('inlet_height = "10.06 m"', 'inlet_height = "10.0 m"',
         'upper.inlet_height = "10.0 m": must be above the overflow\'s level, 10 m'),
        ('base_height = "-1.7 m"', 'base_height = "-0.9 m"',
         'lower.base_height = "-0.9 m": the rim must not lie above the nozzle, or the jet drowns'),
        ('start_volume = "1250 L"', 'start_volume = "1301 L"',
         'lower.start_volume = "1301 L": must not be above what the tank holds to the brim,'
         " 1300 L"),
        ('reset_temperature = "45 degC"', 'reset_temperature = "55 degC"',
         'motor.reset_temperature = "55 degC": must be below'
         ' motor.trip_temperature = "55 degC"'),
        ('clamp_voltage = "15 V"', 'clamp_voltage = "13 V"',
         'generator.trip_voltage = "13.8 V": must be below generator.clamp_voltage = "13 V"'),
        ('power = "100 W"', 'power = "120 W"',
         'panel.power = "120 W": must be best_voltage x best_current, 99.96 W, within 10%'),
        ('rated_power = "18 W"', 'rated_power = "6 W"',
         'pump.rated_power = "6 W": must be above what the rated point lifts, 6.087 W'),
        ('setpoint = "0.6 W"', 'setpoint = "1.1 W"',
         'night.setpoint = "1.1 W": must not be above the brightest lamp step, 1 W'),
        ('["0.3 W", "0.6 W"', '["0.6 W", "0.3 W"',
         'lamps.steps = ["0.6 W", "0.3 W", "1.0 W"]: must rise from step to step'),
        ('name = "hillside allotment"', 'name = "\\u001b[2J"',
         'rig.name = "\\u001b[2J": must be text of 1 to 60 printable characters'),
        ('useful_flow = "1.5 L/min"', 'useful_flow = "0.9 L/min"',
         'sensors.flow_floor = "1 L/min": must not be above limits.useful_flow = "0.9 L/min"'),
        ('rated_power = "1.5 W"', 'rated_power = "6 W"',
         'generator.rated_power = "6 W": must not be above generator.clamp_power = "5 W"'),
        ('no_load_current = "0.12 A"', 'no_load_current = "0.8 A"',
         'motor.no_load_current = "0.8 A": must be below the rated current, 0.75 A'),
        ('length = "20 m"', 'length = "8.9 m"',
         'penstock.length = "8.9 m": must be at least its fall, upper.base_height, 9 m'),
        ('length = "22 m"', 'length = "10 m"',
         'rising_main.length = "10 m": must be at least the least lift, 10.76 m'),
        ('threshold_voltage = "9 V"', 'threshold_voltage = "14 V"',
         'lamps.threshold_voltage = "14 V": must be below generator.trip_voltage = "13.8 V"'),
        ('charge_current = "0.1 A"', 'charge_current = "0.9 A"',
         'supply.charge_current = "0.9 A": must not be above sensors.supply_range = "0.8 A"'),
        ('generator_range = "0.4 A"', 'generator_range = "85 mA"',
         'sensors.generator_range = "85 mA": must be at least the lamps\' current, 0.08967 A'),
        ('lamp_range = "0.4 A"', 'lamp_range = "85 mA"',
         'sensors.lamp_range = "85 mA": must be at least the lamps\' current, 0.08967 A'),
        ('best_current = "4.2 A"', 'best_current = "4.4 A"',
         'panel.best_current = "4.4 A": no panel has this nameplate: must be 0.001 to 4.3139 A'),
        ('voltage_temperature = "-0.30 %/K"', 'voltage_temperature = "0 %/K"',
         'panel.voltage_temperature = "0 %/K": must be -0.6 %/K to -0.1 %/K'),
        ('rated_voltage = "24 V"', 'rated_voltage = "7.3 V"',
         'motor.resistance = "3 ohm": must be below rated voltage / current, 2.961 ohm'),
        ('pump_range = "5 A"', 'pump_range = "0.5 A"',
         'sensors.pump_range = "0.5 A": must be at least 2 x the pump\'s rated current, 1.5 A'),
        ('panel_range = "8 A"', 'panel_range = "5 A"',
         'sensors.panel_range = "5 A": must be at least 1.3 x short_circuit_current, 5.85 A'),
    ],
)
def test_one_fault_gives_one_line_with_key_value_range_and_fix(old, new, fault):
    assert faults(changed((old, new))) == [fault]


def test_a_nameplate_that_no_panel_has_is_told_in_words_of_the_rig():
    found = faults(changed(('best_voltage = "23.8 V"', 'best_voltage = "28.9 V"'),
                           ('best_current = "4.2 A"', 'best_current = "3.46 A"')))
    assert len(found) == 1
    assert found[0].startswith('panel.best_voltage = "28.9 V": no panel has this nameplate')


def test_a_pump_that_cannot_reach_the_tank_is_refused():
    found = faults(changed(('shut_off_head = "17 m"', 'shut_off_head = "10.5 m"'),
                           ('rated_head = "11.3 m"', 'rated_head = "8 m"')))
    assert found == ['pump.shut_off_head = "10.5 m": must be above the least lift, 10.76 m']


def test_a_light_that_the_generator_cannot_give_is_refused():
    found = faults(changed(('rated_power = "1.5 W"', 'rated_power = "0.5 W"')))
    assert found == [
        'lamps.steps = ["0.3 W", "0.6 W", "1.0 W"]: the brightest must be at most 0.5 W,'
        ' generator.rated_power']


@given(st.floats(0.5, 0.99), st.floats(0.5, 0.99), st.integers(-60, -10), st.integers(-20, 20))
def test_a_nameplate_that_loads_is_one_that_the_twin_can_play(voltage, current, beta, alpha):
    best_V, best_A = 29 * voltage, 4.5 * current
    text = changed(('best_voltage = "23.8 V"', f"best_voltage = {best_V!r}"),
                   ('best_current = "4.2 A"', f"best_current = {best_A!r}"),
                   ('power = "100 W"', f"power = {best_V * best_A!r}"),
                   ('"-0.30 %/K"', f'"{beta / 100} %/K"'), ('"0.05 %/K"', f'"{alpha / 100} %/K"'))
    values, found = values_of(tomllib.loads(text))  # refused or not for what it lifts
    if not any("no panel has this nameplate" in line for line in found):
        assert Uphill(values, water.density_kg_m3(12.0), 1.2e-6, 9.8).shunt_ref > 0
