"""What the judges ask of a rig with less: no more than it can see, and no less."""

import random

import pytest

from forebay.rig.instruments import mask
from keeper.operation import orders
from tests.campaign import days, given, ideal, lesser
from tests.campaign.hazards import Watch
from tests.campaign.limits import Limits
from tests.campaign.ordinary import Ordinary
from tests.campaign.people import Hand, Script
from tests.campaign.scene import demo, wishes_of
from tests.campaign.still import BELOW, BEYOND, LIMITS, driven, looked
from tests.campaign.waiting import sure_m3_s
from tests.campaign.wishes import STOPPED, Told
from tests.rig.less import without

RIG, SETTINGS = demo()
FEW_S = 3.0                # looks of a second
BRIGHT = ([900.0] * 1441, [35.0] * 1441, [14.0] * 1441)


def lacking(*names):
    """Returns the demo's rig without some instruments, as its parts lay it out."""
    return {**RIG, **{f"sensors.{name}": "absent" for name in names}}


def test_without_a_flow_meter_a_flow_is_sure_by_the_power_that_an_empty_lower_tank_needs():
    useful_m3_s = RIG["limits.useful_flow_m3_s"]
    # By the meter: 2 % wrong, sqrt 3 times; a pulse of 450 a litre may fall out of its 2 s.
    assert sure_m3_s(RIG) == pytest.approx(useful_m3_s * 1.0346 + 1e-3 / 450 / 2, rel=1e-3)
    by_power = sure_m3_s(lacking("flow_up"))
    # A metre less of lift, of about 12: the same power lifts more, by less than half as much.
    assert 1.0 < by_power / useful_m3_s < 1.5
    # Nothing tells of the flow: only what truly lifts too little is too little.
    assert sure_m3_s(lacking("flow_up", "pump_meter")) == useful_m3_s


class Pressed:
    """A twin that takes note of what a person does."""

    def __init__(self):
        self.done = []

    def stop(self, pressed):
        self.done.append(("stop", pressed))

    def order(self, code, a, b=0):
        self.done.append((code, a))


@pytest.mark.parametrize(("reads_stop", "after"), [(True, []), (False, [(orders.RESET, 1)])])
def test_who_lets_go_of_a_stop_that_the_board_does_not_read_resets_it(reads_stop, after):
    twin, script = Pressed(), Script(random.Random(1), False, [600])
    script.steps = [(10, "stop", (5,))]
    hand = Hand(twin, script, None, reads_stop)
    hand.act(10.0)
    hand.act(15.0)
    assert twin.done == [("stop", True), ("stop", False), *after]


def test_on_a_day_without_a_fault_nobody_presses_a_stop_that_the_board_does_not_read(monkeypatch):
    scripts = {}
    for with_faults in (True, False):
        for told in (RIG, lacking("local_stop")):
            monkeypatch.setattr(lesser, "told", lambda _, rig=told: {
                "rig": rig, "settings": SETTINGS})
            scripts[with_faults, told["sensors.local_stop"]] = any(
                days._drawn(days.Day(seed, with_faults=with_faults, demo=True))[2].presses_stop()
                for seed in range(20))
    assert scripts == {(True, "fitted"): True, (False, "fitted"): True,
                       (True, "absent"): True, (False, "absent"): False}


def test_a_day_on_which_somebody_pressed_such_a_stop_is_not_without_a_fault():
    result = days.Result(days.Day(1), "", (), 0.0, 0.0, 0.0, 2, 0, ())
    assert result.is_healthy
    assert not result._replace(is_cut=True).is_healthy
    assert not result._replace(fault="frost").is_healthy


def test_what_the_summary_leaves_to_the_person_who_resets_is_judged_all_the_same():
    plant = without("local_stop").plant()
    assert {"held", "open", "start"} <= set(given._left(plant))
    assert not {"dark", "idle"} & set(given._left(plant))
    # Another reason for the same hazard leaves it.
    assert "idle" in given._left(without("local_stop", "flow_up").plant())
    assert mask(plant) != mask(RIG)


@pytest.mark.parametrize("side", [BEYOND, BELOW])
def test_after_an_unread_stop_the_dark_is_excused_for_the_wait_of_a_trip_and_no_longer(twin, side):
    twin.watch = Watch(twin, lacking("local_stop"), blind=("stopped",))
    limits = twin.watch.limits
    twin.plant.press_stop(True)
    looked(twin, 60.0, step_s=1.0)
    twin.plant.press_stop(False)
    twin.wishes.tell(Told(twin.plant.time_s, orders.LIGHT, 600, 600))
    found = looked(twin, limits.trip_wait_s + limits.unseen_s + side * FEW_S, step_s=1.0)
    assert ("dark" in found) == (side == BEYOND)


BLIND = ("local_stop", "empty_float", "level")
SHUTS_S = 10.0             # after the release, before the board has taken the lamps for dark


def lit_and_stopped(twin, names, asks):
    """Lights for long, presses the stop till the keeper shuts; returns the limits."""
    twin.watch = Watch(twin, lacking(*names), blind=("stopped",))
    twin.wishes.tell(Told(twin.plant.time_s, orders.LIGHT, 600, 600))
    plant = twin.plant
    plant.down.lamp_A, plant.down.generator_V = 0.06, 10.0
    driven(twin, 500)
    looked(twin, 2000.0, step_s=1.0)
    plant.down.lamp_A = plant.down.generator_V = 0.0
    plant.press_stop(True)
    looked(twin, 5.0, step_s=1.0)
    plant.press_stop(False)
    twin.wishes.tell(Told(plant.time_s, STOPPED, 0))
    looked(twin, SHUTS_S, step_s=1.0)
    driven(twin, 0)
    looked(twin, 1.0, step_s=1.0)
    for code in asks:
        twin.wishes.tell(Told(plant.time_s, code, 1, 60))
    return twin.watch.limits


# Day 67 of the modest demo: 71L-LMP took a pressed stop for an empty tank.
@pytest.mark.parametrize(("names", "asks", "rests"), [
    (BLIND, (), True), (BLIND, (orders.RESET,), True), (BLIND, (orders.LIGHT,), False),
    (BLIND[:2], (), False), (BLIND[1:], (), False)])
@pytest.mark.parametrize("side", [BEYOND, BELOW])
def test_a_stop_that_looks_like_an_empty_tank_excuses_the_longest_rest_till_light_is_asked_for(
        twin, names, asks, rests, side):
    limits = lit_and_stopped(twin, names, asks)
    longer_s = RIG["limits.light_rest_longest_s"] - RIG["limits.light_least_off_s"]
    excused_s = limits.trip_wait_s + limits.unseen_s + (longer_s if rests else 0.0)
    found = looked(twin, excused_s - SHUTS_S + side * FEW_S, step_s=1.0)
    assert ("dark" in found) == (side == BEYOND)


def test_what_such_a_stop_has_shut_may_be_noticed_till_the_valve_is_open_again(twin):
    seen, unseen = Ordinary(twin, RIG), Ordinary(twin, lacking("local_stop"))
    plant = twin.plant
    plant.press_stop(True)
    for one in (seen, unseen):
        one.follow()
    plant.press_stop(False)
    for after_s, is_true in ((LIMITS.unlit_s - 0.1, True), (0.2, False)):
        plant.time_s += after_s
        assert unseen.is_true("71L-LMP") == is_true
        assert not seen.is_true("71L-LMP")
        assert not unseen.is_true("37-PMP")


def test_an_ideal_keeper_rests_its_light_after_such_a_stop(twin):
    told = [Told(10.0, orders.LIGHT, 600, 600), Told(3600.0, STOPPED, 1), Told(3700.0, STOPPED, 0)]
    dark = ([0.0] * 1441, [35.0] * 1441, [14.0] * 1441)
    lit_J = []
    for names, more in ((("local_stop",), ()), (BLIND, ()),
                        (BLIND, (Told(4010.0, orders.LIGHT, 600, 600),))):
        rig = {**lacking(*names), "upper.start_volume_m3": 0.9, "lower.start_volume_m3": 0.3}
        one = ideal.Ideal(rig, dark, wishes_of(RIG, SETTINGS), [*told, *more])
        lit_J.append(one.run(7200.0).lamp_J)
    # From the stop on half an hour and the way of the valve, not the wait of a trip alone.
    rest_s = LIMITS.unlit_s + RIG["limits.light_rest_longest_s"] - 100.0 - LIMITS.trip_wait_s
    assert lit_J[0] - lit_J[1] == pytest.approx(0.6 * rest_s, rel=0.02)
    assert lit_J[2] == pytest.approx(lit_J[0], rel=0.01)


def test_a_pump_that_asks_an_unread_lower_tank_has_the_starts_of_its_growing_waits():
    # Waits of 300, 600, 1200, then 1920 s in 4 h: starts at 0, 300, 900, 2100, 4020, 5940,
    # 7860, 9780, 11700 and 13620 s.
    assert Limits(lacking("lower_empty_float")).dry_starts == 10
    assert Limits(RIG).dry_starts == Limits(RIG).retries == 8


def test_where_no_low_float_ends_a_light_an_empty_tank_does(twin):
    seen, unseen = Ordinary(twin, RIG), Ordinary(twin, lacking("empty_float"))
    for element in ("80-VLV", "37-GEN"):
        assert not unseen.is_true(element)
    twin.plant.upper.volume_m3 = 0.0
    for element in ("80-VLV", "37-GEN"):
        assert unseen.is_true(element)
        assert not seen.is_true(element)


@pytest.mark.parametrize(("names", "level_m", "is_full"), [
    # Full at 0.960 m; the level errs by 5 mm, sqrt 3 times, and reads whole steps with noise.
    (("full_float",), 0.955, True), (("full_float",), 0.935, False), ((), 0.955, False)])
def test_a_level_that_stands_for_the_full_float_may_stop_the_pump_early_by_its_error(
        twin, names, level_m, is_full):
    twin.watch = Watch(twin, lacking(*names))
    twin.plant.upper.add(level_m - twin.plant.upper.volume_m3)
    assert twin.watch.looking._is_full() == is_full


@pytest.mark.parametrize("names", [(), ("lower_full_float",)])
def test_who_does_not_see_the_lower_tank_full_may_light_on_over_it_and_lift_nothing(names):
    # Day 282 of a subset: light that was ordered for the whole of a sunny day.
    rig = {**lacking(*names), "upper.start_volume_m3": 0.6, "lower.start_volume_m3": 1.27}
    told = [Told(0.0, orders.LIGHT, 600, 300)]
    given = ideal.could_give(rig, BRIGHT, lambda: wishes_of(RIG, SETTINGS), told, (), 7200.0,
                             lambda given: False)
    assert (given.lifted_L > 50.0) == (not names)


class Water:
    """As much of a plant as `Reckoned` looks at."""

    class Float:
        def __init__(self, up):
            self.up = up

    def __init__(self, volume_m3, full=False, wet=True):
        self.upper = self
        self.volume_m3 = volume_m3
        self.full, self.upper_wet = self.Float(full), self.Float(wet)


def test_between_the_floats_a_rig_without_a_level_counts_on_what_is_sure():
    one = ideal.Reckoned(lacking("level", "flow_up"))
    assert one.sure_m3(0.5) == 0.5                       # no float has told: nothing is dimmed
    one.follow(Water(0.96, full=True))
    # 910 L, of which a litre's light is 7 % uncertain, twice.
    assert one.sure_m3(0.91) == pytest.approx(0.91 * 0.86)
    one.follow(Water(0.86))
    left_m3 = 0.91 - 0.1 * 1.14
    assert one.known_m3 == pytest.approx(left_m3)
    one.follow(Water(0.90))                              # it does not see what comes up
    assert one.known_m3 == pytest.approx(left_m3)
    assert one.most_m3(0.85) == pytest.approx(max(0.85, 1.14 * left_m3))
    one.follow(Water(0.05, wet=False))
    assert one.sure_m3(0.0) == 0.0
    metered = ideal.Reckoned(lacking("level"))
    for water in (Water(0.05, wet=False), Water(0.05), Water(0.15)):
        metered.follow(water)
    assert metered.known_m3 == pytest.approx(0.1 * 0.86)


@pytest.mark.parametrize(("rig", "litres"), [
    (RIG, True), (lacking("panel_meter"), True),
    (lacking("panel_meter", "pump_meter"), False)])
def test_where_nothing_reads_the_sun_light_that_is_ordered_ends_a_run_of_the_pump(rig, litres):
    rig = {**rig, "upper.start_volume_m3": 0.5}
    told = [Told(600.0, orders.LIGHT, 600, 60)]
    one = ideal.Ideal(rig, BRIGHT, wishes_of(RIG, SETTINGS), told)
    before = one.run(600.0)
    after = one.run(1800.0)
    assert before.lifted_L > 20.0
    assert (after.lifted_L > before.lifted_L + 20.0) == litres
    assert (after.lamp_J > 300.0) != litres
