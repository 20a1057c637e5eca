"""Text of a keeper's stand-in that runs alike on the board's interpreter and here.

Numbers come from a small generator of its own, so that both interpreters see
the same ones.
"""

SOURCE = '''
from keeper import settings as st
from keeper.channels import COLUMNS, CONTACTS, GENERATOR_MV, INVALID, TOTALS
from keeper.protection.derived import VALUES
from keeper.events import EventQueue, STATE
from keeper.journal.opening import open_journal
from keeper.journal.rows import Rows

RIG_ID = 12345
BUDGET = 36000


class Totals:
    def __init__(self, journal):
        self.low = list(journal.restored_low)
        self.high = list(journal.restored_high)

    def settle(self):
        pass


class StandIn:
    def __init__(self, journal, seed):
        self.journal = journal
        self.seed = seed
        self.rows = Rows()
        self.totals = Totals(journal)
        self.values = [0] * VALUES
        self.events = EventQueue(16, self.values, VALUES)
        self.outputs = [1, 500]
        self.state = 2
        self.busy = False
        self.uptime_ds = 0
        self.scans = 0
        self.first_out = 0
        self.acting = 0
        self.lockouts = 0
        self.setpoint_mW = 600
        self.row_running_s = 1
        self.row_standstill_s = 6
        self.tail_sync_s = 6
        self.settings = [row[1] for row in st.SETTINGS]
        self.settings[st.index("rig_id")] = RIG_ID
        self.settings[st.index("motor_trip_mdegC")] = 55000
        self.settings[st.index("generator_trip_mV")] = 14000
        self.settings[st.index("overspeed_mV")] = 16000

    def contact_bits(self):
        return self.uptime_ds // 1000 & 31

    def chance(self, most):
        # Linear congruence modulo 2**16 + 1; small ints on both.
        self.seed = (self.seed * 75 + 74) % 65537
        return self.seed % most

    def scan(self):
        self.uptime_ds += 1
        self.scans += 1
        self.events.begin_scan(self.state, self.uptime_ds)
        for index in range(COLUMNS):
            self.values[index] += self.chance(101) - 50
        self.values[GENERATOR_MV] = INVALID if self.chance(10) == 0 else 12000
        for index in range(len(TOTALS)):
            self.totals.low[index] += 1000 * index
            if self.totals.low[index] >= 1000000000:
                self.totals.low[index] -= 1000000000
                self.totals.high[index] += 1
        if self.chance(150) == 0:
            left = self.state
            self.state = self.events.state = self.chance(5)
            self.events.post(STATE, left, self.chance(9))
        self.rows.add(self.values)

    def run(self, scans):
        for _ in range(scans):
            self.scan()
            self.journal.slack(self, self.uptime_ds * 100)


def run_all(folder, scans):
    keeper = None
    for boot in range(2):
        keeper = StandIn(open_journal(folder, RIG_ID, 7, BUDGET), boot + 1)
        keeper.run(scans)
    return keeper
'''
