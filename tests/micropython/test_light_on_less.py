"""Light on less, on the board's interpreter: no memory in a scan, the desktop's numbers."""

import json
import pathlib

SCRIPTED = (pathlib.Path(__file__).resolve().parent.parent / "keeper" / "scripted.py")
# A valve by time alone whose lamps answer by a table: setpoints come and go, the light begins
# anew, and between shuttings the generator still turns.
STORY = """
import json
from keeper.channels import ALL_FITTED, FLOW_DOWN, FLOW_UP, INVALID, LEVEL_MM, VALVE_PERMILLE
from keeper.modes import PUMPING, RUNNING, STANDSTILL
from keeper.operation.by_time import LearningGovernor
from keeper.operation.night import Night
from keeper.operation.positioner import Positioner
from keeper.operation.reckoned import Reckoned
from keeper.protection.volumes import Volumes

FITTED = ALL_FITTED & ~(1 << VALVE_PERMILLE | 1 << LEVEL_MM | 1 << FLOW_UP | 1 << FLOW_DOWN)
settings = settings_with([("fitted", FITTED)])
positioner = Positioner(settings)
governor = LearningGovernor(settings, positioner)
found = []

def scans(count, setpoint_mW, volts):
    for _ in range(count):
        if setpoint_mW:
            power_mW = max(0, (positioner.at - 250000) // 400)
            governor.hold(power_mW, setpoint_mW)
        elif positioner.goal:
            positioner.shut(INVALID)
        if positioner.rests_in:
            positioner.rests_in -= 1
        else:
            positioner.drive(1000 if volts else INVALID)

def locked(count, setpoint_mW, volts=0):
    lock()
    try:
        scans(count, setpoint_mW, volts)
    finally:
        unlock()
    found.append([positioner.goal, positioner.at, positioner.moves, governor.wide_permille]
                 + governor.travels)

positioner.begin(INVALID)
for evening in range(3):
    governor.start(300)
    for setpoint_mW in (300, 600, 1000, 450, 300):
        locked(900, setpoint_mW)
    locked(400, 0)
    locked(900, 0, 1)

night = Night(settings, Volumes(settings))
water = Reckoned(settings, night)
values = [0] * 30
energy_mJ = ds = 0
for full, wet, state, power_mW, seconds in (
        (0, 1, STANDSTILL, 0, 30), (1, 1, RUNNING, 333, 20000), (1, 1, PUMPING, 0, 7000),
        (0, 1, STANDSTILL, 0, 30), (1, 1, RUNNING, 600, 27000), (1, 0, STANDSTILL, 0, 30)):
    values[C_71H_UP], values[C_71L_UP] = full, wet
    for _ in range(seconds):
        ds += 10
        energy_mJ += power_mW
        water.follow(values, state, ds, False, energy_mJ, 0, 0)
    found.append([water.low_mL, water.high_mL, water.sure_mL(), water.most_mL(), night.lessons]
                 + night.curve)
print(json.dumps(found))
"""


def test_a_valve_by_time_and_water_by_the_floats_are_the_desktop_s(run_micropython, capsys):
    source = SCRIPTED.read_text(encoding="utf-8") + STORY
    board = run_micropython(
        "import micropython\nlock, unlock = micropython.heap_lock, micropython.heap_unlock\n"
        + source)
    exec(compile(source, "story", "exec"), {"lock": lambda: None, "unlock": lambda: None})
    desktop = json.loads(capsys.readouterr().out)
    assert json.loads(board.stdout) == desktop
    lit, reckoned = desktop[:-6], desktop[-6:]
    assert lit[4][4:] != lit[0][4:]          # the table was learned
    assert lit[6][2] > lit[5][2]             # it was pressed again
    assert reckoned[-1][:2] == [0, 0]
    assert reckoned[-1][5:] != reckoned[0][5:]  # and so was the curve
