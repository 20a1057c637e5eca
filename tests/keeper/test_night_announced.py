"""The night's plan in the keeper: what is held, what is said, and what a quarter hour teaches."""

import pytest

from keeper import channels as ch
from keeper import events as ev
from keeper import modes as mo
from keeper.operation import orders as od
from keeper.operation.night import Night
from keeper.protection import elements as el
from keeper.protection.volumes import Volumes
from tests.keeper.ordered import ordered_in
from tests.keeper.scripted import NUMBERS, settings_with
from tests.keeper.ways import DULL, EMPTY, NIGHT

CURVE = [dict(NUMBERS)[f"specific_{point}_mJ_L"] for point in range(1, 9)]
PLANNED, LASTS = ev.LIGHT_PLANNED, ev.LIGHT_LASTS
SHORT, LASTING, UNKNOWN = 0, 1, 2
WANTED, LEAST = 0, 1


def night(**changes):
    settings = settings_with(tuple(changes.items()))
    return Night(settings, Volumes(settings))


def planned(wanted_mW, level_mm, minutes):
    """What the plan of a night says with the water at a level."""
    one = night()
    return one.plan(wanted_mW, one.water_mL(level_mm), one.most_mL(level_mm), minutes)


def dusk(level_mm, **changes):
    """A rig at a level whose night begins; returns it with what was said so far."""
    keeper = ordered_in(mo.STANDSTILL, **changes)
    keeper.run(1000, [(ch.LEVEL_MM, level_mm), (ch.LAMP_MA, 50), (ch.GENERATOR_MV, 12_000)])
    keeper.until(mo.RUNNING, [NIGHT])
    keeper.run(30)
    return keeper


def said(keeper):
    return [event[:3] for event in keeper.bench.events if event[0] in (PLANNED, LASTS)]


def test_a_night_that_lasts_is_said_in_one_line():
    keeper = dusk(960, longest_night_min=300)
    assert said(keeper) == [(PLANNED, LASTING, 600)]
    assert keeper.light.setpoint_mW == 600


def test_a_night_that_is_dimmed_is_held_at_the_planned_power():
    keeper = dusk(960, longest_night_min=470)
    power_mW, _ = planned(600, 960, 470)
    assert 300 < power_mW < 600
    assert said(keeper) == [(PLANNED, LASTING, power_mW)]
    assert keeper.light.setpoint_mW == power_mW
    assert keeper.light.wanted_mW == 600


def test_a_night_that_nothing_lasts_is_said_with_the_hours_that_there_are():
    keeper = dusk(510, longest_night_min=900)
    one = night()
    assert said(keeper) == [(PLANNED, SHORT, 600), (LASTS, WANTED, one.lasts_min(600, 450_000)),
                            (LASTS, LEAST, one.lasts_min(300, 450_000))]  # fmt: skip
    assert keeper.light.setpoint_mW == 600


def test_the_least_useful_light_offers_no_lesser_one():
    keeper = dusk(510, longest_night_min=900, setpoint_mW=300)
    assert [event[:2] for event in said(keeper)] == [(PLANNED, SHORT), (LASTS, WANTED)]


def test_a_rig_that_need_not_last_till_dawn_is_lit_as_wanted_and_told_how_it_stands():
    assert night().lasts_min(600, 900_000) == 451
    assert said(dusk(960, longest_night_min=452, until_dawn=0))[0] == (PLANNED, SHORT, 600)
    assert said(dusk(960, longest_night_min=451, until_dawn=0)) == [(PLANNED, LASTING, 600)]


def test_a_timed_light_is_held_as_ordered_and_an_end_is_planned_for():
    keeper = dusk(960, longest_night_min=470)
    assert planned(900, 960, 470)[1]  # dimmed it would last
    keeper.order(od.LIGHT, 900, 470)
    keeper.run(30)
    assert keeper.light.setpoint_mW == 900
    assert said(keeper)[1:][0] == (PLANNED, SHORT, 900)
    keeper = dusk(960, longest_night_min=300, until_dawn=0)
    keeper.order(od.LAST, 470)
    keeper.run(30)
    assert keeper.light.setpoint_mW == planned(600, 960, 469)[0] < 600


@pytest.mark.parametrize("reading", [20_000, ch.INVALID])
def test_without_a_level_nobody_knows_and_that_is_said_once(reading):
    keeper = dusk(reading, longest_night_min=470)
    keeper.light.replan = True
    keeper.run(30)
    assert said(keeper) == [(PLANNED, UNKNOWN, 600)]
    assert keeper.light.setpoint_mW == 600


def test_while_level_and_meters_disagree_the_light_is_as_wanted_and_nothing_is_learned():
    keeper = dusk(960, longest_night_min=470)
    keeper.core.protection.acting[el.number("3-VOL") - 1] = 1
    keeper.run(9100, [(ch.PULSES_DOWN, 4)])
    assert keeper.light.setpoint_mW == 600
    assert said(keeper)[-1] == (PLANNED, UNKNOWN, 600)
    assert keeper.night.curve == CURVE


@pytest.mark.parametrize(("level", "again"), [(936, False), (880, True)])
def test_a_power_that_changed_by_a_tenth_is_told_again_and_less_is_not(level, again):
    keeper = dusk(960, longest_night_min=470)
    before = keeper.light.setpoint_mW
    keeper.run(1500, [(ch.LEVEL_MM, level)])
    keeper.light.replan = True
    keeper.run(30)
    now = keeper.light.setpoint_mW
    assert now != before
    assert (abs(now - before) * 10 >= now) == again
    assert said(keeper)[1:] == ([(PLANNED, LASTING, now)] if again else [])


@pytest.mark.parametrize(("told_mW", "again"), [(450, True), (451, False), (549, False),
                                                (550, True), (0, True), (500, False)])
def test_the_tenth_is_one_of_the_new_power(told_mW, again):
    keeper = dusk(960, longest_night_min=300, setpoint_mW=500)
    keeper.budget.announced_mW = told_mW
    keeper.light.replan = True
    keeper.run(30)
    assert said(keeper)[1:] == ([(PLANNED, LASTING, 500)] if again else [])


def test_a_changed_wish_is_looked_for_each_second():
    keeper = dusk(960, longest_night_min=300)
    planned = []
    for _ in range(40):
        keeper.light.replan = True
        keeper.run()
        planned.append(not keeper.light.replan)
    assert sum(planned) == 4
    assert planned.index(True, planned.index(True) + 1) - planned.index(True) == 10


def test_water_that_no_longer_lasts_is_told_however_the_power_is():
    keeper = dusk(960, longest_night_min=438)
    keeper.run(1500, [(ch.LEVEL_MM, 300)])
    keeper.light.replan = True
    keeper.run(30)
    assert said(keeper)[1] == (PLANNED, SHORT, 600)
    told = len(said(keeper))
    keeper.light.replan = True
    keeper.run(30)
    assert len(said(keeper)) == told  # it is known by now


def test_a_light_that_pauses_in_the_night_is_not_told_again():
    keeper = dusk(960, longest_night_min=300)
    keeper.until(mo.STANDSTILL, [EMPTY])
    keeper.run(50)
    keeper.until(mo.RUNNING, [(ch.C_71L_UP, 1)])
    keeper.light.replan = True
    keeper.run(30)
    assert said(keeper) == [(PLANNED, LASTING, 600)]


def test_each_night_is_told_anew():
    keeper = dusk(960, longest_night_min=300)
    keeper.run(200, [DULL])
    keeper.run(200, [NIGHT])
    assert said(keeper) == [(PLANNED, LASTING, 600)] * 2


def test_a_tank_that_is_empty_at_dusk_promises_no_light():
    keeper = ordered_in(mo.STANDSTILL)
    keeper.run(300, [EMPTY])
    keeper.run(300, [NIGHT])
    assert said(keeper) == []


def test_a_light_that_has_not_begun_yet_is_planned_for_already():
    keeper = ordered_in(mo.STANDSTILL, light_least_off_s=60)
    keeper.run(100, [NIGHT, (ch.LEVEL_MM, 950)])
    assert keeper.state == mo.STANDSTILL
    told = said(keeper)
    assert told[0][0] == PLANNED
    keeper.run(400, [(ch.LEVEL_MM, 300)])
    assert said(keeper) == told  # a plan stands until the wish changes or its quarter is over


def test_a_light_that_was_just_ended_is_planned_no_more():
    keeper = ordered_in(mo.STANDSTILL)
    keeper.order(od.LIGHT, 600, 60)
    keeper.until(mo.RUNNING)
    told = said(keeper)
    assert told
    keeper.order(od.RELEASE)
    keeper.budget.work()
    keeper.bench.drain()
    assert said(keeper) == told


# Learning in the keeper: 0.6 W from 40 mL/s are 15 J/L

GLOW = [(ch.GENERATOR_MV, 12_000), (ch.LAMP_MA, 50), (ch.PULSES_DOWN, 4)]
QUARTER = 9000  # scans
def glowing(low=0):
    """A rig that has just been lit at its steady 0.6 W; low: what its totals have in the low limb.
    """
    keeper = ordered_in(mo.STANDSTILL, longest_night_min=60)
    keeper.totals.restore([low] * len(ch.TOTALS), [3] * len(ch.TOTALS))
    keeper.run(300, [(ch.LEVEL_MM, 950)])
    keeper.until(mo.RUNNING, [NIGHT, *GLOW])
    keeper.run(15)
    assert keeper.light.setpoint_mW == 600
    return keeper


@pytest.mark.parametrize("low", [0, ch.LIMB - 100_000])
def test_a_quarter_of_an_hour_of_steady_light_teaches_and_less_does_not(low):
    """Also where the totals pass their limb on the way."""
    keeper = glowing(low)
    keeper.run(QUARTER - 60)
    assert keeper.night.curve == CURVE
    keeper.run(60)
    once = night()
    once.learn(900, 540_000, 36_000)
    assert keeper.night.curve == once.curve
    keeper.run(QUARTER - 60)
    assert keeper.night.curve == once.curve
    keeper.run(60)
    once.learn(900, 540_000, 36_000)
    assert keeper.night.curve == once.curve


@pytest.mark.parametrize("change", ["power", "out"])
def test_a_quarter_begins_anew_when_the_light_changes(change):
    keeper = glowing()
    keeper.run(QUARTER - 100)
    if change == "power":
        keeper.order(od.LIGHT, 700, 1440)
    else:
        keeper.until(mo.CLOSING, [EMPTY])
        keeper.until(mo.RUNNING, [(ch.C_71L_UP, 1)])
    keeper.run(QUARTER - 100)
    assert keeper.night.curve == CURVE
    keeper.run(200)
    assert keeper.night.curve != CURVE


def test_the_plan_is_made_anew_each_quarter_of_an_hour():
    keeper = glowing()
    keeper.run(QUARTER - 100, [(ch.LEVEL_MM, 60)])
    assert keeper.light.setpoint_mW == 600
    told = len(said(keeper))
    keeper.run(200)
    assert said(keeper)[told][:2] == (PLANNED, SHORT)


# Without a level: a range

FLOATS = ch.ALL_FITTED & ~(1 << ch.LEVEL_MM | 1 << ch.FLOW_DOWN | 1 << ch.FLOW_UP)


def told_ranges(keeper):
    """What was said of the light: plans, and ranges as (which, least, most) [min]."""
    plans = [event[1:3] for event in keeper.bench.events if event[0] == PLANNED]
    ranges = [(event[1], event[2] & 0x7FFF, event[2] >> 15) for event in keeper.bench.events
              if event[0] == ev.LIGHT_BETWEEN]
    return plans, ranges


def with_floats(fitted=FLOATS, full=True, **changes):
    """A rig without level and flow meters whose night begins."""
    keeper = ordered_in(mo.STANDSTILL, fitted=fitted, **changes)
    keeper.run(1000, [(ch.C_71H_UP, 0 if full else 1), (ch.LAMP_MA, 50),
                      (ch.GENERATOR_MA, 50), (ch.GENERATOR_MV, 12_000)])
    keeper.until(mo.RUNNING, [NIGHT])
    keeper.run(30)
    return keeper


def test_a_full_tank_is_told_as_a_range_that_its_uncertainty_gives():
    """900 L less 14 %, 950 L and 14 % more: 0.6 W from 18.06 J/L."""
    keeper = with_floats(longest_night_min=900, until_dawn=0)
    one = night()
    plans, ranges = told_ranges(keeper)
    assert plans == [(SHORT, 600)]
    assert ranges == [(WANTED, one.lasts_min(600, 774_000), one.lasts_min(600, 1_083_000)),
                      (LEAST, one.lasts_min(300, 774_000), one.lasts_min(300, 1_083_000))]


@pytest.mark.parametrize(("minutes", "said_of_it"), [(380, 1), (400, 3), (550, 0)])
def test_it_is_said_whether_the_water_surely_lasts_may_last_or_does_not(minutes, said_of_it):
    keeper = with_floats(longest_night_min=minutes, until_dawn=0)
    assert told_ranges(keeper)[0] == [(said_of_it, 600)]


def test_the_plan_dims_so_that_the_sure_water_lasts():
    keeper = with_floats(longest_night_min=420)
    power_mW, lasts = night().plan(600, 774_000, 1_083_000, 420)
    assert lasts
    assert 300 < power_mW < 600
    plans, ranges = told_ranges(keeper)
    # One of the steps tried less: some seconds of light are gone.
    assert plans == [(1, pytest.approx(power_mW, abs=10))]
    assert 420 <= ranges[0][1] <= 435
    assert keeper.light.setpoint_mW == plans[0][1]


def test_unknown_water_is_said_and_planned_as_soon_as_a_float_tells():
    keeper = with_floats(full=False)
    assert told_ranges(keeper) == ([(UNKNOWN, 600)], [])
    assert keeper.light.setpoint_mW == 600
    keeper.run(30, [(ch.C_71H_UP, 0)])
    plans, ranges = told_ranges(keeper)
    assert len(plans) == 2
    assert ranges


def test_where_the_generator_alone_is_metered_its_power_is_the_light():
    keeper = with_floats(fitted=FLOATS & ~(1 << ch.LAMP_MA), longest_night_min=60)
    keeper.run(30, [(ch.C_71H_UP, 1)])
    tank = keeper.budget.tank
    assert tank
    before = tank.low_mL
    keeper.run(6000)
    # 0.6 W for ten minutes: 360 J of 18.06 J/L, and 14 % more.
    assert before - tank.low_mL == pytest.approx(1.14 * 360 / 18.06 * 1000, rel=0.03)


def test_a_quarter_by_the_generator_s_meter_teaches_as_well():
    keeper = ordered_in(mo.STANDSTILL, longest_night_min=60,
                        fitted=ch.ALL_FITTED & ~(1 << ch.LAMP_MA))
    keeper.run(300, [(ch.LEVEL_MM, 950)])
    keeper.until(mo.RUNNING, [NIGHT, *GLOW, (ch.GENERATOR_MA, 50)])
    keeper.run(QUARTER + 60)
    once = night()
    once.learn(900, 540_000, 36_000)
    assert keeper.night.curve == once.curve


@pytest.mark.parametrize(("fall_mm", "teaches"), [(36, True), (20, True), (19, False)])
def test_where_no_meter_counts_the_level_teaches_if_it_fell_far_enough(fall_mm, teaches):
    """A tank of 1 m2: a millimetre is a litre."""
    keeper = ordered_in(mo.STANDSTILL, longest_night_min=60,
                        fitted=ch.ALL_FITTED & ~(1 << ch.FLOW_DOWN))
    keeper.run(1500, [(ch.LEVEL_MM, 950)])
    keeper.until(mo.RUNNING, [NIGHT, (ch.GENERATOR_MV, 12_000), (ch.LAMP_MA, 50)])
    keeper.run(15)
    keeper.run(QUARTER - 1500)
    keeper.run(1600, [(ch.LEVEL_MM, 950 - fall_mm)])
    once = night()
    if teaches:
        once.learn(900, 540_000, fall_mm * 1000)
    assert keeper.night.curve == once.curve


def test_a_level_that_is_lost_within_a_quarter_teaches_nothing():
    keeper = ordered_in(mo.STANDSTILL, longest_night_min=60,
                        fitted=ch.ALL_FITTED & ~(1 << ch.FLOW_DOWN))
    keeper.until(mo.RUNNING, [NIGHT, (ch.GENERATOR_MV, 12_000), (ch.LAMP_MA, 50)])
    keeper.run(QUARTER + 60, [(ch.LEVEL_MM, ch.INVALID)])
    assert keeper.night.curve == CURVE
