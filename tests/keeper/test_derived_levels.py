"""The level's mean, its quarrel with the metered volumes, and leaks, at their limits.

A tank in which a litre is a millimetre; pulses of 1 mL.
"""

import pytest

from keeper import channels as ch
from keeper import modes as mo
from keeper.protection import derived as dv
from tests.keeper.test_derived_by_hand import EVERY_STATE, HOUR, MINUTE, Work

LITRE = 1000  # pulses


class Tank(Work):
    """A level that has stood long enough for its mean to have come to it."""

    def at(self, mm, up_L=0, down_L=0, periods=1):
        """Takes one scan at a level, with litres metered since the last; returns the values."""
        self.derived.mean = ch.INVALID
        values = self.fill([(ch.LEVEL_MM, mm), (ch.PULSES_UP, up_L * LITRE),
                            (ch.PULSES_DOWN, down_L * LITRE)], periods)
        self.set([(ch.PULSES_UP, 0), (ch.PULSES_DOWN, 0)])
        return values

    def gap(self, *scan, **volumes):
        return self.at(*scan, **volumes)[dv.LEVEL_GAP]

    def leak(self, mm, periods=1):
        return self.at(mm, periods=periods)[dv.LEAK_MM]


# The mean

def test_the_mean_takes_a_hundred_and_twenty_eighth_of_each_scan():
    work = Work()
    assert work.fill([(ch.LEVEL_MM, 400)])[dv.LEVEL_MEAN] == 400
    assert work.fill([(ch.LEVEL_MM, 528)])[dv.LEVEL_MEAN] == 401
    assert work.fill([(ch.LEVEL_MM, 401)])[dv.LEVEL_MEAN] == 401
    assert work.fill([(ch.LEVEL_MM, 400 - 128)])[dv.LEVEL_MEAN] == 399


def test_a_level_that_comes_back_begins_its_mean_anew():
    work = Work()
    work.fill([(ch.LEVEL_MM, 400)], scans=50)
    assert work.fill([(ch.LEVEL_MM, ch.INVALID)])[dv.LEVEL_MEAN] == ch.INVALID
    assert work.fill([(ch.LEVEL_MM, 700)])[dv.LEVEL_MEAN] == 700


# Level against volumes

@pytest.mark.parametrize(("mm", "up_L", "down_L", "gap"), [
    (49, 0, 0, 0), (50, 0, 0, 50), (-49, 0, 0, 0), (-50, 0, 0, 50),
    (0, 49, 0, 0), (0, 50, 0, 50), (0, 0, 49, 0), (0, 0, 50, 50),
    (30, 50, 0, 20), (-30, 50, 0, 80), (60, 60, 0, 0), (-60, 0, 60, 0), (60, 0, 60, 120),
    (0, 90, 30, 60), (45, 45, 0, 0)])
def test_what_the_level_moved_is_held_against_what_was_metered(mm, up_L, down_L, gap):
    """From 50 mm or 50 L on; up less down."""
    tank = Tank()
    tank.at(400)
    assert tank.gap(400 + mm, up_L=up_L, down_L=down_L) == gap


def test_a_comparison_begins_where_the_last_one_ended_and_its_result_stays():
    tank = Tank()
    tank.at(400)
    assert tank.gap(450, up_L=20) == 30
    assert tank.gap(480, up_L=20) == 30   # 30 mm and 20 L since: no comparison yet
    assert tank.gap(500, up_L=30) == 0    # 50 mm and 50 L
    assert tank.gap(449) == 51


def test_a_comparison_that_took_an_hour_is_given_up():
    """Slow drifts of the meter must not add up: another 30 mm alone say nothing."""
    tank = Tank()
    tank.at(400)
    tank.at(400, periods=HOUR - 2)
    tank.at(430)
    assert tank.gap(455) == 55            # the hour was not over
    tank = Tank()
    tank.at(400, periods=1)
    tank.at(400, periods=HOUR - 2)
    tank.at(430, periods=2)
    assert tank.gap(455) == 0
    assert tank.gap(480) == 50


def test_parts_of_a_millilitre_wait_for_the_next_pulse():
    """Pulses of 1.6 mL up, 1.4 mL down: 31 250 make 50 L, three make 4.2 mL."""
    tank = Tank(numbers=[("pulse_up_nL", 1_600_000), ("pulse_down_nL", 1_400_000)])
    tank.at(400)
    for _ in range(31_249):
        tank.fill([(ch.PULSES_UP, 1)])
    assert tank.values[dv.LEVEL_GAP] == 0
    assert tank.fill([(ch.PULSES_UP, 1)])[dv.LEVEL_GAP] == 50
    tank.set([(ch.PULSES_UP, 0)])
    for _ in range(3):
        tank.fill([(ch.PULSES_DOWN, 1)])
    assert (tank.derived.net_mL, tank.derived.down_nL) == (-4, 200_000)
    tank.fill([(ch.PULSES_DOWN, 2)])
    assert (tank.derived.net_mL, tank.derived.down_nL) == (-7, 0)


def test_a_level_that_was_lost_forgets_the_gap_and_begins_the_comparison_anew():
    tank = Tank()
    tank.at(400)
    assert tank.gap(460) == 60
    assert tank.gap(ch.INVALID) == 0
    assert tank.gap(700, up_L=10) == 0    # the jump is no move
    assert tank.gap(750, up_L=50) == 0
    assert tank.gap(800) == 50


# Leaks

def at_rest(mm, **others):
    tank = Tank(**others)
    for _ in range(2 * MINUTE):
        tank.at(mm)
    return tank


def test_a_leak_is_the_fall_since_two_minutes_after_the_last_run():
    tank = Tank()
    assert tank.leak(420, periods=2 * MINUTE - 1) == 0
    assert tank.leak(400) == 0            # at rest from here on
    assert tank.leak(395) == 5
    assert tank.leak(410) == -10


@pytest.mark.parametrize("state", EVERY_STATE)
def test_a_fall_counts_as_a_leak_only_at_standstill_with_the_valve_told_shut(state):
    for told in (0, 1):
        tank = at_rest(400)
        assert tank.leak(395) == 5
        tank.derived.commanded = told
        tank.state = state
        assert tank.leak(380) == (20 if state == mo.STANDSTILL and not told else 0)


def test_what_a_run_took_is_no_leak_afterwards():
    tank = at_rest(400)
    tank.state = mo.RUNNING
    tank.at(300)
    tank.state = mo.STANDSTILL
    assert tank.leak(300, periods=2 * MINUTE - 1) == 0
    assert tank.leak(299) == 0
    assert tank.leak(295) == 4


def test_a_leak_is_looked_for_anew_after_six_hours():
    """What evaporates in a summer is none."""
    tank = at_rest(400)
    assert tank.leak(390, periods=6 * HOUR - 2 * MINUTE - 1) == 10
    assert tank.leak(389) == 0
    assert tank.leak(388) == 1
    assert tank.leak(380, periods=6 * HOUR - 2 * MINUTE - 2) == 9
    assert tank.leak(379) == 0


def test_a_level_that_was_lost_is_no_leak_when_it_comes_back():
    tank = at_rest(400)
    assert tank.leak(ch.INVALID) == 0
    assert tank.leak(300) == 0
    assert tank.leak(295) == 5


# A tank whose surface changes with its level

def litres_of_taper(mm):
    """Of 0.2 m2 at its floor and 1.6 m2 a metre higher: 0.2 h + 0.7 h2, in litres."""
    return 0.2 * mm + 0.7 * mm * mm / 1000


TAPER = [("level_empty_mm", 100), ("level_low_mm", 85), ("level_full_mm", 900),
         ("level_high_mm", 915)] + [
    (f"volume_{step}_mL", round(1000 * (litres_of_taper(100 + 50 * step) - litres_of_taper(100))))
    for step in range(1, 17)]


@pytest.mark.parametrize(("from_mm", "to_mm"), [
    (100, 160), (160, 100), (300, 360), (555, 495), (840, 900), (900, 840)])
def test_in_a_tapered_tank_a_true_volume_is_no_quarrel_wherever_the_level_stands(from_mm, to_mm):
    """By one mean surface 60 mm near the floor or the rim lie 20 mm and more beside it."""
    tank = Tank(numbers=TAPER)
    tank.at(from_mm)
    litres = litres_of_taper(to_mm) - litres_of_taper(from_mm)
    moved = {"up_L" if litres > 0 else "down_L": round(abs(litres))}
    # A millimetre each of the table's steps, of whole litres and of whole millimetres.
    assert tank.gap(to_mm, **moved) <= 3
