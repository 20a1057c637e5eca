"""Stories of a motor valve without a position sensor, on the orchard: see tests/stories.py."""

from forebay.twin.twin import Twin
from keeper import modes as mo
from keeper import settings as st
from keeper.channels import GENERATOR_MV
from keeper.journal.opening import open_journal
from keeper.operation import orders
from keeper.retained_files import RetainedFiles
from tests.campaign import lesser
from tests.twin.remembering import COOL_DOWN, press
from tests.twin.rigs import in_state, run_until, steady

SHUT_S = 60              # two ways, two pressings and the wheel's coasting


def orchard(folder, open_memory=None, **changes):
    """A full tank at night; changes: of the true rig, "section.key_unit" with __ for the dot."""
    told = lesser.told(lesser.ORCHARD)
    true = {**told["rig"], "upper.start_volume_m3": 0.197,
            **{name.replace("__", "."): value for name, value in changes.items()}}
    settings = told["settings"]
    one = Twin(true, settings, steady(0.0),
               lambda: open_journal(f"{folder}/board", settings[0], st.VERSION),
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


def told_shut(folder, changes, powers_mW):
    """Returns (means of each light [mW], position once shut, moves, moves in 10 min more)."""
    one = orchard(folder, **changes)
    means = [light(one, power_mW, 240) for power_mW in powers_mW]
    assert one.keeper.order(orders.RELEASE, 0, 0) == orders.DONE
    run_until(one, in_state(mo.CLOSING), 10)
    one.run(10 * SHUT_S)
    position, moves = one.plant.down.position, one.plant.down.drive.moves
    one.run(6000)
    return means, position, moves, one.plant.down.drive.moves


def stone_in_the_seat(folder):
    """Returns (generator [mV] while a stone holds the plug, the position after it is gone)."""
    one = orchard(folder)
    light(one, 150, 120)
    assert one.keeper.order(orders.RELEASE, 0, 0) == orders.DONE
    run_until(one, in_state(mo.CLOSING), 10)
    place = one.plant.down._place
    one.plant.down._place = lambda position: place(max(0.4, position))
    run_until(one, in_state(mo.STANDSTILL), 60)
    generator_mV = one.keeper.values[GENERATOR_MV]
    one.run(300)
    one.plant.down._place = place
    one.run(10 * SHUT_S)
    return generator_mV, one.plant.down.position


def held_before(folder):
    """Returns (means [mW], moves) of 80 and 150 mW, twice, of a valve that lets less through."""
    one = orchard(folder, valve__flow_coefficient_m3_h=0.27)
    drive = one.plant.down.drive
    found = []
    for _ in range(2):
        for power_mW in (80, 150):
            before = drive.moves
            means = light(one, power_mW, 240)
            found.append((means, drive.moves - before))
        assert one.keeper.order(orders.RELEASE, 0, 0) == orders.DONE
        run_until(one, in_state(mo.STANDSTILL), 120)
        one.keeper.order(orders.PUMP_ALLOWED, 0, 600)
        one.run(3000)
    return found


def water_over_a_cut(folder, is_lit):
    """Returns (low, high) of the tank [mL] before a cut of ten minutes, and after it."""
    one = orchard(folder, open_memory=lambda: RetainedFiles(f"{folder}/memory"))
    one.run(COOL_DOWN)
    press(one)               # a new board is locked out
    light(one, 150, 2400)
    if not is_lit:
        assert one.keeper.order(orders.RELEASE, 0, 0) == orders.DONE
        one.keeper.order(orders.PUMP_ALLOWED, 0, 600)
        one.run(1200)
    tank = one.keeper.budget.tank
    assert tank
    before = tank.low_mL, tank.high_mL
    one.cut()
    run_until(one, lambda it: it.powered, 900)
    one.run(600)
    after = one.keeper.budget.tank
    assert after
    assert after is not tank
    return before, (after.low_mL, after.high_mL)
