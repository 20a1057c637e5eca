"""From the description to the board's settings."""

import hypothesis
import pytest
from hypothesis import given
from hypothesis import strategies as st

from forebay import rig
from forebay.rig import checks, compiling, governing, wired
from forebay.rig.schema import KEYS, SCHEMA
from keeper import settings
from keeper.boards import wiring
from keeper.physics import gravity, valve
from keeper.physics.pipes import Pipe
from tests.rig.test_rig import BOX, changed, faults

KEY_OF = {f"{section.name}.{key.attribute}": key for section in SCHEMA for key in section.keys}


def named(held):
    """Returns a rig's settings by name."""
    return dict(zip(settings.NAMES, held.settings(), strict=True))


def test_every_setting_of_the_board_has_a_source():
    assert set(compiling.SOURCES) == set(settings.NAMES)


def test_settings_pass_through_the_board_file_unchanged():
    numbers = rig.load().settings()
    assert settings.problems(numbers) == []
    assert settings.unpack(settings.pack(numbers)) == numbers


# Pairs of settings that are made from one key, or from a key and a margin: in
# order by construction, which the tests below show on many rigs.
MADE = ("overspeed_mV", "level_high_mm", "level_low_mm", "valve_open_permille",
        "starts_most_milli", "cold_reset_mdegC")


@pytest.mark.parametrize("pair", [pair for pair in settings.ORDERED if not set(pair) & set(MADE)])
def test_what_the_board_wants_in_order_is_checked_when_the_file_is_read(pair):
    places = {name: f"{name.split('.')[0]}.{KEYS[name].attribute}" for name in KEYS}
    lower, upper = (compiling.SOURCES[name].keys[0] for name in pair)
    keys = {place: name for name, place in places.items()} | {name: name for name in places}
    assert (keys[lower], "<", keys[upper]) in checks.ORDERED


DEMO = rig.load().plant()


@given(st.floats(13.9, 39.0), st.floats(1.5, 2000.0), st.integers(1, 120), st.floats(0.002, 0.5),
       st.floats(0.001, 0.1), st.floats(1.6, 25.0))
@hypothesis.settings(max_examples=40, deadline=None)
def test_pairs_that_a_margin_makes_are_in_order_on_any_rig(
        clamp_V, clamp_W, starts, tolerance_m, shut, cold_degC):
    numbers = dict(zip(settings.NAMES, compiling.compiled({
        **DEMO, "generator.clamp_voltage_V": clamp_V, "generator.clamp_power_W": clamp_W,
        "limits.starts_per_hour": starts, "limits.level_tolerance_m": tolerance_m,
        "valve.shut_reading": shut, "limits.cold_temperature_degC": cold_degC}), strict=True))
    for lower, upper in settings.ORDERED:
        assert numbers[lower] < numbers[upper]


def test_the_demo_compiles_to_the_figures_of_its_scenario():
    found = named(rig.load())
    expected = {
        "pulse_up_nL": 2222222, "motor_trip_mdegC": 55000, "motor_reset_mdegC": 45000,
        "generator_trip_mV": 13800, "useful_flow_uL_s": 25000, "setpoint_mW": 600, "lit_mW": 15,
        "valve_rate_permille_s": 250, "valve_shut_permille": 5, "governor_reset_ms": 4000,
        "full_delay_ms": 300, "upper_empty_delay_ms": 500, "trip_window_s": 14400,
        "row_running_s": 10, "row_standstill_s": 60, "tail_sync_s": 60,
    }
    assert {name: found[name] for name in expected} == expected


def from_one_number(name):
    """Returns whether a setting comes from one key with bounds, and can be checked alone."""
    key = KEY_OF.get(compiling.SOURCES[name].keys[0])
    return key is not None and not key.choices and key.kind != "text"


@pytest.mark.parametrize(
    "name", [row[0] for row in settings.SETTINGS if from_one_number(row[0])])
def test_a_key_within_its_range_gives_a_setting_within_its_range(name):
    source = compiling.SOURCES[name]
    key = KEY_OF[source.keys[0]]
    row = settings.SETTINGS[settings.index(name)]
    for bound in key.bounds:
        assert row[1] <= round(source.value({source.keys[0]: bound})) <= row[2]


@given(st.text(min_size=1, max_size=60))
def test_the_identity_of_a_rig_fits_its_setting(name):
    row = settings.SETTINGS[settings.index("rig_id")]
    assert row[1] <= governing.identity(name) <= row[2]


def test_two_names_give_two_identities():
    other = rig.load_text(changed(('name = "hillside', 'name = "roadside')), "rig.toml")
    assert other.rig_id != rig.load().rig_id == named(rig.load())["rig_id"]


def losses_m(plant, flow_m3_s, travel_frac):
    """Returns the head [m] that penstock, valve and nozzle take, from the plant's keys."""
    g = gravity.normal_m_s2(plant["site.latitude_deg"], plant["site.height_m"])
    pipe = Pipe(plant["penstock.length_m"], plant["penstock.diameter_m"],
                plant["penstock.roughness_m"], plant["penstock.minor_loss"], 1.2354e-6, g)
    trim = (valve.linear_frac if plant["valve.characteristic"] == "linear"
            else valve.equal_percentage_frac)
    kv = plant["valve.flow_coefficient_m3_h"] * trim(travel_frac, plant["valve.rangeability"])
    bore = plant["turbine.nozzle_diameter_m"]
    jet_m_s = flow_m3_s / (0.7853981634 * bore**2 * plant["turbine.nozzle_coefficient"])
    valve_m = 1e5 / (1000 * g) * (3600 * flow_m3_s / kv) ** 2
    return pipe.loss_m(flow_m3_s) + valve_m + jet_m_s**2 / (2 * g)


@pytest.mark.parametrize("characteristic", ["equal percentage", "linear"])
@pytest.mark.parametrize("share", [1 / 64, *(step / 8 for step in range(1, 8))])
def test_the_curve_closes_the_head_at_each_share_of_jet_power(characteristic, share):
    plant = rig.load_text(
        changed(("equal percentage", characteristic)), "rig.toml").plant()
    travel = governing.position_frac(plant, share)
    # Independent of the solver: jet power is rho Q^3 / (2 A^2).
    area = 0.7853981634 * plant["turbine.nozzle_diameter_m"] ** 2
    flow = (2 * share * governing.full_jet_W(plant) * area**2 / 999.5) ** (1 / 3)
    mean_m = 9.0 + (0.050 + 0.960) / 2
    if travel > 0:
        assert losses_m(plant, flow, travel) == pytest.approx(mean_m, rel=2e-3)
    else:
        assert losses_m(plant, flow, 0.0) <= mean_m


def test_the_curve_rises_to_below_fully_open():
    found = named(rig.load())
    curve = [found["valve_first_permille"], *(found[f"curve_{n}_permille"] for n in range(1, 8))]
    assert curve == sorted(set(curve))
    assert curve[-1] < 1000


@pytest.mark.parametrize("coefficient", ["1.2 m3/h", "6 m3/h", "40 m3/h"])
@pytest.mark.parametrize("characteristic", ["equal percentage", "linear"])
def test_a_valve_that_runs_never_reads_as_shut(characteristic, coefficient):
    found = named(rig.load_text(changed(
        ("equal percentage", characteristic), ("1.2 m3/h", coefficient)), "rig.toml"))
    curve = [found["valve_first_permille"], *(found[f"curve_{n}_permille"] for n in range(1, 8))]
    assert min(curve) >= found["valve_shut_permille"] + 10
    assert curve == sorted(curve)


def test_the_full_jet_is_what_torricelli_leaves_after_the_losses():
    # By hand: v = 0.97 sqrt(2 x 9.8 x 9.5) = 13.2 m/s, less a little for pipe and
    # valve; 3.46 mm2 carry 0.046 L/s, and half of rho Q v2 is 4 W.
    assert governing.full_jet_W(rig.load().plant()) == pytest.approx(4.0, rel=0.05)


def test_the_gain_moves_three_tenths_of_the_jet_for_an_error_of_full_power():
    plant = rig.load().plant()
    full_mW = 1000 * governing.LAMP_FRAC * governing.full_jet_W(plant)
    gain = named(rig.load())["governor_gain_upermille_mW"]
    assert gain * full_mW * 1e-6 == pytest.approx(300, rel=1e-4)


def test_settings_that_the_board_would_refuse_name_the_keys():
    tiny = {**DEMO, "turbine.nozzle_diameter_m": 0.5e-3}
    assert faults(changed(('nozzle_diameter = "2.1 mm"', 'nozzle_diameter = "0.5 mm"')))[-1] == (
        "upper, penstock, valve, turbine: this makes governor_gain_upermille_mW"
        f" = {round(governing.gain_upermille_mW(tiny))}, which must be 10 to 1000000")


def test_a_reset_that_rounds_up_to_its_trip_is_refused():
    assert faults(changed(('reset_temperature = "45 degC"',
                           'reset_temperature = "54.9999 degC"'))) == [
        'motor.reset_temperature = "54.9999 degC", motor.trip_temperature = "55 degC":'
        " motor.reset_temperature must be below motor.trip_temperature, also after rounding"]


# Each was taken, and cut to the end of the board's range without a word: the element
# that the figure is for never acted, or acted where it should not.
@pytest.mark.parametrize(("old", "new", "fault"), [
    ('resistance = "10 ohm"', 'resistance = "200 ohm"',
     'generator.resistance = "200 ohm": must be 0.01 ohm to 60 ohm'),
    ('resistance = "3 ohm"', 'resistance = "100 ohm"',
     'motor.resistance = "100 ohm": must be 0.01 ohm to 30 ohm'),
    ('heat_capacity = "120 J/K"', 'heat_capacity = "1 J/K"',
     'motor.heat_capacity = "1 J/K", motor.cooled_resistance = "2.5 K/W":'
     " this makes thermal_tau_s = 2, which must be 10 to 36000"),
    ('heat_capacity = "120 J/K"', 'heat_capacity = "20 kJ/K"',
     'motor.heat_capacity = "20 kJ/K", motor.cooled_resistance = "2.5 K/W":'
     " this makes thermal_tau_s = 50000, which must be 10 to 36000"),
    ('no_load_current = "0.12 A"', 'no_load_current = "9 A"',
     'motor.no_load_current = "9 A": must be 1 mA to 4 A'),
    ('pump_range = "5 A"', 'pump_range = "10 A"',
     'sensors.pump_range = "10 A": must be 82 mA to 8 A'),
    ('clamp_voltage = "15 V"', 'clamp_voltage = "38 V"',
     'generator.clamp_voltage = "38 V": must be 1 V to 36 V'),
    # By hand: 43 K over 9 K/W and 0.02 ohm: sqrt(43 / 9 / 0.02) = 15.456 A.
    ('resistance = "3 ohm"', 'resistance = "20 mohm"',
     'motor.resistance = "20 mohm", motor.still_resistance = "9 K/W", motor.trip_temperature'
     ' = "55 degC", panel, pump, motor, rising_main:'
     " this makes thermal_base_mA = 15456, which must be 10 to 8000"),
])
def test_a_figure_beyond_what_the_board_takes_is_refused_and_never_cut(old, new, fault):
    assert faults(changed((old, new))) == [fault]


def test_a_surface_beyond_what_the_board_takes_is_refused_and_never_cut():
    # 910 L within 7 um of level: by hand 130 000 m2.
    flat = ('shape = "table"\nlevels = [0, "0.5 m", "500.007 mm", "1.1 m"]\n'
            'volumes = [0, "49.9 L", "961 L", "1100 L"]\n')
    found = faults(changed((BOX, flat)))
    assert any(line.startswith("upper: this makes upper_area_cm2 = ")
               and line.endswith(", which must be 10 to 100000000") for line in found)


def test_a_default_beyond_its_own_range_is_refused_and_says_what_it_follows_from():
    found = faults(changed(('level_uncertainty = "5 mm"', 'level_uncertainty = "0.22 m"')))
    assert found == [
        "limits.level_tolerance: its default, 3 x sensors.level_uncertainty, 2 mm or more, comes"
        " to 0.66 m, which must be 2 mm to 0.5 m; state it, or change what it follows from",
        "limits.volume_gap: its default, 5 x sensors.level_uncertainty, 2 mm or more, comes"
        " to 1.1 m, which must be 2 mm to 1 m; state it, or change what it follows from"]


@pytest.mark.parametrize(("said", "place"), [
    ("valve_travel_ms = 60000", "valve.travel"), ("level_sensor = 0", "sensors.level"),
    ("water_sensor = 1", "sensors.water_temperature"),
    ("valve_feedback = 1", "sensors.valve_position")])
def test_what_another_key_says_cannot_be_said_again_for_the_board(said, place):
    """It was taken: a valve of 4 s told to travel for 60 s locked the rig out at each drain."""
    assert faults(changed(("valve_kind = 2", f"{said}\nvalve_kind = 2"))) == [
        f"board.{said}: said by {place} alone; remove it here, and set it there"]


def test_the_demo_s_board_is_wired_as_its_monitors_need():
    """Shunts by hand: 81.92 mV over 8, 5, 0.4 and 0.8 A, two digits, rounded down."""
    found = dict(zip(wiring.NAMES, rig.load().wiring(), strict=True))
    assert [found[f"{name}_shunt_uohm"] for name in wired.MONITORS] == [
        10000, 16000, 200000, 200000, 100000]
    assert found["valve_travel_ms"] == 1000 * DEMO["valve.travel_s"] == 4000
    assert (found["level_sensor"], found["water_sensor"]) == (1, 1)
    assert (found["valve_kind"], found["valve_feedback"]) == (wiring.MOTOR, 1)


def test_what_is_absent_is_not_wired_and_what_is_stated_wins():
    text = changed(('valve_frac = 0.01', 'valve_frac = 0.01\nlevel = "absent"'),
                   ("valve_kind = 2", "valve_kind = 1\npump_shunt_uohm = 12000"))
    found = dict(zip(wiring.NAMES, rig.load_text(text, "rig.toml").wiring(), strict=True))
    assert (found["level_sensor"], found["valve_kind"], found["pump_shunt_uohm"]) == (0, 1, 12000)


def test_a_wiring_that_the_board_would_refuse_is_told():
    text = changed(("valve_kind = 2", "valve_kind = 2\npump_monitor = 64"))
    assert faults(text) == ["board: two monitors have the same I2C address"]
