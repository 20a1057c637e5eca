"""A whole keeper on scripted inputs, with a journal, as the links of a board serve it.

Read by both interpreters: this file imports nothing of Python's.
"""

from keeper.channels import GENERATOR_MA, GENERATOR_MV, LEVEL_MM
from keeper.journal.opening import open_journal
from keeper.keeper import Keeper
from keeper.link.desk import Desk
from keeper.link.identity import Identity
from keeper.link.rtu import Link
from tests.keeper.scripted import PERIOD_MS, ScriptedBoard, settings_with

RIG_ID = 12345
SHORT_ROWS = (("row_running_s", 1), ("row_standstill_s", 1), ("tail_sync_s", 6))
KEY = bytes(range(32))
OTHER_KEY = bytes(range(1, 33))
BOARD_ID = b"\xe6\x60\x58\x38\x83\x12\x34\x56"
FIRMWARE = 0x0123456789ABCDEF
BUDGET = 200000


def chance(count):
    """Returns bytes that are the same in every run, as no board should have them."""
    return bytes([(7 * place + 3) % 256 for place in range(count)])


class Rig:
    """Keeper, board and journal; runs scan by scan with the slack work between."""

    def __init__(self, folder, key=None, changes=SHORT_ROWS):
        self.board = ScriptedBoard()
        self.journal = open_journal(folder, RIG_ID, 7, BUDGET)
        self.keeper = Keeper(settings_with(changes), self.board, self.journal)
        identity = Identity(BOARD_ID, FIRMWARE, self.keeper.settings)
        self.desk = Desk(self.keeper, key, chance, identity)
        self.now_ms = 0

    def link(self, unit=1, local=False):
        """Returns a serial line to it."""
        return Link(self.keeper, self.journal, unit, self.desk, local)

    def run(self, scans):
        """Scans; inputs wander a little, so that rows differ."""
        inputs = self.board.inputs
        for _ in range(scans):
            turn = self.keeper.scans
            inputs[LEVEL_MM] = 400 + turn * 7 % 11
            inputs[GENERATOR_MV] = turn * 5 % 13
            inputs[GENERATOR_MA] = turn % 3
            self.now_ms += PERIOD_MS
            self.keeper.scan(self.now_ms)
            self.keeper.slack(self.now_ms)

    def settle(self):
        """Gives the keeper's slack work all the time it wants, without a scan."""
        for _ in range(300):
            self.keeper.slack(self.now_ms)
