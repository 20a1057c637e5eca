"""The protection pass: loops plainly over the table of elements.

Integers only, no allocation, bounded time.  It knows values, elements and
which states arm them; it does not know how a state begins or ends.
"""

from keeper.settings import index as at
from keeper.channels import COLUMNS, FITTABLE, INVALID, READ
from keeper.clock import PERIOD_MS
from keeper.protection.derived import NEEDS
from keeper.protection.elements import (
    AT_REST, BELOW, BOTH, GIVES_WAY, HELD_BY_VALUE, INHIBIT, J_ACTION, J_ARMED, J_DELAY_MS,
    J_PICKUP, J_RESET, J_SENSE, J_TARGET, J_VALUE, ROWS, SPARED, STOP, TAKES_ITS_PLACE, TRIP,
    column, is_spared, judged, limit_of)
from keeper.events import (
    ACTED, FIRST_TOLD, LET_GO, READING_BAD, REPEATED, TRIPS_TOLD, Repeats)
from keeper.modes import STATES

UP, DOWN = 2, 1  # steps of the delay count, see `keeper.protection.elements`
BEYOND_MOST_SCANS = 1 << 28  # a count of scans stops here: 310 days
# By sense: "<" elements are mirrored, a sensor's own has none.
SIGNS = (1, -1, 0)
R_INDEX, R_PLACE, R_SIGN, R_PICKUP, R_RESET, R_DELAY_STEPS = range(6)


class Protection:
    """State of all elements.  After `judge`: `hold`, `inhibit`, `tripped`, `acting`, `first`."""

    def __init__(self, settings, events, why):
        """Compile the table with settings [list in table order]; post to `events`.

        why: the reason of each bad channel, as the scan keeps it.
        """
        self.events = events
        self.repeats = Repeats(events, ROWS)
        self.why = why
        fitted = settings[at("fitted")]
        # Each row as the loop reads it: index, value, sign, pickup, reset, delay
        # count.  '<' elements are mirrored: the loop only knows 'above';
        # sign 0 is a sensor's own element, which knows only 'not to be trusted' and is
        # armed in every state.  None: what it judges does not exist, or another judges sooner.
        self.by_index = [(
            index, judged(index, J_VALUE), SIGNS[judged(index, J_SENSE)],
            _limit(index, J_PICKUP, settings), _limit(index, J_RESET, settings),
            UP * (limit_of(judged(index, J_DELAY_MS), settings) // PERIOD_MS),
        ) if judges(index, fitted) else None for index in range(ROWS)]
        self.armed = bytes(column(J_ARMED))
        self.action = bytes(column(J_ACTION))
        self.target = bytes(column(J_TARGET))
        rows = [row for row in self.by_index if row]
        self.rows = tuple([row for row in rows if row[R_SIGN]])
        # What a scan looks at in each state: of the armed rows, index, value and pickup
        # as written; by state.
        self.above = watched(self.rows, 1, self.armed)
        self.below = watched(self.rows, -1, self.armed)
        # Rows that count, in the order of the table, and how many they are; no others are
        # judged any further.
        self.counting = list(self.rows)
        self.counts = 0
        self.state = -1            # state of the scan before, -1 = none yet
        # Uptime at which every element that trips a rig at rest has had its delay.
        self.settled_ds = max([0] + [row[R_DELAY_STEPS] // UP for row in self.rows
                                     if self.action[row[R_INDEX]] >= TRIP
                                     and self.armed[row[R_INDEX]] & AT_REST])
        self.sensor_rows = tuple([row for row in rows if not row[R_SIGN]])
        self.sensors_count = False  # a sensor's element counts or acts
        self.count = [0] * ROWS    # progress of each delay [steps]
        self.beyond_scans = [0] * ROWS  # scans beyond the pickup in this spell, for the record
        self.acting = [0] * ROWS   # 1 = the element acts
        self.changed = False       # an element began or ceased to act in this scan
        self.hold = 0              # sides that an acting stop, trip or lock holds off
        self.inhibit = 0           # sides that may not start anew
        self.tripped = 0           # sides that a trip or lock struck in this scan
        self.struck = [0] * ROWS   # 1 = tripped or locked in this scan
        self.first = 0             # first-out: number of the first element of this run
        self.first_values = [0] * events.width  # the inputs of its scan, filled in place

    def judge(self, values, bad, state):
        """Judge one scan: `values` in channel order, `bad` channels as bits, `state` so far.

        Allocates nothing.
        """
        if self.tripped:
            self.tripped = 0
            for index in range(ROWS):
                self.struck[index] = 0
        if bad or self.sensors_count:
            self._judge_sensors(values)
        if state != self.state:
            self._disarm(values, state)
        count = self.count
        # INVALID lies below every pickup.
        for index, place, pickup in self.above[state]:
            if values[place] > pickup and not count[index]:
                self._set_out(index)
        for index, place, pickup in self.below[state]:
            if values[place] < pickup and not count[index] and values[place] != INVALID:
                self._set_out(index)
        if self.counts:
            self._judge_counting(values)
        if self.changed:
            self._held()

    def put(self, row):
        """Judge an element by another row of `by_index` from now on; between two scans."""
        index, place, sign, pickup, _, _ = row
        self.by_index[index] = row
        for slot in range(self.counts):
            if self.counting[slot][R_INDEX] == index:
                self.counting[slot] = row
        looked_at = (index, place, sign * pickup)
        for by_state in (self.above, self.below):
            for state in range(len(by_state)):
                by_state[state] = tuple([looked_at if one[0] == index else one
                                         for one in by_state[state]])

    def _set_out(self, index):
        """An element at rest is beyond its pickup: it counts, at its place in the table."""
        counting = self.counting
        slot = self.counts
        while slot and counting[slot - 1][R_INDEX] > index:
            counting[slot] = counting[slot - 1]
            slot -= 1
        counting[slot] = self.by_index[index]
        self.counts += 1

    def _judge_counting(self, values):
        """Move the delays of the elements that count; forget those that have come to rest."""
        counting = self.counting
        left = 0
        for slot in range(self.counts):
            row = counting[slot]
            index, place, sign, pickup, reset, delay_steps = row
            # A value that cannot be trusted leaves its element as it is: the
            # sensor's own element has the word.
            if values[place] != INVALID:
                value = values[place] * sign
                if value > pickup:
                    self._beyond(index, delay_steps)
                elif value <= reset or not self.acting[index]:
                    # Between reset and pickup what acts goes on, what only counts runs down.
                    self._ease(index)
            if self.count[index]:
                counting[left] = row
                left += 1
        self.counts = left

    def _disarm(self, values, state):
        """The state has changed: what is no longer armed lets go at once."""
        if self.state < 0:
            self._take_up(values)
        self.state = state
        counting = self.counting
        left = 0
        for slot in range(self.counts):
            row = counting[slot]
            index = row[R_INDEX]
            if self.armed[index] >> state & 1:
                counting[left] = row
                left += 1
            else:
                self.count[index] = DOWN
                self._ease(index)
        self.counts = left

    def _take_up(self, values):
        """The first scan: what has not come back below its reset acts on; no trip is counted."""
        for number in HELD_BY_VALUE:
            row = self.by_index[number - 1]
            if row is None:
                continue
            index, place, sign, _, reset, delay_steps = row
            if values[place] != INVALID and values[place] * sign > reset:
                self.count[index] = delay_steps + UP
                self.acting[index] = 1
                self.changed = True
                self._set_out(index)
                self.events.post(ACTED, number, self.action[index])

    def _judge_sensors(self, values):
        """Judge the elements of the sensors themselves, which are armed in every state."""
        self.sensors_count = False
        count = self.count
        for row in self.sensor_rows:
            if values[row[R_PLACE]] == INVALID:
                self._beyond(row[R_INDEX], row[R_DELAY_STEPS])
                self.sensors_count = True
            elif count[row[R_INDEX]]:
                self._ease(row[R_INDEX])
                self.sensors_count = True

    def _held(self):
        """Gather the sides that acting elements hold off or keep from a new start."""
        self.changed = False
        self.hold = self.inhibit = 0
        acting = self.acting
        for slot in range(self.counts):  # what acts has a count
            index = self.counting[slot][R_INDEX]
            if acting[index]:
                self._holds(index)
        if self.sensors_count:
            for row in self.sensor_rows:
                if acting[row[R_INDEX]]:
                    self._holds(row[R_INDEX])

    def _holds(self, index):
        """Take in what an acting element holds off."""
        action = self.action[index]
        if action >= STOP:
            self.hold |= self.target[index]
        elif action == INHIBIT:
            self.inhibit |= self.target[index]

    def _beyond(self, index, delay_steps):
        """One step towards acting."""
        beyond_scans = self.beyond_scans
        if beyond_scans[index] < BEYOND_MOST_SCANS:
            beyond_scans[index] += 1
        steps = self.count[index]
        if steps < delay_steps + UP:
            steps = min(steps + UP, delay_steps + UP)
            self.count[index] = steps
            # An element that acts and chatters does not strike again.
            if steps > delay_steps and not self.acting[index]:
                self._act(index)

    def _act(self, index):
        """The delay has run out: the element acts."""
        self.acting[index] = 1
        self.changed = True
        action = self.action[index]
        if self.repeats.occur(index, TRIPS_TOLD if action >= TRIP else FIRST_TOLD):
            self.events.post(ACTED, index + 1, action)
            place = self.by_index[index][R_PLACE]
            if not self.by_index[index][R_SIGN] and place < COLUMNS:
                self.events.post(READING_BAD, place, self.why[place])
        if action >= TRIP:
            self.tripped |= self.target[index]
            self.struck[index] = 1
        if self.first == 0 and action >= STOP:
            self.first = index + 1
            for place in range(len(self.first_values)):
                self.first_values[place] = self.events.values[place]

    def _ease(self, index):
        """One step back towards rest; at rest the element lets go."""
        self.count[index] -= DOWN
        if self.count[index] <= 0:
            self.count[index] = 0
            if self.acting[index]:
                self.acting[index] = 0
                self.changed = True
                if not self.repeats.hidden[index]:
                    self.events.post(LET_GO, index + 1, self.beyond_scans[index])
            self.beyond_scans[index] = 0

    def tell_repeats(self):
        """Tell what acted again and again, where that is due; between two scans."""
        self.repeats.due(REPEATED, 1, self.acting)

    def holds_in(self, side, state):
        """Return whether a stop or trip that acts and is armed in `state` holds off `side` [bool].
        """
        for index in range(ROWS):
            if self.acting[index] and self.action[index] >= STOP and self.target[index] & side:
                if self.armed[index] >> state & 1:
                    return True
        return False

    def cause_present(self):
        """Return whether an element that trips or locks acts or counts now [bool].

        Also while the board has not run as long as the slowest of them needs.
        """
        if self.events.uptime_ds <= self.settled_ds:
            return True
        return self.may_trip(BOTH)

    def may_trip(self, side):
        """Return whether an element that trips or locks `side` acts or counts now [bool]."""
        for index in range(ROWS):
            # What acts has a count.
            if self.count[index] and self.action[index] >= TRIP and self.target[index] & side:
                return True
        return False

    def is_timing(self, shorter_than_ms):
        """Return whether an element with a shorter delay [ms] counts and has not acted [bool]."""
        most = UP * (shorter_than_ms // PERIOD_MS)
        for row in self.rows:
            index = row[R_INDEX]
            if self.count[index] and not self.acting[index] and row[R_DELAY_STEPS] < most:
                return True
        return False

    def acting_word(self, word):
        """Return 16 elements as bits: bit i = element 16 * word + i + 1 acts."""
        bits = 0
        for place in range(16):
            index = 16 * word + place
            if index < ROWS and self.acting[index]:
                bits |= 1 << place
        return bits


def watched(rows, sign, armed):
    """Return, by state, (index, value, pickup as written) of the armed rows of one sign.

    armed: of each element the states as bits.
    """
    watched = [(row[R_INDEX], row[R_PLACE], sign * row[R_PICKUP]) for row in rows
               if row[R_SIGN] == sign]
    return [tuple([row for row in watched if armed[row[R_INDEX]] >> state & 1])
            for state in range(len(STATES))]


def judges(index, fitted):
    """Return whether a rig has an element, by its place in the table [bool]."""
    if index == GIVES_WAY and judges(TAKES_ITS_PLACE, fitted):
        return False
    return is_fitted(judged(index, J_VALUE), fitted) and not is_spared(index, fitted)


def stands_in(fitted):
    """Return whether a rig that has what `fitted` says needs what stands in [bool]."""
    for place in range(0, len(SPARED), 2):
        if not is_spared(SPARED[place], fitted):
            return True
    return False


def is_fitted(place, fitted):
    """Return whether a value exists [bool]: read, or worked out of what is read.

    fitted: bits of what the rig has, as the setting.
    """
    if place < FITTABLE:
        return bool(fitted >> place & 1)
    if place < READ:
        return True
    return NEEDS[place - READ] & fitted == NEEDS[place - READ]


def _limit(index, place, settings):
    """Return a limit of an element as the loop compares it: as set or as written, mirrored."""
    limit = limit_of(judged(index, place), settings)
    return -limit if judged(index, J_SENSE) == BELOW else limit
