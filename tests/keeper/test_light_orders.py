"""Light by order: what it is, how long it holds to the scan, and what ends it."""

import pytest

from keeper import channels as ch
from keeper import modes as mo
from keeper.operation import orders as od
from tests.keeper.ordered import lit, rested
from tests.keeper.ways import DULL, MINUTES, NIGHT

ORDINARY_MW = 600
PRESSED, RELEASED = (ch.BUTTON, 1), (ch.BUTTON, 0)


@pytest.mark.parametrize(
    ("code", "a", "power_mW"), [(od.LIGHT, 800, 800), (od.BRIGHTNESS, 3, 1000),
                                (od.BRIGHTNESS, 1, 300), (od.LIGHT, 300, 300)])  # fmt: skip
def test_light_by_day_begins_at_once_and_lasts_its_minutes(code, a, power_mW):
    keeper = rested()
    assert keeper.order(code, a, 2) == od.DONE
    for scan in range(2 * MINUTES - 1):
        keeper.run()
        assert lit(keeper), scan
        assert keeper.light.setpoint_mW == power_mW
    keeper.run()
    assert keeper.state == mo.CLOSING
    assert keeper.light.setpoint_mW == keeper.light.wanted_mW == ORDINARY_MW


@pytest.mark.parametrize(("code", "a"), [(od.LIGHT, 800), (od.BRIGHTNESS, 3)])
def test_light_by_order_at_night_goes_back_to_the_ordinary_light(code, a):
    keeper = rested(mo.RUNNING)
    keeper.order(code, a, 1)
    keeper.run(MINUTES - 1)
    assert keeper.light.setpoint_mW > ORDINARY_MW
    keeper.run(10)
    assert lit(keeper)
    assert keeper.light.wanted_mW == ORDINARY_MW


def test_light_by_order_goes_on_over_dawn_for_its_time():
    keeper = rested(mo.RUNNING)
    keeper.order(od.LIGHT, 800, 1)
    keeper.run(MINUTES - 1, [DULL])
    assert lit(keeper)
    assert keeper.light.wanted_mW == 800
    keeper.run()
    assert keeper.state == mo.CLOSING


def test_light_by_order_lasts_as_long_in_late_scans():
    keeper = rested()
    keeper.order(od.LIGHT, 800, 1)
    begun_ds = keeper.uptime_ds
    keeper.run()
    while keeper.state == mo.RUNNING:
        keeper.bench.step(300)
        keeper.bench.drain()
    assert MINUTES <= keeper.uptime_ds - begun_ds < MINUTES + 3


def test_a_tap_goes_on_from_the_step_that_was_ordered():
    keeper = rested(mo.RUNNING)
    keeper.order(od.BRIGHTNESS, 1, 60)
    for power_mW in (600, 1000):
        keeper.run(25, [RELEASED])
        keeper.run(3, [PRESSED])
        keeper.run(2, [RELEASED])
        assert keeper.light.wanted_mW == power_mW


def test_the_steps_that_a_rig_has_are_ordered_by_their_place_and_no_more():
    keeper = rested(step_1_mW=0, step_2_mW=700, step_3_mW=0, step_4_mW=900)
    assert keeper.order(od.BRIGHTNESS, 2, 1) == od.DONE
    assert keeper.light.wanted_mW == 900
    assert keeper.order(od.BRIGHTNESS, 3, 1) == od.NO_STEP
    assert keeper.order(od.BRIGHTNESS, 1, 1) == od.DONE
    assert keeper.light.wanted_mW == 700


def test_light_by_order_ends_a_rest_of_the_light():
    keeper = rested(mo.RUNNING)
    keeper.order(od.REST, 60)
    keeper.run(200)
    keeper.order(od.LIGHT, 800, 1)
    keeper.run(2)
    assert lit(keeper)


# The end of the night's light

def test_light_that_was_told_to_last_so_long_ends_then_and_stays_off_till_the_next_night():
    keeper = rested(mo.RUNNING)
    keeper.order(od.LAST, 2)
    keeper.run(2 * MINUTES - 1)
    assert lit(keeper)
    keeper.run()
    assert keeper.state == mo.CLOSING
    keeper.run(300)
    assert keeper.state == mo.STANDSTILL
    keeper.run(100, [DULL])
    keeper.run(100, [NIGHT])
    assert lit(keeper)


def test_zero_means_till_dawn_again():
    keeper = rested(mo.RUNNING)
    keeper.order(od.LAST, 1)
    keeper.order(od.LAST, 0)
    keeper.run(2 * MINUTES)
    assert lit(keeper)


def test_an_end_lights_again_what_had_ended_for_the_night():
    keeper = rested(mo.RUNNING)
    keeper.order(od.LAST, 1)
    keeper.run(MINUTES + 200)
    assert not lit(keeper)
    keeper.order(od.LAST, 1)
    keeper.run(2)
    assert lit(keeper)


def test_an_end_ends_a_light_of_the_button_and_of_an_order_too():
    keeper = rested(mo.RUNNING)
    keeper.order(od.LIGHT, 800, 10)
    keeper.order(od.LAST, 1)
    keeper.run(MINUTES)
    assert keeper.state == mo.CLOSING
    assert keeper.light.wanted_mW == ORDINARY_MW
    keeper.run(100)
    assert not lit(keeper)


def test_an_end_by_day_puts_off_no_light_of_the_coming_night():
    keeper = rested()
    keeper.order(od.LAST, 1)
    keeper.run(MINUTES + 10)
    keeper.run(100, [NIGHT])
    assert lit(keeper)


def test_dawn_clears_an_end_that_has_not_come():
    keeper = rested(mo.RUNNING)
    keeper.order(od.LAST, 1)
    keeper.run(100, [DULL])
    keeper.run(2 * MINUTES, [NIGHT])
    assert lit(keeper)


@pytest.mark.parametrize("minutes", [0, 5])
def test_an_end_lights_again_what_was_put_to_rest(minutes):
    keeper = rested(mo.RUNNING)
    keeper.order(od.REST, 60)
    keeper.run(200)
    keeper.order(od.LAST, minutes)
    keeper.run(2)
    assert lit(keeper)
