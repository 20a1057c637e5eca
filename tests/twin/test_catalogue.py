"""Every fault of the catalogue: the first element, and how soon, against the true state."""

import pytest

from forebay.rig import load
from forebay.shelf import decode
from forebay.twin import faults
from forebay.twin.effects import apply
from forebay.twin.faults import FAULTS
from keeper.channels import LEVEL_MM
from keeper.events import ACTED, BOOT
from keeper.modes import PUMP_MODE
from keeper.protection.elements import E_ID, ELEMENTS, TRIP, number
from tests.stories import told
from tests.twin import catalogued
from tests.twin.rigs import PUMPING, RUNNING, run_until, steady, twin

SUN, DARK = steady(800.0), steady(0.0)
NEARLY_FULL = {"upper.start_volume_m3": 0.955}
ROW = {row[faults.F_NAME]: row for row in FAULTS}
SCAN_S = 0.1
AFTER_S = 600


def started(folder, name, changes=(), **more):
    """Returns a twin that has settled in the mode that a fault needs."""
    if ROW[name][faults.F_MODE] == PUMP_MODE:
        one = twin(folder, SUN, changes, **more)
        run_until(one, PUMPING, 200)
        one.run(300)
    else:
        one = twin(folder, DARK, {"upper.start_volume_m3": 0.5, **dict(changes)})
        run_until(one, RUNNING, 400)
        one.run(3000)
        assert one.plant.down.generator_V * one.plant.down.lamp_A == pytest.approx(0.6, rel=0.05)
    return one


def first_element(one, condition, longest_s):
    """Steps until an element acts that did not; returns (its id, seconds since `condition`)."""
    before = one.keeper.acting
    since = None
    for _ in range(int(longest_s * 10)):
        if since is None and condition(one):
            since = one.periods
        new = one.keeper.acting & ~before
        if new:
            index = (new & -new).bit_length() - 1
            assert since is not None, "the element acted before its condition"
            return ELEMENTS[index][E_ID], (one.periods - since) * SCAN_S
        one.step()
    raise AssertionError("no element acted")


CONDITIONS = {
    "upper-float-cut": lambda one: bool(one.leads.odd),
    "lower-tank-dry": lambda one: not one.plant.lower_wet.up,
    "load-lost": lambda one: one.plant.down.generator_V > load().generator.trip_voltage_V,
}


@pytest.mark.parametrize("name", sorted(CONDITIONS))
def test_the_expected_element_acts_first_and_in_time(tmp_path, name):
    one = started(tmp_path, name)
    apply(name, one.plant, one.leads)
    element, seconds = first_element(one, CONDITIONS[name], 900)
    assert element == ROW[name][faults.F_FIRST]
    assert seconds <= float(ROW[name][faults.F_WITHIN_S]) + 1e-9
    one.run(AFTER_S)
    assert one.plant.upper.spilled_m3 == 0


def test_a_stuck_float_leaves_the_pump_off_at_the_second_float(tmp_path):
    # Without a level sensor nothing else would stop the pump.
    one = started(tmp_path, "upper-float-stuck", NEARLY_FULL, unfitted=(LEVEL_MM,))
    apply("upper-float-stuck", one.plant, one.leads)
    run_until(one, lambda it: it.plant.over_full.up, 900)
    level = one.plant.upper.volume_m3
    one.run(50)
    assert one.keeper.acting >> number("71HH-UP") - 1 & 1
    # 0.5 s at less than 0.1 L/s
    assert one.plant.upper.volume_m3 - level < 5e-5
    assert one.plant.up.flow == 0


def test_a_blocked_jacket_passes_the_motors_limit_by_3_kelvin_at_most(tmp_path):
    acted, hottest_degC = told(catalogued.blocked_jacket, str(tmp_path), hours=3)
    limit = load().motor.trip_temperature_degC
    assert acted == "26-MOT"
    assert limit - 1 < hottest_degC <= limit + 3


@pytest.mark.parametrize("board", [True, False])
def test_the_clamp_holds_the_voltage_when_the_lamps_are_lost(tmp_path, board):
    one = started(tmp_path, "load-lost")
    if not board:
        one.cut()  # the clamp is hardware: it must do without a board, valve open
    apply("load-lost", one.plant, one.leads)
    generator = load().generator
    highest_V = highest_W = 0.0
    for _ in range(AFTER_S):
        one.step()
        highest_V = max(highest_V, one.plant.down.generator_V)
        highest_W = max(highest_W, one.plant.down.generator_V * one.plant.down.clamp_A)
    assert generator.trip_voltage_V < highest_V < generator.clamp_voltage_V + 1.0
    assert highest_W < generator.clamp_power_W
    assert (one.plant.down.position == 0) == board
    assert (highest_V > generator.clamp_voltage_V) == (not board)


def test_the_edges_of_a_cloud_trip_nothing(tmp_path):
    one = started(tmp_path, "cloud-edge", {"upper.start_volume_m3": 0.06})
    apply("cloud-edge", one.plant, one.leads)
    darkest = 1e9
    for _ in range(4000):
        one.step()
        darkest = min(darkest, one.plant.up.light)
        assert one.keeper.acting == 0
    assert darkest < 0.2 * one.plant.up.light
    run_until(one, PUMPING, 300)


@pytest.mark.parametrize("mode", ["pump", "turbine", "standstill"])
def test_a_power_cut_costs_a_minute_of_rows_and_nothing_else(tmp_path, mode):
    name = "load-lost" if mode == "turbine" else "upper-float-cut"
    changes = {"upper.start_volume_m3": 0.97} if mode == "standstill" else {}
    if mode == "standstill":
        one = twin(tmp_path, SUN, changes)
        one.run(3000)
    else:
        one = started(tmp_path, name)
    position, cut_ds = one.plant.down.position, one.keeper.uptime_ds
    one.cut()
    assert one.plant.pump_commanded == 0
    run_until(one, lambda it: it.powered, faults.CUT_S + 1)
    # The demo's valve stays where it was, and the light goes on without a board.
    assert one.plant.down.position == position
    assert (position > 0) == (mode == "turbine")
    one.run(1500)
    journal = decode([path.read_bytes() for path in sorted((tmp_path / "board").iterdir())])
    assert journal.findings.damaged_bytes == journal.findings.conflicting_rows == 0
    assert journal.findings.missing_rows == []
    boots = journal.events[journal.events["code"] == BOOT]
    assert list(boots["boot"]) == [1, 2]
    rows = journal.rows
    assert max(rows.uptime_ds[rows.boot == 1]) >= cut_ds - 600
    assert list(rows.seq) == sorted(set(rows.seq))
    acted = journal.events[journal.events["code"] == ACTED]
    assert not any(action == TRIP for action in acted["argument2"])


def test_a_valve_with_a_spring_shuts_when_the_supply_is_cut(tmp_path):
    one = started(tmp_path, "load-lost", {"valve.on_power_loss": "closes"})
    one.cut()
    one.run(100)
    assert one.plant.down.position == 0
