"""Faults that blind or deceive an instrument, judged by what is true of the rig."""

import pytest

from forebay.rig import load
from forebay.twin.effects import apply
from keeper import modes
from keeper.channels import PULSES_DOWN, PULSES_UP
from keeper.protection.elements import E_ID, ELEMENTS
from tests.twin.rigs import HALF, PUMPING, RUNNING, in_state, run_until, steady, twin

SCAN_S = 0.1
LOW = {"upper.start_volume_m3": 0.1}     # room for hours of pumping
FULL = {"upper.start_volume_m3": 0.9}
RIG = load()
STARTS = 1 + RIG.limits.trip_retries
# Room for three times as many tries, of which one takes some five minutes.
TRIES_S = 3600.0
TRIP_DEGC = RIG.motor.trip_temperature_degC
PASSES_K = 3.0                           # of 26-MOT by its sensor's lag (hardware/parts.toml)


def bring_on(one, *names):
    for name in names:
        apply(name, one.plant, one.leads)


def acting(one):
    """Ids of the elements that act now."""
    bits = one.keeper.acting
    return {row[E_ID] for index, row in enumerate(ELEMENTS) if bits >> index & 1}


def played(one, seconds):
    """Steps; returns (ids in the order in which they acted, starts of the pump)."""
    acted, starts, before = [], 0, one.plant.pump_commanded
    for _ in range(round(seconds / SCAN_S)):
        one.step()
        acted += [name for name in acting(one) if name not in acted]
        starts += one.plant.pump_commanded and not before
        before = one.plant.pump_commanded
    return acted, starts


def pumping(folder, sun=900.0, changes=LOW, air_degC=14.0):
    one = twin(folder, steady(sun, air_degC=air_degC), changes)
    run_until(one, PUMPING, 200)
    one.run(300)
    return one


# A thermometer in the wrong place

# A sensor in cold water on a motor that begins hot and is not cooled is the thermostat's.
@pytest.mark.parametrize(("wrong", "sun", "air_degC"), [
    ("thermometers-swapped", 1000.0, 14.0), ("thermometers-swapped", 1000.0, 35.0),
    ("thermometers-swapped", 300.0, 14.0),
    ("motor-sensor-loose", 1000.0, 14.0), ("motor-sensor-loose", 300.0, 14.0)])
def test_a_motor_that_is_not_cooled_stays_within_its_limit_whatever_hangs_on_it(
    tmp_path, wrong, sun, air_degC
):
    one = twin(tmp_path, steady(sun, air_degC=air_degC), LOW)
    # A night in this air.
    one.plant.motor.degC = one.plant.motor.felt_degC = one.plant.frost.degC = air_degC
    bring_on(one, wrong, "jacket-blocked")
    hottest_degC = 0.0
    for _ in range(3 * 36000):
        one.step()
        hottest_degC = max(hottest_degC, one.plant.motor.degC)
    assert hottest_degC <= TRIP_DEGC + PASSES_K


# The corners of the seasons and their middle, in weak and in full sun.
@pytest.mark.parametrize("sun", [140.0, 900.0])
@pytest.mark.parametrize(("air_degC", "water_degC"), [
    (2.0, 4.5), (2.0, 22.0), (14.0, 12.0), (38.0, 4.5), (38.0, 22.0)])
def test_a_healthy_motor_in_any_season_is_not_taken_for_a_wrong_thermometer(
    tmp_path, sun, air_degC, water_degC
):
    one = twin(tmp_path, steady(sun, air_degC=air_degC),
               {**LOW, "site.water_temperature_degC": water_degC})
    one.plant.motor.degC = one.plant.motor.felt_degC = one.plant.frost.degC = air_degC
    acted, _ = played(one, 3000.0)
    assert not set(acted) - {"23-CLD"}
    assert one.plant.up.volume_m3 > 0.02     # it has pumped


# Flow that is too little for the power, and pulses that no water gave

def test_a_half_clogged_strainer_is_named_and_not_tried_for_ever(tmp_path):
    one = twin(tmp_path, steady(900.0), LOW)
    bring_on(one, "strainer-half-clogged")
    acted, starts = played(one, TRIES_S)
    assert starts <= STARTS
    assert acted


@pytest.mark.parametrize("blocked", ["rotor-stalled", "strainer-blocked"])
@pytest.mark.parametrize("per_s", [1, 5])
def test_false_pulses_let_no_pump_be_tried_again_and_again_that_moves_no_water(
    tmp_path, blocked, per_s
):
    one = twin(tmp_path, steady(900.0), LOW)
    one.leads.pulses(PULSES_UP, per_s)
    bring_on(one, blocked)
    acted, starts = played(one, TRIES_S)
    assert starts <= STARTS
    assert acted[0] == {"rotor-stalled": "14-PMP", "strainer-blocked": "48-PMP"}[blocked]


@pytest.mark.parametrize("sun", [90.0, 110.0, 130.0, 160.0, 250.0])
@pytest.mark.parametrize("lower_m3", [0.15, 1.25])
def test_weak_sun_is_no_fault_at_any_lift_with_or_without_false_pulses(tmp_path, sun, lower_m3):
    for per_s in (0, 1, 5):
        one = twin(tmp_path / str(per_s), steady(sun), {**LOW, "lower.start_volume_m3": lower_m3})
        one.leads.pulses(PULSES_UP, per_s)
        acted, _ = played(one, 600.0)
        assert not acted


# A meter that counts at a shut valve

@pytest.mark.parametrize("state", [modes.STANDSTILL, modes.PUMPING])
def test_noise_on_the_meter_of_the_penstock_takes_neither_water_nor_light_away(tmp_path, state):
    day = ([800.0 if state == modes.PUMPING else 5.0] * 30 + [0.0] * 1411,
           [35.0] * 1441, [14.0] * 1441)
    one = twin(tmp_path, day, HALF)
    if state == modes.PUMPING:
        run_until(one, PUMPING, 200)
    one.run(300)
    one.leads.pulses(PULSES_DOWN, 5)
    acted, _ = played(one, 300.0)
    assert one.keeper.lockouts == 0
    assert acted
    assert in_state(state)(one)
    run_until(one, RUNNING, 3600)
    one.run(1200)
    assert one.plant.down.lamp_A * one.plant.down.generator_V == pytest.approx(0.6, rel=0.05)


@pytest.mark.parametrize(("others", "within_s"), [
    ((), 18.0),                             # the wheel turns: its volts are the witness
    (("generator-lead-open",), 1800.0),     # else the level, within the time of 71D-UP
])
def test_a_seat_that_leaks_is_found_by_the_volts_or_by_the_level(tmp_path, others, within_s):
    one = twin(tmp_path, steady(5.0), HALF)
    one.run(1500)
    bring_on(one, "seat-leaks", *others)
    run_until(one, lambda it: it.keeper.lockouts, within_s)
    assert "48-SHT" in acting(one)


def test_the_valve_of_a_light_that_gets_no_water_shuts_though_the_meter_hums(tmp_path):
    one = twin(tmp_path, steady(0.0), HALF)
    run_until(one, RUNNING, 400)
    one.run(1800)
    one.leads.pulses(PULSES_DOWN, 5)
    bring_on(one, "hand-valve-shut")
    acted, _ = played(one, 30.0)
    assert acted[0] == "80-VLV"


# A lead that is open is no pump that runs dry

def test_an_open_lead_and_a_dry_pump_are_told_apart(tmp_path):
    firsts = []
    for name in ("pump-lead-open", "air-in-pump"):
        one = pumping(tmp_path / name)
        bring_on(one, name)
        acted, _ = played(one, 10.0)
        firsts.append(acted[0])
    assert firsts[0] != firsts[1]
    assert firsts == ["37-LED", "37-PMP"]


def test_a_thermostat_that_opens_is_told_as_an_open_lead(tmp_path):
    one = pumping(tmp_path)
    one.plant.thermostat_degC = -50.0
    acted, _ = played(one, 10.0)
    assert acted[0] == "37-LED"


# Lamps whose current reads too low

def test_a_generator_beyond_its_rating_is_stopped_and_the_lamps_reading_is_named(tmp_path):
    one = twin(tmp_path, steady(0.0), FULL)
    run_until(one, RUNNING, 400)
    one.run(1800)
    bring_on(one, "lamp-current-low")
    over_s, acted = 0.0, []
    for _ in range(round(1800 / SCAN_S)):
        one.step()
        acted += [name for name in acting(one) if name not in acted]
        down = one.plant.down
        over_s += SCAN_S * (down.generator_V * down.generator_A > RIG.generator.rated_power_W)
    # A minute a trial, and the way up and down.
    assert over_s < STARTS * 90.0
    assert acted[0] == "3-AMP"
