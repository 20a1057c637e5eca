"""Whether a keeper under replay is in step with the record, and which tick it reads next.

Runs in the simulation's process, on any Python from 3.9.  The record's time stands while the
keeper is late in leaving a state, and leaps while it is early, each by less than what a row can
tell; beyond that they have parted.
"""

from keeper import modes

IN_STEP, LATE, PARTED = range(3)
PUMPS = (modes.TRIAL, modes.PUMPING)
SETTLING_TICKS = 300      # a keeper that has just started shuts its valve first


class Alignment:
    """The place in the record of one keeper.

    Attributes: tick, that the next scan reads; waited, scans for which it has stood; settling,
    scans for which it need not be in step yet.
    """

    def __init__(self, runs, tick, row_ticks, last=None):
        """Take the runs (first, last, state, cause), the first tick, and a row's ticks by state.

        last: the tick at which the board went off, so that no change ends its last run.
        """
        self.runs = runs
        self.last = last
        self.tick = tick
        self.row_ticks = row_ticks
        self.place = 0
        self._find()
        self.waited = 0
        self.settling = SETTLING_TICKS

    def _find(self):
        runs = self.runs
        while self.place > 0 and runs[self.place][0] > self.tick:
            self.place -= 1
        while self.place + 1 < len(runs) and runs[self.place + 1][0] <= self.tick:
            self.place += 1

    @property
    def run(self):
        """The run that the tick belongs to: (first, last, state, cause)."""
        return self.runs[self.place]

    def patience(self, run):
        """Return by how many ticks a change of this run may be off: what two rows hide."""
        return 2 * self.row_ticks[run[2]]

    def leap(self, tick):
        """Go on at a tick."""
        self.tick = tick
        self.waited = 0
        self._find()

    def go_on(self, state):
        """Take the keeper's state after a scan at `tick`; return IN_STEP, LATE or PARTED."""
        run = self.run
        is_end = self.tick >= run[1] and run[1] != self.last
        expected = self.runs[self.place + 1][2] if is_end and self.place + 1 < len(
            self.runs) else run[2]
        if state == expected:
            self.settling = 0
            self.waited = 0
            self.tick += 1
            self._find()
            return IN_STEP
        if self.settling:
            self.settling -= 1
            self.tick += 1
            self._find()
            return IN_STEP
        if state == run[2]:
            self.waited += 1
            return PARTED if self.waited > self.patience(run) else LATE
        return self._early(state, run)

    def _early(self, state, run):
        """It left before the record did: look for that state shortly ahead."""
        most = self.tick + self.patience(run)
        for ahead in self.runs[self.place + 1:]:
            if ahead[0] > most:
                break
            if ahead[2] == state:
                self.leap(ahead[0])
                return IN_STEP
        return PARTED
