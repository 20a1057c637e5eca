"""Figures of rigs that lack instruments: by which way, how sure, and what is not told."""

from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from forebay.balance import balance_of
from forebay.balance.figures import HOW, WITHIN
from forebay.balance.light import flow_m3_s
from forebay.balance.model import ENERGIES, NODES, STEPS, WATER
from forebay.balance.parts import PARTS
from forebay.balance.ways import BOUNDS, BY_FIGURE, MEASURED, MODEL, UNKNOWN, WAYS
from forebay.rig.governing import turbine_set
from forebay.rig.instruments import ABSENT, BY_NAME
from keeper import channels as ch
from keeper.journal.rows import NOT_TRUSTED
from keeper.modes import PUMPING, RUNNING
from tests.balance import rig as plant
from tests.balance.modest import ORCHARD, evening, with_instruments

DOZEN = range(12)
FIGURES = [key for table in (ENERGIES, NODES, WATER, STEPS) for key, _ in table]
# Totals that a meter feeds: without it they stand still.
FED = {"panel_meter": (ch.T_PANEL,), "pump_meter": (ch.T_PUMP,), "flow_up": (ch.T_UP,),
       "generator_meter": (ch.T_GENERATOR,), "lamp_meter": (ch.T_LAMP,),
       "supply_meter": (ch.T_SUPPLY_IN, ch.T_SUPPLY_OUT), "flow_down": (ch.T_DOWN,)}


def balanced(journal, rig: Any = ORCHARD):
    return balance_of(journal, plant.clock(), rig)


def all_of(found):
    return found.energies | found.nodes | found.water | found.steps


def without(*names):
    """The balance of the full demo's plant without some instruments."""
    journal = plant.journal_of(plant.Errors())
    gone = dict.fromkeys(names, ABSENT)
    left = {place for name, one in BY_NAME.items() if name not in names for place in one.reads}
    for name in names:
        for place in BY_NAME[name].reads:
            if place < ch.COLUMNS and place not in left:
                journal.rows.stored[place] = NOT_TRUSTED
        for total in FED.get(name, ()):
            for table in (journal.events, journal.totals):
                table["totals"][:, total] = 0
    return balanced(journal, with_instruments(SimpleNamespace(**vars(plant.DEMO)), gone))


# The table --------------------------------------------------------------------------------


def test_every_figure_has_a_way_and_every_way_an_end():
    assert set(BY_FIGURE) == set(FIGURES)
    steps = {key for key, _ in STEPS}
    assert set(HOW) == {way for way in WAYS if way.kind == MODEL and way.figure not in steps}
    assert set(WITHIN) == {way.figure for way in WAYS if way.kind == BOUNDS}


def test_a_meter_goes_before_a_model_and_a_model_before_bounds():
    order = [MEASURED, MODEL, BOUNDS]
    for ways in BY_FIGURE.values():
        kinds = [order.index(way.kind) for way in ways]
        assert kinds == sorted(kinds)


def test_what_a_way_needs_are_instruments_and_what_it_may_lack_has_its_effort():
    for way in WAYS:
        for need in way.needs:
            assert {*need.split("|")} <= set(BY_NAME)
            assert need.split("|")[0] in PARTS or "|" in need
        assert set(way.uses) <= set(BY_FIGURE)
    for part in PARTS.values():
        assert part.minutes > 0
        assert part.effort


# The full rig -----------------------------------------------------------------------------


def test_a_rig_with_every_meter_has_no_model_and_lacks_nothing():
    found = without()
    assert {one.kind for one in found.told.values()} == {MEASURED}
    assert found.telling is None
    assert not found.has_models


@pytest.mark.parametrize("name", sorted(FED) + ["level"])
def test_what_one_meter_less_takes_away_is_no_zero_and_the_rest_stays(name):
    whole, found = without(), without(name)
    for key, value in all_of(found).items():
        told = found.told[key]
        if told.kind == MEASURED:
            assert value is None or value.value == pytest.approx(all_of(whole)[key].value)
        if told.kind == UNKNOWN:
            assert value is None
            assert told.by


@pytest.mark.parametrize(("names", "key", "by"), [
    (["panel_meter"], "panel", "pump and charger"),
    (["pump_meter"], "pump", "panel less charger"),
    (["supply_meter"], "charge", "panel less pump"),
    (["generator_meter"], "generator", "lamps and clamp: nothing else is on its wires"),
    (["lamp_meter"], "lamps", "generator less clamp"),
    (["supply_meter"], "board_load", "the load that is stated for the board")])
def test_an_energy_without_its_meter_follows_from_those_beside_it(names, key, by):
    found = without(*names)
    assert found.told[key][:2] == (MODEL, by)
    expected = plant.TRUE_ENERGY_J[key]
    value = found.energies[key]
    assert value.value == pytest.approx(expected, rel=3e-3)
    assert value.u > 0


@pytest.mark.parametrize(("names", "key", "litres", "by"), [
    (["flow_up"], "up", 220, "what the tank gained while the pump ran"),
    (["flow_down"], "down", 216, "what the tank lost while there was light"),
    (["level"], "gained", 4, "pumped up less let down")])
def test_water_without_its_meter_follows_from_the_other_two(names, key, litres, by):
    found = without(*names)
    assert found.told[key][:2] == (MODEL, by)
    assert found.water[key].value == pytest.approx(litres, abs=1.0)
    assert found.water[key].u > 0


def test_energy_in_water_without_a_level_is_volume_times_mean_head():
    # 220 L at 999.5 kg/m3 and 9.7991 m/s2; 1 m2 and 1.1 m: full at 0.96 m by the float.
    found = without("level")
    assert found.told["stored"].kind == MODEL
    expected = 0.220 * 999.5 * 9.7991 * (9.0 + 0.48)
    assert found.energies["stored"].value == pytest.approx(expected, rel=5e-3)
    # Anywhere between floor and float: 0.48 m / sqrt 3 of 9.48 m, 2 % of the meter,
    # 5 cm of the height.
    share = np.sqrt((0.48 / 3**0.5 / 9.48) ** 2 + 0.02**2 + (0.05 / 9.48) ** 2)
    assert found.energies["stored"].u / found.energies["stored"].value == pytest.approx(
        share, rel=0.02)


def test_a_residual_that_lacks_a_side_is_not_there_and_says_which():
    found = without("panel_meter", "level")
    assert found.nodes["panel_node"] is None
    assert found.told["panel_node"].by == "no meter of the panel"
    assert found.water["fill_residual"] is None
    assert found.told["fill_residual"].by == "no level sensor in the upper tank"
    assert found.nodes["generator_node"] is not None


def test_an_instrument_that_was_never_read_is_as_absent_and_told():
    journal = plant.journal_of(plant.Errors())
    journal.rows.stored[ch.FLOW_UP] = NOT_TRUSTED
    found = balanced(journal, plant.DEMO)
    assert found.told["up"].kind == MODEL
    assert any("flow in the rising main" in note for note in found.notes)


# The smallest rig -------------------------------------------------------------------------


def test_the_smallest_rig_tells_what_it_can_and_names_the_rest():
    found = balanced(evening()[0])
    kinds = {key: one.kind for key, one in found.told.items()}
    assert kinds["lamps"] == MEASURED
    for key in ("generator", "released", "board_load", "down", "water_to_wire"):
        assert kinds[key] == MODEL, key
    for key in ("panel", "charge", "supply_in", "rest_change", "panel_node", "round_trip"):
        assert kinds[key] == UNKNOWN, key
        assert all_of(found)[key] is None
        assert found.told[key].by


def test_the_part_that_would_tell_the_most_is_found_over_the_table():
    telling = balanced(evening()[0]).telling
    assert telling
    assert telling.instrument == "level"
    assert {"up", "gained", "stored"} <= set(telling.known)
    # Of both sides of the panel's node either would do for the other; the battery's tells
    # of the battery as well.
    one = without("pump_meter", "supply_meter")
    assert one.told["pump"].kind == BOUNDS
    assert one.telling
    assert one.telling.instrument == "supply_meter"
    assert {"pump", "charge", "supply_in", "supply_out"} <= set(one.telling.known)


def test_between_two_moves_of_the_floats_water_is_known_without_a_flow():
    journal, true = evening(hours=8.0)
    found = balanced(journal)
    assert found.told["down"].by == "between moves of the floats"
    down = found.water["down"]
    assert abs(true["down"] - down.value) < 2 * down.u
    # 2 % of the area on 196 L, 8 mm on 0.264 m2, a pipe's width of 4.2 L / 2 sqrt 3.
    assert down.u == pytest.approx(np.sqrt(3.9**2 + 2.1**2 + 1.2**2), rel=0.03)


def test_light_that_ends_before_the_drum_does_is_turned_into_water_by_what_a_litre_gives():
    journal, true = evening(hours=3.0)
    found = balanced(journal)
    assert found.told["down"].by == "the light, and what a litre gives"
    # The journal's row has whole milliamps, of 30.
    assert found.water["down"].value == pytest.approx(true["down"], rel=1 / 60)
    # Its efficiency would be that of the description itself.
    assert found.steps["water_to_wire"] is None
    assert found.told["water_to_wire"].kind == UNKNOWN


def test_what_the_pump_lifted_before_the_first_move_of_a_float_has_bounds():
    journal, true = evening(start=0.5)
    told = balanced(journal).told["up"]
    assert told.kind == BOUNDS
    assert told.low <= true["up"] <= told.high


def test_the_clamp_carries_nothing_below_its_voltage_and_what_it_does_above_is_uncertain():
    journal, _ = evening()
    assert balanced(journal).energies["clamp"].value == 0
    journal.rows.stored[ch.GENERATOR_MV][journal.rows.stored[ch.GENERATOR_MV] > 0] = 450
    clamp = balanced(journal).energies["clamp"]
    # 0.2 V over 4.3 V on 0.5 ohm; one that begins 5 % lower takes twice as much.
    assert clamp.parts["where the clamp begins"] == pytest.approx(
        clamp.value * 0.05 * 4.3 / 0.2, rel=1e-6)


@pytest.mark.parametrize("power_W", [0.02, 0.08, 0.15])
def test_the_flow_by_volts_and_amps_is_that_of_the_machine_in_its_balance_of_torque(power_W):
    machine = turbine_set(ORCHARD.plant())
    head_m = 8.4
    flow, _, volts, watts = machine.steady(
        machine.travel_for_frac(machine.flow_for_lamps_m3_s(power_W), head_m), head_m)
    assert watts == pytest.approx(power_W, rel=1e-6)
    found = flow_m3_s(machine, np.array([volts]), np.array([watts / volts]))
    assert found == pytest.approx([flow], rel=1e-6)


def test_lamps_that_go_out_without_having_shone_are_no_empty_tank():
    journal, _ = evening(hours=3.0)
    lit = journal.rows.stored[ch.LAMP_MA] > 0
    journal.rows.stored[ch.LAMP_MA] = 0
    journal.rows.stored[ch.GENERATOR_MV][lit] = 0
    assert balanced(journal).told["down"].kind == MODEL
    assert balanced(journal).told["gained"].kind == BOUNDS


@pytest.fixture(scope="module")
def dozen():
    """(figure, off in standard uncertainties) of a dozen rigs, full evenings and short ones."""
    offs = []
    for seed in DOZEN:
        journal, true = evening(seed, hours=8.0 if seed % 2 else 3.0,
                                power_W=0.15 if seed % 3 else 0.08)
        found = balanced(journal)
        for key in ("lamps", "down", "released"):
            value = all_of(found)[key]
            offs.append((key, (true[key] - value.value) / value.u))
        for key in ("up", "stored"):
            told = found.told[key]
            assert told.low <= true[key] <= told.high
    return offs


@pytest.mark.parametrize("key", ["lamps", "down", "released"])
def test_the_intervals_of_a_dozen_rigs_hold_the_truth_and_are_not_idly_wide(dozen, key):
    offs = np.array([value for name, value in dozen if name == key])
    assert abs(offs).max() < 3
    # Three standard deviations of a root mean square of a dozen, about 1.
    assert np.sqrt((offs**2).mean()) == pytest.approx(1.0, abs=3 / np.sqrt(2 * len(DOZEN)))


def test_a_light_that_stays_dark_after_an_empty_tank_took_no_water():
    """Tries of a light in the night, the pump switched on between, once undid the float's way."""
    journal, _ = evening(hours=8.0)
    whole = balanced(journal)
    journal.rows.state[-20:-10] = PUMPING
    journal.rows.state[-10:] = RUNNING
    found = balanced(journal)
    assert found.told["down"].by == "between moves of the floats"
    assert found.water["down"].value == pytest.approx(whole.water["down"].value, abs=1e-9)


def test_a_node_without_its_meters_takes_only_its_own_figures_away():
    # Without panel's and pump's meters nothing of their node is told, and all else is.
    found = without("panel_meter", "pump_meter")
    unknown = {key for key, one in found.told.items() if not one.is_known}
    assert unknown == {"panel", "pump", "charge", "panel_node", "panel_to_pump",
                       "wire_to_water", "round_trip"}
