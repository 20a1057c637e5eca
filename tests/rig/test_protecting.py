"""Limits of protection worked out from the rig, against the twin and against outside figures."""

import pytest

from forebay import rig
from forebay.rig import governing, protecting
from forebay.twin.downhill import Downhill
from forebay.twin.effects import CLOGGED_S2_M5
from forebay.twin.uphill import Uphill
from keeper import settings
from keeper.channels import LEVEL_MM
from keeper.physics import gravity, of_rig, water
from keeper.protection.derived import LEAST_GENERATOR_MV
from tests.campaign import rigs
from tests.rig.test_rig import changed


@pytest.fixture(scope="module")
def demo():
    return rig.load().plant()


def sides(plant):
    celsius = plant["site.water_temperature_degC"]
    density = water.density_kg_m3(celsius)
    viscosity = water.kinematic_viscosity_m2_s(celsius)
    g = gravity.normal_m_s2(plant["site.latitude_deg"], plant["site.height_m"])
    return Uphill(plant, density, viscosity, g), Downhill(plant, density, viscosity, g)


@pytest.mark.parametrize("position", [0.45, 0.5, 0.6, 0.8, 1.0])
def test_the_specific_output_is_what_the_simulated_turbine_gives(demo, position):
    down = sides(demo)[1]
    down.commanded = position
    for _ in range(6000):
        down.step(0.1, 9.5, True)
    power_W = down.generator_V * down.lamp_A
    assert power_W > 0.1
    assert power_W / down.flow == pytest.approx(protecting.specific_J_m3(demo, power_W), rel=0.01)


@pytest.mark.parametrize("level_m", [0.05, 0.5, 0.96])
def test_the_most_lamp_power_is_what_the_simulated_turbine_gives(demo, level_m):
    down = sides(demo)[1]
    down.commanded = 1.0
    for _ in range(6000):
        down.step(0.1, 9.0 + level_m, True)
    power_W = down.generator_V * down.lamp_A
    assert governing.turbine_set(demo).steady(1.0, 9.0 + level_m)[3] == pytest.approx(
        power_W, rel=1e-6)


def running(plant, irradiance, lift_m, primed):
    up = sides(plant)[0]
    up.shine(irradiance, 35.0)
    for _ in range(600):
        up.step(0.1, True, lift_m, 12.8, 1.0, primed)
    return up


IRRADIANCES = [60, 100, 150, 200, 300, 500, 800, 1100]


def setting(name):
    """A setting of the demo rig, as its board has it."""
    return rig.load().settings()[settings.index(name)]


def least_mA(up):
    """What 37-PMP asks of a pump at this voltage; the voltage is one that it judges."""
    assert up.panel_V * 1000 >= setting("pump_judge_mV")
    return setting("dry_base_mA") + int(up.panel_V) ** 2 * setting("dry_gain_uA_V2") / 1000


@pytest.mark.parametrize("irradiance", IRRADIANCES)
@pytest.mark.parametrize("lift_m", [11.0, 11.76, 25.0])
def test_a_full_pump_never_looks_dry_with_or_without_flow(demo, irradiance, lift_m):
    up = running(demo, irradiance, lift_m, True)
    assert up.pump_A * 1000 > 1.03 * least_mA(up)  # three times the monitor's 1 %


@pytest.mark.parametrize("irradiance", IRRADIANCES)
def test_a_dry_pump_looks_dry_wherever_it_is_judged(demo, irradiance):
    up = running(demo, irradiance, 11.0, False)
    assert up.pump_A * 1000 < 0.97 * least_mA(up)


def stalling_sun_W_m2(plant, lift_m):
    """The strongest sun in which a healthy pump's flow does not move the meter, to 0.1 W/m2."""
    least, most = 0.0, 1100.0
    while most - least > 0.1:
        middle = (least + most) / 2
        if running(plant, middle, lift_m, True).flow < plant["sensors.flow_stall_m3_s"]:
            least = middle
        else:
            most = middle
    assert 20 < least < 1000  # a sun between none and full, else the cases say nothing
    return least


@pytest.mark.parametrize("part", [0.25, 0.5, 0.75, 0.9, 1.0])
@pytest.mark.parametrize("lift_m", [10.4, 11.0, 11.76])
def test_a_flow_that_is_not_seen_takes_less_power_than_is_sure(demo, part, lift_m):
    """Weak sun is not a fault: what stalls the meter must not look like a blocked pipe."""
    up = running(demo, part * stalling_sun_W_m2(demo, lift_m), lift_m, True)
    assert up.flow < demo["sensors.flow_stall_m3_s"]
    assert up.panel_V * up.pump_A * 1000 < protecting.flow_sure_mW(demo)


@pytest.mark.parametrize("irradiance", [600, 800, 1000])
def test_a_blocked_pipe_in_good_sun_takes_more_power_than_is_sure(demo, irradiance):
    up = running(demo, irradiance, 60.0, True)
    assert up.flow == 0.0
    assert up.panel_V * up.pump_A * 1000 > protecting.flow_sure_mW(demo)


LIFTS = [10.76, 11.2, 11.76]   # over a full lower tank, half-way, over its floor


@pytest.mark.parametrize("irradiance", [70, 85, 100, 115, 130, 150])
@pytest.mark.parametrize("lift_m", LIFTS)
def test_the_weak_sun_of_a_healthy_pump_takes_less_power_than_each_lack_of_flow_needs(
    demo, irradiance, lift_m
):
    up = running(demo, irradiance, lift_m, True)
    power_mW = up.panel_V * up.pump_A * 1000
    # Three times the meter's 2 %.
    if up.flow < 1.06 * demo["sensors.flow_floor_m3_s"]:
        assert power_mW < protecting.flow_sure_mW(demo) + protecting.trickle_mW(demo)
    if up.flow < 1.06 * demo["limits.useful_flow_m3_s"]:
        assert power_mW < protecting.useful_sure_mW(demo)


@pytest.mark.parametrize("irradiance", [200, 400, 900, 1100])
@pytest.mark.parametrize("lift_m", LIFTS)
def test_a_strainer_that_leaves_less_than_the_useful_flow_takes_more_than_that_needs(
    demo, irradiance, lift_m
):
    up = sides(demo)[0]
    up.inner_s2_m5 += CLOGGED_S2_M5
    up.shine(irradiance, 35.0)
    for _ in range(600):
        up.step(0.1, True, lift_m, 12.8, 1.0, True)
    assert 0.0 < up.flow < demo["limits.useful_flow_m3_s"]
    assert up.panel_V * up.pump_A * 1000 > protecting.useful_sure_mW(demo)


def test_without_a_meter_a_healthy_pump_at_its_useful_flow_is_not_taken_for_too_weak(demo):
    # The twin's own pump over the longest lift, from weak sun to strong.
    lift_m = demo["upper.inlet_height_m"] - demo["lower.base_height_m"]
    without = {**demo, "sensors.flow_up": "absent"}
    asked_mW = protecting.useful_sure_mW(without)
    for irradiance in range(60, 200, 2):
        up = running(demo, irradiance, lift_m, True)
        power_mW = up.panel_V * up.pump_A * 1000
        if up.flow > 1.01 * demo["limits.useful_flow_m3_s"]:
            assert power_mW > asked_mW
        if up.flow < 0.99 * demo["limits.useful_flow_m3_s"]:
            assert power_mW < asked_mW


MEAN_AND_DELAY_S = 13 + 10    # of the level's mean, and of 71H-LVL
CALIBRATED = 3 ** 0.5         # JCGM 100: half the width of what is evenly likely


@pytest.mark.parametrize("seed", range(12))
def test_a_level_that_stands_for_the_full_float_stops_the_pump_before_the_over_full_float(seed):
    plant = rigs.drawn(seed)["rig"] if seed else rig.load().plant()
    shape = of_rig.tank(plant, "upper.")
    alone = protecting.level_high_mm({**plant, "sensors.full_float": "absent"})
    late_m = (alone / 1e3 + CALIBRATED * plant["sensors.level_uncertainty_m"])
    lifted_m3 = MEAN_AND_DELAY_S * plant["pump.rated_flow_m3_s"]
    assert shape.volume_m3(late_m) + lifted_m3 < plant["upper.over_full_volume_m3"]
    # A float that is there acts first.
    beside = protecting.level_high_mm({**plant, "sensors.full_float": "fitted"})
    assert beside - 1e3 * shape.level_m(plant["upper.full_volume_m3"]) >= 3 * 1e3 * (
        plant["sensors.level_uncertainty_m"] - 1e-9)


@pytest.mark.parametrize("irradiance", IRRADIANCES)
def test_even_a_dry_motor_draws_more_than_an_open_lead(demo, irradiance):
    up = running(demo, irradiance, 11.0, False)
    noise_mA = 3e3 * demo["sensors.current_noise_frac"] * demo["sensors.pump_range_A"]
    assert noise_mA < setting("lead_mA") < up.pump_A * 1000 - noise_mA


@pytest.mark.parametrize("irradiance", [100, 300, 1100])
@pytest.mark.parametrize("lift_m", LIFTS)
def test_a_motor_at_work_is_warmer_than_its_water_by_more_than_is_asked(
    demo, irradiance, lift_m
):
    up = running(demo, irradiance, lift_m, True)
    rise_K = up.motor_loss_W * demo["motor.cooled_resistance_K_W"]
    # Two thermometers that are each off by their most, and a sensor that feels the water alone.
    most_off_K = 2 * 3 ** 0.5 * demo["sensors.temperature_uncertainty_K"]
    assert most_off_K < protecting.motor_rise_mdegC(demo) / 1000 < rise_K - most_off_K


def test_what_the_generator_may_give_and_the_clamp_lets_be_by_hand(demo):
    """1.5 W and 5 %; 15 V less 3 x (0.5 % of 15 V + 20 mV); 4.8 V over 24 ohm are 0.2 A, and
    3 x 1.414 x (1 % of 0.2 A + 0.4 mA), and 1 mA."""
    assert setting("generator_most_mW") == 1575
    assert setting("clamp_free_mV") == 14715
    assert setting("lamp_gap_mA") == 11
    brightest_W = max(demo["lamps.steps_W"])
    assert 1000 * brightest_W < setting("generator_most_mW")


# Longest night by an almanac's rule of thumb, in round figures and from memory:
# 9 h 20 of day at 40 deg north in December, 12 h at the equator, 5 h 50 at 60 deg;
# the air bends the light and lengthens these days by 10 to 20 min.
@pytest.mark.parametrize(("latitude", "hours"), [(0, 12.0), (40, 14.67), (-40, 14.67), (60, 18.2)])
def test_the_longest_night_of_a_latitude(latitude, hours):
    plant = rig.load_text(changed(("38.0 deg", f"{latitude} deg")), "rig.toml").plant()
    assert protecting.longest_night_min(plant) / 60 == pytest.approx(hours + 1, abs=0.35)


def test_beyond_the_polar_circle_the_longest_night_is_a_day():
    plant = rig.load_text(changed(("38.0 deg", "70 deg")), "rig.toml").plant()
    assert protecting.longest_night_min(plant) == 1440


def test_the_motor_s_own_current_brings_it_just_to_its_trip_without_cooling(demo):
    """By hand: 43 K over 9 K/W and 3 ohm: sqrt(43 / 27) = 1.262 A."""
    assert protecting.thermal_base_mA(demo) == pytest.approx(1262, abs=2)


def test_overspeed_lies_above_all_that_the_clamp_holds(demo):
    """By hand: 15 V + 5 W / 15 V x 12 ohm = 19 V inside."""
    assert protecting.overspeed_mV(demo) == pytest.approx(19000)


def test_water_that_surely_goes_down_does_so_at_the_lowest_level(demo):
    down = sides(demo)[1]
    down.commanded = protecting.valve_sure_permille(demo) / 1000
    for _ in range(600):
        down.step(0.1, 9.05, True)
    assert down.flow > 1.5 * demo["sensors.flow_floor_m3_s"]


# Travels of up to a minute, flows that the meter sees long before the wheel turns.
SLOW_SEEDS = [5, 35, 44, 59, 61]


@pytest.mark.parametrize("seed", SLOW_SEEDS)
def test_a_wheel_that_a_slow_valve_starts_gives_volts_before_it_is_missed(seed):
    """Day 59 used to lock out: 37-GEN began to count where water is seen, far below that."""
    told = rigs.drawn(seed)
    plant = told["rig"]
    pickup, delay_ms = (told["settings"][settings.index(name)] for name in (
        "wheel_turns_permille", "no_volts_delay_ms"))
    # The lowest head, and a reading that is too far by all that it may be.
    head_m, too_far = governing.lowest_head_m(plant), protecting.valve_gap_permille(plant) / 1e3
    down = sides(plant)[1]
    missed_s = position = 0.0
    while down.generator_V * 1000 < LEAST_GENERATOR_MV:
        assert position < 1.0
        position = min(1.0, position + 0.1 / protecting.valve_way_s(plant))
        down.commanded = position
        down.step(0.1, head_m, True)
        if (position + too_far) * 1000 > pickup and down.flow >= plant["sensors.flow_floor_m3_s"]:
            missed_s += 0.1
    assert missed_s * 1000 < delay_ms


# And large flows that the meter is sure of only with the valve half open.
@pytest.mark.parametrize("seed", [14, 20, 34, *SLOW_SEEDS])
def test_an_open_lead_is_counted_where_the_dimmest_light_begins(seed):
    """Day 1083: the governor had to open in the dark, step by step, up to a pickup above."""
    told = rigs.drawn(seed)
    dimmest = governing.travel_frac(told["rig"], min(told["rig"]["lamps.steps_W"]),
                                    governing.highest_head_m(told["rig"]))
    too_near = protecting.valve_gap_permille(told["rig"])
    assert told["settings"][settings.index("wheel_turns_permille")] < 1e3 * dimmest - too_near


def test_the_opening_at_which_the_wheel_surely_turns_by_the_simulated_turbine(demo):
    """A hair below it the wheel settles to less than a volt, a hair above to more."""
    travel = (protecting.wheel_turns_permille(demo) - protecting.valve_gap_permille(demo)) / 1e3
    for change, is_enough in ((-0.002, False), (0.002, True)):
        down = sides(demo)[1]
        down.commanded = travel + change
        for _ in range(6000):
            down.step(0.1, 9.05, True)
        assert (down.generator_V * 1000 > LEAST_GENERATOR_MV) is is_enough


def test_absent_sensors_are_told_to_the_board():
    plain = rig.load().settings()
    text = changed(('valve_frac = 0.01', 'valve_frac = 0.01\nlevel = "absent"'))
    fitted = rig.load_text(text, "rig.toml").settings()
    place = settings.index("fitted")
    assert plain[place] ^ fitted[place] == 1 << LEVEL_MM
