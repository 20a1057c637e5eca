"""A whole rig reads as its wiring page says; a fault shows where a person would expect it."""

import random

import numpy as np
import pytest

from forebay.finding import practice
from forebay.finding.branches import PANEL_KNOTS, Scene, of_part
from forebay.finding.network import Node
from forebay.finding.solving import Network
from forebay.hardware.readings import MODES
from forebay.rig import load
from forebay.twin import miswired
from keeper.channels import INVALID
from keeper.physics.panel import Panel
from tests.finding.rigs import layout
from tests.hardware.tables import build

RNG = random.Random(7)
# Nets on which no direct volts stand that a meter could follow: buses, lines, pulses, and what
# an open contact of a whole rig is not asked for.
ALIVE = {"GP4", "GP5", "flow up", "flow down", "line A", "1-Wire", "thermistor", "valve's place"}


@pytest.mark.parametrize("mode", MODES)
@pytest.mark.parametrize("demo", ["hillside", "orchard"])
def test_a_whole_rig_reads_within_every_window(demo, mode):
    one, rig = build(demo), load(demo=demo)
    for point in (*one.points, *one.away):
        low, high = point.windows[mode]
        if point.net not in ALIVE:
            shown = practice.meter_reading(rig, None, mode, point.id, RNG)
            # Two counts and half a percent of the meter, on either side.
            assert low - 0.05 - 0.005 * low <= shown <= high + 0.05 + 0.005 * high, point


def test_the_panel_in_straight_pieces_is_that_of_the_physics():
    one = build()
    scene = Scene(one.values, one.figures, "standstill", np.array([1.0]))
    plus, minus = Node("plus"), Node("0 V")
    pieces = of_part(one.netlist["PV1"], {"plus": plus, "minus": minus}, scene)
    values = one.values
    panel = Panel(tuple(values[f"panel.{name}"] for name in (
        "open_circuit_voltage_V", "short_circuit_current_A", "best_voltage_V", "best_current_A",
        "current_temperature_per_K", "voltage_temperature_per_K")))
    panel.shine(1000.0, 15.0)

    assert len(pieces) == len(PANEL_KNOTS) + 1
    for ohm in (1.0, 4.0, 6.0, 20.0, 100.0, 1e4):
        load_ = type(pieces[0])("load", plus, minus, 1 / ohm)
        found = Network([*pieces, load_], 1).solve([{}]).at(plus)[0, 0]
        panel.load_A(1 / ohm, 0.0)
        # Straight pieces between nine points of the curve lie inside it.
        assert found == pytest.approx(panel.panel_V, rel=0.03)


HILLSIDE = load()


def reading(fault, mode, point):
    return practice.meter_reading(HILLSIDE, fault, mode, point, RNG)


def test_with_the_pumps_lead_open_there_are_volts_before_it_and_none_behind():
    assert reading("pump-lead-open", "pump", "TP6") > 20.0
    assert abs(reading("pump-lead-open", "pump", "TP38")) < 0.5
    # R9 alone takes something: 33 V on 22 kohm are 1.5 mA at most.
    assert 0 <= practice.sensed(HILLSIDE, "pump-lead-open", "pump")["pump_mA"] <= 1.5


def test_with_the_panels_lead_open_only_the_panels_own_side_is_live():
    assert reading("panel-lead-open", "standstill", "TP1") > 20.0
    assert abs(reading("panel-lead-open", "standstill", "TP2")) < 0.1


def test_with_the_lamps_lead_open_the_clamp_carries_all():
    clamped = build().figures["generator_clamped_V"]

    assert reading("load-lost", "turbine", "TP13") == pytest.approx(clamped, abs=0.3)
    assert abs(reading("load-lost", "turbine", "TP55")) < 0.1
    assert practice.sensed(HILLSIDE, "load-lost", "turbine")["lamp_mA"] == 0


def test_with_the_generators_lead_open_no_volts_come():
    assert abs(reading("generator-lead-open", "turbine", "TP12")) < 0.1


def test_with_a_dead_charger_its_input_is_live_and_nothing_flows_into_the_battery():
    assert reading("charger-dead", "standstill", "TP40") > 20.0
    assert practice.sensed(HILLSIDE, "charger-dead", "standstill")["supply_mA"] < 0


def test_a_bad_joint_drops_what_ohms_law_says():
    # 3 ohm in the core up to the deck: the drop between its ends is the pump's current times that.
    rig = HILLSIDE
    amperes = practice.sensed(rig, "W03.1-far-bad", "pump", ohm=3.0)["pump_mA"] / 1000
    one, other = (practice.meter_reading(rig, "W03.1-far-bad", "pump", point, RNG, ohm=3.0)
                  for point in ("TP3", "TP49"))
    lead_ohm = 1 / next(branch.siemens for branch in layout("hillside").branches(
        Scene(build().values, build().figures, "pump", np.array([0.5]))) if branch.of == "W03.1")

    # Each reading is off by at most half a percent and two counts.
    assert one - other == pytest.approx(amperes * (3.0 + lead_ohm), abs=2 * (0.005 * one + 0.03))


def test_crossed_sense_leads_read_a_current_backwards():
    right = practice.sensed(HILLSIDE, None, "pump")["pump_mA"]

    assert practice.sensed(HILLSIDE, "R2-sense-crossed", "pump")["pump_mA"] in (-right, INVALID)


def test_without_its_supply_a_monitor_does_not_answer():
    assert practice.sensed(HILLSIDE, "U22-supply-open", "pump")["pump_mA"] == INVALID


def test_a_battery_the_wrong_way_round_reads_minus_its_volts_and_feeds_nothing():
    assert reading("BT1-crossed", "turbine", "TP41") < -11.0
    assert abs(reading("BT1-crossed", "turbine", "TP10")) < 0.1


def test_a_panels_crushed_pair_has_no_volts_behind_it_and_its_own_little_before():
    # Its short-circuit current in fair sun, through two cores of some tenths of an ohm at most.
    assert abs(reading("W01.1-W01.2-crushed", "standstill", "TP1")) < 0.1
    assert 0.0 <= reading("W01.1-W01.2-crushed", "standstill", "TP47") < 1.0


def test_a_crushed_battery_cable_has_blown_its_fuse():
    assert reading("W17.3-W17.4-crushed", "standstill", "TP41") > 11.0
    assert abs(reading("W17.3-W17.4-crushed", "turbine", "TP9")) < 0.1


@pytest.mark.parametrize("demo", ["hillside", "orchard"])
@pytest.mark.parametrize("name", [*miswired.NAMES, *practice.OF_CATALOGUE])
def test_every_mistake_of_the_wiring_is_known_to_the_meter(demo, name):
    fault = practice.wiring_fault(layout(demo), name)

    assert practice.is_known(name)
    assert (fault is not None) or name in practice.UNSEEN or demo == "orchard"


def test_reversed_shunts_are_crossed_sense_leads():
    assert practice.sensed(HILLSIDE, "pump-shunt-reversed", "pump") == practice.sensed(
        HILLSIDE, "R2-sense-crossed", "pump")


def test_a_panel_the_wrong_way_round_reads_minus_a_diode():
    shown = reading("W01.1-W01.2-crossed", "standstill", "TP2")

    assert -1.5 < shown < -0.3


@pytest.mark.parametrize(("fault", "mode", "point", "said"), [
    ("moon", "pump", "TP6", "no wiring fault"), (None, "noon", "TP6", "none of standstill"),
    (None, "pump", "TP99", "no test point")])
def test_what_is_not_there_is_said(fault, mode, point, said):
    with pytest.raises(practice.NoSuchFault, match=said):
        reading(fault, mode, point)
