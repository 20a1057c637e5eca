"""Worked examples from outside the project, reproduced through a whole plan.

Each rig is a packaged one with the example's figures put into its description after the
loader, whose cross-checks an example of a handbook need not pass.
"""

import functools
import math

import numpy as np
import pandas as pd
import pytest
from pvlib import irradiance, location
from scipy import constants
from scipy.optimize import brentq

from forebay import rig as rigs
from forebay.plan import document, limits, planning, skies, text
from forebay.plan.filling import _pipe
from forebay.rig import Rig, governing
from forebay.showing import SYSTEMS

BENCH = {
    # Gravity at 45.5 degrees on the sea is 9.8066 m/s2 (WGS 84); water of 20 degC.
    "site.latitude_deg": 45.5, "site.height_m": 0.0, "site.water_temperature_degC": 20.0,
    # 1 m3 on 1 m2 between 8.5 and 9.5 m over the nozzle.
    "upper.length_m": 1.0, "upper.width_m": 1.0, "upper.height_m": 1.0,
    "upper.base_height_m": 8.5, "upper.inlet_height_m": 9.6, "upper.start_volume_m3": 0.0,
    "upper.empty_volume_m3": 0.0, "upper.full_volume_m3": 1.0, "upper.over_full_volume_m3": 1.0,
    "upper.overflow_volume_m3": 1.0, "support.footprint_length_m": 1.2,
    "support.footprint_width_m": 1.0, "support.tank_mass_kg": 1e-9,
    # 0.2 m over the floor of the lower tank when it is low.
    "lower.length_m": 2.0, "lower.width_m": 1.0, "lower.height_m": 1.0,
    "lower.low_volume_m3": 0.4, "lower.full_volume_m3": 1.8,
    # 5 A over 10 m of 12 AWG, 3.3088 mm2 (ASTM B258: 2.0525 mm across).
    "panel.best_current_A": 5.0, "panel.short_circuit_current_A": 5.36, "panel.power_W": 119.0,
    "cables.panel_length_m": 10.0, "cables.panel_section_m2": math.pi / 4 * 2.052525e-3 ** 2,
}


def rig_with(changes, demo="hillside"):
    """Returns a packaged rig with other values [SI]."""
    base = rigs.load(demo=demo)
    return Rig({**base.plant(), **changes}, base.toml_text, base.source_name)


@functools.cache
def bench():
    """Returns (the plan of the bench's rig, the same as a document)."""
    found = planning.plan(rig_with(BENCH))
    return found, document.document(found)


def told(system):
    return "\n".join(text.lines(bench()[0], SYSTEMS[system]))


# CALC product of mass, height of the middle and standard gravity: 88.10162 kJ of 1 m3 of 20 degC
# (998.2072 kg/m3, IAPWS-95 through CoolProp) with its middle at 9 m.
def test_the_energy_of_a_cubic_metre_at_nine_metres():
    assert bench()[1]["store"]["stored_J"] == pytest.approx(88101.62, rel=2e-5)


# CALC 998 kg on 1.2 m x 1.0 m: 8.16 kPa, 170 psf, 8.5 times a flat roof's 20 psf.
def test_the_load_of_that_cubic_metre_on_its_footprint_in_both_units():
    assert bench()[1]["store"]["full_kg"]["value"] == pytest.approx(998.2, abs=0.05)
    assert bench()[1]["store"]["pressure_Pa"] == pytest.approx(8158, abs=1)
    assert "8.16 kN/m2" in told("metric")
    assert "170 psf" in told("us")


# CALC with IAPWS-95: available NPSH of 20 degC at 101325 Pa, flooded by 2 m less 0.5 m of loss,
# 11.61186 m; here by 0.2 m, without loss.
def test_the_suction_head_of_a_pump_on_the_floor_of_the_tank():
    expected_m = 11.61186 - 2.0 + 0.5 + 0.2
    assert bench()[1]["filling"]["npsh_m"] == pytest.approx(expected_m, abs=5e-4)


# CALC handbook copper of 58 MS/m (IACS): 5 A over 10 m of 12 AWG drop 0.521081 V at 20 degC;
# 0.393 % more a kelvin, and a plan takes leads in the sun, 30 K warmer.
def test_the_drop_in_a_lead_of_twelve_gauge():
    expected_V = 0.521081 * (1 + 0.00393 * 30)
    assert bench()[1]["supply"]["panel_drop_V"] == pytest.approx(expected_V, rel=5e-4)


# READ reuven.tools/tools/water-hammer: water at 2 m/s stopped at once in a pipe whose waves run at
# 1191.4 m/s rises by 242.9 m; a plan takes a stiff pipe's 1480 m/s.
def test_a_valve_that_shuts_at_once_raises_what_the_worked_example_has():
    found = document.document(planning.plan(rig_with({
        **BENCH, "valve.travel_s": 1e-3, "limits.valve_rate_per_s": 1e3})))["light"]
    flow_m3_s = found["openings"][-1]["flow_m3_s"]
    speed_m_s = flow_m3_s / (math.pi / 4 * 0.025 ** 2)
    rise_m = (found["surge_Pa"] - found["still_Pa"]) / (998.2072 * constants.g)
    # The example is printed to four digits.
    assert rise_m == pytest.approx(242.9 * speed_m_s / 2.0 * 1480 / 1191.4, rel=5e-4)


# READ Crane TP-410 (metric), example 7.1: water of 30 degC, 200 L/min through 20 m of smooth
# pipe of size 50 mm: Re 100600, so a bore of 52.5 mm, and f 0.0179; by d'Arcy f L/D v^2/2g.
# Crane reads f off a chart: 1.5 %.
def test_the_rising_main_loses_what_the_handbooks_pipe_does():
    def rig(rated_m3_s):
        return rig_with({
            **BENCH, "site.water_temperature_degC": 30.0, "lower.base_height_m": 6.0,
            "rising_main.length_m": 20.0, "rising_main.diameter_m": 0.0525,
            "rising_main.roughness_m": 0.0, "rising_main.minor_loss": 0.0,
            "panel.power_W": 960.0, "panel.best_current_A": 40.3,
            "panel.short_circuit_current_A": 43.2, "motor.resistance_ohm": 0.1,
            "motor.no_load_current_A": 1.0, "pump.rated_power_W": 500.0,
            "pump.rated_head_m": 5.0, "pump.shut_off_head_m": 9.0,
            "pump.rated_flow_m3_s": rated_m3_s})

    def flow_m3_s(rated_m3_s):
        return next(one.value or 0.0 for one in _pipe(rig(rated_m3_s).plant())
                    if one.key == "full_sun_m3_s")

    rated = brentq(lambda one: flow_m3_s(one) - 0.2 / 60, 1e-3, 1e-2)
    found = document.document(planning.plan(rig(rated)))["filling"]
    speed_m_s = 0.2 / 60 / (math.pi / 4 * 0.0525 ** 2)
    assert found["full_sun_m3_s"] == pytest.approx(0.2 / 60, rel=1e-6)
    assert found["main_m_s"] == pytest.approx(speed_m_s, rel=1e-6)
    expected_m = 0.0179 * 20 / 0.0525 * speed_m_s ** 2 / (2 * constants.g)
    assert found["main_loss_m"] == pytest.approx(expected_m, rel=0.015)


def wheel_efficiency(angle_deg, bucket, ratio):
    """Returns what a plan's losses say of the wheel: taken from the jet, over what is in it."""
    fixed = {**BENCH, "turbine.bucket_angle_deg": angle_deg, "turbine.bucket_coefficient": bucket,
             "turbine.hit_frac": 1.0, "turbine.friction_torque_N_m": 0.0}

    def at(radius_m):
        rig = rig_with({**fixed, "turbine.wheel_radius_m": radius_m})
        made = governing.turbine_set(rig.plant())
        head_m = governing.mean_head_m(rig.plant())
        travel = made.travel_for_frac(made.flow_for_lamps_m3_s(0.6), head_m)
        flow, speed, _, _ = made.steady(travel, head_m)
        return rig, speed * radius_m / (flow / made.area) - ratio

    radius_m = brentq(lambda one: at(one)[1], 5e-3, 0.2)
    rows = {row[1]: row[2] for row in limits.losses(at(radius_m)[0].plant(), 0.6).rows
            if row[0] == "down"}
    after = list(rows).index("friction of the nozzle") + 1
    jet_W = sum(list(rows.values())[after:])
    return 1.0 - rows["on the buckets, and with the water that leaves"] / jet_W


# A textbook's wheel (Bansal, from memory): 30 m of head, coefficient of velocity 0.98, buckets at
# 10 m/s that turn a jet of 0.7 m3/s by 160 degrees: 186.97 kW, 94.54 %.
def test_a_textbooks_wheel_takes_from_its_jet_what_the_textbook_says():
    ratio = 10.0 / (0.98 * math.sqrt(2 * 9.81 * 30.0))
    assert wheel_efficiency(160.0, 1.0, ratio) == pytest.approx(0.9454, abs=1e-3)


# CALC Euler's 2 phi (1 - phi) (1 + k cos(180 - beta)) for beta 165 degrees, k 0.9.
@pytest.mark.parametrize(("ratio", "expected"), [
    (0.3, 0.785120), (0.4, 0.897280), (0.5, 0.934667), (0.6, 0.897280)])
def test_the_wheel_follows_eulers_equation_over_the_speed_ratio(ratio, expected):
    assert wheel_efficiency(165.0, 0.9, ratio) == pytest.approx(expected, abs=2e-6)


# CALC Torricelli: a jet of 3 mm, coefficient of velocity 0.97, under 9 m without loss before it
# is 12.887490 m/s and 0.091096 L/s.
def test_the_open_valve_lets_down_the_jet_of_the_worked_example():
    free = {**BENCH, "upper.base_height_m": 8.0, "turbine.nozzle_diameter_m": 3e-3,
            "turbine.nozzle_coefficient": 0.97, "penstock.length_m": 0.01,
            "penstock.diameter_m": 0.5, "penstock.minor_loss": 0.0,
            "valve.flow_coefficient_m3_h": 1e4}
    found = document.document(planning.plan(rig_with(free)))["light"]["openings"][-1]
    assert found["flow_m3_s"] == pytest.approx(0.091096e-3, rel=2e-5)


# READ a fluids textbook's solution 11.14 (studylib.net/doc/18364489): an empty drum of 21.8 kg,
# 0.876 m x 0.571 m, tips at 19.7 m/s in air of 1.2 kg/m3 with a drag coefficient of 1.20. A plan
# takes the code's coefficient for so short a drum with hoops, 0.7 and a little, and air of 0 degC.
def test_an_empty_drum_is_held_against_the_gust_that_tips_the_textbooks():
    found = document.document(planning.plan(rig_with({
        "site.height_m": 0.0, "upper.diameter_m": 0.571, "upper.height_m": 0.876,
        "support.footprint_length_m": 0.571, "support.footprint_width_m": 0.571,
        "support.tank_mass_kg": 21.8, "support.gust_m_s": 19.7}, "orchard")))["store"]
    # ASCE 7-10, figure 29.5-1, ribs of a fiftieth: 0.7 at h/D of 1, 0.8 at 7, in a straight line.
    coefficient = 0.7 + 0.1 * (0.876 / 0.571 - 1) / 6
    as_there = found["overturning"] * coefficient / 1.20 * 1.2922 / 1.2
    # Air of 0 degC is 1.2922 kg/m3 (ISO 2533); the speed is printed to three digits.
    assert as_there == pytest.approx(1.0, rel=0.006)


# pvlib by itself, by its accurate sun (NREL's SPA) and minute by minute: Ineichen's clear sky of
# turbidity 3 times the day's share, Erbs' split of it, an isotropic sky on the panel.
@pytest.mark.parametrize("month", [1, 4, 6, 9, 12])
@pytest.mark.parametrize("sky", range(len(skies.SKIES)))
def test_a_months_mean_day_has_the_light_that_pvlib_gives_it(month, sky):
    rig = rigs.load()
    days = skies.by_month(rig)
    which = next(place for place in map(int, np.flatnonzero(
        (days.months == month) & (days.sky == sky)))
                 if days.dates[place] == skies.MEAN_DAYS[month - 1])
    ours_J_m2 = days.sun.poa_W_m2[which].sum() * days.sun.step_s
    day = skies.MEAN_DAYS[month - 1]
    place = location.Location(rig.site.latitude_deg, rig.site.longitude_deg,
                              altitude=rig.site.height_m)
    times = pd.date_range(day, periods=1440, freq="min", tz="Etc/GMT+7") + pd.Timedelta("30s")
    sun = place.get_solarposition(times)
    clear = place.get_clearsky(times, linke_turbidity=3.0, solar_position=sun)
    light = clear["ghi"] * skies.SKIES[sky].clear_frac
    if skies.SKIES[sky].is_broken:
        light = broken(light, clear["ghi"], skies.SKIES[sky].clear_frac)
    split = irradiance.erbs(light, sun["zenith"], times)
    total = irradiance.get_total_irradiance(
        rig.panel.tilt_deg, rig.panel.azimuth_deg, sun["apparent_zenith"], sun["azimuth"],
        split["dni"], light, split["dhi"], albedo=0.2, model="isotropic")["poa_global"]
    assert ours_J_m2 == pytest.approx(total.clip(0.0).sum() * 60.0, rel=0.01)


def broken(light, clear, share):
    """Returns the light of a broken sky: so many minutes of ten clear, the others all dimmed
    so that the day's light is that of the share, a cloud to a fifth or more of the clear sky's.
    """
    gap = np.arange(len(light)) % 10 < math.floor(10 * (share - 0.2) / 0.8)
    rest = (light.sum() - clear[gap].sum()) / clear[~gap].sum()
    return clear.where(gap, clear * rest)
