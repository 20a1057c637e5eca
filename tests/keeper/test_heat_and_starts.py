"""The motor's heat and the starts of the pump, each figure worked out by hand.

H(n) = H(n-1) + (share^2 - H(n-1)) / (tau + 1), once a second, in whole numbers;
share: permille of the base current. Scripted: base 2 A, tau 60 s, 120 starts an hour.
"""

import pytest

from keeper import channels as ch
from keeper import modes as mo
from keeper.protection import derived as dv
from keeper.protection.derived import Heat, Starts
from tests.keeper.test_derived_by_hand import HOUR, Work


def test_a_second_of_current_heats_the_model_by_its_share_of_the_base_squared():
    """600 of 2000 mA: 300 permille; 90 000 of the full heat, over tau + 1 = 61 s: 1475."""
    work = Work(mo.PUMPING, pump_on=1)
    work.fill([(ch.PUMP_MA, 600)], scans=9)
    assert work.derived.heat.heat == 0
    work.fill()
    assert work.derived.heat.heat == 90_000 // 61
    assert work.values[dv.THERMAL] == 1
    work.fill([(ch.PUMP_MA, 0)], scans=10)
    assert work.derived.heat.heat == 1475 + (0 - 1475) // 61


@pytest.mark.parametrize(("pump_on", "reason", "heat"), [
    (1, ch.CLIPPED, 16_000_000 // 61),  # 8 A of 2 A: 4000 permille
    (0, ch.CLIPPED, 0), (1, ch.OPEN, 0), (1, ch.NO_ANSWER, 0)])
def test_a_current_beyond_its_monitor_is_its_most_while_the_pump_is_on(pump_on, reason, heat):
    work = Work(mo.PUMPING, pump_on=pump_on)
    work.why[ch.PUMP_MA] = reason
    work.fill([(ch.PUMP_MA, ch.INVALID)], scans=10)
    assert work.derived.heat.heat == heat


def test_a_current_of_half_a_second_counts_half():
    heat = Heat(1000, 60)
    for mA in [1000] * 5 + [0] * 5:
        heat.pass_time(mA, 1)
    assert heat.heat == 250_000 // 61


def test_a_current_that_flows_back_cools_no_less_than_none():
    heat = Heat(1000, 60)
    for mA in [1000] * 5 + [-400] * 5:
        heat.pass_time(mA, 1)
    assert heat.heat == 250_000 // 61


def test_a_late_scan_is_so_many_seconds_of_its_one_current():
    """25 periods: two steps at 1000 of 1000 mA, half a second left over."""
    heat = Heat(1000, 60)
    heat.pass_time(1000, 25)
    first = 1_000_000 // 61
    assert heat.heat == first + (1_000_000 - first) // 61
    assert (heat.periods, heat.sum_mA) == (5, 0)
    short = Heat(1000, 60)
    short.pass_time(1000, 4)
    short.pass_time(1000, 6)
    assert short.heat == first


@pytest.mark.parametrize("lost", [0, 1])
def test_the_scan_tells_the_model_how_late_it_is(lost):
    """A scan of a second heats as ten of a tenth do, with a reading or beyond its range."""
    work = Work(mo.PUMPING, pump_on=1)
    work.why[ch.PUMP_MA] = ch.CLIPPED
    work.fill([(ch.PUMP_MA, ch.INVALID if lost else 600)], periods=10)
    assert work.derived.heat.heat == (16_000_000 if lost else 90_000) // 61


def test_a_current_of_many_bases_is_followed_up_to_fifteen():
    heat = Heat(10, 60)
    heat.pass_time(8000, 10)
    assert heat.heat == 15_000 ** 2 // 61


def test_a_motor_that_cooled_to_the_end_stays_cold():
    heat = Heat(1000, 10)
    heat.heat = 100
    for _ in range(200):
        heat.pass_time(0, 10)
    assert heat.heat == 0


def test_a_start_runs_out_by_the_milli_hour():
    """7 an hour: 7 thousandths in 3.6 s; what does not fill a thousandth waits."""
    starts = Starts(7)
    starts.count()
    starts.count()
    starts.pass_time(36)
    assert starts.milli == 1993
    for _ in range(36):
        starts.pass_time(1)
    assert starts.milli == 1986
    starts.pass_time(HOUR)
    assert (starts.milli, starts.counted) == (0, 2)


def test_starts_are_counted_up_to_one_more_than_an_hour_allows():
    starts = Starts(3)
    for _ in range(9):
        starts.count()
    assert (starts.milli, starts.counted) == (4000, 9)


def test_starts_run_out_while_the_scans_go_on():
    work = Work()
    work.derived.starts.count()
    values = work.fill(periods=30)  # 120 an hour: 100 thousandths in 3 s
    assert values[dv.STARTS_MILLI] == work.derived.starts.milli == 900


def test_the_full_heat_is_a_thousand_thousandths_of_a_thousandth():
    assert Heat.FULL == 1_000_000


def test_what_does_not_fill_a_milliampere_is_dropped():
    """9 x 600 + 609 = 6009 mA in ten scans: 600."""
    heat = Heat(2000, 60)
    for mA in [600] * 9 + [609]:
        heat.pass_time(mA, 1)
    assert heat.heat == 90_000 // 61


def test_a_single_milliampere_heats_a_small_motor():
    heat = Heat(10, 60)
    heat.pass_time(1, 10)
    assert heat.heat == 100 ** 2 // 61


def test_the_first_second_of_a_cold_motor_begins_with_its_current():
    heat = Heat(1000, 60)
    for mA in [0] * 5 + [1000] * 9:
        heat.pass_time(mA, 1)
    assert heat.heat == 0
    heat.pass_time(1000, 1)
    assert heat.heat == 1_000_000 // 61


def test_a_scan_that_is_two_seconds_late_is_two_whole_steps():
    heat = Heat(1000, 60)
    heat.pass_time(1000, 20)
    first = 1_000_000 // 61
    assert heat.heat == first + (1_000_000 - first) // 61
    assert (heat.periods, heat.sum_mA) == (0, 0)


def test_only_time_after_a_start_lets_it_run_out():
    """One an hour: the first thousandth goes after 3.6 s, however long the pump rested."""
    starts = Starts(1)
    for _ in range(35):
        starts.pass_time(1)
    starts.count()
    for _ in range(35):
        starts.pass_time(1)
    assert starts.milli == 1000
    starts.pass_time(1)
    assert starts.milli == 999
