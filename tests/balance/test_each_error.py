"""Each error of a meter, one at a time: what it does to every figure, and how large it is.

The reference is the journal of a plant whose meters are wrong by one error, not the
balance's own model: a figure must move by just the signed part that it books for that
source, so a wrong factor, sensitivity or sign and a correlation that is dropped all show.
Sizes come from the meters' specification: half-widths over sqrt 3, full widths over
sqrt 12 (GUM 4.3.7, F.2.2.1), noise of scan after scan by the library `uncertainties`.
"""

import math
from copy import deepcopy
from typing import Any

import numpy as np
import pytest
from scipy.stats import norm
from uncertainties import ufloat

from forebay.balance import balance_of
from forebay.balance.instruments import Meters, rounding_bias
from keeper import channels as ch
from tests.balance import rig as plant

# channel of the journal -> the instrument's tag (ISA-5.1; hardware's list of instruments)
TAGS = {
    "panel_mV": "EI-PAN", "panel_mA": "II-PAN", "pump_mA": "II-PMP", "generator_mV": "EI-GEN",
    "generator_mA": "II-GEN", "lamp_mA": "II-LMP", "supply_mV": "EI-SUP", "supply_mA": "II-SUP",
    "flow_up_uL_s": "FI-UP", "flow_down_uL_s": "FI-DN",
}
# The demo's stated standard uncertainties (its design, section on uncertainties).
GAIN_FRAC = {"mV": 0.005, "mA": 0.01, "uL_s": 0.02}
LEVEL_MM = 5.0
CLAMPED_V = 15.6          # on a clamp of 15 V and 2 ohm


def figures(found):
    """Returns {name: Measured} of all that a balance says with an uncertainty."""
    return {**found.energies, **found.nodes, **found.water,
            **{name: one for name, one in found.steps.items() if one is not None}}


def balanced(errors, rig=plant.DEMO):
    return figures(balance_of(plant.journal_of(errors), plant.clock(), rig))


def moved(change, size, rig=plant.DEMO):
    """Returns {figure: by how much it moves for an error of `size`}, by central difference."""
    values = []
    for sign in (1, -1):
        errors = plant.Errors()
        change(errors, sign * size)
        values.append({name: one.value for name, one in balanced(errors, rig).items()})
    high, low = values
    return {name: (high[name] - low[name]) / 2 for name in high}


def agree(booked, source, expected, share=0.01):
    """Asserts that every figure books for `source` what it moves by.

    share: of the figure's uncertainty, below which the journal's steps hide a movement.
    """
    for name, one in booked.items():
        assert one.parts.get(source, 0.0) == pytest.approx(
            expected[name], rel=0.01, abs=share * one.u), name


@pytest.mark.parametrize(("channel", "volts"), [
    *[(channel, plant.GENERATOR_V) for channel in TAGS], ("generator_mV", CLAMPED_V)])
def test_a_gain_error_moves_every_figure_by_the_part_that_it_books(monkeypatch, channel, volts):
    monkeypatch.setattr(plant, "GENERATOR_V", volts)
    tried = 0.02           # larger than the journal's steps, small enough to stay linear

    def change(errors, size):
        errors.scale[channel] = size

    frac = next(size for unit, size in GAIN_FRAC.items() if channel.endswith(unit))
    expected = {name: one * frac / tried for name, one in moved(change, tried).items()}
    agree(balanced(plant.Errors()), TAGS[channel], expected)


@pytest.mark.parametrize("end", ["floor", "rim"])
def test_an_error_of_the_level_moves_every_figure_by_the_part_that_it_books(monkeypatch, end):
    # Much water, so that the levels at both ends of a leg do not share their errors.
    for name, value in (("UP_M3_S", 180e-6), ("DOWN_M3_S", 50e-6), ("START_LEVEL_M", 0.15)):
        monkeypatch.setattr(plant, name, value)
    tried_mm = 100.0       # against the journal's step of 1 mm

    def change(errors, size):
        errors.level_mm = (size, 0.0) if end == "floor" else (0.0, size)

    expected = {name: one * LEVEL_MM / tried_mm for name, one in moved(change, tried_mm).items()}
    agree(balanced(plant.Errors()), "LI-UP " + end, expected, share=0.02)


# Meters that round coarsely and have no noise that would average it away.
STEP_A, STEP_V = 0.004, 0.04


def _coarse():
    rig = deepcopy(plant.DEMO)
    rig.sensors.current_resolution_A, rig.sensors.current_noise_frac = STEP_A, 0.0
    rig.sensors.voltage_resolution_V, rig.sensors.voltage_noise_V = STEP_V, 0.0
    return rig


@pytest.mark.parametrize("channel", [one for one in TAGS if one[-2:] in ("mA", "mV")])
def test_a_reading_that_is_rounded_the_same_way_all_day_moves_what_it_books(channel):
    # Without noise every reading of a steady current is off by the same, which lies
    # anywhere in the last digit: a full width of one step, over sqrt 12.
    step = STEP_A if channel.endswith("mA") else STEP_V
    rig = _coarse()

    def change(errors, size):
        errors.offset[channel] = size

    expected = moved(change, 1e3 * step / math.sqrt(12), rig)
    found = balanced(plant.Errors(), rig)
    if channel.endswith("mV"):
        # The charger's ratio of voltages leaves a rounding out: beside the gain it is nothing.
        for name in ("charge", "panel_node"):
            del found[name]
    agree(found, TAGS[channel] + " rounding", expected)


def test_nothing_else_is_booked_but_errors_of_meters_that_are_there():
    named = set(TAGS.values())
    known = named | {one + end for one in named for end in (" rounding", " floor")} | {
        "LI-UP floor", "LI-UP rim", "what the valve's motor is said to take"}
    for one in balanced(plant.Errors()).values():
        assert {source for source in one.parts if isinstance(source, str)} <= known
        assert one.u == pytest.approx(math.sqrt(sum(part**2 for part in one.parts.values())))


def noise_of(one):
    """Returns what a figure books as noise: what is new at every reading."""
    return math.sqrt(sum(part**2 for source, part in one.parts.items()
                         if not isinstance(source, str)))


# energy -> current's range [A], V, A, how many scans a reading of volts and of amps
# stands: panel, lamps and supply are read in turn, one a scan; pump and generator always
FLOWING = {
    "panel": (8.0, 24.0, 0.85, 3, 3),
    "pump": (2.0, 24.0, 0.75, 3, 1),
    "generator": (0.4, 12.0, 0.05, 1, 1),
    "lamps": (0.4, 12.0, 0.05, 1, 3),
}


@pytest.mark.parametrize("name", FLOWING)
def test_noise_of_an_energy_is_that_of_a_sum_over_its_readings(name):
    # The library sums products of readings, each with noise of its own; a reading that
    # stands for three scans brings the same noise three times.
    full_A, volts, amps, volts_stand, amps_stand = FLOWING[name]
    seconds = plant.FILL_S if name in ("panel", "pump") else plant.LIGHT_S
    scans = 60             # a whole number of turns; the sum's noise grows with the root
    # The library's operators are made at run time, out of a type checker's sight.
    volt: list[Any] = [ufloat(volts, 0.02) for _ in range(scans // volts_stand)]
    amp: list[Any] = [ufloat(amps, 0.001 * full_A) for _ in range(scans // amps_stand)]
    joules: Any = sum(volt[scan // volts_stand] * amp[scan // amps_stand] * 0.1
                 for scan in range(scans))
    expected = joules.std_dev * math.sqrt(seconds * 10 / scans)
    found = balanced(plant.Errors())[name]
    assert noise_of(found) == pytest.approx(expected, rel=2e-3)


def test_noise_of_the_battery_s_energies_stands_for_three_scans_each():
    # 12.8 V with 20 mV, 0.8 mA on 15.6 mA out (0.2 W) and 84.4 mA in, three scans each.
    found = balanced(plant.Errors())
    for name, amps, seconds in (("supply_out", 0.2 / 12.8, 8800), ("supply_in", 0.084375, 4000)):
        watt = math.hypot(12.8 * 0.8e-3, amps * 0.02)
        expected = watt * math.sqrt(3 * 0.1 * seconds)
        assert noise_of(found[name]) == pytest.approx(expected, rel=2e-3), name


def test_noise_of_a_gain_in_level_is_that_of_its_rows_each_rounded_to_a_whole_millimetre():
    # 1.0 m2: a litre a millimetre.  100 readings of 5 mm each; their mean is stored in steps
    # of 1 mm, a full width of which is 1 / sqrt 12 (GUM F.2.2.1).  At the end there is light:
    # its last two rows are drawn on to it, 1.5 x - 0.5 y.
    found = balanced(plant.Errors())["gained"]
    expected = math.sqrt(1 + 1.5**2 + 0.5**2) * math.sqrt(25 / 100 + 1 / 12)
    assert noise_of(found) == pytest.approx(expected, rel=1e-6)


def test_a_few_readings_of_a_level_are_as_noisy_as_the_library_says():
    rig = deepcopy(plant.DEMO.sensors)
    readings: list[Any] = [ufloat(0.5, 0.005) for _ in range(7)]
    # A row without a scan is one reading at best, not an exact level.
    rounded: Any = ufloat(0.0, 0.001 / math.sqrt(12))
    mean: Any = sum(readings) / len(readings) + rounded
    one: Any = readings[0] + rounded
    assert Meters(rig).level_noise_m(np.array([7, 0])) == pytest.approx(
        [mean.std_dev, one.std_dev])


def test_a_digit_that_is_rounded_once_counts_once():
    rig = deepcopy(plant.DEMO.sensors)
    rig.level_noise_m = 0.0
    for resolution_mm in (1, 3):     # without noise the mean of such readings is one of them
        rig.level_resolution_m = 0.001 * resolution_mm
        assert Meters(rig).level_noise_m(np.array([7])) == pytest.approx(
            [rig.level_resolution_m / math.sqrt(12)])


def test_a_level_is_as_uncertain_at_every_height_and_floor_and_rim_are_two_errors():
    meters = Meters(plant.DEMO.sensors)

    def at(share):
        return meters.level(share * 1.1, 1.1)

    for share in (0.0, 0.1, 0.5, 0.9, 1.0, 1.2, -0.1):
        assert at(share).u == pytest.approx(0.005)
    assert (at(1.0) - at(0.0)).u == pytest.approx(0.005 * math.sqrt(2))
    assert (at(0.3) - at(0.3)).u == pytest.approx(0, abs=1e-8)
    # Half way apart: 2 sin(45 deg / 2) of it, so that close levels share their error.
    assert (at(0.75) - at(0.25)).u == pytest.approx(0.005 * 0.765367, rel=1e-5)


@pytest.mark.parametrize("noise", [0.0, 0.02, 0.05, 0.1, 0.2, 0.3, 0.4, 0.6])
def test_the_bias_of_a_rounded_mean_is_that_of_a_gaussian_on_a_grid(noise):
    # The mean of round(x + n) by the normal distribution's own integrals (scipy), its
    # root mean square over x anywhere between two marks.
    places = (np.arange(400) + 0.5) / 400
    if noise:
        marks = np.arange(-8, 9)
        shares = (norm.cdf((marks[:, None] + 0.5 - places) / noise)
                  - norm.cdf((marks[:, None] - 0.5 - places) / noise))
        means = (marks[:, None] * shares).sum(axis=0)
    else:
        means = np.round(places)
    bias = math.sqrt(np.mean((means - places) ** 2))
    assert rounding_bias(1.0, noise) == pytest.approx(bias, rel=0.01, abs=1e-9)
    assert rounding_bias(0.01, 0.01 * noise) == pytest.approx(0.01 * bias, rel=0.01, abs=1e-9)


def test_no_rounding_is_no_bias():
    assert rounding_bias(0.0, 0.1) == 0.0


def test_pulses_hidden_at_both_ends_of_each_run_scatter_as_said():
    # A wheel with a magnet: the count of a run is what passes the mark, from any place.
    draw = np.random.default_rng(11)
    runs, tries = 5, 40000
    places, due = draw.uniform(size=(2, tries, runs))
    counted = np.floor(places + 20 + due).sum(axis=1)
    off = counted - (20 + due).sum(axis=1)
    found = Meters(plant.DEMO.sensors).volume(0.0, ch.FLOW_UP, runs)
    assert found.u * 450 == pytest.approx(off.std(), rel=0.02)


def test_water_below_a_meters_floor_is_missed_by_anything_up_to_the_floor(monkeypatch):
    # 10 mL/s where the meter is good from 1 L/min: of 16.667 - 10 mL/s anything may be
    # missing.  Root mean square of a rectangle from nothing to all of it: over sqrt 3.
    monkeypatch.setattr(plant, "DOWN_M3_S", 10e-6)
    found = balanced(plant.Errors())["down"]
    missed = np.random.default_rng(3).uniform(0, (1000 / 60 - 10) * 1e-3 * plant.LIGHT_S, 10**5)
    expected = math.sqrt(np.mean(missed**2))
    assert found.parts["FI-DN floor"] == pytest.approx(expected, rel=0.01)


def test_a_meter_that_is_not_read_has_missed_nothing_known():
    meters = Meters(plant.DEMO.sensors)
    flow = np.array([np.nan, 10e-6, 50e-6])
    seconds = np.array([100.0, 60.0, 60.0])
    assert meters.unseen_litres(flow, seconds) == pytest.approx((1 / 60 - 0.01) * 60)


def test_a_load_that_is_only_stated_is_known_to_a_fifth_either_way():
    journal = plant.journal_of(plant.Errors())
    # No dark hour: the panel gives a little in every row.
    journal.rows.stored[ch.PANEL_MA][journal.rows.stored[ch.PANEL_MA] < 10] = 10
    journal.rows.stored[ch.PANEL_MV][journal.rows.stored[ch.PANEL_MV] < 500] = 500
    found = balance_of(journal, plant.clock(), plant.DEMO)
    seconds = plant.FILL_S + 2 * plant.REST_S + plant.LIGHT_S
    load = found.energies["board_load"]
    assert load.value == pytest.approx(0.2 * seconds, rel=1e-4)
    assert load.parts["stated board load"] == pytest.approx(0.04 * seconds / math.sqrt(3),
                                                            rel=1e-4)
    assert any("stated for the rig" in note for note in found.notes)


def test_each_monitors_noise_is_a_share_of_its_own_range():
    sensors = deepcopy(plant.DEMO.sensors)
    ranges = {"panel": ch.PANEL_MA, "pump": ch.PUMP_MA, "generator": ch.GENERATOR_MA,
              "lamp": ch.LAMP_MA, "supply": ch.SUPPLY_MA}
    for place, name in enumerate(ranges, 1):
        setattr(sensors, name + "_range_A", float(place))
    meters = Meters(sensors)
    assert [meters.current_range_A(channel) for channel in ranges.values()] == [1, 2, 3, 4, 5]
