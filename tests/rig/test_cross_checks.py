"""Rules between the keys of a description: one line each, with what must hold."""

import pytest

from tests.rig.test_rig import changed, faults


@pytest.mark.parametrize(
    ("old", "new", "fault"),
    [
        ('height = "1.1 m"', 'height = "-1 m"',
         'upper.height = "-1 m": must be 0.1 m to 20 m'),
        ('height = "1.1 m"', "height = -1",
         "upper.height = -1: must be 0.1 m to 20 m (a number alone is in m)"),
        ('travel = "4 s"', 'travel = "4 m"',
         'valve.travel = "4 m": m does not fit a time; use s, ms, min or h;'
         " must be 0.5 s to 100 s"),
        ('travel = "4 s"', 'travel = "4"',
         'valve.travel = "4": has no unit; use s, ms, min or h; must be 0.5 s to 100 s'),
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
         "valve.on_power_loss: missing (what it does without power; there is no default, look"
         ' at the valve); give "stays" or "closes"'),
        ('on_power_loss = "stays"', 'on_power_loss = "maybe"',
         'valve.on_power_loss = "maybe": must be "stays" or "closes"'),
        ('"1.0 W"]', "-1]",
         "lamps.steps[3] = -1: must be 20 mW to 1 kW (a number alone is in W)"),
        ('["0.3 W", "0.6 W", "1.0 W"]', '"1 W"',
         'lamps.steps = "1 W": must be a list of 1 to 8 values, each 20 mW to 1 kW'),
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
         'pump.rated_power = "6 W": must be above what the rated point lifts, 6.097 W'),
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
        ('resistance = "3 ohm"', 'resistance = "40 ohm"',
         'motor.resistance = "40 ohm": must be below rated voltage / current, 32 ohm'),
        ('pump_range = "2 A"', 'pump_range = "0.5 A"',
         'sensors.pump_range = "0.5 A": must be above the rated current, 0.75 A'),
        ('panel_range = "8 A"', 'panel_range = "4 A"',
         'panel.short_circuit_current = "4.5 A": must be below sensors.panel_range = "4 A"'),
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
