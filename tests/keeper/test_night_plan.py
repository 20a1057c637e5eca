"""The night's budget: sums by hand, the plan against every power tried, and what is learned."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as some

from keeper import channels as ch
from keeper.operation.night import Night
from keeper.protection.volumes import Volumes
from tests.keeper.scripted import NUMBERS, settings_with

CURVE = [dict(NUMBERS)[f"specific_{point}_mJ_L"] for point in range(1, 9)]
FULL_MW, USEFUL_MW = 1000, 300
TRIES, STEP_MIN = 32, 1
EMPTY_MM, FULL_MM, RESERVE_MM = 50, 960, 10
L_PER_MM = 1             # of the scripted rig, whose tank has 1 m2


def night(**changes):
    settings = settings_with(tuple(changes.items()))
    return Night(settings, Volumes(settings))


def planned(one, wanted_mW, level_mm, minutes):
    """The plan of a night with the water at a level."""
    return one.plan(wanted_mW, one.water_mL(level_mm), one.most_mL(level_mm), minutes)


def specific(power_mW, curve=CURVE, full_mW=FULL_MW):
    """Specific output [mJ/L] on straight lines through the points, from nothing; exact."""
    points = [0, *curve]
    place = min(Fraction(8), Fraction(power_mW * 8, full_mW))
    below = min(7, int(place))
    return points[below] + (points[below + 1] - points[below]) * (place - below)


# Sums

@pytest.mark.parametrize("point", range(1, 9))
def test_the_curve_goes_through_its_points(point):
    assert night().specific_mJ_L(125 * point) == CURVE[point - 1]


@given(power=some.integers(1, 3000), full=some.integers(1, 2000))
def test_between_its_points_the_curve_is_straight_and_beyond_the_last_it_is_level(power, full):
    measured = night(night_full_mW=full).specific_mJ_L(power)
    assert 0 <= specific(power, full_mW=full) - measured < 1 or measured == 1


def test_light_without_power_takes_a_little_of_the_water():
    assert night().specific_mJ_L(0) == 1  # never a division by nothing


@pytest.mark.parametrize(("level", "water_mL"), [
    (50, 0), (49, 0), (-20, 0), (51, 1000), (950, 900_000), (960, 910_000), (985, 935_000)])
def test_water_is_what_stands_above_the_low_float(level, water_mL):
    """1 m2 x 1 mm = 1 L; beyond the full float the tank goes on as it is there."""
    assert night().most_mL(level) == water_mL
    assert night().water_mL(level + RESERVE_MM) == water_mL


@given(some.lists(some.integers(1, 60_000_000), min_size=16, max_size=16), some.integers(-9, 400))
def test_between_the_points_of_the_table_the_water_is_on_straight_lines(steps, level):
    volumes = [sum(steps[:place]) for place in range(17)]
    one = night(level_empty_mm=0, level_full_mm=320, **{
        f"volume_{place}_mL": volumes[place] for place in range(1, 17)}).volumes
    at = min(15, max(0, level // 20))
    line = volumes[at] + Fraction((volumes[at + 1] - volumes[at]) * (level - 20 * at), 20)
    assert one.water_mL(level) == max(0, int(line))
    assert one.mL_per_mm(level) == max(1, min(10_000_000, steps[at] // 20))


@given(power=some.integers(1, 1000), water=some.integers(0, 2_000_000))
def test_light_lasts_as_long_as_the_energy_of_its_water(power, water):
    one = night()
    exact_min = Fraction(water, 1000) * one.specific_mJ_L(power) / power / 60
    assert one.lasts_min(power, water) == int(exact_min)


# The plan

def best(wanted, level, minutes, useful=USEFUL_MW):
    """Of the powers from the wanted one down to the least useful, the first that lasts."""
    least = min(wanted, useful)
    needed = minutes + STEP_MIN
    most, water = [1000 * L_PER_MM * max(0, level - under - EMPTY_MM) for under in (0, RESERVE_MM)]
    for one in range(TRIES + 1):
        power = wanted - (wanted - least) * one // TRIES
        if night().lasts_min(power, water) >= needed:
            return power, True
    return (least, True) if night().lasts_min(least, most) >= needed else (wanted, False)


@given(some.integers(1, 1000), some.integers(0, 1000), some.integers(0, 1440))
def test_the_plan_is_the_first_power_that_lasts_with_its_reserve(wanted, level, minutes):
    assert planned(night(), wanted, level, minutes) == best(wanted, level, minutes)


@pytest.mark.parametrize(("wanted", "useful"), [(1000, 300), (600, 300), (997, 1), (340, 300)])
def test_between_the_wanted_and_the_least_useful_power_32_steps_are_tried(wanted, useful):
    one = night(useful_mW=useful)
    first, last = (one.lasts_min(power, 900_000) for power in (wanted, useful))
    tried = set()
    for minutes in range(int(first * 0.96), max(last, first + 40), 3):
        assert planned(one, wanted, 960, minutes) == best(wanted, 960, minutes, useful)
        tried.add(planned(one, wanted, 960, minutes)[0])
    assert len(tried) > 5


@pytest.mark.parametrize(("minutes", "power_mW"), [(450, 600), (451, 591)])
def test_the_wanted_light_is_kept_up_to_the_last_minute_that_it_lasts(minutes, power_mW):
    """910 L less a reserve of 10 mm, 900 L, give 0.6 W for 451 min."""
    assert planned(night(), 600, 960, minutes) == (power_mW, True)


@pytest.mark.parametrize("level", [61, 70, 100, 500, 960])
def test_the_reserve_is_the_same_water_however_little_is_left(level):
    """Twice the level's uncertainty: the 8 mm that a reading may be high lie within."""
    one = night()
    assert one.most_mL(level) - one.water_mL(level) == RESERVE_MM * L_PER_MM * 1000


def test_when_only_the_reserve_is_left_the_least_useful_light_lives_on_it():
    one = night()
    level, minutes = EMPTY_MM + RESERVE_MM, 4
    assert one.water_mL(level) == 0
    assert planned(one, 600, level, minutes) == (300, True)
    assert planned(one, 600, EMPTY_MM, minutes) == (600, False)


def test_no_plan_is_brighter_than_the_wanted_light():
    """On a rig whose curve is so steep that more power lasts longer."""
    steep = {"specific_1_mJ_L": 1, "specific_2_mJ_L": 2, "specific_3_mJ_L": 100_000}
    one = night(**steep)
    assert one.lasts_min(300, 100_000) > 60 > one.lasts_min(200, 100_000)
    assert planned(one, 200, EMPTY_MM + 100, 60) == (200, False)


def test_the_least_useful_power_is_tried_and_nothing_below_it():
    lasts = night().lasts_min(300, 900_000)
    assert planned(night(), 1000, 960, lasts - STEP_MIN) == (300, True)
    assert planned(night(), 1000, 960, night().lasts_min(300, 910_000)) == (1000, False)
    assert planned(night(), 200, 960, 2 * lasts) == (200, False)


# What is learned

def taught(seconds, energy_mJ, water_mL, **changes):
    one = night(**changes)
    one.learn(seconds, energy_mJ, water_mL)
    return one.curve


def test_a_quarter_at_a_point_moves_it_a_quarter_of_the_way():
    """0.5 W is point 4: 450 J from 22.5 L are 20 J/L, known were 15.835."""
    assert taught(900, 450_000, 22_500) == [
        *CURVE[:3], CURVE[3] + (20_000 - CURVE[3]) // 4, *CURVE[4:]]


def test_a_quarter_between_two_points_moves_each_by_its_nearness():
    """0.6 W is 4.8 of 8: the fourth takes a fifth, the fifth four fifths."""
    known = int(specific(600))
    moved = taught(900, 540_000, 36_000)  # 15 J/L
    for point, share in ((4, Fraction(1, 5)), (5, Fraction(4, 5))):
        change = CURVE[point - 1] * Fraction(15_000 - known, known) * share / 4
        assert abs(moved[point - 1] - CURVE[point - 1] - change) <= 2
    assert moved[:3] + moved[5:] == CURVE[:3] + CURVE[5:]


@pytest.mark.parametrize("power_mW", [1000, 1500, 5000])
def test_a_quarter_at_the_full_power_or_above_moves_the_last_point(power_mW):
    moved = taught(900, 900 * power_mW, 900 * power_mW // 20)  # 20 J/L
    assert moved == [*CURVE[:7], CURVE[7] + (20_000 - CURVE[7]) // 4]


def test_a_quarter_below_the_first_point_moves_it_by_its_nearness():
    moved = taught(900, 900 * 75, 30_000)  # 75 mW is 0.6 of point 1: 2250 mJ/L, known 3166
    change = CURVE[0] * Fraction(2250 - 3166, 3166) * Fraction(3, 5) / 4
    assert abs(moved[0] - CURVE[0] - change) <= 2
    assert moved[1:] == CURVE[1:]


@pytest.mark.parametrize(
    ("seconds", "energy_mJ", "water_mL", "teaches"),
    [(900, 450_000, 5000, True), (900, 450_000, 4999, False), (900, 0, 22_500, False),
     (900, -1, 22_500, False), (0, 450_000, 22_500, False), (1, 500, 5000, True)],
)  # fmt: skip
def test_what_is_too_little_to_tell_teaches_nothing(seconds, energy_mJ, water_mL, teaches):
    assert (taught(seconds, energy_mJ, water_mL) != CURVE) == teaches


def test_without_a_level_a_quarter_moves_the_whole_curve():
    """What is told as learned must be so at every brightness; it was so at two points alone."""
    moved = taught(900, 450_000, 22_500, fitted=ch.ALL_FITTED & ~(1 << ch.LEVEL_MM))
    ratio = 1 + (20_000 / CURVE[3] - 1) / 4
    assert moved == [pytest.approx(value * ratio, abs=2) for value in CURVE]
