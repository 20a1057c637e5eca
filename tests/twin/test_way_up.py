"""Panel, charger, motor and pump against pvlib, `fluids` and the rating plate."""

import math
from typing import Any

import pytest
from pvlib import pvsystem as singlediode

from forebay.twin.effects import apply
from forebay.twin.leads import Leads
from tests.twin.ledger import plant
from tests.twin.pipes import GRAVITY, pipe_K
from tests.twin.rigs import HALF, run, steady

pvsystem: Any = singlediode   # it takes and gives more kinds than a checker can follow


@pytest.mark.parametrize("irradiance", [50.0, 200.0, 1000.0])
@pytest.mark.parametrize("cell_degC", [-5.0, 25.0, 60.0])
def test_the_panels_open_circuit_is_that_of_the_single_diode_by_pvlib(irradiance, cell_degC):
    one = plant(steady(irradiance, cell_degC=cell_degC), {"supply.charge_current_A": 0.0})
    up = one.up
    run(one, 0.1)
    light, dark, series, shunt, ideal = pvsystem.calcparams_desoto(
        irradiance, cell_degC, 0.0005 * up.light_ref, up.ideal_ref, up.light_ref, up.dark_ref,
        up.shunt_ref, up.series, EgRef=1.121, dEgdT=-0.0002677)
    found = pvsystem.singlediode(light, dark, series, shunt, ideal, method="lambertw")
    assert up.panel_V == pytest.approx(float(found["v_oc"]), rel=1e-5)
    # And with the pump on, the point lies on pvlib's curve.
    one.command(1, 0)
    run(one, 0.2)
    amps = pvsystem.i_from_v(up.panel_V, light, dark, series, shunt, ideal)
    assert up.panel_A == pytest.approx(float(amps), abs=2e-5)
    assert up.panel_A == up.pump_A > 0


def test_a_nameplate_comes_back_at_reference_conditions():
    # 29 V open, 4.5 A short, 23.8 V x 4.2 A: the nameplate, to the fit's own 1 %.
    one = plant(steady(1000.0, cell_degC=25.0), {"supply.charge_current_A": 0.0})
    run(one, 0.1)
    assert one.up.panel_V == pytest.approx(29.0, rel=0.01)


def test_a_pump_without_flow_follows_the_similarity_laws():
    # Affinity: shut-off torque goes with the square of speed; a part of it in air.
    torque = {}
    for fault in ("strainer-blocked", "air-in-pump"):
        one = plant(steady(800.0), {**HALF, "supply.charge_current_A": 0.0})
        apply(fault, one, Leads())
        one.command(1, 0)
        run(one, 0.2)
        up = one.up
        assert up.flow == 0
        ke = (24.0 - 3.0 * 0.75) / (100 * math.pi)
        speed = (up.panel_V - 3.0 * up.pump_A) / ke
        assert up.ratio == pytest.approx(speed / (100 * math.pi))
        torque[fault] = ke * (up.pump_A - 0.12) / up.ratio**2
    rated = ke * (0.75 - 0.12)
    assert torque["strainer-blocked"] == pytest.approx(0.4 * rated)
    assert torque["air-in-pump"] == pytest.approx(0.1 * 0.4 * rated)


@pytest.mark.parametrize("bore", [0.016, 0.012])
def test_a_pump_works_where_its_curve_meets_lift_and_friction(bore):
    # 24 V x 0.75 A at 3000 rpm lift 55 mL/s by 11.3 m; shut-off 17 m, affinity laws.  In a
    # narrow main friction takes a good part of it; the explicit factor is good to 2 % where
    # the flow is turbulent.
    one = plant(steady(600.0), {**HALF, "supply.charge_current_A": 0.0,
                                "rising_main.diameter_m": bore})
    one.command(1, 0)
    run(one, 1.0)
    up = one.up
    ratio, flow = up.ratio, up.flow
    head = 17.0 * ratio**2 - 5.7 * (flow / 55e-6) ** 2
    lift = 10.06 - (-1.7 + one.lower.volume_m3 / 1.3)
    lost = (pipe_K(22.0, bore, 5.0, flow) * (flow / (math.pi / 4 * bore**2)) ** 2
            / (2 * GRAVITY))
    assert head - lift == pytest.approx(lost, rel=0.02)
    torque = 0.4 * 0.63 * ratio**2 + 0.6 * 0.63 * ratio * flow / 55e-6
    assert up.pump_A == pytest.approx(0.12 + torque, rel=1e-6)
    assert up.panel_V == pytest.approx(21.75 * ratio + 3.0 * up.pump_A, rel=1e-6)


def test_the_very_first_flow_meets_the_friction_of_a_narrow_main_already():
    # Taken at the rated flow, which is of the flow's own size.
    one = plant(steady(600.0), {**HALF, "supply.charge_current_A": 0.0,
                                "rising_main.diameter_m": 0.012})
    one.command(1, 0)
    one.step(0.1)
    first = one.up.flow
    run(one, 1.0)
    assert first == pytest.approx(one.up.flow, rel=0.03)


def test_a_stalled_motor_is_its_winding():
    one = plant(steady(800.0), {**HALF, "supply.charge_current_A": 0.0})
    apply("rotor-stalled", one, Leads())
    one.command(1, 0)
    run(one, 0.2)
    assert one.up.panel_V == pytest.approx(3.0 * one.up.pump_A)
    assert one.up.ratio == one.up.flow == 0


def test_light_that_does_not_carry_the_no_load_current_leaves_the_motor_standing():
    one = plant(steady(20.0), {**HALF, "supply.charge_current_A": 0.0})
    one.command(1, 0)
    run(one, 0.2)
    assert one.up.light < 0.12
    assert one.up.ratio == 0.0
    assert one.up.panel_V == pytest.approx(3.0 * one.up.pump_A)


@pytest.mark.parametrize("level_m3", [1e-4, 1.2e-4])
def test_a_pump_lifts_from_a_tank_that_is_not_empty(level_m3):
    one = plant(steady(800.0), {**HALF, "lower.start_volume_m3": level_m3})
    one.command(1, 0)
    one.step(0.1)
    assert (one.up.flow > 0) == (level_m3 > 1e-4)


def test_the_charger_comes_to_its_current_as_a_lag_of_two_seconds():
    # 5 % of the way each 0.1 s: 0.95^n is left.
    one = plant(steady(800.0), HALF)
    run(one, 0.1)                   # the panel's voltage is that of the step before
    run(one, 2.0)
    assert one.up.charge_A == pytest.approx(0.1 * (1 - 0.95**20), rel=1e-6)
    run(one, 60.0)
    assert one.up.charge_A == pytest.approx(0.1, rel=1e-6)


def test_the_charger_takes_no_more_than_its_share_of_the_light():
    one = plant(steady(10.0), HALF)
    run(one, 60.0)
    assert one.up.charge_A == pytest.approx(0.8 * one.up.light)


def test_a_panel_just_above_the_battery_charges_in_proportion():
    # From 0.5 V above the battery on, full current at 1.5 V.
    up = plant(steady(800.0), HALF).up
    up.shine(800.0, 35.0)
    for over_V, amps in ((0.4, 0.0), (1.0, 0.05), (1.5, 0.1), (3.0, 0.1)):
        up.panel_V, up.wish_A = 12.0 + over_V, 0.0
        up.step(0.1, False, 11.0, 12.0, 1.0, True)
        assert up.wish_A == pytest.approx(0.05 * amps)
        up.panel_V, up.wish_A = 12.0 + over_V, 0.0
        up.step(0.1, False, 11.0, 12.0, 0.5, True)
        assert up.wish_A == pytest.approx(0.025 * amps)
