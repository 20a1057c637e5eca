"""What an order does, for how long, and what ends it: holds to the scan."""

import pytest

from keeper import channels as ch
from keeper import events as ev
from keeper import modes as mo
from keeper import orders as od
from tests.keeper.ordered import ordered_in
from tests.keeper.ways import DULL, FULL, MINUTES, NIGHT, NOT_FULL, SUN, WATER, posted

DAY_MIN = 1440
ORDINARY_MW = 600
PRESSED, RELEASED = (ch.BUTTON, 1), (ch.BUTTON, 0)


def lit(keeper):
    return keeper.state == mo.RUNNING


def rested(state=mo.STANDSTILL, **changes):
    keeper = ordered_in(state, **changes)
    keeper.run(200)
    return keeper


# Light by order

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


# Rest and the ban of the pump

@pytest.mark.parametrize("minutes", [1, 3])
def test_rest_holds_light_off_for_its_minutes(minutes):
    keeper = rested(mo.RUNNING)
    keeper.order(od.REST, minutes)
    keeper.run(minutes * MINUTES - 1)
    assert not lit(keeper)
    keeper.run()
    assert lit(keeper)


@pytest.mark.parametrize("minutes", [1, 3])
def test_rest_holds_the_pump_off_for_its_minutes(minutes):
    keeper = rested(mo.PUMPING)
    keeper.order(od.REST, minutes)
    keeper.run(minutes * MINUTES - 1)
    assert keeper.state == mo.STANDSTILL
    keeper.run()
    assert keeper.state == mo.TRIAL


def test_rest_ends_an_ordered_light_for_good():
    keeper = rested()
    keeper.order(od.LIGHT, 800, 10)
    keeper.order(od.REST, 1)
    keeper.run(MINUTES + 10)
    assert keeper.state == mo.STANDSTILL


def test_rest_forgets_the_end_that_was_set():
    keeper = rested(mo.RUNNING)
    keeper.order(od.LAST, 2)
    keeper.order(od.REST, 1)
    keeper.run(3 * MINUTES)
    assert lit(keeper)


@pytest.mark.parametrize(("minutes", "holds_min"), [(1, 1), (30, 30), (0, DAY_MIN)])
def test_a_ban_of_the_pump_holds_for_its_minutes_and_a_day_if_none_are_named(minutes, holds_min):
    keeper = rested()
    keeper.run(100, [FULL, SUN])
    keeper.order(od.PUMP_ALLOWED, 0, minutes)
    keeper.run(20, [NOT_FULL])
    if holds_min > 30:
        keeper.core.sequence.forbidden -= (holds_min - 30) * MINUTES
        holds_min = 30
    keeper.run(holds_min * MINUTES - 21)
    assert keeper.state == mo.STANDSTILL
    keeper.run()
    assert keeper.state == mo.TRIAL


@pytest.mark.parametrize("state", [mo.TRIAL, mo.PUMPING])
def test_a_ban_stops_the_pump_that_runs_at_once_and_an_allowance_ends_it(state):
    keeper = ordered_in(state, pump_least_on_s=3600)
    keeper.order(od.PUMP_ALLOWED, 0, 60)
    keeper.run()
    assert keeper.state == mo.STANDSTILL
    assert posted(keeper.bench, ev.STATE)[-1][2] == mo.ORDERED_OFF
    keeper.run(300)
    keeper.order(od.PUMP_ALLOWED, 1, 60)
    keeper.run()
    assert keeper.state == mo.TRIAL


def test_a_ban_of_the_pump_is_none_of_the_light():
    keeper = rested(mo.RUNNING)
    keeper.order(od.PUMP_ALLOWED, 0, 60)
    keeper.run(300)
    assert lit(keeper)


def test_a_rest_that_is_longer_than_a_ban_lengthens_it():
    keeper = rested(mo.PUMPING)
    keeper.order(od.PUMP_ALLOWED, 0, 1)
    keeper.order(od.REST, 2)
    keeper.run(2 * MINUTES - 1)
    assert keeper.state == mo.STANDSTILL
    keeper.run()
    assert keeper.state == mo.TRIAL


def test_a_late_scan_ends_a_ban_and_owes_nothing():
    keeper = rested()
    keeper.core.sequence.forbidden = 3
    keeper.bench.step(1300)
    assert keeper.core.sequence.forbidden == 0


# Drain-down, release, maintenance, clock

@pytest.mark.parametrize(("minutes", "holds"), [(1, MINUTES), (10_080, 10_080 * MINUTES),
                                                (0, DAY_MIN * MINUTES)])  # fmt: skip
def test_a_drain_is_held_for_its_minutes_and_a_day_if_none_are_named(minutes, holds):
    keeper = rested()
    keeper.order(od.DRAIN_DOWN, 1, minutes)
    assert keeper.core.sequence.drain == holds
    keeper.run()
    assert keeper.state == mo.DRAINING
    keeper.order(od.DRAIN_DOWN, 0, minutes)
    keeper.run()
    assert keeper.state == mo.CLOSING


@pytest.mark.parametrize("order", [(od.LIGHT, 800, 60), (od.REST, 60, 0), (od.LAST, 1, 0)])
def test_release_gives_the_night_back_to_the_rig(order):
    keeper = rested(mo.RUNNING)
    keeper.order(*order)
    keeper.run(100)
    keeper.order(od.RELEASE)
    keeper.run(100)
    assert keeper.light.wanted_mW == ORDINARY_MW
    keeper.run(2 * MINUTES)
    assert lit(keeper)


@pytest.mark.parametrize("order", [(od.REST, 60, 0), (od.PUMP_ALLOWED, 0, 60),
                                   (od.DRAIN_DOWN, 1, 60)])  # fmt: skip
def test_release_gives_the_day_back_to_the_rig(order):
    keeper = rested(mo.PUMPING)
    keeper.order(*order)
    keeper.run(200)
    keeper.order(od.RELEASE)
    keeper.until(mo.TRIAL, most=100)


def test_release_lights_what_the_button_put_out_for_the_night():
    keeper = rested(mo.RUNNING)
    keeper.order(od.LAST, 1)
    keeper.run(MINUTES + 200)
    assert not lit(keeper)
    keeper.order(od.RELEASE)
    keeper.run()
    assert lit(keeper)


@pytest.mark.parametrize("state", [mo.TRIAL, mo.PUMPING, mo.RUNNING, mo.DRAINING])
def test_maintenance_that_insists_stops_what_runs_and_ends_by_order(state):
    keeper = ordered_in(state)
    keeper.run(20)
    keeper.order(od.MAINTAIN, 2)
    keeper.until(mo.MAINTENANCE, [SUN, WATER], most=45)
    keeper.run(300)
    assert keeper.state == mo.MAINTENANCE
    assert not od.stay_out_is_due(keeper)
    keeper.order(od.MAINTAIN, 0)
    keeper.order(od.RELEASE)
    keeper.run(2)
    assert keeper.state == mo.STANDSTILL


def test_the_program_leaves_for_the_laptop_s_tools_only_if_asked_and_only_at_rest():
    keeper = ordered_in(mo.RUNNING)
    keeper.run(20)
    keeper.order(od.MAINTAIN, 2, 1)
    while keeper.state != mo.MAINTENANCE:
        assert not od.stay_out_is_due(keeper)
        keeper.run()
    assert od.stay_out_is_due(keeper)
    keeper.order(od.MAINTAIN, 1, 0)
    assert not od.stay_out_is_due(keeper)


def test_the_clock_that_is_set_goes_on_and_is_told():
    keeper = rested(at_dusk=0, clock_on_min=61, clock_off_min=62)
    keeper.order(od.CLOCK, 20_000, 3600)
    keeper.bench.drain()
    told = posted(keeper.bench, ev.CLOCK_SET)
    now_ds = keeper.uptime_ds
    assert told == [(ev.CLOCK_SET, 0, 60, mo.STANDSTILL, now_ds)]
    # At that uptime the day 20 000 began: an hour before now.
    assert (keeper.clock_days, keeper.clock_set_ds) == (20_000, now_ds - 36_000)
    assert keeper.until(mo.RUNNING) == MINUTES
    assert keeper.until(mo.CLOSING) == MINUTES
