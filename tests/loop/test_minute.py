"""The whole program on the board's interpreter, and what of it is loaded there."""

import json

from tests.drivers import fake
from tests.loop.test_start import SOUND, folder, request_of
from tests.micropython.harness import ROOT, run_micropython

__all__ = ["folder"]

# The board has random numbers in `os`, this build of its interpreter has none.
WITH_RANDOM = """
import os
import sys


class _Os:
    pass


_os = _Os()
for _name in dir(os):
    setattr(_os, _name, getattr(os, _name))
if not hasattr(os, "urandom"):
    _os.urandom = lambda count: bytes(range(count))
sys.modules["os"] = _os
"""

BOARD_RUN = """
import json
import os

os.mkdir("/a")
with open("/a/settings", "wb") as file:
    file.write(settings_file())
with open("/a/wiring", "wb") as file:
    file.write(start.wr.pack(start.wr.defaults()))
rig = Rig()
board = Whole("")


def change():
    rig.monitors["pump"].silent = not rig.monitors["pump"].silent
    rig.pulses("flow_up", 3)
    rig.motor.damage ^= 1
    USB.incoming.extend(bytes({request}))
    board.at.append((CHIP.clock.ticks_ms() + 700, change))


board.at.append((300, change))
ended = board.run(60000)
print(json.dumps([ended, board.keeper.scans, board.keeper.safe_reason, len(USB.taken),
                  board.keeper.health.late_ms, CHIP.watchdog.fed > 100,
                  [name for name in {unused} if name in sys.modules]]))
"""

# What the default rig has no use for: no radio, no thermistor, no supervised loop.
UNUSED = ["keeper.link.tcp", "keeper.boards.radio", "keeper.drivers.thermistor", "keeper.physics",
          "keeper.drivers.supervised"]


def test_a_minute_of_the_whole_program_on_the_boards_interpreter(folder):
    """Every scan with its heap really locked; journal, link and drivers in between."""
    folder_of = ROOT / "tests"
    script = WITH_RANDOM + (folder_of / "drivers" / "bench.py").read_text()
    script += (folder_of / "loop" / "whole.py").read_text()
    script += BOARD_RUN.format(request=list(request_of(1, 4, 0, 10)), unused=UNUSED)
    run = run_micropython(script, files=fake.sources(), sources=True, timeout_s=240)
    ended, scans, reason, taken, late_ms, fed, loaded = json.loads(run.stdout)
    assert (ended, scans, reason, late_ms, fed) == (False, 600, SOUND, 0, True)
    assert loaded == []
    assert taken >= 80 * 25
