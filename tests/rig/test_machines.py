"""What the machines of a rig must be able to do: one line each, with key, value and limit."""

import math
import tomllib

import pytest

from forebay import rig
from forebay.rig import machines, surging
from forebay.rig.loading import values_of
from forebay.rig.schema import SECTIONS
from forebay.sun import plane
from forebay.twin.downhill import Downhill
from forebay.twin.uphill import Uphill
from keeper.instruments.thermometers import rom_code
from keeper.physics import of_rig, surge
from tests.rig.test_rig import changed, faults

DEMO = rig.load().plant()


def test_a_panel_that_opens_beyond_its_monitor_on_a_cold_morning_is_refused():
    """By hand: 45 K below 25 degC at -0.30 %/K are 13.5 %: 32 V become 36.32 V."""
    assert faults(changed(('open_circuit_voltage = "29 V"', 'open_circuit_voltage = "32 V"'))) == [
        'panel.open_circuit_voltage = "32 V": opens at 36.32 V with cells of -20 degC'
        " (site.coldest_cell), but the panel's monitor stands 36 V; take a panel of fewer cells in"
        " series, or do without sensors.panel_meter and sensors.pump_meter"]


@pytest.mark.parametrize("volts", [45, 58])
def test_no_panel_is_taken_that_the_monitor_does_not_stand_even_when_warm(volts):
    found = faults(changed(('"29 V"', f'"{volts} V"')))
    assert [line.split(":")[0] for line in found] == [
        f'panel.open_circuit_voltage = "{volts} V"']


def test_where_it_never_freezes_the_same_panel_is_taken():
    # By hand: 25 K at -0.30 %/K are 7.5 %: 32 V become 34.4 V.
    rig.load_text(changed(('"29 V"', '"32 V"'), ('coldest_cell = "-20', 'coldest_cell = "0')),
                  "rig.toml")


def test_the_hottest_cells_are_those_of_the_rehearsals_sun():
    assert machines.hottest_cell_degC(DEMO) == pytest.approx(
        plane.cell_degC(1000.0, DEMO["site.hottest_air_degC"], 0.0))


def test_a_start_voltage_that_no_hot_panel_reaches_is_refused():
    """The demo's own was 26 V: at 40 degC the tank stayed empty on the longest day."""
    assert faults(changed(('start_voltage = "23.5 V"', 'start_voltage = "26 V"'))) == [
        'limits.start_voltage = "26 V": must be at most 24.13 V, what the unloaded panel gives in'
        " full sun with cells of 80 degC (site.hottest_air): it would not start in heat"]


def test_the_hot_panels_voltage_is_what_the_twins_panel_gives_and_near_its_nameplate():
    density, viscosity, gravity = of_rig.water(DEMO)
    up = Uphill(DEMO, density, viscosity, gravity)
    up.shine(1000.0, 80.0)
    assert machines.hottest_open_V(DEMO) == pytest.approx(up.rest_V(0.0))
    # By the nameplate's straight line, 55 K at -0.30 %/K; the model bends by less than 1 %.
    assert machines.hottest_open_V(DEMO) == pytest.approx(29 * (1 - 0.003 * 55), rel=0.01)


@pytest.mark.parametrize("air_degC", [14, 33, 40])
def test_the_demo_starts_in_any_sun_worth_pumping_and_never_in_deep_dusk(air_degC):
    density, viscosity, gravity = of_rig.water(DEMO)
    up = Uphill(DEMO, density, viscosity, gravity)
    start_V = DEMO["limits.start_voltage_V"]
    for sun in (200.0, 400.0, 700.0, 1000.0):
        up.shine(sun, air_degC + sun / 25.0)
        assert up.rest_V(0.0) > start_V
    up.shine(1.0, air_degC)  # a thousandth of the full sun
    assert up.rest_V(0.0) < start_V


def test_a_useful_flow_that_only_the_rated_point_lifts_is_refused():
    """It was taken, and the rig stood idle for seven hours of sun."""
    assert faults(changed(('useful_flow = "1.5 L/min"', 'useful_flow = "55 mL/s"'))) == [
        'limits.useful_flow = "55 mL/s": must be at most 2.439 L/min, 80% of what goes up over'
        " the longest lift, 11.68 m, in full sun with cells of 80 degC: it would stand idle in"
        " the sun"]


def test_what_goes_up_in_full_sun_is_what_the_twin_lifts():
    density, viscosity, gravity = of_rig.water(DEMO)
    up = Uphill(DEMO, density, viscosity, gravity)
    up.shine(1000.0, 80.0)
    for _ in range(600):
        up.step(0.1, True, machines.longest_lift_m(DEMO), 12.8, 0.0, True)
    assert 0.8 * up.flow * 60000 == pytest.approx(2.439, rel=2e-3)


def test_the_longest_lift_is_down_to_where_the_pump_may_draw():
    # By hand: 10.06 m to the inlet, 1.7 m down, 100 L on 1.3 m2.
    assert machines.longest_lift_m(DEMO) == pytest.approx(10.06 + 1.7 - 0.1 / 1.3)


def test_a_pump_that_lifts_nothing_when_the_lower_tank_is_low_is_refused():
    # By hand: 10.06 m and 3.7 m, less 100 L on 1.3 m2.
    found = faults(changed(('height = "1.0 m"', 'height = "3.0 m"'), ('"-1.7 m"', '"-3.7 m"'),
                           ('shut_off_head = "17 m"', 'shut_off_head = "11 m"'),
                           ('rated_head = "11.3 m"', 'rated_head = "5 m"')))
    assert found == [
        'lower.low_volume = "100 L": the pump lifts nothing over the longest lift, 13.68 m, in'
        " full sun with cells of 80 degC; raise it, or mend pump or panel"]


@pytest.mark.parametrize(("changes", "most"), [
    ([('"1.0 W"]', '"1.6 W"]')], "1.5 W, generator.rated_power"),
    ([('nozzle_diameter = "2.1 mm"', 'nozzle_diameter = "1.6 mm"')],
     "0.8459 W, what head, nozzle and generator give with the upper tank at empty_volume"),
    # By hand: 13.8 V less 9 V over 240 ohm are 20 mA, 0.276 W.
    ([('resistance = "24 ohm"', 'resistance = "240 ohm"'), ("steps = [", "steps = ['0.1 W', "),
      ('setpoint = "0.6 W"', 'setpoint = "0.1 W"')],
     "0.276 W, at which the lamps are at generator.trip_voltage"),
])
def test_a_brightness_that_cannot_be_reached_is_refused(changes, most):
    found = faults(changed(*changes))
    assert len(found) == 1
    assert found[0].startswith("lamps.steps = [")
    assert found[0].endswith(f": the brightest must be at most {most}")


def test_the_least_light_is_what_the_twins_turbine_gives_under_the_lowest_head():
    density, viscosity, gravity = of_rig.water(DEMO)
    down = Downhill(DEMO, density, viscosity, gravity)
    down.commanded = 1.0
    for _ in range(6000):
        down.step(0.1, 9.05, True)
    assert machines.least_light_W(DEMO) == pytest.approx(down.generator_V * down.lamp_A, rel=1e-6)


def test_a_brightness_above_four_fifths_of_the_least_light_is_noticed_and_taken():
    assert rig.load().notices() == []
    # By hand: 0.8 x 1.541 W.
    assert rig.load_text(changed(('"1.0 W"]', '"1.3 W"]')), "rig.toml").notices() == [
        "Light of 1.3 W (lamps.steps) is above 1.233 W, 80% of what the lowest head gives:"
        " towards an empty tank it may be missed by more than 5 %."]


def test_a_flow_meter_that_cannot_see_the_open_valves_flow_is_refused():
    """It was taken, and 80-VLV was set to an opening that no valve has."""
    # By hand: about 2.66 L/min at the lowest head, of which the meter needs 1.5 floors.
    found = faults(changed(('flow_floor = "1 L/min"', 'flow_floor = "1.8 L/min"'),
                           ('useful_flow = "1.5 L/min"', 'useful_flow = "1.8 L/min"')))
    assert len(found) == 1
    assert found[0].startswith('sensors.flow_floor = "1.8 L/min": must be below 1.76')


STEEP = (
    ('base_height = "9.0 m"', 'base_height = "40 m"'),
    ('inlet_height = "10.06 m"', 'inlet_height = "41.06 m"'),
    ('length = "20 m"', 'length = "300 m"'), ('length = "22 m"', 'length = "60 m"'),
    ('travel = "4 s"', 'travel = "0.5 s"\nleast_pulse = "4 ms"'),
    ('nozzle_diameter = "2.1 mm"', 'nozzle_diameter = "6 mm"'),
    ('shut_off_head = "17 m"', 'shut_off_head = "60 m"'),
    ('rated_head = "11.3 m"', 'rated_head = "45 m"'),
    ('rated_power = "18 W"', 'rated_power = "48 W"'),
)


def values(text):
    """Returns the values of a description, refused or not."""
    return values_of(tomllib.loads(text))[0]


def test_a_valve_too_fast_for_a_long_penstock_is_slowed_down_to_what_its_pipe_stands():
    """Its rate was 1 / travel whatever the pipe: 300 m, 40 m and 0.5 s passed 6 bar."""
    held = rig.load_text(changed(*STEEP), "rig.toml").plant()
    assert held["limits.valve_rate_per_s"] < 1 / held["valve.travel_s"]
    assert surging.pressure_Pa(held, held["limits.valve_rate_per_s"]) == pytest.approx(6e5)
    assert surging.pressure_Pa(held, 1 / held["valve.travel_s"]) > 6e5


def test_a_stated_rate_that_is_too_fast_is_refused_with_what_it_would_do():
    text = changed(*STEEP, ('start_wait = "30 s"', 'start_wait = "30 s"\nvalve_rate = "2 /s"'))
    text = text.replace('"2 /s"', '"200 %/s"')
    held = values(changed(*STEEP))
    safe, bar = held["limits.valve_rate_per_s"] * 100, surging.pressure_Pa(held, 2.0) / 1e5
    assert faults(text) == [
        f'limits.valve_rate = "200 %/s": must be at most {safe:.4g} %/s, to keep the penstock'
        f" within penstock.pressure_rating, 6 bar: its surge would reach {bar:.4g} bar"]


@pytest.mark.parametrize(("changes", "why"), [
    ([('on_power_loss = "stays"', 'on_power_loss = "closes"')],
     "it closes by itself without power"),
    ([("valve_kind = 2", "valve_kind = 1"),
      ("valve_frac = 0.01", 'valve_frac = 0.01\nvalve_position = "absent"')],
     "a servo without a position reading goes home at its own speed after a power loss"),
])
def test_a_valve_that_shuts_at_its_own_speed_must_be_slow_enough(changes, why):
    held = values(changed(*STEEP))
    least, bar = 1 / held["limits.valve_rate_per_s"], surging.pressure_Pa(held, 2.0) / 1e5
    assert faults(changed(*STEEP, *changes)) == [
        f'valve.travel = "0.5 s": must be at least {least:.4g} s, to keep the penstock within'
        f" penstock.pressure_rating, 6 bar: {why}, and its surge would reach {bar:.4g} bar"]


def test_a_penstock_that_does_not_stand_its_still_water_is_refused():
    # By hand: 10.1 m of water, 999.5 kg/m3 and 9.80 m/s2 are 0.989 bar.
    found = faults(changed(('pressure_rating = "6 bar"', 'pressure_rating = "0.9 bar"')))
    assert len(found) == 1
    assert found[0].startswith('penstock.pressure_rating = "0.9 bar": must be above the pressure'
                               " of a standing, full tank, 0.98")


def test_the_surge_of_a_straight_valve_is_that_of_its_closing_time():
    """A wide linear valve before a wide nozzle: the steepest part is known by hand.

    Where the valve leaves nearly all of the head to the nozzle, what its last
    part stops is most: the surge lies above that of an even closing, and below
    that of a sudden stop (Joukowsky).
    """
    held = values(changed(*STEEP))
    even_m = surge.closing_surge_m(300.0, surging._stopped(held)[0], 1480.0, 5.0, 9.8)
    rise_m = surging.pressure_Pa(held, 0.2) / surging.weight_N_m3(held) - 41.1
    assert even_m < rise_m < surge.joukowsky_m(1480.0, surging._stopped(held)[0], 9.8)


def test_the_bound_holds_for_a_valve_that_the_twin_shuts():
    """Slow closing, Michaud: twice L dv / (g dt) of the steepest step that the twin makes."""
    held = values(changed(*STEEP))
    down = Downhill(held, *of_rig.water(held))
    head_m, step_s = surging.standing_m(held), 0.01
    down.commanded = 1.0
    for _ in range(200):
        down.step(step_s, head_m, True)
    area, before, steepest = math.pi / 4 * 0.025 ** 2, down.flow, 0.0
    down.commanded = 0.0
    for _ in range(100):
        down.step(step_s, head_m, True)
        steepest, before = max(steepest, (before - down.flow) / area / step_s), down.flow
    rise_m = min(2 * 300.0 * steepest / 9.8, 1480.0 * surging._stopped(held)[0] / 9.8)
    told_Pa = surging.weight_N_m3(held) * (head_m + rise_m)
    assert surging.pressure_Pa(held, 2.0) >= 0.999 * told_Pa


@pytest.mark.parametrize(("changes", "told"), [
    ([("motor_serial_high = 0x01A2B3", "motor_serial_high = 0"),
      ("motor_serial_low = 0xC4D5E6", "motor_serial_low = 0")], ["motor"]),
    ([("motor_serial_high", "# "), ("motor_serial_low", "# "), ("water_serial_high", "# "),
      ("water_serial_low", "# ")], ["motor", "water"]),
])
def test_two_thermometers_on_one_line_need_their_serial_numbers(changes, told):
    """They were taken in the order of the line, so that motor and water could be swapped."""
    found = faults(changed(*changes))
    assert [line.partition(" two ")[2] for line in found] == [
        "thermometers share the 1-Wire line, and may be taken for each other; set"
        f" board.{name}_serial_high and _low to its own serial number, above 0; [board] in"
        " host/docs/rig.md says how it is found" for name in told]


def test_two_thermometers_do_not_share_a_number():
    assert faults(changed(("water_serial_low = 0xF70819", "water_serial_low = 0xC4D5E6"))) == [
        "board.water_serial_low = 12899814: is the motor's serial number; set the water's own:"
        " no two thermometers share one"]


@pytest.mark.parametrize("change", [
    ("valve_frac = 0.01", 'valve_frac = 0.01\nwater_temperature = "absent"'),
    ("valve_frac = 0.01", 'valve_frac = 0.01\nmotor_temperature = "absent"')])
def test_one_thermometer_alone_needs_no_number(change):
    rig.load_text(changed(change, ("motor_serial_high", "# "), ("motor_serial_low", "# "),
                          ("water_serial_high", "# "), ("water_serial_low", "# ")), "rig.toml")


def test_faults_of_many_kinds_are_told_at_once():
    found = faults(changed(
        ('"29 V"', '"32 V"'), ('useful_flow = "1.5 L/min"', 'useful_flow = "90 mL/s"'),
        ('"1.0 W"]', '"1.6 W"]'), ("valve_kind = 2", "level_sensor = 0\nvalve_kind = 2"),
        ('heat_capacity = "120 J/K"', 'heat_capacity = "1 J/K"'),
        ("water_serial_low = 0xF70819", "water_serial_low = 0xC4D5E6")))
    assert [line.split(" ")[0] for line in found] == [
        "board.level_sensor", "panel.open_circuit_voltage", "limits.useful_flow",
        "lamps.steps", "motor.heat_capacity", "board.water_serial_low"]


def test_a_description_that_an_earlier_forebay_took_still_stands_beside_what_was_measured():
    old = changed(('start_voltage = "23.5 V"', 'start_voltage = "26 V"'),
                  ("valve_kind = 2", "valve_travel_ms = 4000\nvalve_kind = 2"),
                  ('dark_wait = "300 s"', 'dark_wait = "300 s"\ngovernor_reset = "4 s"'))
    held = rig.load_text(old, "the shelf's rig.toml", is_kept=True)
    assert held.limits.start_voltage_V == 26.0
    assert held.penstock.pressure_rating_Pa == 6e5
    with pytest.raises(rig.RigError, match=r"valve\.travel"):
        rig.load_text(old.replace('travel = "4 s"', ""), "the shelf's rig.toml", is_kept=True)


def test_the_page_says_how_the_halves_of_a_serial_number_come_from_its_bytes():
    """By the driver: bytes 2 to 7 of what the search gives are the number, lowest first."""
    code = rom_code(0x01A2B3, 0xC4D5E6, lambda data: 0) or b""
    assert code[6] * 65536 + code[5] * 256 + code[4] == 0x01A2B3
    assert code[3] * 65536 + code[2] * 256 + code[1] == 0xC4D5E6
    assert ("high half is byte 7 x 65536 + byte 6 x 256 + byte 5, the low half byte 4 x 65536"
            " + byte 3 x 256 + byte 2") in SECTIONS["board"].meaning


def test_a_valve_against_a_spring_cannot_stay_where_it_is_without_power():
    assert faults(changed(("valve_kind = 2", "valve_kind = 4"))) == [
        'board.valve_kind = 4, valve.on_power_loss = "stays": a motor against a spring shuts'
        ' without power: on_power_loss must be "closes"']
    rig.load_text(changed(("valve_kind = 2", "valve_kind = 4"),
                          ('on_power_loss = "stays"', 'on_power_loss = "closes"')), "rig.toml")


def test_a_valve_too_fast_for_its_least_pulse_is_refused_with_the_travel_that_would_do():
    """By hand: seven tenths of 20 ms are 1.75 % of 0.8 s; 1 % of the travel is 11 % of light."""
    found = faults(changed(('travel = "4 s"', 'travel = "0.8 s"')))
    assert len(found) == 1
    assert found[0].startswith('valve.travel = "0.8 s": must be at least ')
    assert "a light of 0.3 W is held within 15%" in found[0]
    least_s = float(found[0].split("at least ")[1].split(" s")[0])
    rig.load_text(changed(('travel = "4 s"', f'travel = "{1.01 * least_s} s"')), "rig.toml")


def test_a_servo_is_as_fine_as_a_permille():
    rig.load_text(changed(('travel = "4 s"', 'travel = "0.6 s"'),
                          ("valve_kind = 2", "valve_kind = 1")), "rig.toml")


def test_a_valve_that_gives_too_much_as_soon_as_it_opens_is_refused():
    found = faults(changed(('"1.2 m3/h"', '"120 m3/h"')))
    assert [line for line in found if line.startswith('valve.flow_coefficient = "120 m3/h": lets'
                                                      " more through than a light of 0.3 W")]


def test_a_light_that_is_held_less_finely_than_usual_is_told():
    told = rig.load_text(changed(('travel = "4 s"', 'travel = "2.5 s"')), "rig.toml").notices()
    assert any(line.startswith("Light of 0.3 W (lamps.steps) is held within") for line in told)
    assert not [line for line in rig.load().notices() if "is held within" in line]
