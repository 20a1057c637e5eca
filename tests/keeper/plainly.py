"""Protection as its documentation tells it, row by row and scan by scan: slow and plain.

A second account of `keeper.protection.judging`, over the rows of `statement`: every
row is looked at in every scan, nothing is skipped for speed.
"""

from keeper import channels as ch
from keeper.events import ACTED, LET_GO, READING_BAD
from tests.keeper import statement as said
from tests.keeper.stimuli import SIDE, STATE, VALUE_NAMES, delay_scans, number_of, readings_of

STEPS_UP, STEPS_DOWN = 2, 1
STATE_NAMES = list(STATE)


class Row:
    """One element: how far its delay is, whether it acts, how long it has been beyond."""

    def __init__(self, row, settings):
        self.said = row
        self.number = said.IDS.index(row.id) + 1
        self.place = VALUE_NAMES.index(row.value)
        self.pickup = number_of(row.pickup, settings)
        self.reset = number_of(row.reset, settings)
        self.delay = delay_scans(row.id, settings)
        self.does = said.ACTIONS.index(row.does) + 1
        self.side = SIDE[row.side]
        fitted = number_of("fitted", settings)
        self.fitted = said.is_there(row, readings_of(fitted))
        self.count = self.beyond = 0
        self.acts = False

    def sees(self, value):
        """Beyond its pickup (1), inside its reset (-1), between (0), or no word (None)."""
        if self.said.sense == "?":
            return 1 if value == ch.INVALID else -1
        if value == ch.INVALID:
            return None
        outward = 1 if self.said.sense == ">" else -1
        if outward * (value - self.pickup) > 0:
            return 1
        return -1 if outward * (value - self.reset) <= 0 else 0


class Plainly:
    """All elements; after `judge`: what protection publishes, and `told`, the events so far."""

    def __init__(self, settings):
        self.rows = [Row(row, settings) for row in said.STATEMENT]
        self.sensors = [row for row in self.rows if row.said.sense == "?"]
        self.others = [row for row in self.rows if row.said.sense != "?"]
        self.armed = {name: [row for row in self.others if name in row.said.armed]
                      for name in STATE_NAMES}
        self.told = []
        self.state = None
        self.first = 0
        self.tripped = 0

    def judge(self, values, state):
        """Takes one scan: sensors first, then what is no longer armed, then the others."""
        self.tripped = 0
        self.struck = [0] * len(self.rows)
        name = STATE_NAMES[state]
        for row in self.sensors:
            self._step(row, values)
        if self.state is None:
            self._take_up(values)
        if state != self.state:
            for row in self.others:
                if name not in row.said.armed and row.count:
                    row.count = 0
                    self._rest(row)
        self.state = state
        for row in self.armed[name]:
            self._step(row, values)

    def _take_up(self, values):
        for name in said.STAYS_OVER_A_RESTART:
            row = self.rows[said.IDS.index(name)]
            if row.fitted and row.sees(values[row.place]) in (0, 1):
                row.acts = True
                row.count = STEPS_UP * row.delay + STEPS_UP
                self.told.append((ACTED, row.number, row.does))

    def _step(self, row, values):
        seen = row.sees(values[row.place]) if row.fitted else None
        if seen == 1:
            row.beyond += 1
            most = STEPS_UP * row.delay + STEPS_UP
            row.count = min(row.count + STEPS_UP, most)
            if row.count > STEPS_UP * row.delay and not row.acts:
                self._act(row)
        elif seen == -1 or seen == 0 and not row.acts:
            if row.count:
                row.count -= STEPS_DOWN
                if not row.count:
                    self._rest(row)

    def _act(self, row):
        row.acts = True
        self.told.append((ACTED, row.number, row.does))
        if row.said.sense == "?":
            self.told.append((READING_BAD, row.place, 0))
        if row.said.does in said.COUNTS:
            self.tripped |= row.side
            self.struck[row.number - 1] = 1
        if row.said.does in said.ENDS and not self.first:
            self.first = row.number

    def _rest(self, row):
        if row.acts:
            self.told.append((LET_GO, row.number, row.beyond))
        row.acts = False
        row.beyond = 0

    def sides(self, does):
        """Sides on which an element acts that does one of these."""
        held = 0
        for row in self.rows:
            if row.acts and row.said.does in does:
                held |= row.side
        return held

    def held_in(self, side, state):
        """Whether what acts, and is armed in a state, ends a run of a side."""
        return any(row.acts and row.said.does in said.ENDS and row.side & side
                   and STATE_NAMES[state] in row.said.armed for row in self.rows)

    def times(self, shorter_than_scans):
        """Whether an element with a shorter delay counts and has not acted."""
        return any(row.count and not row.acts and row.delay < shorter_than_scans
                   for row in self.rows if row.said.sense != "?")

    def is_cause(self):
        """Whether what is counted acts or counts."""
        return any(row.said.does in said.COUNTS and (row.acts or row.count) for row in self.rows)
