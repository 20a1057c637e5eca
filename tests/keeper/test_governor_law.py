"""The governor's law against the same law in floats, its valve's curve, its rest and its rate."""

import pytest
from hypothesis import given
from hypothesis import strategies as some

from keeper.operation.governor import Governor
from tests.keeper.scripted import NUMBERS, settings_with

N = dict(NUMBERS)
POSITIONS = [N["valve_first_permille"], *(N[f"curve_{i}_permille"] for i in range(1, 8)), 1000]
GAIN = N["governor_gain_upermille_mW"] / 1e9  # share of full jet power a mW; micro of a permille
RESET_S = N["governor_reset_ms"] / 1000
RATE = N["valve_rate_permille_s"]  # permille a second
PERIOD_S = 0.1
FAST = (("valve_rate_permille_s", 2000),)  # 200 permille a scan


def valve(share):
    """Position [permille] for a share of full jet power, on straight lines."""
    step = min(7, int(share * 8))
    return POSITIONS[step] + (POSITIONS[step + 1] - POSITIONS[step]) * (share * 8 - step)


class Law:
    """PI in floats: proportional and integral share, bounded 0 to 1, held while bounded."""

    def __init__(self, rate=RATE, gain=GAIN, reset_s=RESET_S):
        self.rate, self.gain, self.reset_s = rate, gain, reset_s
        self.integral = 0.0
        self.position = 0.0

    def hold(self, power_mW, setpoint_mW):
        error = setpoint_mW - power_mW
        if abs(error) < setpoint_mW / 100:
            return self.position
        integral = self.integral + self.gain * error * PERIOD_S / self.reset_s
        share = integral + self.gain * error
        if 0 <= share <= 1 or (share > 1 and error < 0) or (share < 0 and error > 0):
            self.integral = integral
        step = self.rate * PERIOD_S
        aim = valve(min(1.0, max(0.0, share)))
        self.position += min(step, max(-step, aim - self.position))
        return self.position


@given(
    some.lists(some.tuples(some.integers(0, 2000), some.sampled_from([1, 3, 10])), max_size=40),
    some.sampled_from([300, 600, 1000]),
)
def test_the_position_is_that_of_the_law_in_floats(powers, setpoint):
    governor, law = Governor(settings_with()), Law()
    for power, scans in powers:
        for _ in range(scans):
            told, wanted = governor.hold(power, setpoint), law.hold(power, setpoint)
            # A permille of the jet's share is the finest step: up to 2.4 permille of the valve.
            assert abs(told - wanted) <= 4


@pytest.mark.parametrize("reset_ms", [200, 1000, 5000])
@pytest.mark.parametrize("gain", [10_000, 300_000])
def test_gain_and_reset_time_are_those_of_the_settings(gain, reset_ms):
    """By the law in floats, from 100 mW below the setpoint for two seconds."""
    changes = (("governor_gain_upermille_mW", gain), ("governor_reset_ms", reset_ms), *FAST)
    governor = Governor(settings_with(changes))
    law = Law(2000, gain / 1e9, reset_ms / 1000)
    for _ in range(20):
        told, wanted = governor.hold(500, 600), law.hold(500, 600)
        assert abs(told - wanted) <= 4


# Rest

@pytest.mark.parametrize(
    ("setpoint", "power", "moves"),
    [(600, 595, False), (600, 594, True), (600, 605, False), (600, 606, True), (600, 600, False),
     (1001, 991, False), (1000, 990, True), (1001, 1011, False), (1000, 1010, True)],
)  # fmt: skip
def test_the_valve_rests_inside_one_percent_of_the_setpoint(setpoint, power, moves):
    governor = Governor(settings_with())
    for _ in range(30):
        governor.hold(500, 600)
    before = governor.position, governor.integral
    governor.hold(power, setpoint)
    assert ((governor.position, governor.integral) != before) == moves


# The curve

@pytest.mark.parametrize("step", range(9))
def test_the_curve_goes_through_its_points(step):
    assert Governor(settings_with())._valve(100_000_000 * step // 8) == POSITIONS[step]


@given(some.integers(0, 100_000_000))
def test_between_its_points_the_curve_is_straight(share):
    # A permille of the share is its finest step, a permille of the position the other.
    coarse = share // 100_000 / 1000
    assert 0 <= valve(coarse) - Governor(settings_with())._valve(share) < 1


@pytest.mark.parametrize("permille", [1, 2, 10, 124, 500, 999])
def test_a_permille_of_the_share_begins_at_its_hundred_thousand(permille):
    governor = Governor(settings_with())
    for share in (permille * 100_000 - 1, permille * 100_000):
        assert governor._valve(share) == int(valve(share // 100_000 / 1000) + 1e-9)


# The rate, and where it starts from

@pytest.mark.parametrize("rate", [10, 250, 2000])
def test_opening_and_shutting_move_at_the_rate_and_stop_at_the_end(rate):
    governor = Governor(settings_with((("valve_rate_permille_s", rate),)))
    step = rate // 10
    opened = [governor.open() for _ in range(1000 // step + 3)]
    assert opened == [min(1000, step * (scan + 1)) for scan in range(len(opened))]
    shut = [governor.shut() for _ in range(1000 // step + 3)]
    assert shut == [max(0, 1000 - step * (scan + 1)) for scan in range(len(shut))]


@pytest.mark.parametrize(
    ("stands", "taken"), [(-20, 0), (0, 0), (500, 500), (1000, 1000), (1020, 1000)]
)
def test_a_valve_is_taken_over_where_it_stands(stands, taken):
    governor = Governor(settings_with())
    governor.follow(stands)
    assert governor.position == taken
    assert governor.shut() == max(0, taken - 25)


def test_light_begins_gently_however_the_night_before_ended():
    governor = Governor(settings_with())
    first = [governor.hold(500, 600) for _ in range(50)]
    while governor.shut():
        pass
    governor.start()
    assert [governor.hold(500, 600) for _ in range(50)] == first


# Nothing winds up

@pytest.mark.parametrize(("power", "setpoint"), [(0, 1000), (2000, 300)])
def test_at_an_end_the_integral_stands_still_and_leaves_it_at_once(power, setpoint):
    changes = (("governor_gain_upermille_mW", 1_000_000), *FAST)
    governor = Governor(settings_with(changes))
    for _ in range(10_000):
        governor.hold(power, setpoint)
    end = governor.position
    assert end in (0, 50, 1000)
    assert 0 <= governor.integral <= 100_000_000
    # A tenth of a second on the other side of the setpoint moves the valve.
    other = 2 * setpoint - power if power else 1500
    assert governor.hold(max(0, other), setpoint) != end


def test_an_error_beyond_what_small_numbers_take_counts_as_the_largest_they_take():
    """The product of error and gain stays below 2**28."""
    changes = (("governor_gain_upermille_mW", 1_000_000), ("governor_reset_ms", 100_000), *FAST)
    for power, setpoint, sign in ((0, 1_000_000, 1), (320_000, 150_000, -1)):
        governor = Governor(settings_with(changes))
        governor.integral = 50_000_000
        governor.hold(power, setpoint)
        largest = (1 << 28) // 100_000 * 100_000
        moved = governor.integral - 50_000_000
        assert moved in (0, sign * largest // 1000, sign * largest // 1000 - 1)


def test_lamps_far_above_the_setpoint_shut_the_valve_at_the_largest_gain_too():
    governor = Governor(settings_with([("governor_gain_upermille_mW", 1_000_000), *FAST]))
    for _ in range(10):
        governor.hold(0, 600)
    assert governor.position == 1000
    seen = [governor.hold(320_000, 600) for _ in range(6)]  # 40 V and 8 A: the most that is read
    assert seen == [800, 600, 400, 200, POSITIONS[0], POSITIONS[0]]
