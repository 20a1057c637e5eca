"""The real drivers on the board's own interpreter, with the heap locked, on the fake chip."""

import json

import pytest

from tests.drivers import fake
from tests.drivers.bench import Rig
from tests.micropython.harness import ROOT, MicroPythonError, board_sources, run_micropython

BENCH = (ROOT / "tests" / "drivers" / "bench.py").read_text()
SCANS = 2000

# Runs on both interpreters. The world changes all the while: floats, currents,
# pulses, a device that falls silent, a stuck bus, sensors that fail.
STORY = """
from machine import CHIP

from keeper.channels import OUT_DUMP, OUT_LAMPS_OFF, OUT_PUMP, OUT_VALVE, READ


def story(rig, scans, lock, unlock, used):
    def disturb(n):
        rig.monitors["panel"].set(n * 37 % 40000 - 3000, n * 11 % 32768)
        rig.monitors["pump"].silent = n // 60 % 4 == 1
        rig.monitors["lamp"].set(32767 if n // 50 % 3 == 0 else n % 5000)
        if n % 170 == 100:
            rig.monitors["supply"].restart()
        CHIP.i2c_stuck = 3 if n % 400 == 300 else 0
        CHIP.lines[8].outside = n // 7 % 2
        CHIP.lines[15].outside = n // 5 % 2
        CHIP.analog[26] = n * 97 % 65536
        CHIP.analog[27] = n * 53 % 65536
        CHIP.analog[28] = n // 9 * 7919 % 65536
        rig.motor.damage = 1 if n // 300 % 3 == 2 else 0
        rig.water.sixteenths = n % 500 - 100
        CHIP.one_wire_shorted = n // 250 % 4 == 3
        rig.pulses("flow_up", n % 5)
        rig.pulses("flow_down", n % 3)
        CHIP.machines[1].dead = n // 500 % 4 == 2
        if n % 500 == 0:
            CHIP.machines[1].on = True
        rig.outputs[OUT_PUMP] = n // 20 % 2
        rig.outputs[OUT_VALVE] = n * 13 // 10 % 1001
        rig.outputs[OUT_LAMPS_OFF] = n // 30 % 2
        rig.outputs[OUT_DUMP] = n // 40 % 2

    board, values, outputs = rig.board, rig.values, rig.outputs
    if CHIP.lines[10].pwm is not None:
        CHIP.lines[10].pwm.keeps = False
    crc = grown = 0
    for n in range(scans):
        disturb(n)
        lock()
        try:
            before = used()
            board.read(values)
            board.write(outputs)
            grown += used() - before
        finally:
            unlock()
        for place in range(READ):
            crc = (crc * 31 + values[place]) & 0xFFFFFF
        crc = (crc * 31 + CHIP.level(19) + 2 * CHIP.level(20)) & 0xFFFFFF
        rig.work(12)
        CHIP.clock.advance_ms(100)
    return [crc, grown, board.faults]
"""

RUN = """
import gc
import json
import micropython

rig = Rig({changes})
print(json.dumps(story(rig, {scans}, micropython.heap_lock, micropython.heap_unlock,
                       gc.mem_alloc)))
"""

CHANGES = {
    "servo": [],
    "motor, position, loop": [("valve_kind", 2), ("valve_feedback", 1), ("loop_supervised", 1)],
    "thermistor": [("motor_sensor", 2), ("valve_kind", 2)],
}


def on_board(changes, scans, story=STORY):
    script = BENCH + story + RUN.format(changes=changes, scans=scans)
    return run_micropython(script, files=fake.sources(), timeout_s=240)


@pytest.mark.parametrize("name", CHANGES)
def test_scans_allocate_nothing_and_read_what_the_desktop_reads(chip, name):
    """Each scan runs with the heap locked, where any allocation raises MemoryError."""
    names: dict = {}
    exec(compile(STORY, "story", "exec"), names)
    desktop = names["story"](Rig(CHANGES[name]), SCANS, int, int, int)
    board = json.loads(on_board(CHANGES[name], SCANS).stdout)
    assert board == desktop
    assert board[1] == 0
    assert board[2] > 100  # the story has brought every driver into trouble


WASTEFUL = """
_real = Board.read
def _wasteful(self, values):
    _real(self, values)
    self.kept = values[:]
Board.read = _wasteful
"""


def test_a_board_that_allocates_is_caught():
    with pytest.raises(MicroPythonError, match="MemoryError"):
        on_board([], 5, STORY + WASTEFUL)


def test_every_module_that_needs_hardware_can_be_imported():
    names = [
        path.removesuffix(".py").removesuffix("/__init__").lstrip("/").replace("/", ".")
        for path in board_sources()
        if path.startswith(("/keeper/boards/", "/keeper/drivers/")) or path == "/boot.py"
    ]
    script = "".join(f"import {name}\n" for name in names) + "print('done')"
    assert "keeper.boards.start" in names
    assert run_micropython(script, files=fake.sources()).lines == ["done"]
