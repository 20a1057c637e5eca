"""The steps of the button, and when the night is planned anew."""

import pytest

from keeper import channels as ch
from keeper import events as ev
from keeper import modes as mo
from keeper.operation.button import LONG, NONE, OPEN_SCANS, SHORT, Button
from keeper.protection.elements import BOTH
from tests.keeper.sky import Sky
from tests.keeper.ways import COOL, DULL, HOT, MINUTES, NIGHT, bench_in, drain, posted, until

ORDINARY_MW, PRESS_MIN = 600, 2


@pytest.mark.parametrize(
    ("ordinary", "then"),
    [(100, [300, 600, 1000]), (300, [600, 1000]), (599, [600, 1000]), (600, [1000]),
     (700, [1000]), (999, [1000]), (1000, []), (1500, [])],
)  # fmt: skip
def test_a_tap_at_night_goes_to_the_next_step_above_and_after_the_last_puts_out(ordinary, then):
    light = Sky(setpoint_mW=ordinary).fall_night()
    for power_mW in then:
        light.pressed()
        assert (light.wanted_mW, light.setpoint_mW, light.due()) == (power_mW, power_mW, True)
        assert not light.ordered_periods  # till dawn
    light.pressed()
    assert not light.due()
    assert light.wanted_mW == ordinary
    light.pressed()  # and on again, from the lowest
    assert (light.wanted_mW, light.due()) == (300, True)


def test_taps_by_day_go_through_the_steps_each_for_its_time_and_out():
    sky = Sky()
    light = sky.show(10_000, 200)
    for power_mW in (300, 600, 1000):
        light.pressed()
        assert (light.wanted_mW, light.ordered_periods) == (power_mW, PRESS_MIN * MINUTES)
        sky.show(10_000, 10)
    light.pressed()
    assert (light.due(), light.ordered_periods, light.wanted_mW) == (False, 0, ORDINARY_MW)
    light.pressed()
    assert (light.due(), light.wanted_mW) == (True, 300)
    light.pressed()
    light.pressed()
    light.pressed()
    assert sky.fall_night().due()  # what was put out by day is not put out for the night


def test_at_night_a_tap_on_a_rig_without_dusk_lights_for_its_time():
    light = Sky(at_dusk=0).fall_night()
    light.pressed()
    assert (light.due(), light.ordered_periods) == (True, PRESS_MIN * MINUTES)


def test_a_tap_lights_what_was_put_to_rest():
    light = Sky().fall_night()
    light.rest(60 * MINUTES)
    assert not light.due()
    light.pressed()
    assert light.due()


def test_what_the_button_put_out_stays_out_till_dawn_and_no_longer():
    sky = Sky(setpoint_mW=1000)
    light = sky.fall_night()
    light.pressed()
    assert not sky.show(0, 500).due()
    sky.show(10_000, 60)
    assert sky.fall_night().due()


def test_a_tap_at_night_is_no_step_of_the_next_night():
    sky = Sky()
    sky.fall_night().pressed()
    sky.show(10_000, 60)
    light = sky.fall_night()
    assert light.wanted_mW == ORDINARY_MW
    light.pressed()
    assert light.wanted_mW == 1000


def test_a_rig_has_up_to_eight_steps_and_those_of_no_power_are_none():
    steps = {f"step_{number}_mW": 100 * number for number in range(1, 9)}
    assert Sky(**steps).light.steps == [100, 200, 300, 400, 500, 600, 700, 800]
    assert Sky(**(steps | {"step_2_mW": 0})).light.steps == [100, 300, 400, 500, 600, 700, 800]


def test_a_rig_without_steps_has_a_button_that_lights_nothing():
    light = Sky(step_1_mW=0, step_2_mW=0, step_3_mW=0).fall_night()
    light.pressed()
    assert (light.due(), light.wanted_mW) == (True, ORDINARY_MW)


def test_taps_in_a_lockout_are_no_wish_for_light():
    """Too short a press for a reset, then one that is long enough: nothing may begin with it."""
    bench = bench_in(mo.STANDSTILL)
    bench.run(200)
    bench.scan.sequence.lockout.sides = BOTH
    for scans in (5, 9, 20):
        bench.run(scans, [(ch.BUTTON, 1)])
        bench.run(20, [(ch.BUTTON, 0)])
    assert bench.scan.sequence.lockout.sides == 0
    bench.run(100)
    assert bench.state == mo.STANDSTILL
    assert bench.scan.sequence.light.wanted_mW == ORDINARY_MW


def test_a_long_press_without_a_lockout_is_no_step():
    bench = bench_in(mo.RUNNING)
    bench.run(OPEN_SCANS + 1)
    bench.run(20, [(ch.BUTTON, 1)])
    bench.run(2, [(ch.BUTTON, 0)])
    assert bench.scan.sequence.light.wanted_mW == ORDINARY_MW


def test_a_long_press_without_a_lockout_forgets_no_trip_and_ends_no_drain():
    bench = bench_in(mo.TRIAL)
    until(bench, mo.STANDSTILL, [HOT])
    bench.run(OPEN_SCANS + 1, [COOL, DULL])
    drain(bench)
    bench.run(20, [(ch.BUTTON, 1)])
    bench.run(50, [(ch.BUTTON, 0)])
    assert sum(bench.scan.sequence.lockout.trips) == 1
    assert bench.state == mo.DRAINING


def test_the_least_power_is_a_light():
    assert Sky(setpoint_mW=1).fall_night().due()


def test_a_rig_without_ordinary_light_has_none_at_dusk_and_some_at_the_button():
    sky = Sky(setpoint_mW=0)
    light = sky.fall_night()
    assert not light.due()
    light.pressed()
    assert (light.due(), light.wanted_mW) == (True, 300)


# A plan is made anew when a wish changes

@pytest.mark.parametrize(
    "wish",
    [
        lambda light: light.hold(500, MINUTES), lambda light: light.last(MINUTES),
        lambda light: light.release(), lambda light: light.pressed(),
    ],
)  # fmt: skip
def test_a_changed_wish_asks_for_a_new_plan(wish):
    light = Sky().fall_night()
    assert light.replan
    light.replan = False
    wish(light)
    assert light.replan


def test_dusk_and_dawn_ask_for_a_new_plan():
    sky = Sky()
    assert sky.light.replan
    sky.light.replan = False
    assert sky.fall_night().replan
    sky.light.replan = False
    assert sky.show(10_000, 60).replan


def test_a_hold_that_runs_out_asks_for_a_new_plan():
    sky = Sky()
    light = sky.fall_night()
    light.hold(800, 5)
    light.replan = False
    sky.show(0, 4)
    assert not light.replan
    assert sky.show(0).replan


def test_late_scans_end_holds_and_owe_nothing():
    sky = Sky()
    light = sky.fall_night()
    light.hold(800, 5)
    light.last(5)
    light.off_periods = 5
    sky.show(0, 1, 13)
    assert (light.ordered_periods, light.ends_periods, light.off_periods) == (0, 0, 0)


def test_the_button_s_light_comes_on_in_the_whole_scan():
    bench = bench_in(mo.STANDSTILL)
    bench.run(100, [DULL])
    bench.run(3, [(ch.BUTTON, 1)])
    until(bench, mo.RUNNING, [(ch.BUTTON, 0)], most=3)
    assert until(bench, mo.CLOSING) == PRESS_MIN * MINUTES
    assert posted(bench, ev.STATE)[-1][2] == mo.LIGHT_OVER
    until(bench, mo.RUNNING, [NIGHT])


# What counts as a press

def heard(*contacts):
    """What a fresh button tells of contacts: pairs of contact and scans, or of periods too."""
    button = Button()
    return [button.follow(contact, periods) for contact, scans, periods in contacts
            for _ in range(scans)][-1]  # fmt: skip


@pytest.mark.parametrize(("open_scans", "press"), [(19, NONE), (20, SHORT), (100, SHORT)])
def test_a_button_is_heard_once_it_was_open_for_twenty_scans(open_scans, press):
    """A contact reads open until it has been looked at a few times."""
    assert heard((0, open_scans, 1), (1, 3, 1), (0, 1, 1)) == press


def test_the_twenty_scans_are_in_a_row():
    assert heard((0, 15, 1), (1, 1, 1), (0, 15, 1), (1, 3, 1), (0, 1, 1)) == NONE
    assert heard((0, 15, 1), (1, 1, 1), (0, 20, 1), (1, 3, 1), (0, 1, 1)) == SHORT


@pytest.mark.parametrize(
    ("scans", "periods", "press"),
    [(4, 13, SHORT), (5, 13, LONG), (4, 2, SHORT), (5, 2, LONG), (9, 1, SHORT), (10, 1, LONG),
     (50, 2, LONG), (51, 2, NONE), (50, 13, LONG), (51, 13, NONE), (3, 0, NONE)],
)  # fmt: skip
def test_a_late_scan_shows_two_periods_of_a_press_at_most(scans, periods, press):
    assert heard((0, 20, 1), (1, scans, periods), (0, 1, 1)) == press


def test_each_press_is_measured_by_itself():
    assert heard((0, 20, 1), (1, 8, 1), (0, 1, 1), (1, 8, 1), (0, 1, 1)) == SHORT


def test_a_button_held_for_310_days_is_counted_no_further():
    button = Button()
    button.held_periods = (1 << 28) - 1
    for _ in range(3):
        button.follow(1, 1)
    assert button.held_periods == 1 << 28
