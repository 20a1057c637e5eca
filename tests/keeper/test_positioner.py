"""The valve's positioner: it reckons, rests, presses on at the ends, and learns the zero."""

import pytest
from hypothesis import given
from hypothesis import strategies as some

from forebay.twin.drive import Drive
from keeper.channels import ALL_FITTED, INVALID, VALVE_PERMILLE
from keeper.operation.positioner import Positioner
from tests.keeper.scripted import settings_with
from tests.keeper.small_int import SmallInt

REST = 2                 # scans: valve_rest_ms
PRESS_MS = 800
LEAST = 5_000            # millionths: 20 ms of 4 s


class Valve:
    """A positioner and the true valve that it drives; the reading is off by `offset`."""

    def __init__(self, changes=(), position=0.0, offset=0, coast_s=0.0, sensor=True):
        self.positioner = Positioner(settings_with(changes))
        settings = dict(changes)
        self.drive = Drive(settings.get("valve_run_ms", 4000) / 1000, coast_s,
                           settings.get("valve_backlash_permille", 4) / 1000)
        self.position = position
        self.offset = offset
        self.sensor = sensor
        self.stuck = False
        self.lit = False     # something else than shut is wanted
        self.ms = []
        self.positioner.begin(self.reading())

    def reading(self):
        return round(self.position * 1000) + self.offset if self.sensor else INVALID

    def step(self, is_still=True):
        """One scan; returns whether the zero moved."""
        positioner = self.positioner
        learnt = (positioner.aim == 0 and not positioner.is_learnt
                  and positioner.learn(self.reading(), is_still))
        reading = self.reading()
        seen = reading if reading == INVALID else positioner.true(reading)
        if not self.lit and positioner.goal:
            positioner.shut(seen)
        ms = 0
        if positioner.rests_in:      # as a scan does
            positioner.rests_in -= 1
        else:
            ms = positioner.drive(seen)
        self.ms.append(ms)
        if ms or self.drive.on:
            self.drive.supply(ms / 1000)
            moved = self.drive.step(0.1)
            if not self.stuck:
                self.position = min(1.0, max(0.0, self.position + moved))
        return learnt

    def run(self, scans, **how):
        return sum([self.step(**how) for _ in range(scans)])

    def go(self, frac, scans=200):
        self.lit = True
        self.positioner.go(round(frac * 1e6))
        self.run(scans)


@pytest.mark.parametrize("frac", [0.1, 0.43, 0.99])
@pytest.mark.parametrize("run_ms", [500, 4000, 60_000])
def test_it_stops_where_it_should_by_less_than_a_pulse(frac, run_ms):
    rate = max(10, min(2000, 1_000_000 // run_ms))
    valve = Valve([("valve_run_ms", run_ms), ("valve_rate_permille_s", rate)])
    valve.go(frac, 2000)
    # A pulse and a millisecond, and what cutting a scan's step to a millionth makes.
    cut = frac * run_ms / 1e8
    assert valve.position == pytest.approx(frac, abs=22 / run_ms + cut)
    assert valve.ms[-1] == 0


def test_a_gear_s_play_is_made_good_at_each_change_of_direction():
    valve = Valve([("valve_backlash_permille", 40)])
    valve.go(0.5)
    valve.go(0.4)
    valve.go(0.45)
    assert valve.position == pytest.approx(0.45, abs=3 * LEAST / 1e6)


goals = some.lists(some.tuples(some.integers(0, 1_000_000), some.integers(1, 60)), max_size=12)


@given(goals, some.integers(10, 2000), some.sampled_from([500, 4000, 120_000]),
       some.integers(1, 100))
def test_the_aim_keeps_to_its_rate_and_no_direction_follows_the_other_at_once(
        orders, rate, run_ms, pulse_ms):
    settings = settings_with([("valve_rate_permille_s", rate), ("valve_run_ms", run_ms),
                              ("valve_pulse_ms", pulse_ms)])
    positioner = Positioner([SmallInt(value) for value in settings])
    positioner.begin(SmallInt(0))
    quiet, last = REST, 0
    for goal, scans in orders:
        positioner.go(SmallInt(goal))
        for _ in range(scans):
            aim = positioner.aim
            ms = positioner.drive(INVALID)
            assert abs(positioner.aim - aim) <= rate * 100
            assert -100 <= ms <= 100
            if ms * last < 0:
                assert quiet >= REST
            quiet = 0 if ms else quiet + 1
            last = ms or last


def test_what_nobody_knows_counts_as_open_and_is_shut_over_its_whole_travel():
    valve = Valve(position=1.0, sensor=False)
    valve.positioner.shut(INVALID)
    valve.run(80)
    assert valve.position == 0
    assert -sum(valve.ms) >= 4000 + PRESS_MS
    assert valve.ms[-1] == 0


def test_a_rest_begins_only_after_it_was_pressed_on_at_an_end():
    valve = Valve()
    valve.run(30)
    assert valve.ms == [-100] * 8 + [0] * 22
    valve.go(1.0, 80)
    assert valve.position == 1
    # All the travel, the play of the gear, and pressed on for as long at this end.
    assert sum(valve.ms[30:]) == pytest.approx(4000 + 16 + PRESS_MS, abs=20)


def test_a_reckoning_that_is_off_is_true_again_at_an_end():
    valve = Valve(sensor=False, position=0.15)
    valve.positioner.begin(0)      # believed shut, and it is not
    valve.run(30)
    assert valve.position == 0


def test_shutting_begins_from_where_the_sensor_says():
    valve = Valve()
    valve.go(0.5)
    valve.position = 0.55
    valve.positioner.shut(550)
    assert valve.positioner.at == valve.positioner.aim == 550_000


def test_a_valve_whose_wiper_is_stuck_in_the_shut_place_is_shut_all_the_same():
    """It used to be pressed for the end's sake alone, and a tank of water ran away."""
    valve = Valve()
    valve.go(0.5)
    valve.reading = lambda: 0
    valve.lit = False
    valve.run(60)
    assert valve.position == 0


def test_at_rest_the_reckoning_follows_the_sensor_slowly_and_nothing_moves():
    valve = Valve()
    valve.go(0.5)
    valve.offset = 10
    count = len(valve.ms)
    at = valve.positioner.at
    valve.run(600)
    # Two permille a minute.
    assert valve.positioner.at - at == pytest.approx(1_980, abs=10)
    assert valve.positioner.goal == pytest.approx(500_000 + 1_980, abs=10)
    assert not any(valve.ms[count:])


def test_a_valve_that_does_not_read_shut_is_pressed_again_every_ten_seconds():
    valve = Valve()
    valve.run(200)
    valve.stuck, valve.position = True, 0.1
    before = valve.positioner.moves
    valve.run(600)
    assert 5 <= valve.positioner.moves - before <= 6
    valve.stuck = False
    valve.run(110)
    assert valve.position == 0


def test_a_valve_that_reads_shut_is_left_alone():
    valve = Valve()
    valve.run(40)
    count = len(valve.ms)
    valve.run(36_000)
    assert not any(valve.ms[count:])


BOUND = [("valve_zero_permille", 55)]


@pytest.mark.parametrize("offset", [-20, 6, 30, 55])
def test_what_it_reads_pressed_shut_is_its_zero(offset):
    valve = Valve(BOUND, offset=offset)
    assert valve.run(300) == 1
    assert valve.positioner.zero == offset
    assert valve.positioner.true(offset) == 0
    assert valve.positioner.true(1000) == 1000
    assert valve.positioner.is_home


@pytest.mark.parametrize("offset", [-56, 56, 300])
def test_beyond_the_bound_nothing_is_learnt(offset):
    valve = Valve(BOUND, offset=offset)
    assert valve.run(300) == 0
    assert valve.positioner.zero == 0


def test_while_water_runs_or_the_generator_turns_nothing_is_learnt():
    valve = Valve(BOUND, offset=30)
    assert valve.run(50, is_still=False) == 0
    assert valve.positioner.zero == 0
    assert valve.run(300) == 1


def test_a_sensor_that_drifts_by_night_is_followed_at_the_next_shutting():
    valve = Valve(BOUND)
    valve.run(60)
    valve.go(0.5)
    valve.offset = 8
    valve.lit = False
    assert valve.run(200) == 1
    assert valve.positioner.zero == 8
    assert valve.position == 0


def test_a_servo_is_told_where_to_stand_and_never_driven():
    valve = Valve([("valve_run_ms", 0)])
    valve.go(0.5)
    assert not any(valve.ms)
    assert valve.positioner.at == valve.positioner.aim == 500_000
    assert valve.positioner.moves == 0


# A valve whose position nobody reads

BLIND = [("fitted", ALL_FITTED & ~(1 << VALVE_PERMILLE))]


def blind(changes=(), **how):
    return Valve([*BLIND, *changes], sensor=False, **how)


@pytest.mark.parametrize("slower", [1.0, 1.3, 1.6])
@pytest.mark.parametrize("play", [0.0, 0.03])
def test_without_a_sensor_a_slow_motor_with_play_is_shut_at_each_shutting(slower, play):
    """It was pressed a fifth of its travel beyond the reckoning: a third more stayed open."""
    valve = blind()
    valve.drive = Drive(4.0 * slower, 0.012, play)
    valve.position = 1.0
    for _ in range(3):
        valve.lit = False
        valve.positioner.shut(INVALID)
        valve.run(200)
        assert valve.position == 0
        # The many moves of a night; what is reckoned of them drifts.
        for frac in (0.5, 0.55, 0.5, 0.6, 0.55, 0.8, 0.95):
            valve.go(frac, 60)


def test_without_a_sensor_it_is_pressed_over_the_whole_travel_and_more():
    valve = blind()
    valve.run(120)
    valve.go(0.3)
    before = len(valve.ms)
    valve.lit = False
    valve.run(200)
    assert -sum(valve.ms[before:]) >= 0.3 * 4000 + 4000 + PRESS_MS
    assert not any(valve.ms[-100:])


def test_wide_open_it_is_pressed_no_longer_than_one_with_a_sensor():
    valve = blind()
    valve.run(120)
    before = len(valve.ms)
    valve.go(1.0, 100)
    assert sum(valve.ms[before:]) <= 4000 + 16 + PRESS_MS + 100


def test_too_much_light_behind_a_valve_believed_shut_moves_it_further():
    """The reckoning's lower end was a wall: a light that was too bright stayed so."""
    valve = blind()
    valve.run(120)
    valve.go(0.4)
    valve.positioner.at = valve.positioner.aim = valve.positioner.goal = LEAST
    valve.positioner.step_by(-80_000)
    valve.run(50)
    assert valve.position == pytest.approx(0.32, abs=0.01)


def test_a_valve_that_gives_volts_though_pressed_is_pressed_again_ever_more_rarely():
    valve = blind()
    valve.run(120)
    assert valve.positioner.is_home
    pressed, ran = [], False
    for scan in range(36_000):
        runs = valve.positioner.drive(1000) != 0
        if runs and not ran:
            pressed.append(scan)
        ran = runs
    gaps = [after - before for before, after in zip(pressed, pressed[1:], strict=False)]
    assert gaps == sorted(gaps)
    assert pressed[0] <= 100
    assert 4 <= len(pressed) <= 9
