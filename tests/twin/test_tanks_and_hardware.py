"""Tanks, floats and what stops the rig without a board."""

import math

import pytest

from forebay.twin.effects import apply
from forebay.twin.leads import Leads
from forebay.twin.store import Float, Tank
from tests.twin.ledger import RIG, plant, weight_N_m3
from tests.twin.rigs import HALF, run, steady

SHAPES = {
    "rectangular": {"upper.length_m": 0.8, "upper.width_m": 0.5},
    "upright cylinder": {"upper.diameter_m": 0.7},
    "table": {"upper.levels_m": [0.0, 0.4, 1.1], "upper.volumes_m3": [0.0, 0.1, 0.5]},
}


@pytest.mark.parametrize("shape", SHAPES)
def test_a_tank_of_each_shape_holds_its_water_at_its_centroid(shape):
    # 0.3 m3 above a floor 9 m up: level and centroid by hand.
    area = {"rectangular": 0.4, "upright cylinder": math.pi / 4 * 0.49}.get(shape)
    tank = Tank({**RIG, **SHAPES[shape], "upper.shape": shape, "upper.start_volume_m3": 0.3},
                "upper", None, weight_N_m3())
    if area:
        level, centroid = 0.3 / area, 0.15 / area
    else:       # 0.1 m3 up to 0.4 m, then 0.4 m3 over 0.7 m
        level = 0.4 + 0.2 / 0.4 * 0.7
        centroid = (0.1 * 0.2 + 0.2 * (0.4 + level) / 2) / 0.3
    assert tank.level_m == pytest.approx(level)
    assert tank.energy_J() == pytest.approx(weight_N_m3() * 0.3 * (9.0 + centroid))
    assert tank.surface_m() == pytest.approx(9.0 + level)
    tank.lose(0.3)
    assert tank.removed_J == pytest.approx(weight_N_m3() * 0.3 * (9.0 + centroid))


def test_an_empty_tank_holds_no_energy():
    tank = Tank({**RIG, "upper.start_volume_m3": 0.0}, "upper", 1.0, weight_N_m3())
    assert tank.energy_J() == 0
    tank.lose(1.0)
    assert tank.volume_m3 == tank.removed_m3 == 0


class Water:
    def __init__(self, level_m):
        self.level_m = level_m


def test_a_float_lifts_at_its_level_and_falls_a_hysteresis_lower():
    one = Float(0.5, 0.012, Water(0.5))
    assert one.up
    assert not Float(0.5, 0.012, Water(0.4999)).up
    for level_m, up in ((0.4999, True), (0.4881, True), (0.488, True), (0.4879, False),
                        (0.4999, False), (0.5, True)):
        one.follow(level_m)
        assert one.up == up, level_m


FLOATS = [  # float, tank, volume [m3] at which it lifts, volume below which it falls
    ("full", "upper", 0.96, 0.948), ("over_full", "upper", 0.985, 0.973),
    ("upper_wet", "upper", 0.062, 0.05), ("lower_wet", "lower", 0.113, 0.1),
    ("lower_full", "lower", 1.2805, 1.2675)]


@pytest.mark.parametrize(("name", "tank", "lifts", "falls"), FLOATS)
def test_each_float_follows_its_own_tank_at_its_own_volumes(name, tank, lifts, falls):
    one = plant(steady(0.0), {f"{tank}.start_volume_m3": lifts - 0.02})
    water_in, floating = getattr(one, tank), getattr(one, name)
    assert not floating.up

    def to(volume_m3):
        one.contacts_new = False
        water_in.add(volume_m3 - water_in.volume_m3)
        one._floats()
        return floating.up

    assert not to(lifts - 2e-4)
    assert not to(lifts - 1e-4)
    assert not one.contacts_new       # no float of this tank moved, so that no loop did
    assert to(lifts + 1e-4)
    assert one.contacts_new
    assert to(falls + 2e-4)
    assert to(falls + 1e-4)
    assert not one.contacts_new
    assert not to(falls - 1e-4)
    assert one.contacts_new


def test_a_level_between_two_marks_leaves_the_floats_alone():
    one = plant(steady(0.0), HALF)
    one._floats()
    one.contacts_new = False
    for volume in (0.6, 0.4, 0.9):
        one.upper.add(volume - one.upper.volume_m3)
        one._floats()
        assert not one.contacts_new


def test_the_over_full_float_breaks_the_pumps_supply_with_no_board_asked():
    one = plant(steady(800.0), {"upper.start_volume_m3": 0.9849})
    one.command(1, 0)
    run(one, 10.0)
    assert one.over_full.up
    assert one.up.pump_A == 0
    assert one.upper.volume_m3 == pytest.approx(0.985, abs=1e-5)


HARDWARE = {
    "stop": lambda one: one.press_stop(True),
    "pump lead": lambda one: apply("pump-lead-open", one, Leads()),
    "command": lambda one: one.command(0, 0),
}


@pytest.mark.parametrize("way", HARDWARE)
def test_each_break_of_the_pumps_supply_stops_it_at_once(way):
    one = plant(steady(800.0), HALF)
    one.command(1, 0)
    run(one, 1.0)
    assert one.up.flow > 0
    HARDWARE[way](one)
    one.step(0.1)
    assert one.up.flow == one.up.pump_A == one.up.ratio == 0


def test_a_welded_switch_runs_the_pump_unasked_but_not_past_the_stop():
    one = plant(steady(800.0), HALF)
    apply("pump-switch-welded", one, Leads())
    run(one, 1.0)
    assert one.up.flow > 0
    one.press_stop(True)
    one.step(0.1)
    assert one.up.pump_A == 0


def test_the_local_stop_drives_the_valve_shut_whatever_the_board_wants_until_released():
    one = plant(steady(0.0), HALF)
    one.command(0, 800)
    run(one, 5.0)
    one.contacts_new = False
    one.press_stop(True)
    assert one.contacts_new
    one.command(0, 800)
    run(one, 5.0)
    assert one.down.position == 0
    one.press_stop(False)
    run(one, 1.0)
    assert one.down.position == 0       # it waits for the board's next word
    one.command(0, 800)
    run(one, 5.0)
    assert one.down.position == pytest.approx(0.8)


@pytest.mark.parametrize("begins", ["before", "while"])
def test_a_valve_that_creeps_is_shut_by_the_stop_and_opens_again_when_it_is_released(begins):
    # The release used to heal it.
    one = plant(steady(0.0), HALF)
    one.press_stop(begins == "while")
    apply("valve-creeps", one, Leads())
    one.press_stop(True)
    one.command(0, 0)
    run(one, 70.0)
    assert one.down.position == 0
    one.press_stop(False)
    one.command(0, 0)
    run(one, 70.0)
    assert one.down.position == 1
