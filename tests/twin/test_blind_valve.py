"""A motor valve without a position sensor, on the orchard's rig: shut when told, steps at once."""

import importlib.resources

import pytest

from forebay.rig import load_text
from forebay.twin.twin import Twin
from keeper import modes as mo
from keeper import settings as st
from keeper.channels import GENERATOR_MV
from keeper.journal.opening import open_journal
from keeper.operation import orders
from keeper.retained_files import RetainedFiles
from tests.twin.rigs import in_state, run_until, steady
from tests.twin.test_memory import COOL_DOWN, press

SHUT_S = 60              # two ways, two pressings and the wheel's coasting


def orchard(folder, open_memory=None, **changes):
    """A full tank at night; changes: of the true rig, "section.key_unit" with __ for the dot."""
    text = (importlib.resources.files("forebay") / "demo" / "orchard.toml").read_text("utf-8")
    rig = load_text(text, "orchard.toml")
    true = {**rig.plant(), "upper.start_volume_m3": 0.197,
            **{name.replace("__", "."): value for name, value in changes.items()}}
    settings = rig.settings()
    one = Twin(true, settings, steady(0.0),
               lambda: open_journal(str(folder / "board"), settings[0], st.VERSION),
               open_memory=open_memory)
    one.run(600)
    return one


def light(one, power_mW, seconds):
    """Asks for light and lets it be; returns the mean powers of 10 s [mW] from its start."""
    assert one.keeper.order(orders.LIGHT, power_mW, 600) == orders.DONE
    run_until(one, in_state(mo.RUNNING), 600)
    means = []
    for _ in range(seconds // 10):
        energy_J = one.plant.down.lamp_J
        one.run(100)
        means.append((one.plant.down.lamp_J - energy_J) * 100)
    return means


@pytest.mark.parametrize(("travel_s", "play", "coast_s"), [
    (8.0, 0.004, 0.012), (11.0, 0.004, 0.012), (8.0, 0.03, 0.012), (12.0, 0.05, 0.08)])
def test_a_valve_that_is_told_shut_is_shut_whatever_its_motor_does(
        tmp_path, travel_s, play, coast_s):
    """Slower by a half, with ten times the play: nothing of it is in the board's settings."""
    one = orchard(tmp_path, valve__travel_s=travel_s, valve__backlash=play, valve__coast_s=coast_s)
    for power_mW in (150, 80, 150, 110, 80):
        means = light(one, power_mW, 240)
        # The promise, from a minute and the valve's travel on.
        assert all(abs(mean - power_mW) <= 0.05 * power_mW for mean in means[8:])
    assert one.keeper.order(orders.RELEASE, 0, 0) == orders.DONE
    run_until(one, in_state(mo.CLOSING), 10)
    one.run(10 * SHUT_S)
    assert one.plant.down.position == 0.0
    moves = one.plant.down.drive.moves
    one.run(6000)
    assert one.plant.down.drive.moves == moves


def test_while_the_generator_gives_volts_a_valve_told_shut_is_pressed_again(tmp_path):
    """Something held its plug: pressed once more, it comes home."""
    one = orchard(tmp_path)
    light(one, 150, 120)
    assert one.keeper.order(orders.RELEASE, 0, 0) == orders.DONE
    run_until(one, in_state(mo.CLOSING), 10)
    place = one.plant.down._place
    one.plant.down._place = lambda position: place(max(0.4, position))  # a stone in the seat
    run_until(one, in_state(mo.STANDSTILL), 60)
    assert one.keeper.values[GENERATOR_MV] > 1000
    one.run(300)
    one.plant.down._place = place
    one.run(10 * SHUT_S)
    assert one.plant.down.position == 0.0


def settled(means, power_mW):
    """How many means of 10 s pass until the light stays within 5 %."""
    off = [place for place, mean in enumerate(means) if abs(mean - power_mW) > 0.05 * power_mW]
    return off[-1] + 1 if off else 0


def test_a_brightness_that_was_held_once_is_reached_without_hunting(tmp_path):
    """A valve that lets a third less through than its description says."""
    one = orchard(tmp_path, valve__flow_coefficient_m3_h=0.27)
    drive = one.plant.down.drive
    found = []
    for _ in range(2):
        for power_mW in (80, 150):
            before = drive.moves
            means = light(one, power_mW, 240)
            found.append((settled(means, power_mW), drive.moves - before))
        assert one.keeper.order(orders.RELEASE, 0, 0) == orders.DONE
        run_until(one, in_state(mo.STANDSTILL), 120)
        one.keeper.order(orders.PUMP_ALLOWED, 0, 600)
        one.run(3000)
    (_, first), _, (dim_s, dim), (bright_s, bright) = found
    assert first >= 3                 # it hunted, or this shows nothing
    assert dim <= 2                   # from shut to there, and one step
    assert bright <= 2
    assert dim_s <= 2                 # the valve's own way
    assert bright_s <= 2


@pytest.mark.parametrize("is_lit", [True, False])
def test_what_is_known_of_the_water_outlives_a_power_cut_as_far_as_it_can(tmp_path, is_lit):
    """A cut of ten minutes: the valve may have stood open all the time, and nobody knows it."""
    one = orchard(tmp_path, open_memory=lambda: RetainedFiles(str(tmp_path / "memory")))
    one.run(COOL_DOWN)
    press(one)               # a new board is locked out
    light(one, 150, 2400)
    if not is_lit:
        assert one.keeper.order(orders.RELEASE, 0, 0) == orders.DONE
        one.keeper.order(orders.PUMP_ALLOWED, 0, 600)
        one.run(1200)
    tank = one.keeper.budget.tank
    assert tank
    low_mL, high_mL = tank.low_mL, tank.high_mL
    assert 0 < low_mL < high_mL
    one.cut()
    run_until(one, lambda it: it.powered, 900)
    one.run(600)
    after = one.keeper.budget.tank
    assert after
    assert after is not tank
    if is_lit:
        # As it was saved when the light began: no more than that is there, and perhaps nothing.
        assert after.low_mL == 0
        assert high_mL <= after.high_mL <= 196_000
    else:
        assert (after.low_mL, after.high_mL) == (low_mL, high_mL)
