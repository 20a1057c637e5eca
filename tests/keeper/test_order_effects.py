"""What an order does, for how long, and what ends it: holds to the scan."""

import pytest

from keeper import events as ev
from keeper import modes as mo
from keeper.operation import orders as od
from tests.keeper.ordered import lit, ordered_in, rested
from tests.keeper.ways import FULL, MINUTES, NOT_FULL, SUN, WATER, posted

DAY_MIN = 1440
ORDINARY_MW = 600


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
        keeper.core.sequence.forbidden_periods -= (holds_min - 30) * MINUTES
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
    assert keeper.core.sequence.forbidden_periods == 0
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
    keeper.core.sequence.forbidden_periods = 3
    keeper.bench.step(1300)
    assert keeper.core.sequence.forbidden_periods == 0


# Drain-down, release, maintenance, clock

@pytest.mark.parametrize(("minutes", "holds"), [(1, MINUTES), (10_080, 10_080 * MINUTES),
                                                (0, DAY_MIN * MINUTES)])  # fmt: skip
def test_a_drain_is_held_for_its_minutes_and_a_day_if_none_are_named(minutes, holds):
    keeper = rested()
    keeper.order(od.DRAIN_DOWN, 1, minutes)
    assert keeper.core.sequence.drain_periods == holds
    keeper.run()
    assert keeper.state == mo.DRAINING
    keeper.order(od.DRAIN_DOWN, 0, minutes)
    assert keeper.core.sequence.drain_periods == 0
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
