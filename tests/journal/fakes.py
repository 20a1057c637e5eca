"""A keeper that only has what the journal and the link read of one."""

import random

from keeper import settings as st
from keeper.channels import C_71H_UP, COLUMNS, CONTACTS, TOTALS
from keeper.events import EventQueue
from keeper.journal.rows import Rows

RIG_ID = 12345
STATES = 5
SLACKS_A_SCAN = 8  # a scan takes some ms of its 100
WIDTH = COLUMNS + len(CONTACTS)  # values that an event keeps


class FakeTotals:
    """Limbs that grow by a fixed amount each scan."""

    def __init__(self, low, high):
        self.low = list(low)
        self.high = list(high)
        self.settled = 0

    def settle(self):
        self.settled += 1

    def grow(self, amount):
        for index in range(len(TOTALS)):
            self.low[index] += amount + index
            self.high[index] += self.low[index] // 1_000_000_000
            self.low[index] %= 1_000_000_000


class FakeKeeper:
    """Values wander by a seeded random walk; a scan is 0.1 s."""

    def __init__(self, journal, seed=1, running_s=10, standstill_s=60, sync_s=60):
        self.journal = journal
        self.rows = Rows()
        self.totals = FakeTotals(journal.restored_low, journal.restored_high)
        self.values = [0] * WIDTH
        self.events = EventQueue(16, self.values, WIDTH)
        self.outputs = [1, 500]
        self.state = 2
        self.busy = False  # something quick is under way
        self.uptime_ds = 0
        self.scans = 0
        self.first_out = 3
        self.acting = 0b100000
        self.lockouts = 2
        self.setpoint_mW = 600
        self.row_running_s = running_s
        self.row_standstill_s = standstill_s
        self.tail_sync_s = sync_s
        self.settings = [row[1] for row in st.SETTINGS]
        self.settings[0] = RIG_ID
        self.settings[st.index("motor_trip_mdegC")] = 55000
        self.settings[st.index("generator_trip_mV")] = 14000
        self.settings[st.index("overspeed_mV")] = 16000
        self.random = random.Random(seed)
        self.seen: list[list[int]] = []  # values of every scan

    @property
    def state(self):
        """Number of the state of operation."""
        return self.events.state

    @state.setter
    def state(self, state):
        self.events.state = state

    def contact_bits(self):
        bits = 0
        for index in range(len(CONTACTS)):
            bits |= (self.values[COLUMNS + index] & 1) << index
        return bits

    def scan(self):
        """One scan: values, totals, the row being gathered."""
        self.uptime_ds += 1
        self.scans += 1
        self.events.begin_scan(self.state, self.uptime_ds)
        for index in range(COLUMNS):
            self.values[index] += self.random.randint(-50, 50)
        self.values[C_71H_UP] = 1
        self.totals.grow(700)
        self.rows.add(self.values)
        self.seen.append(self.values[:COLUMNS])

    def post(self, code, argument, argument2=0):
        """An event of this scan."""
        self.events.post(code, argument, argument2)

    def run(self, scans):
        """Scans with the journal's slack work after each."""
        for _ in range(scans):
            self.scan()
            self.slack()

    def slack(self):
        """What the time until the next scan is good for."""
        for _ in range(SLACKS_A_SCAN):
            self.journal.slack(self, self.uptime_ds * 100)
