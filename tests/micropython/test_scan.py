"""The scan on the board's own interpreter: no memory, and the desktop's very events."""

import functools
import json
import os

import pytest

from keeper import channels as ch
from keeper import events as ev
from keeper import modes as mo
from keeper.protection.elements import ELEMENTS
from keeper.protection.judging import judges
from tests.micropython.harness import MicroPythonError
from tests.micropython.scan_story import SOURCE

# The least that can be kept safe, and the panel's voltage.
LESS = sum(1 << place for place in (ch.PANEL_MV, ch.GENERATOR_MV, ch.LAMP_MA, ch.MOTOR_MDEGC,
                                    ch.C_71H_UP, ch.C_71L_LO, ch.BUTTON))
# Stories by seed, each of a rig that has so much: several, so that idle workers share them.
RIGS = {1: ch.ALL_FITTED, 2: ch.ALL_FITTED, 3: LESS}
SEEDS = tuple(RIGS)
# Of each; tests/ci_extra has twice as many. The long form, by hand: FOREBAY_SCANS=1000000
SCANS = 50_000
BLOCKS = int(os.environ.get("FOREBAY_SCANS", SCANS)) // 20
BLOCKS_OF_STEP = 50

RUN = """
import gc
import json
import micropython

{board}
story = Story(micropython.heap_lock, micropython.heap_unlock, gc.mem_alloc, {made}, {seed},
              {fitted})

def step(n):
    story.tell({blocks_of_step})
    if n + 1 < {steps}:
        return True
    print(json.dumps(story.result()))
    return False
"""


def on_board(steps, board="", made="None", seed=1):
    """The script for the board; board, made: source of another board, and how to make it."""
    return SOURCE + RUN.format(board=board, made=made, seed=seed, fitted=RIGS[seed],
                               blocks_of_step=BLOCKS_OF_STEP, steps=steps)


@functools.cache
def desktop(seed, blocks=BLOCKS):
    """A story as CPython tells it."""
    names: dict = {}
    exec(compile(SOURCE, "scan_story", "exec"), names)
    story = names["Story"](lambda: None, lambda: None, lambda: 0, seed=seed,
                           fitted=RIGS[seed])
    story.tell(blocks)
    return json.loads(json.dumps(story.result()))


def test_the_stories_come_through_every_state_transition_and_element():
    """Else what follows would prove little."""
    told = [desktop(seed) for seed in SEEDS]
    events = [event for one in told for event in one["events"]]
    seen = [sum(counts) for counts in zip(*(one["seen"] for one in told), strict=True)]
    assert min(seen) > 500
    assert len(seen) == len(mo.STATES)
    taken = {(left, cause, state) for code, left, cause, state, _ in events if code == ev.STATE}
    assert taken == set(mo.TRANSITIONS)
    for code in (ev.ACTED, ev.LET_GO):
        acted = {number for kind, number, _, _, _ in events if kind == code}
        assert acted == {index + 1 for index in range(len(ELEMENTS))
                         if any(judges(index, fitted) for fitted in RIGS.values())}
    codes = {event[0] for event in events}
    assert codes >= {ev.LOCKOUT, ev.LOCKOUT_RESET, ev.HELD_OFF, ev.READING_BAD}
    for seed, one in zip(SEEDS, told, strict=True):
        # Every total has carried that the rig can count.
        assert min(one["high"]) >= 1 or RIGS[seed] != ch.ALL_FITTED
        # The queue is emptied after each block only, where all instruments may fail at once.
        assert one["lost"] < len(one["events"]) // 10
        assert one["unsafe"] is None


def check_story(run_micropython, seed, blocks=BLOCKS):
    """Tells a story on the board: each scan with the heap locked, where an allocation raises."""
    script = on_board(blocks // BLOCKS_OF_STEP, seed=seed)
    board = json.loads(run_micropython(script, steps=True, timeout_s=1800).stdout)
    assert board["scans"] == blocks * 20
    assert board["grown"] == 0
    assert board == desktop(seed, blocks)


@pytest.mark.parametrize("seed", SEEDS)
def test_fifty_thousand_scans_allocate_nothing_and_post_the_same_events(run_micropython, seed):
    check_story(run_micropython, seed)


WASTEFUL = """
class Wasteful(ScriptedBoard):
    def read(self, values):
        ScriptedBoard.read(self, values)
        self.copy = values[:]
"""


def test_a_scan_that_allocates_is_caught(run_micropython):
    with pytest.raises(MicroPythonError, match="MemoryError"):
        run_micropython(on_board(1, WASTEFUL, "Wasteful()"), steps=True, timeout_s=60)


BIG = """
class Big(ScriptedBoard):
    def read(self, values):
        ScriptedBoard.read(self, values)
        self.product = values[SUPPLY_MV] * 1000000
"""


def test_a_number_beyond_31_bits_is_caught(run_micropython):
    with pytest.raises(MicroPythonError, match="MemoryError"):
        run_micropython(on_board(1, BIG, "Big()"), steps=True, timeout_s=60)
