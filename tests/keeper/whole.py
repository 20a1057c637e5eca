"""A whole keeper on a scripted board, with journal and memory in a folder."""

from keeper import channels as ch
from keeper import modes as mo
from keeper import settings as st
from keeper.journal.opening import open_journal
from keeper.keeper import Keeper
from keeper.retained_files import RetainedFiles
from tests.keeper.scripted import ScriptedBoard, settings_with
from tests.keeper.ways import HOT, PRESSED, RELEASED, SUN, WATER

COOL_DOWN = 400  # scans after which a motor of unknown heat counts as cool


class Rig:
    """A whole keeper on a scripted board, its journal and its memory in a folder."""

    def __init__(self, folder, changes=(), memory=True, safe_reason=0):
        self.folder = folder
        self.numbers = settings_with(changes)
        self.memory = memory
        self.safe_reason = safe_reason
        self.now_ms = 0
        self.boot()

    def boot(self):
        """Starts the board anew."""
        self.board = ScriptedBoard()
        journal = open_journal(str(self.folder / "journal"), self.numbers[0], st.VERSION)
        memory = RetainedFiles(str(self.folder / "rig")) if self.memory else None
        self.keeper = Keeper(self.numbers, self.board, journal, memory, self.safe_reason)

    def run(self, scans, changes=()):
        for place, value in changes:
            if place == ch.PUMP_MA:
                self.board.motor_follows = False
            self.board.inputs[place] = value
        for _ in range(scans):
            self.now_ms = self.now_ms + 100 & 0x3FFFFFFF
            self.keeper.scan(self.now_ms)
            for _ in range(3):
                self.keeper.slack(self.now_ms)

    def until(self, state, changes=(), most=6000):
        self.run(1, changes)
        for _ in range(most):
            if self.keeper.state == state:
                return
            self.run(1)
        raise AssertionError(f"state {state} not reached, in {self.keeper.state}")

    def stays(self, state, scans, changes=()):
        """Scans in none of which the state is another, but for those that close the valve."""
        self.run(1, changes)
        while self.keeper.state == mo.CLOSING:
            self.run(1)
        for _ in range(scans):
            self.run(1)
            assert self.keeper.state == state

    def press(self):
        """A press that resets a lockout."""
        self.run(30, [RELEASED])
        self.run(20, [PRESSED])
        self.run(3, [RELEASED])

    @property
    def locked(self):
        return self.keeper.core.sequence.lockout.sides


def unlocked(folder, changes=()):
    """Returns a rig whose first lockout, that of a brand-new board, was reset."""
    one = Rig(folder, changes)
    one.run(COOL_DOWN)
    one.press()
    assert not one.locked
    return one


def lock_out(rig, cause=HOT):
    for _ in range(3):
        rig.until(mo.PUMPING, [SUN, WATER, (ch.MOTOR_MDEGC, 20000), (ch.C_71HH_UP, 1)])
        rig.until(mo.STANDSTILL, [cause])
