"""The pace of a served board: each scan once, lateness counted, the line never shut out."""

from collections.abc import Iterator

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from forebay.rehearse.paced import BEHIND_MOST_S, SLICE_S, EveryDay, Paced
from keeper.clock import PERIOD_S
from tests.twin.rigs import steady, twin

SUN = steady(800.0)
LOOK_S = 1e-5   # what a look at the clock takes


class Clock:
    """A clock that others let go on.  Attribute: now_s."""

    def __init__(self):
        self.now_s = 100.0

    def __call__(self):
        self.now_s += LOOK_S
        return self.now_s


class Line:
    """A line whose clients hold the loop up now and then.  Attributes: turns, attached."""

    def __init__(self, clock):
        self.clock = clock
        self.turns = self.attached = 0
        self.delays: Iterator[float] = iter(())

    def attach(self, keeper, desk):
        self.attached += 1

    def detach(self):
        pass

    def work(self, now_ms):
        self.turns += 1
        self.clock.now_s += next(self.delays, 0.0)

    def wait(self, seconds):
        self.clock.now_s += seconds


def paced(folder, speed=1.0, **more):
    clock = Clock()
    one = Paced(twin(folder, SUN, **more), Line(clock), bytes(32), bytes(8), speed, clock)
    one.begin()
    return one


@settings(max_examples=60, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(delays=st.lists(st.floats(0, BEHIND_MOST_S / 2), max_size=40))
def test_no_period_is_left_out_and_none_comes_before_its_time(tmp_path_factory, delays):
    one = paced(tmp_path_factory.mktemp("board"))
    began_s = one.clock.now_s
    one.line.delays = iter(delays)
    for _ in range(200):
        one.turn()
        passed = (one.clock.now_s - began_s) / PERIOD_S
        # It may be behind by what it was held up for, but never ahead.
        assert passed - BEHIND_MOST_S / PERIOD_S <= one.scans <= passed + 1
    assert one.twin.scans == one.scans == one.twin.periods
    assert one.twin.keeper.health.late_scans == one.late_scans
    assert one.late_most_s <= BEHIND_MOST_S
    if max(delays, default=0.0) < PERIOD_S - SLICE_S:
        assert one.late_scans == 0


def test_what_came_late_is_published_as_on_a_board(tmp_path):
    one = paced(tmp_path)
    one.turn()
    one.line.delays = iter([0.25])
    for _ in range(10):
        one.turn()
    health = one.twin.keeper.health
    # Due after 0.1 and 0.2 s and scanned after 0.25 s: the first is late by more than a period.
    assert (one.late_scans, health.late_scans) == (1, 1)
    assert health.late_ms == pytest.approx(150, abs=2)


def test_while_the_computer_sleeps_the_rigs_time_stands_still(tmp_path):
    one = paced(tmp_path)
    one.line.delays = iter([0.0, 3600.0])
    for _ in range(40):
        one.turn()
    assert one.scans < 60
    scans, now_s = one.scans, one.clock.now_s
    for _ in range(40):
        one.turn()
    assert (one.scans - scans) * PERIOD_S == pytest.approx(one.clock.now_s - now_s, abs=0.2)


def test_at_a_pace_that_cannot_be_kept_the_line_has_its_turn(tmp_path):
    one = paced(tmp_path, speed=1e6)
    for turns in range(1, 20):
        began_s = one.clock.now_s
        one.turn()
        assert one.line.turns == turns
        assert one.clock.now_s - began_s < 2 * SLICE_S
    assert one.scans > 1000


def test_twice_the_speed_is_twice_the_scans(tmp_path):
    scans = []
    for speed in (1.0, 2.0):
        (tmp_path / str(speed)).mkdir()
        one = paced(tmp_path / str(speed), speed)
        while one.clock.now_s < 110.0:
            one.turn()
        scans.append(one.scans)
    assert scans[1] == pytest.approx(2 * scans[0], abs=2)


def test_a_button_is_held_as_long_as_it_was_said(tmp_path):
    one = paced(tmp_path)
    one.press(2.0)
    pressed = 0
    for _ in range(60):
        one.step()
        pressed += one.twin.board.button
    assert pressed == 20
    assert one.twin.board.button == 0


def test_each_start_of_the_board_has_the_line_anew(tmp_path):
    one = paced(tmp_path)
    one.step()
    assert one.line.attached == 1
    one.bring_on("power-cut")
    one.step()
    assert not one.twin.powered
    assert one.served is None
    while not one.twin.powered:
        one.step()
    one.step()
    assert one.line.attached == 2
    assert one.served is one.twin.keeper


def test_who_is_ordered_to_leave_starts_anew(tmp_path):
    one = paced(tmp_path)
    one.step()
    one.twin.keeper.leaving = True
    one.twin.keeper.core.sequence.maintenance = True
    for _ in range(200):
        one.step()
        if not one.twin.powered:
            return
    raise AssertionError("it went on")


def test_the_day_comes_again_and_again():
    day = EveryDay([float(minute) for minute in range(1441)])
    assert [day[0], day[1439], day[1440], day[2 * 1440 + 7]] == [0, 1439, 0, 7]
    assert len(day) > 10**12


def test_what_a_hand_reads_is_told(tmp_path):
    one = paced(tmp_path)
    one.do("dip", "", 0.0, 0.0)
    assert one.said == [f"dip: {one.twin.plant.upper.level_m * 1000:.0f} mm"]
    one.do("lift", "LSH-UP", 0.0, 0.0)
    one.step()
    assert one.twin.plant.full.up
