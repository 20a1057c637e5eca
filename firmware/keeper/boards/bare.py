"""A board whose parts cannot be made as its wiring asks: outputs off, nothing read.

Only for the safe mode: the line answers, so that a person learns why and can
flash it anew.  The valve is shut if it can be made: open it would empty the tank.
"""

from keeper.boards.base import ABSENT, Board
from keeper.channels import C_71H_UP, CONTACTS, LOOP_71HH, LOOP_HEALTHY, READ, VALVE_PERMILLE

class Bare(Board):
    """Such a board, as a `keeper.boards.base.Board`."""

    def __init__(self, board):
        """Take over the outputs and the valve of a board."""
        self.pump = board.pump
        self.lamps_off = board.lamps_off
        self.dump = board.dump
        self.line_enable = board.line_enable
        self.lamp = board.lamp
        self.valve_word = board.valve_word
        self.valve = board.valve

    def read(self, values):
        """Fill the values before `READ`: no answer, contacts open; allocates nothing."""
        for place in range(READ):
            values[place] = ABSENT
        for place in range(C_71H_UP, C_71H_UP + len(CONTACTS)):
            values[place] = 0
        values[LOOP_71HH] = LOOP_HEALTHY
        values[VALVE_PERMILLE] = self.valve.read()

    def slack(self, now_ms):
        """Return False: there is nothing to do."""
        return False

    @property
    def faults(self):
        """Readings that drivers gave up: 0, as there are no drivers [-]."""
        return 0
