"""The plant of another structure, where it is not another: the twin's own."""

import pytest

from forebay import rig as rigs
from forebay.twin.downhill import Downhill
from forebay.twin.uphill import Uphill
from keeper.physics import of_rig
from tests.bench.other_plant import BlasiusPipe, HazenPipe, OtherDownhill, OtherUphill

VALUES = rigs.load().plant()
WATER = of_rig.water(VALUES)
LIFT_M = 11.0


def settled(up, sun_W_m2):
    """The flow of a pump in a steady sun, its friction that of the flow."""
    up.shine(sun_W_m2, 35.0)
    for _ in range(30):
        up.step(1.0, True, LIFT_M, 12.8, 0.0, True)
    return up.flow


@pytest.mark.parametrize("sun_W_m2", [120.0, 300.0, 1000.0])
def test_without_another_structure_the_pump_is_the_twins_own(sun_W_m2):
    same = OtherUphill(VALUES, WATER, {"linear": 0.0, "torque": 1.0})
    assert settled(same, sun_W_m2) == pytest.approx(settled(Uphill(VALUES, *WATER), sun_W_m2),
                                                    rel=1e-6)


@pytest.mark.parametrize("structure", [{"linear": 0.8}, {"torque": 0.7}, {"torque": 1.3}])
def test_another_curve_goes_through_the_same_rated_point(structure):
    up = OtherUphill(VALUES, WATER, structure)
    up.pipe_s2_m5 = 0.0
    flow, _ = up._flow(1.0, VALUES["pump.rated_head_m"])
    assert flow == pytest.approx(VALUES["pump.rated_flow_m3_s"], rel=1e-9)
    amps = up.no_load_A + up._torque(1.0, flow) / up.emf
    rated_A = VALUES["pump.rated_power_W"] / VALUES["pump.rated_voltage_V"]
    assert amps == pytest.approx(rated_A, rel=1e-9)


def test_its_books_close_with_its_own_curves():
    up = OtherUphill(VALUES, WATER, {"linear": 0.5, "torque": 1.2, "friction": "blasius"})
    settled(up, 800.0)
    lifted_W = up.weight * up.flow * LIFT_M
    assert sum(up.losses_W(True)) + lifted_W == pytest.approx(up.panel_V * up.pump_A, rel=1e-4)


def test_without_a_lean_the_wheel_is_the_twins_own():
    same, own = OtherDownhill(VALUES, WATER, {}), Downhill(VALUES, *WATER)
    assert same.brightest_W(9.0) == pytest.approx(own.steady(1.0, 9.0)[3], rel=1e-6)


def test_smooth_pipes_rub_as_the_handbooks_say():
    # Blasius at Re 1e5: f = 0.0178 (any handbook; from memory). Hazen and Williams: 100 m of
    # 100 mm, C = 140, 10 L/s lose 1.66 m (h = 10.67 L Q^1.852 / (C^1.852 d^4.87) by hand).
    pipe = BlasiusPipe(100.0, 0.1, 0.0, 0.0, 1e-6, 9.80665)
    flow = 1e5 / pipe._reynolds_s_m3
    factor = pipe.resistance_s2_m5(flow) / pipe._head_s2_m5 / 1000.0
    assert factor == pytest.approx(0.0178, abs=5e-5)
    other = HazenPipe(100.0, 0.1, 0.0, 0.0, 1e-6, 9.80665)
    other.take(100.0, 0.1, 140.0)
    assert other.loss_m(0.01) == pytest.approx(1.66, abs=5e-3)
