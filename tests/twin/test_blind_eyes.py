"""Faults that blind or deceive an instrument, judged by what is true of the rig."""

import pytest

from forebay.rig import load
from keeper import modes
from tests.stories import told
from tests.twin import blind_eyes

RIG = load()
STARTS = 1 + RIG.limits.trip_retries
# Room for three times as many tries, of which one takes some five minutes.
TRIES_S = 3600.0
TRIP_DEGC = RIG.motor.trip_temperature_degC
PASSES_K = 3.0                           # of 26-MOT by its sensor's lag (hardware/parts.toml)


# A thermometer in the wrong place

# A sensor in cold water on a motor that begins hot and is not cooled is the thermostat's.
@pytest.mark.parametrize(("wrong", "sun", "air_degC"), [
    ("thermometers-swapped", 1000.0, 14.0), ("thermometers-swapped", 1000.0, 35.0),
    ("thermometers-swapped", 300.0, 14.0),
    ("motor-sensor-loose", 1000.0, 14.0), ("motor-sensor-loose", 300.0, 14.0)])
def test_a_motor_that_is_not_cooled_stays_within_its_limit_whatever_hangs_on_it(
    tmp_path, wrong, sun, air_degC
):
    hottest_degC = told(blind_eyes.hottest_degC, str(tmp_path), wrong, sun, air_degC, hours=3)
    assert hottest_degC <= TRIP_DEGC + PASSES_K


# The corners of the seasons and their middle, in weak and in full sun.
@pytest.mark.parametrize("sun", [140.0, 900.0])
@pytest.mark.parametrize(("air_degC", "water_degC"), [
    (2.0, 4.5), (2.0, 22.0), (14.0, 12.0), (38.0, 4.5), (38.0, 22.0)])
def test_a_healthy_motor_in_any_season_is_not_taken_for_a_wrong_thermometer(
    tmp_path, sun, air_degC, water_degC
):
    acted, lifted_L = told(blind_eyes.healthy, str(tmp_path), sun, air_degC, water_degC, 3000.0)
    assert not set(acted) - {"23-CLD"}
    assert lifted_L > 20     # it has pumped


# Flow that is too little for the power, and pulses that no water gave

def test_a_half_clogged_strainer_is_named_and_not_tried_for_ever(tmp_path):
    acted, starts = told(blind_eyes.tried, str(tmp_path), "strainer-half-clogged", TRIES_S)
    assert starts <= STARTS
    assert acted


@pytest.mark.parametrize("blocked", ["rotor-stalled", "strainer-blocked"])
@pytest.mark.parametrize("per_s", [1, 5])
def test_false_pulses_let_no_pump_be_tried_again_and_again_that_moves_no_water(
    tmp_path, blocked, per_s
):
    acted, starts = told(blind_eyes.tried, str(tmp_path), blocked, TRIES_S, per_s)
    assert starts <= STARTS
    assert acted[0] == {"rotor-stalled": "14-PMP", "strainer-blocked": "48-PMP"}[blocked]


@pytest.mark.parametrize("sun", [90.0, 110.0, 130.0, 160.0, 250.0])
@pytest.mark.parametrize("lower_m3", [0.15, 1.25])
def test_weak_sun_is_no_fault_at_any_lift_with_or_without_false_pulses(tmp_path, sun, lower_m3):
    for per_s in (0, 1, 5):
        assert not told(blind_eyes.weak_sun, str(tmp_path / str(per_s)), sun, lower_m3, per_s,
                        600.0)


# A meter that counts at a shut valve

@pytest.mark.parametrize("state", [modes.STANDSTILL, modes.PUMPING])
def test_noise_on_the_meter_of_the_penstock_takes_neither_water_nor_light_away(tmp_path, state):
    lockouts, acted, still, lamps_W = told(
        blind_eyes.noise_at_the_penstock, str(tmp_path), state, state == modes.PUMPING)
    assert lockouts == 0
    assert acted
    assert still
    assert lamps_W == pytest.approx(0.6, rel=0.05)


@pytest.mark.parametrize(("others", "within_s"), [
    ((), 18.0),                             # the wheel turns: its volts are the witness
    (("generator-lead-open",), 1800.0),     # else the level, within the time of 71D-UP
])
def test_a_seat_that_leaks_is_found_by_the_volts_or_by_the_level(tmp_path, others, within_s):
    assert "48-SHT" in told(blind_eyes.leaking_seat, str(tmp_path), others, within_s)


def test_the_valve_of_a_light_that_gets_no_water_shuts_though_the_meter_hums(tmp_path):
    assert told(blind_eyes.light_without_water, str(tmp_path), 30.0)[0] == "80-VLV"


# A lead that is open is no pump that runs dry

def test_an_open_lead_and_a_dry_pump_are_told_apart(tmp_path):
    firsts = [told(blind_eyes.at_the_pump, str(tmp_path / name), name, 10.0)[0]
              for name in ("pump-lead-open", "air-in-pump")]
    assert firsts[0] != firsts[1]
    assert firsts == ["37-LED", "37-PMP"]


def test_a_thermostat_that_opens_is_told_as_an_open_lead(tmp_path):
    assert told(blind_eyes.at_the_pump, str(tmp_path), "", 10.0)[0] == "37-LED"


# Lamps whose current reads too low

def test_a_generator_beyond_its_rating_is_stopped_and_the_lamps_reading_is_named(tmp_path):
    over_s, acted = told(blind_eyes.over_its_rating, str(tmp_path), RIG.generator.rated_power_W,
                         1800)
    # A minute a trial, and the way up and down.
    assert over_s < STARTS * 90.0
    assert acted[0] == "3-AMP"
