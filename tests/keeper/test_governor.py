"""The governor against a lamp that follows the valve like a first-order system."""

import pytest
from hypothesis import given
from hypothesis import strategies as some

from keeper import settings as st
from keeper.operation.governor import FULL_U, Governor
from tests.keeper.scripted import settings_with
from tests.keeper.small_int import SmallInt

FULL_MW = 2000
TIME_CONSTANT_S = 0.8  # wheel and generator of a small set; any value of this order will do
PERIOD_S = 0.1


def small_settings(changes=()):
    return [SmallInt(value) for value in settings_with(changes)]


class Lamp:
    """Power of the lamp: the share of jet power behind the valve's curve, with a lag."""

    def __init__(self, settings, full_mW=FULL_MW):
        first = st.index("curve_1_permille")
        self.positions = [
            settings[st.index("valve_first_permille")],
            *settings[first : first + 7],
            1000,
        ]
        self.full_mW = full_mW
        self.power_mW = 0.0

    def share(self, position):
        """Share of full jet power at a valve position; none below the first opening."""
        points = self.positions
        for step in range(8):
            if points[step] <= position <= points[step + 1]:
                part = (position - points[step]) / (points[step + 1] - points[step])
                return (step + part) / 8
        return 0.0

    def step(self, position):
        aim = self.full_mW * self.share(position)
        self.power_mW += (aim - self.power_mW) * PERIOD_S / TIME_CONSTANT_S
        return round(self.power_mW)


def hold(governor, lamp, setpoint_mW, scans, positions=None):
    """Lets the governor work; returns the powers [mW]."""
    powers = []
    for _ in range(scans):
        position = governor.hold(round(lamp.power_mW), setpoint_mW)
        powers.append(lamp.step(position))
        if positions is not None:
            positions.append(position)
    return powers


@pytest.mark.parametrize("setpoint_mW", [150, 300, 600, 1000, 1600])
@pytest.mark.parametrize("full_mW", [2000, 2600])
def test_the_power_comes_within_five_percent_and_stays(setpoint_mW, full_mW):
    settings = settings_with()
    powers = hold(Governor(settings), Lamp(settings, full_mW), setpoint_mW, 900)
    assert all(abs(power - setpoint_mW) <= 0.05 * setpoint_mW for power in powers[600:])


def test_it_follows_a_head_that_falls():
    settings = settings_with()
    governor, lamp = Governor(settings), Lamp(settings)
    hold(governor, lamp, 600, 600)
    powers = []
    for full_mW in range(2000, 1000, -1):
        lamp.full_mW = full_mW
        powers += hold(governor, lamp, 600, 3)
    assert all(abs(power - 600) <= 30 for power in powers)


@given(
    powers=some.lists(some.integers(0, 320_000), max_size=80),
    setpoint=some.integers(0, 1_000_000),
    rate=some.integers(10, 2000),
    gain=some.sampled_from([10, 1000, 100_000, 1_000_000]),
    reset=some.integers(200, 100_000),
    at=some.integers(-20, 1020),
)
def test_the_valve_never_moves_faster_than_its_rate(powers, setpoint, rate, gain, reset, at):
    governor = Governor(
        small_settings(
            [
                ("valve_rate_permille_s", rate),
                ("governor_gain_upermille_mW", gain),
                ("governor_reset_ms", reset),
            ]
        )
    )
    governor.follow(at)
    last = governor.position
    for number, power in enumerate(powers):
        position = (
            governor.shut() if number % 20 == 19 else governor.hold(SmallInt(power), setpoint)
        )
        assert 0 <= position <= 1000
        assert abs(position - last) <= rate / 10
        last = position


def test_a_valve_that_shuts_arrives_at_the_fastest_safe_rate():
    governor = Governor(settings_with())
    governor.follow(1000)
    assert [governor.shut() for _ in range(41)] == [*range(975, -1, -25), 0]


def test_a_setpoint_out_of_reach_winds_nothing_up():
    """After an hour of too little head it comes down as fast as after a minute."""
    falls = []
    for scans in (600, 36_000):
        settings = settings_with()
        governor, lamp = Governor(settings), Lamp(settings, 500)
        assert hold(governor, lamp, 600, scans)[-1] == pytest.approx(500, abs=1)
        assert governor.position == 1000
        assert governor.integral <= FULL_U
        lamp.full_mW = FULL_MW
        powers = hold(governor, lamp, 600, 600)
        falls.append(powers)
        assert abs(powers[-1] - 600) <= 30
    assert falls[0] == pytest.approx(falls[1], abs=30)


@pytest.mark.parametrize("gain", [10, 5000, 100_000, 1_000_000])
@pytest.mark.parametrize("reset_ms", [200, 100_000])
def test_the_worst_numbers_stay_small(gain, reset_ms):
    changes = [("governor_gain_upermille_mW", gain), ("governor_reset_ms", reset_ms)]
    governor = Governor(small_settings(changes))
    for power in ([0] * 50 + [320_000] * 50) * 4:
        governor.hold(SmallInt(power), SmallInt(1_000_000))
    for power in ([0] * 3 + [320_000] * 3 + [-20_000] * 3) * 40:
        governor.hold(SmallInt(power), SmallInt(150_000))
    assert 0 <= governor.position <= 1000


def test_close_to_the_setpoint_the_valve_rests():
    settings = settings_with()
    governor, lamp, positions = Governor(settings), Lamp(settings), []
    hold(governor, lamp, 600, 900, positions)
    assert len(set(positions[-200:])) == 1
