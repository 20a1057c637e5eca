"""A motor valve without a position sensor, on the orchard's rig: shut when told, steps at once."""

import pytest

from tests.stories import told
from tests.twin import shut_unseen


@pytest.mark.parametrize(("travel_s", "play", "coast_s"), [
    (8.0, 0.004, 0.012), (11.0, 0.004, 0.012), (8.0, 0.03, 0.012), (12.0, 0.05, 0.08)])
def test_a_valve_that_is_told_shut_is_shut_whatever_its_motor_does(
        tmp_path, travel_s, play, coast_s):
    """Slower by a half, with ten times the play: nothing of it is in the board's settings."""
    powers_mW = (150, 80, 150, 110, 80)
    lights, position, moves, moves_later = told(
        shut_unseen.told_shut, str(tmp_path), {
            "valve__travel_s": travel_s, "valve__backlash": play, "valve__coast_s": coast_s},
        powers_mW)
    for power_mW, means in zip(powers_mW, lights, strict=True):
        # The promise, from a minute and the valve's travel on.
        assert all(abs(mean - power_mW) <= 0.05 * power_mW for mean in means[8:])
    assert position == 0.0
    assert moves_later == moves


def test_while_the_generator_gives_volts_a_valve_told_shut_is_pressed_again(tmp_path):
    """Something held its plug: pressed once more, it comes home."""
    generator_mV, position = told(shut_unseen.stone_in_the_seat, str(tmp_path))
    assert generator_mV > 1000
    assert position == 0.0


def settled(means, power_mW):
    """How many means of 10 s pass until the light stays within 5 %."""
    off = [place for place, mean in enumerate(means) if abs(mean - power_mW) > 0.05 * power_mW]
    return off[-1] + 1 if off else 0


def test_a_brightness_that_was_held_once_is_reached_without_hunting(tmp_path):
    """A valve that lets a third less through than its description says."""
    (_, first), _, (dim, dim_moves), (bright, bright_moves) = told(
        shut_unseen.held_before, str(tmp_path))
    assert first >= 3                 # it hunted, or this shows nothing
    assert dim_moves <= 2             # from shut to there, and one step
    assert bright_moves <= 2
    assert settled(dim, 80) <= 2      # the valve's own way
    assert settled(bright, 150) <= 2


@pytest.mark.parametrize("is_lit", [True, False])
def test_what_is_known_of_the_water_outlives_a_power_cut_as_far_as_it_can(tmp_path, is_lit):
    """A cut of ten minutes: the valve may have stood open all the time, and nobody knows it."""
    before, after = told(shut_unseen.water_over_a_cut, str(tmp_path), is_lit)
    assert 0 < before[0] < before[1]
    if is_lit:
        # As it was saved when the light began: no more than that is there, and perhaps nothing.
        assert after[0] == 0
        assert before[1] <= after[1] <= 196_000
    else:
        assert after == before
