"""What a plan says of a day: the spread goes through the march, and the tank has its own."""

import numpy as np
import pytest

from forebay import rig as rigs
from forebay.plan import filling, lifting, spread
from forebay.plan.lifting import Sun
from forebay.rig.doubt import doubt
from keeper.physics import of_rig
from keeper.physics.solar_pump import SolarPump

RIG = rigs.load()
VALUES = RIG.plant()
MADE = lifting.machine(VALUES)
STEP_S = 60.0


def day(peak_W_m2, dark=()):
    """A day of half a sine, with clouds over some minutes."""
    minutes = np.arange(1440)
    poa = peak_W_m2 * np.clip(np.sin(np.pi * (minutes - 360) / 720), 0.0, None)
    for first, last in dark:
        poa[first:last] *= 0.1
    return Sun(poa[None, :], np.full((1, 1440), 30.0), STEP_S)


def lifted(sun, frac):
    """What goes up on a day, in all its ways, with no end to the tanks."""
    return lifting.march(VALUES, [MADE], sun, True, chance=spread.chance(VALUES, np.array([frac])))


def test_the_first_way_is_the_plan_without_chance():
    sun = day(900.0, dark=((500, 530), (700, 740)))
    plain = lifting.march(VALUES, [MADE], sun, True)
    assert lifted(sun, 0.2).lifted_m3[0, 0] == plain.lifted_m3[0, 0]


def test_a_sure_machine_in_a_clear_sky_goes_only_one_way_but_for_its_first_wait():
    found = lifted(day(900.0), 0.0).lifted_m3[:, 0]
    late_s = spread.LATE_FRACS[-1] * VALUES["limits.holdoff_longest_s"]
    assert np.ptp(found) <= late_s * 2.0 * VALUES["pump.rated_flow_m3_s"]


def test_near_the_threshold_a_small_spread_of_the_machine_is_a_large_one_of_the_litres():
    weak, strong = (lifted(day(peak), 0.1).lifted_m3[:, 0] for peak in (106.0, 900.0))
    assert np.ptp(weak) / weak[0] > 2.0 * np.ptp(strong) / strong[0]


def test_a_spread_without_end_is_all_that_is_lifted_and_no_more_than_twice():
    found = lifted(day(900.0), np.inf).lifted_m3[:, 0]
    assert np.isfinite(found).all()
    assert found.min() == 0.0


def test_what_a_full_tank_holds_is_not_surer_than_its_floats():
    usable_m3 = VALUES["upper.full_volume_m3"] - VALUES["upper.empty_volume_m3"]
    tank_frac = spread.of_tank(VALUES, doubt(RIG))
    # GUM 5.1.2: the two floats are independent, and neither is sure.
    assert tank_frac * usable_m3 >= max(
        doubt(RIG)[f"upper.{one}_volume_m3"] for one in ("full", "empty"))
    found = filling.between(lifted(day(1000.0), 0.1), usable_m3, tank_frac)
    assert found.value == pytest.approx(usable_m3)
    assert found.high == pytest.approx((1.0 + tank_frac) * usable_m3)
    assert found.low == pytest.approx(usable_m3 / (1.0 + tank_frac))


@pytest.mark.parametrize("sun_W_m2", [95.0, 135.0, 171.0, 333.0, 455.0, 690.0, 950.0])
def test_the_table_of_the_machine_is_the_machine_within_half_a_percent(sun_W_m2):
    pump = SolarPump(*of_rig.solar_pump(VALUES, *of_rig.water(VALUES)))
    flow = pump.steady(sun_W_m2, 40.0, MADE.lifts_m[0])[0]
    grid = MADE.suns_W_m2
    place = MADE.cells_degC.index(40.0)
    found = np.interp(sun_W_m2, grid, MADE.flow_m3_s[0, place])
    # Ours: an eighth of the model's own part of the spread.
    assert found == pytest.approx(flow, rel=spread.MODEL_LIFT_FRAC / 8)
