"""A contact and a monitor that come and go, on the twin: what is written, how light starts."""

import pytest

from keeper import channels as ch
from keeper import modes as mo
from tests.twin.rigs import in_state, run_until, steady, twin

DARK, SUN = steady(0.0), steady(800.0)
HALF = {"upper.start_volume_m3": 0.5, "lower.start_volume_m3": 0.5}
HOUR_S = 3600


def disturbed(one, disturb):
    """Lets `disturb(second, values)` change what a board has read."""
    read = one.board.read

    def changed(values):
        read(values)
        disturb(one.periods / 10, values)
        one.plant.contacts_new = True   # the next read says again what is true

    one.board.read = changed
    return one


def float_at_a_fifth_of_a_hertz(place):
    def disturb(second, values):
        if second % 5.0 < 2.5:
            values[place] = 0
    return disturb


def monitor_lost_for_a_moment(second, values):
    if second % 90.0 < 0.7:
        values[ch.GENERATOR_MV] = ch.INVALID


def openings(one, seconds):
    """Times [s] at which the keeper began light."""
    found = []
    before = one.keeper.state
    for _ in range(int(10 * seconds)):
        one.step()
        state = one.keeper.state
        if state == mo.RUNNING != before:
            found.append(one.periods / 10)
        before = state
    return found


def bytes_of_events(folder):
    return sum(path.stat().st_size for path in (folder / "board").iterdir()
               if path.name.startswith("e"))


def test_half_an_hour_of_a_chattering_float_writes_a_hundredth_of_the_events_room(tmp_path):
    """Told each by each it was 110 kB of 124 kB."""
    one = twin(tmp_path, SUN, HALF)
    run_until(one, in_state(mo.PUMPING), 200)
    before = bytes_of_events(tmp_path)
    disturbed(one, float_at_a_fifth_of_a_hertz(ch.C_71H_UP))
    one.run(1800 * 10)
    assert bytes_of_events(tmp_path) - before < 5000


@pytest.mark.parametrize("disturb", [
    float_at_a_fifth_of_a_hertz(ch.C_71L_UP), monitor_lost_for_a_moment])
def test_a_stop_that_comes_again_and_again_starts_six_lights_in_an_hour_and_two_in_each_later(
        tmp_path, disturb):
    one = twin(tmp_path, DARK, HALF)
    run_until(one, in_state(mo.RUNNING), 400)
    disturbed(one, disturb)
    began = one.periods / 10
    found = [began, *openings(one, 3 * HOUR_S)]
    assert 2 <= len([at for at in found if at < began + HOUR_S]) <= 6
    later = [at for at in found if at >= began + HOUR_S]
    for at in later:
        assert len([other for other in later if at <= other < at + HOUR_S]) <= 2


def test_a_press_begins_light_at_once_in_a_long_rest(tmp_path):
    one = disturbed(twin(tmp_path, DARK, HALF), float_at_a_fifth_of_a_hertz(ch.C_71L_UP))
    one.run(14000)
    one.board.read = type(one.board).read.__get__(one.board)
    one.plant.contacts_new = True
    one.run(700)
    assert one.keeper.state == mo.STANDSTILL
    assert one.keeper.core.sequence.light_rest.left_periods > 3000
    for button in (1, 0):
        one.board.button = button
        one.run(5)
    one.run(20)
    assert one.keeper.state == mo.RUNNING


def test_after_a_long_steady_light_the_rests_begin_anew(tmp_path):
    one = twin(tmp_path, DARK, HALF)
    run_until(one, in_state(mo.RUNNING), 400)
    rest = one.keeper.core.sequence.light_rest
    rest.next_periods = 4 * rest.first_periods
    one.run(18010)
    disturbed(one, lambda _second, values: values.__setitem__(ch.C_71L_UP, 0))
    one.run(20)
    assert rest.left_periods > rest.first_periods - 20
    assert rest.next_periods == 2 * rest.first_periods
