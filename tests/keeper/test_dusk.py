"""Day and night by the panel, what a night teaches, and the clock: each at its border."""

import pytest

from keeper import channels as ch
from keeper import events as ev
from tests.keeper.sky import DARK_S, Sky
from tests.keeper.ways import MINUTES

DARK_MV = 3000
STANDS = 1 << 28  # periods of 0.1 s: 310 days, and a small number on the board


# Dusk and dawn

def test_night_begins_below_the_dark_voltage_and_not_at_it():
    sky = Sky()
    assert not sky.show(DARK_MV, 500).dark
    assert not sky.show(DARK_MV - 1, DARK_S * 10 - 1).dark
    assert sky.show(DARK_MV - 1).dark


def test_day_begins_at_the_dark_voltage_and_not_below_it():
    sky = Sky()
    sky.fall_night()
    assert sky.show(DARK_MV - 1, 500).dark
    assert sky.show(DARK_MV, DARK_S * 10 - 1).dark
    assert not sky.show(DARK_MV).dark


@pytest.mark.parametrize("between", [10_000, ch.INVALID])
def test_whatever_breaks_the_darkness_begins_its_wait_anew(between):
    sky = Sky()
    for _ in range(3):
        sky.show(0, DARK_S * 10 - 1)
        assert not sky.show(between).dark
    sky.show(0, DARK_S * 10 - 1)
    assert not sky.light.dark
    assert sky.show(0).dark


def test_after_dusk_the_wait_for_the_dawn_begins_at_nothing():
    sky = Sky()
    sky.fall_night()
    assert sky.show(10_000, DARK_S * 10 - 1).dark
    assert not sky.show(10_000).dark
    assert not sky.show(0, DARK_S * 10 - 1).dark


def test_late_scans_count_for_the_time_that_they_stand_for():
    sky = Sky()
    assert not sky.show(0, 3, 13).dark
    assert sky.show(0, 1, 13).dark


# What a night teaches

@pytest.mark.parametrize(
    ("minutes", "learned"), [(59, 0), (60, 60), (400, 400), (900, 900), (901, 0), (2000, 0)]
)
def test_a_night_between_an_hour_and_the_longest_is_learned(minutes, learned):
    """A shorter darkness is a cover on the panel, a longer one no night of this site."""
    sky = Sky()
    sky.fall_night()
    # Till the dawn is believed in, its wait counts as night.
    sky.show(0, (minutes - 1) * 60, 10)
    sky.show(0, 60 * 10 - 2 * DARK_S * 10)
    assert not sky.show(10_000, DARK_S * 10).dark
    assert sky.light.last_night_min == learned


@pytest.mark.parametrize(("uptime_ds", "learned"), [(51, 0), (100, 0), (101, 120)])
def test_a_night_whose_dusk_the_board_has_not_seen_teaches_nothing(uptime_ds, learned):
    """Dark since the start: the board may have started in the middle of it."""
    sky = Sky()
    sky.show(10_000, uptime_ds - DARK_S * 10)
    sky.show(0, DARK_S * 10)
    sky.show(0, 120 * 60, 10)
    assert sky.show(10_000, 60).last_night_min == learned


def test_each_night_is_measured_from_its_own_dusk():
    sky = Sky()
    for minutes in (300, 200):
        sky.fall_night()
        sky.show(0, minutes * 60, 10)
        assert sky.show(10_000, 60).last_night_min == minutes
        assert sky.light.night_periods == 0


def test_a_darkness_without_end_is_counted_for_310_days_and_stands_still():
    sky = Sky()
    sky.fall_night().night_periods = STANDS - 5
    assert sky.show(0, 3).night_periods == STANDS - 2
    assert sky.show(0, 5).night_periods == STANDS


# How long the light must last

def test_tonight_lasts_as_long_as_the_night_before_less_what_is_over():
    sky = Sky()
    sky.fall_night()
    sky.show(0, 300 * 60, 10)
    sky.show(10_000, 60)
    sky.fall_night()
    assert sky.light.minutes_left() == 300
    sky.show(0, 100 * 60, 10)
    assert sky.light.minutes_left() == 200
    sky.show(0, 250 * 60, 10)
    assert sky.light.minutes_left() == 0


def test_an_unknown_night_is_taken_to_be_the_longest_of_the_site():
    sky = Sky(longest_night_min=777)
    sky.fall_night()
    assert sky.light.minutes_left() == 777


@pytest.mark.parametrize(("ordered", "ends", "left"), [(0, 90, 90), (45, 0, 45), (45, 90, 90)])
def test_an_ordered_light_must_last_to_its_end(ordered, ends, left):
    sky = Sky()
    sky.fall_night()
    if ordered:
        sky.light.hold(500, ordered * MINUTES)
    if ends:
        sky.light.last(ends * MINUTES)
    assert sky.light.minutes_left() == left
    sky.show(0, 600)
    assert sky.light.minutes_left() == left - 1


@pytest.mark.parametrize(
    ("now_min", "off_min", "left"),
    [(1200, 60, 300), (1200, 1320, 120), (60, 60, 0), (61, 60, 1439), (1200, -1, 240)],
)
def test_light_by_the_clock_lasts_to_the_minute_of_its_end(now_min, off_min, left):
    """Without an end: to midnight. Also by day, on a rig that else lights at dusk."""
    for at_dusk in (0, 1):
        sky = Sky(at_dusk=at_dusk, clock_on_min=1000, clock_off_min=off_min)
        if not at_dusk:
            sky.fall_night()
        sky.light.set_clock(now_min * 60)
        assert sky.light.minutes_left() == left


# The clock

@pytest.mark.parametrize(
    ("on_min", "off_min", "second", "due"),
    [
        (100, 200, 100 * 60 - 1, False), (100, 200, 100 * 60, True),
        (100, 200, 200 * 60 - 1, True), (100, 200, 200 * 60, False),
        (1200, 60, 1200 * 60 - 1, False), (1200, 60, 1200 * 60, True),
        (1200, 60, 86_399, True), (1200, 60, 0, True),
        (1200, 60, 60 * 60 - 1, True), (1200, 60, 60 * 60, False),
        (100, 100, 100 * 60, False), (0, 10, 0, True), (0, 0, 0, False),
        (100, -1, 100 * 60, False), (-1, 200, 100 * 60, False),
    ],
)  # fmt: skip
@pytest.mark.parametrize("at_dusk", [0, 1])
def test_the_clock_lights_from_its_minute_up_to_the_other(on_min, off_min, second, due, at_dusk):
    """By day as well, and beside a rig that also lights at dusk."""
    sky = Sky(at_dusk=at_dusk, clock_on_min=on_min, clock_off_min=off_min)
    assert not sky.light.due()  # nobody has set it
    sky.light.set_clock(second)
    assert sky.light.due() == due


def test_the_clock_runs_on_and_begins_anew_at_midnight():
    sky = Sky()
    sky.light.set_clock(86_399)
    sky.show(0, 9)
    assert sky.light.clock_periods == 863_999
    sky.show(0)
    assert sky.light.clock_periods == 0
    sky.light.set_clock(86_390)
    sky.show(0, 1, 600)
    assert sky.light.clock_periods == 500


@pytest.mark.parametrize(("on_min", "set_it", "told"), [(1200, False, 1), (1200, True, 0),
                                                        (0, False, 1), (-1, False, 0)])
def test_a_clock_that_is_needed_and_not_known_is_told_once(on_min, set_it, told):
    sky = Sky(clock_on_min=on_min, clock_off_min=60)
    if set_it:
        sky.light.set_clock(0)
    for _ in range(3):
        sky.fall_night()
        sky.show(10_000, 60)
    assert sky.told(ev.CLOCK_UNKNOWN) == [[ev.CLOCK_UNKNOWN, 0, on_min]] * told


# Dusk lights only a rig that is told so

def test_dusk_lights_nothing_where_light_comes_by_the_clock_alone():
    sky = Sky(at_dusk=0)
    assert not sky.fall_night().due()


def test_dusk_lights_and_dawn_ends_it():
    sky = Sky()
    assert not sky.show(10_000, 200).due()
    assert sky.fall_night().due()
    assert not sky.show(10_000, DARK_S * 10).due()
