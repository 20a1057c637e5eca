"""The balance of plants whose truth is known: values, uncertainties, gaps, limits."""

from dataclasses import replace

import numpy as np
import pytest

from forebay.balance import balance, balance_of
from forebay.balance.model import ENERGIES, NODES, STEPS, WATER
from forebay.shelf import Rows, Shelf, ShelfError
from keeper import channels as ch
from keeper import elements, events, modes
from tests.balance import rig as plant

SEEDS = range(60)
# Three standard deviations of a sample's deviation, and of its mean, about 1 and 0.
SCATTER, OFF = 3 / (2 * len(SEEDS)) ** 0.5, 3 / len(SEEDS) ** 0.5


@pytest.fixture(scope="module")
def ideal():
    return balance_of(plant.journal_of(plant.Errors()), plant.clock(), plant.DEMO)


@pytest.fixture(scope="module")
def drawn():
    """Balances of many rigs, each with calibration errors and noise of its own."""
    return [
        balance_of(plant.journal_of(plant.Errors(seed)), plant.clock(), plant.DEMO)
        for seed in SEEDS
    ]


@pytest.mark.parametrize("name", sorted(plant.TRUE_ENERGY_J))
def test_perfect_meters_give_the_true_energies(ideal, name):
    assert ideal.energies[name].value == pytest.approx(plant.TRUE_ENERGY_J[name], rel=2e-3)


def test_the_energy_of_the_lifted_water_is_that_of_its_centroid(ideal):
    # 55 mL/s x 4000 s = 220 L on 1.0 m2: from 0.060 to 0.280 m, so the centroid
    # lies 9.0 + 0.170 m above the nozzle.  999.5 kg/m3 at 12 degC, g = 9.7991
    # m/s2 at 38 deg and 300 m: 0.220 x 999.5 x 9.7991 x 9.170 = 19759 J.
    assert ideal.energies["stored"].value == pytest.approx(19759, rel=2e-3)
    assert ideal.water["up"].value == pytest.approx(220, abs=0.1)
    assert ideal.water["down"].value == pytest.approx(216, abs=0.1)


def test_perfect_meters_leave_no_residual(ideal):
    for residual in (*ideal.nodes.values(), ideal.water["fill_residual"],
                     ideal.water["discharge_residual"], ideal.water["rest_change"]):
        assert abs(residual.normalised) < 0.3


def test_hours_and_counts(ideal):
    assert ideal.pump_h == pytest.approx(plant.FILL_S / 3600, abs=1e-3)
    assert ideal.light_h == pytest.approx(plant.LIGHT_S / 3600, abs=1e-3)
    assert (ideal.trips, ideal.boots, ideal.gaps) == (0, 1, 0)
    assert ideal.begin_utc_s == pytest.approx(1.5e9)


def test_each_figure_is_named_in_plain_words_in_the_order_of_the_tables(ideal):
    for figures, table in ((ideal.energies, ENERGIES), (ideal.nodes, NODES),
                           (ideal.water, WATER), (ideal.steps, STEPS)):
        assert list(figures) == [key for key, _ in table]
        assert all(" " in words for _, words in table)


def test_the_round_trip_is_the_product_of_its_steps(ideal):
    steps = ideal.steps
    expected = steps["wire_to_water"].value * steps["water_to_wire"].value
    assert steps["round_trip"].value == pytest.approx(expected)


@pytest.mark.parametrize("name", ["panel_node", "generator_node"])
def test_node_residuals_scatter_as_their_uncertainty_says(drawn, name):
    scatter = np.std([one.nodes[name].normalised for one in drawn])
    assert abs(scatter - 1) < SCATTER


@pytest.mark.parametrize("name", ["fill_residual", "discharge_residual"])
def test_water_residuals_scatter_as_their_uncertainty_says(drawn, name):
    scatter = np.std([one.water[name].normalised for one in drawn])
    assert abs(scatter - 1) < SCATTER


@pytest.mark.parametrize("name", sorted(plant.TRUE_ENERGY_J))
def test_energies_scatter_about_the_truth_as_their_uncertainty_says(drawn, name):
    errors = [(one.energies[name].value - plant.TRUE_ENERGY_J[name]) / one.energies[name].u
              for one in drawn]
    assert abs(np.std(errors) - 1) < SCATTER
    assert abs(np.mean(errors)) < OFF


def test_missing_rows_are_bridged_by_totals_and_said():
    errors = plant.Errors(3)
    whole = balance_of(plant.journal_of(plant.Errors(3)), plant.clock(), plant.DEMO)
    holed = balance_of(plant.journal_of(errors, range(100, 160)), plant.clock(), plant.DEMO)
    for name in ("panel", "pump", "generator", "lamps"):
        assert holed.energies[name].value == whole.energies[name].value
    assert (holed.gaps, holed.gap_s) == (1, 600.0)
    assert any("bridged" in note for note in holed.notes)
    charge = holed.energies["charge"]
    assert abs(charge.value - plant.TRUE_ENERGY_J["charge"]) < 3 * charge.u


def test_a_boot_cut_between_two_records_is_closed_by_what_the_next_begins_with(ideal):
    whole = plant.journal_of(plant.Errors())
    last = whole.totals[-1]
    start = np.zeros(1, whole.events.dtype)
    start["boot"], start["code"], start["state"] = 2, events.BOOT, modes.CLOSING
    start["totals"] = last["totals"]
    early = whole.totals["uptime_ds"] < last["uptime_ds"] - 9000
    cut = replace(whole, totals=whole.totals[early],
                  events=np.concatenate([whole.events, start]))
    found = balance_of(cut, plant.clock(), plant.DEMO)
    assert found.light_h == ideal.light_h
    assert found.water["down"].value == ideal.water["down"].value
    assert found.energies["lamps"].value == ideal.energies["lamps"].value
    rest = found.water["rest_change"]
    assert abs(rest.value) < 0.3 * rest.u


def test_water_that_leaves_while_the_board_is_off_is_no_light(ideal):
    whole = plant.journal_of(plant.Errors())
    last = whole.rows.take(np.arange(len(whole.rows)) == len(whole.rows) - 1)
    later = replace(last, boot=last.boot + 1, uptime_ds=last.uptime_ds * 0 + 22,
                    scans=last.scans * 0 + 22, stored=last.stored.copy())
    later.state[:] = modes.CLOSING
    fall_mm = 19  # of 1.0 m2: 19 L; the journal's step of a level is 1 mm
    later.stored[ch.LEVEL_MM] -= fall_mm
    rows = Rows(**{name: np.concatenate([part, vars(later)[name]], axis=-1)
                   for name, part in vars(whole.rows).items()})
    found = balance_of(replace(whole, rows=rows), plant.clock(), plant.DEMO)
    change = found.water["rest_change"].value - ideal.water["rest_change"].value
    assert change == pytest.approx(-fall_mm, abs=0.5)
    residual = found.water["discharge_residual"]
    assert abs(residual.value) < 0.3 * residual.u


def test_a_day_without_water_has_no_efficiencies():
    journal = plant.journal_of(plant.Errors(4))
    still = journal.rows.state == modes.STANDSTILL
    still &= journal.rows.uptime_ds < plant.REST_S * 10
    quiet = plant.Journal(journal.rows.take(still), journal.events[:1],
                          journal.totals[journal.totals["uptime_ds"] < plant.REST_S * 10],
                          journal.summaries, journal.findings)
    found = balance_of(quiet, plant.clock(), plant.DEMO)
    assert found.steps == dict.fromkeys(found.steps)


def test_an_empty_journal_is_a_balance_of_nothing():
    found = balance_of(plant.decode([]), plant.clock(), plant.DEMO)
    assert found.covered_s == 0
    assert found.energies["panel"].value == 0
    assert found.begin_utc_s is None


def test_a_heating_clamp_is_found_from_its_voltage():
    journal = plant.journal_of(plant.Errors())
    light = journal.rows.state == modes.RUNNING
    # 15.6 V on a clamp of 15 V and 2 ohm: 0.3 A, 4.68 W for 8000 s.
    journal.rows.stored[ch.GENERATOR_MV][light] = 1560
    found = balance_of(journal, plant.clock(), plant.DEMO)
    assert found.energies["clamp"].value == pytest.approx(4.68 * plant.LIGHT_S, rel=1e-3)


def test_untrusted_readings_are_left_out_of_rows():
    journal = plant.journal_of(plant.Errors())
    journal.rows.stored[ch.SUPPLY_MA][200:210] = -32768
    journal.rows.stored[ch.LEVEL_MM][5:15] = -32768
    found = balance_of(journal, plant.clock(), plant.DEMO)
    assert found.energies["board_load"].value == pytest.approx(
        plant.TRUE_ENERGY_J["board_load"], rel=2e-3)
    assert np.isfinite(found.water["fill_residual"].value)


def test_trips_are_counted_and_stops_are_not():
    journal = plant.journal_of(plant.Errors())
    more = np.repeat(journal.events[1:2], 2)
    more["code"] = events.ACTED
    more["argument2"] = [elements.TRIP, elements.STOP]
    journal.events = np.concatenate([journal.events, more])
    assert balance_of(journal, plant.clock(), plant.DEMO).trips == 1


def test_a_period_keeps_what_lies_within_it():
    journal = plant.journal_of(plant.Errors())
    end_s = 1.5e9 + plant.REST_S + plant.FILL_S + plant.REST_S / 2
    found = balance_of(journal, plant.clock(), plant.DEMO, period=(0, end_s))
    assert found.energies["pump"].value == pytest.approx(plant.TRUE_ENERGY_J["pump"], rel=2e-3)
    assert found.energies["lamps"].value == 0


def test_json_has_a_unit_in_every_key_of_a_quantity(ideal):
    document = ideal.as_json()
    assert document["energy_J"]["pump"]["value"] == pytest.approx(72000, rel=1e-3)
    assert {"light_h", "pump_h", "covered_s", "water_L", "node_residual_J"} < set(document)


def test_an_empty_shelf_has_no_balance(tmp_path):
    with Shelf(tmp_path / "s") as shelf, pytest.raises(ShelfError, match="pull a board first"):
        balance(shelf, plant.DEMO)
