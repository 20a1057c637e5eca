"""Tasks at a board gone mad: nonsense in registers, refusals, a line that goes in the middle."""

import math
import random

import pytest

from forebay.asking import Choice, Done, Kept
from forebay.asking.questions import Quantity
from forebay.calibrate import work
from forebay.calibrate.sitting import Sitting
from forebay.calibrate.tasks import BOARD, TASKS
from forebay.errors import InputError
from forebay.rig import load
from forebay.wire.line import WireError
from keeper import channels as ch
from keeper.operation import orders

DEMO = load()
AT_BOARD = [name for name, task in TASKS.items() if task.by == BOARD]
SEEDS = range(4)
WORDS = (0, 1, -1, ch.INVALID, ch.INVALID + ch.OUT_OF_RANGE, 2**31 - 1, -2**31, 2**64 - 1)


class Mad:
    """A line whose clock runs and whose registers hold anything; gone after some looks."""

    def __init__(self, seed):
        self.draw = random.Random(seed)
        self.clock_ds, self.looks = 0, 0
        # One in three is at the right size, so that a task comes further.
        self.legal = {row[ch.CH_NAME]: (row[ch.CH_LOW], row[ch.CH_HIGH]) for row in ch.CHANNELS}
        self.sane = self.draw.choice((0.0, 0.5, 0.98, 1.0))
        self.goes_at = self.draw.choice((3, 40, 10**9))

    def values(self, *names):
        self.looks += 1
        if self.looks > self.goes_at:
            raise WireError("the line is gone")
        self.clock_ds += 3
        return {name: self._value(name) for name in names}

    def _value(self, name):
        if name == "uptime_ds":
            return self.clock_ds
        if self.draw.random() > self.sane:
            return self.draw.choice(WORDS)
        low, high = self.legal.get(name, (0, 1000))
        return self.draw.randint(low, high)

    def rest(self, seconds):
        self.clock_ds += math.ceil(seconds * 10)

    def order(self, code, a=0, b=0):
        return self.draw.choice((orders.DONE, orders.DONE, orders.DONE, 1, 2, 3))


class Anyone:
    """Answers anything that may be answered."""

    unused = ()

    def __init__(self, draw):
        self.draw = draw

    def to(self, question):
        if isinstance(question, Done):
            return True
        if isinstance(question, Choice):
            return self.draw.choice(list(question.choices))
        assert isinstance(question, Quantity)
        return self.draw.uniform(question.least, question.most)


@pytest.mark.parametrize("task", AT_BOARD)
@pytest.mark.parametrize("seed", SEEDS)
def test_a_task_at_a_mad_board_ends_in_a_line_or_in_figures_with_their_doubts(
        tmp_path, task, seed):
    line = Mad(f"{task} {seed}")
    told = []
    sitting = Sitting(DEMO, Anyone(line.draw), Kept(tmp_path / "kept.json"), told.append, line)
    try:
        outcome = work.found(task, sitting)
        work.report_of(outcome, DEMO, work.Whose(DEMO.rig_id, False))
    except InputError:  # one line for the person; anything else is a fault of ours
        return
    for one in outcome.figures:
        assert math.isfinite(one.value), one
        assert one.u > 0, one
