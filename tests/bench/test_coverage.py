"""The bench of coverage: what it draws, and that it would notice an interval that is off."""

import random
import statistics
from types import SimpleNamespace

import numpy as np
import pytest

from forebay.balance import Measured
from forebay.balance.ways import BOUNDS, MODEL, Told
from forebay.rig.known import MODEL as SECTION
from forebay.shelf.rows import total_values
from keeper import channels as ch
from keeper.modes import CLOSING, PUMPING, RUNNING, STANDSTILL, TRIAL
from tests.balance import rig as plant
from tests.balance.modest import ORCHARD
from tests.bench.coverage import biased, judged_whole, whole
from tests.bench.coverage.drawn import day_of, draw_known, off
from tests.bench.coverage.judged import printed

SURELY = 1e-9


def test_errors_have_a_deviation_of_one_and_end_where_a_triangle_does():
    # GUM 4.3.9: a triangle of half-width a has a deviation of a / sqrt 6.
    draw = random.Random(1)
    errors = [off(draw) for _ in range(20000)]
    assert statistics.pstdev(errors) == pytest.approx(1.0, abs=0.02)
    assert 2.3 < max(errors) <= 6**0.5


@pytest.mark.parametrize("key", [key.attribute for key in SECTION.keys])
def test_every_uncertainty_of_a_description_is_drawn(key):
    told = ORCHARD.plant()
    for other in SECTION.keys:
        told[f"model.{other.attribute}"] = 0.05 if other.attribute == key else SURELY
    true = dict(told)
    draw_known(random.Random(1), told, true)
    moved = [name for name in told if isinstance(told[name], float)
             and abs(true[name] - told[name]) > 1e-6 * abs(told[name])]
    assert moved


def test_a_day_follows_from_its_seed():
    assert day_of(ORCHARD, 7) == day_of(ORCHARD, 7)
    assert day_of(ORCHARD, 7).rig != day_of(ORCHARD, 8).rig


def found(value, told):
    return SimpleNamespace(energies={}, steps={}, water={"down": value}, told={"down": told})


@pytest.mark.parametrize(("litres", "holds"), [(101.9, True), (102.1, False), (97.9, False)])
def test_an_interval_holds_what_lies_within_two_standard_uncertainties(litres, holds):
    one = found(Measured(100.0).with_part("a", 1.0), Told(MODEL, "light"))
    ((_, is_bound, _, held),) = printed(one, {"down": litres})
    assert (is_bound, held) == (False, holds)


@pytest.mark.parametrize(("litres", "holds"), [(9.0, False), (11.0, True), (1e6, True)])
def test_bounds_hold_what_lies_between_them_and_an_open_side_holds_all(litres, holds):
    ((_, is_bound, _, held),) = printed(found(None, Told(BOUNDS, "tank", 10.0, None)),
                                        {"down": litres})
    assert (is_bound, held) == (True, holds)


# Rigs with every instrument ----------------------------------------------------------------


def test_a_whole_rigs_day_follows_from_its_seed_and_has_every_instrument():
    job = whole.job_of(7)
    assert whole.job_of(7) == job
    assert whole.job_of(8)["rig"] != job["rig"]
    assert not [key for key in job["rig"] if job["rig"][key] == "absent"]
    # Sun, a hold, light and a rest, within the lists of a day.
    assert 5.5 * 3600 < job["length_s"] < 12 * 3600
    assert job["presses"][0] + job["light_s"] < job["length_s"]


def test_about_half_of_the_tanks_leak():
    leaking = [whole.job_of(seed)["leak_m3_s"] > 0 for seed in range(1, 41)]
    assert 10 < sum(leaking) < 30


def test_a_leg_runs_from_the_first_to_the_last_of_its_kind():
    # Each of them is a time, a state, what the tank holds, its energy, what leaked and spilled.
    changes = [[0, CLOSING, 1.0, 10.0, 0, 0], [5, STANDSTILL, 1.0, 10.0, 0, 0],
               [10, TRIAL, 0.9, 9.0, 0.1, 0], [20, STANDSTILL, 1.1, 11.0, 0.1, 0],
               [30, TRIAL, 1.0, 10.0, 0.2, 0], [40, PUMPING, 1.2, 12.0, 0.2, 0],
               [50, STANDSTILL, 1.5, 15.0, 0.2, 0], [60, RUNNING, 1.4, 14.0, 0.3, 0],
               [70, CLOSING, 1.1, 11.0, 0.3, 0], [75, STANDSTILL, 1.0, 10.0, 0.3, 0],
               [80, STANDSTILL, 0.9, 9.0, 0.4, 0]]
    assert judged_whole.legs_of(changes) == [["fill", 2, 6], ["discharge", 7, 9]]
    true = judged_whole.true_figures({
        "changes": changes, "up": 700.0, "down": 400.0, "gained": -100.0, "pump": 20.0,
        "panel": 25.0, "generator": 1.0, "lamps": 1.0})
    # Filled 0.9 to 1.5 with 0.1 leaked in between, let down 1.4 to 1.0, the rest leaked.
    assert true["fill_residual"] == pytest.approx(100)
    assert true["discharge_residual"] == pytest.approx(0)
    assert true["rest_change"] == pytest.approx(-100 - 600 + 400)
    assert (true["stored"], true["released"]) == (pytest.approx(6), pytest.approx(4))
    assert true["leak"] == pytest.approx(400)


def test_a_biased_journal_reads_so_many_times_as_much_in_rows_and_totals():
    journal = plant.journal_of(plant.Errors())
    high = biased.scaled(journal, ch.PUMP_MA, 1.1)
    at = journal.rows.stored[ch.PUMP_MA]
    assert high.rows.stored[ch.PUMP_MA] == pytest.approx(1.1 * at, abs=0.5)
    grown = [total_values(one.totals["totals"])[-1, ch.T_PUMP] for one in (high, journal)]
    assert grown[0] == pytest.approx(1.1 * grown[1])
    rim = biased.bent(journal, "rim", 0.1, 1.1).rows.stored[ch.LEVEL_MM]
    level = journal.rows.stored[ch.LEVEL_MM]
    assert rim == pytest.approx(level + 100 * np.sin(np.pi / 2 * level / 1100), abs=0.5)


def test_a_bias_is_identifiable_only_where_another_meter_does_not_explain_it():
    pair = {"generator": Measured(0.0, {"II-GEN": 10.0, "II-LMP": -10.0}).with_noise(1.0)}
    assert not biased.is_identifiable(pair, plant.DEMO.sensors, "II-GEN", 20.0)
    alone = {"fill": Measured(0.0, {"FI-UP": 20.0}).with_noise(1.0)}
    assert biased.is_identifiable(alone, plant.DEMO.sensors, "FI-UP", 5.0)
    assert not biased.is_identifiable(alone, plant.DEMO.sensors, "FI-UP", 4.0)
    assert not biased.is_identifiable(alone, plant.DEMO.sensors, "FI-DN", 9.0)
