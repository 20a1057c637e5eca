"""What a keeper retains over a restart: gathers it, brings it back, saves it when it changed."""

import binascii

from keeper.settings import index as at
from keeper.protection.elements import (
    BOTH, E_ID, ELEMENTS, NO_ELEMENT, PUMP, ROWS, TRIP, number)
from keeper.events import RUN_CUT
from keeper.operation.light import PERIODS_PER_MIN
from keeper.operation.night import LESSONS, POINTS
from keeper.operation.sequence import SIDES, TO_MARK, UNMARKED

LOOK_DS = 10             # how often a change is looked for
EVERY_DS = 6000          # what creeps is saved this often
FORCED_DS = 50           # a change that protects waits no longer for a quiet moment
HEAT_STEP = 50000        # a twentieth of the heat that trips is a change
NEVER_DS = 1 << 30
WORST_HEAT = 1002000     # above the pickup of 49-MOT
LONGEST_HEAT, LONGEST_NIGHT_MIN, LONGEST_HOLD_MIN = 1 << 28, 1440, 10080
MARK_MASK = 0x3FFFFFFF   # a CRC as a small int
# The file: how many numbers follow, FIXED and what a rig with less adds to them
# (`keeper.retained_more`), then the night's curve, trips by element.
# A number that another program does not know is missing there, or stands behind those it
# knows: only ever append.
FIXED = ("lockout", "lockout_element", "first_out", "starts_milli", "heat", "last_night_min",
         "maintenance", "forbidden_min", "drain_min", "elements_mark", "night_mark",
         "start_mark", "lessons")
MOST_ELEMENTS = 255      # of any program: the journal keeps their number in a byte
# The element that a start counts for of which no good was known when power went.
NO_PRIME = number("48-PMP") - 1
# Of the elements' order: trips of another order mean nothing here.
ELEMENTS_MARK = binascii.crc32(" ".join([row[E_ID] for row in ELEMENTS]).encode()) & MARK_MASK


def night_mark(settings):
    """Return a mark [-] of the rig that a learned curve belongs to."""
    own = [settings[at("rig_id")], settings[at("night_full_mW")]]
    first = at("specific_1_mJ_L")
    own += settings[first:first + POINTS]
    return binascii.crc32(repr(own).encode()) & MARK_MASK


def _minutes(periods):
    """Return the minutes that `periods` begin [min]."""
    return (periods + PERIODS_PER_MIN - 1) // PERIODS_PER_MIN


def _fixed(values):
    """Return the numbers of FIXED by name [dict]; 0 for one that the file does not have."""
    known = min(values[0], len(FIXED))
    return dict(zip(FIXED, values[1:1 + known] + [0] * (len(FIXED) - known)))


class Retained:
    """Lockout, first trips, starts, heat, orders that bar, and what the nights taught."""

    def __init__(self, keeper, memory):
        """Bring back what `memory` holds; unreadable: locked out, motor hot, counter full."""
        self.keeper = keeper
        self.memory = memory
        self.marks = (ELEMENTS_MARK, night_mark(keeper.settings))
        self.next_ds = NEVER_DS if memory is None else LOOK_DS
        self.saved_ds = 0
        self.changed_ds = -1     # uptime at which an urgent change was seen, -1 = none waits
        self.is_own_night = False  # what was saved of the night was this rig's
        self.was_cut = False     # power went in a start of the pump, which is to be counted
        values = memory.load() if memory is not None else None
        if values and self._fits(values):
            self._restore(values)
        elif memory is not None:
            self._worst()
        keeper.core.sequence.marks_starts = memory is not None
        # A start that was cut is counted, and saved as counted, at once.
        self.urgent = [] if self.was_cut else self._urgent()
        self.slow = self._slow()

    def _fits(self, values):
        """Return whether the values can be what a keeper saved, of this program or another."""
        curve = 1 + values[0]
        if not 0 < values[0] or len(values) < curve + POINTS:
            return False
        saved = _fixed(values)
        most = ROWS if self._has_our_rows(values) else MOST_ELEMENTS
        return (saved["lockout"] in (0, BOTH) and 0 <= saved["lockout_element"] <= most
                and 0 <= saved["first_out"] <= most
                and 0 <= saved["starts_milli"] <= self.keeper.core.derived.starts.full
                and 0 <= saved["heat"] < LONGEST_HEAT
                and 0 <= saved["last_night_min"] <= LONGEST_NIGHT_MIN
                and 0 <= saved["forbidden_min"] <= LONGEST_HOLD_MIN
                and 0 <= saved["drain_min"] <= LONGEST_HOLD_MIN
                and 0 <= saved["start_mark"] <= 1 and min(values[curve:]) >= 0)

    def _has_our_rows(self, values):
        """Return whether the elements of a file are those of this program [bool]."""
        return (_fixed(values)["elements_mark"] == self.marks[0]
                and len(values) == 1 + values[0] + POINTS + ROWS)

    def _restore(self, values):
        sequence, derived = self.keeper.core.sequence, self.keeper.core.derived
        saved = _fixed(values)
        derived.starts.milli = saved["starts_milli"]
        derived.heat.heat = saved["heat"]
        sequence.light.last_night_min = saved["last_night_min"]
        sequence.maintenance = saved["maintenance"] == 1
        sequence.forbidden_periods = saved["forbidden_min"] * PERIODS_PER_MIN
        sequence.drain_periods = saved["drain_min"] * PERIODS_PER_MIN
        sequence.lockout.sides = saved["lockout"]
        if saved["start_mark"]:
            self.was_cut = True
            derived.starts.count()
            sequence.wait_periods[0] = sequence.trip_wait_periods
        curve = values[1 + values[0]:1 + values[0] + POINTS]
        if saved["night_mark"] == self.marks[1] and min(curve) > 0:
            self.keeper.night.curve = curve
            self.keeper.night.lessons = max(0, min(LESSONS, saved["lessons"]))
            self.is_own_night = True
        self._restore_more(values[1 + len(FIXED):1 + values[0]])
        if self._has_our_rows(values):
            # Else another program's: a lockout holds, its element is not known.
            self._restore_trips(saved, values[-ROWS:])

    def _restore_more(self, more):
        """Bring back what only a rig with less saves [list]; empty in a file of others."""

    def _restore_trips(self, saved, trips):
        sequence = self.keeper.core.sequence
        sequence.lockout.element = saved["lockout_element"]
        self.keeper.core.protection.first = saved["first_out"]
        for index in range(ROWS):
            if trips[index]:
                sequence.lockout.trips[index] = trips[index]
                sequence.lockout.counted += 1
                for side in range(2):
                    if self.keeper.core.protection.target[index] & SIDES[side]:
                        sequence.wait_periods[side] = sequence.trip_wait_periods

    def _count_cut(self):
        """Power went in a start of the pump: it counts as a trip, for it may have been one."""
        self.was_cut = False
        lockout = self.keeper.core.sequence.lockout
        self.keeper.events.post(RUN_CUT, PUMP, lockout.trips[NO_PRIME] + 1)
        lockout.strike(NO_PRIME, TRIP)

    def _worst(self):
        sequence, derived = self.keeper.core.sequence, self.keeper.core.derived
        sequence.lockout.sides = BOTH
        sequence.lockout.element = NO_ELEMENT
        derived.heat.heat = WORST_HEAT
        derived.starts.milli = derived.starts.full

    def failed(self):
        """Return the writes that failed since the start [-]."""
        return self.memory.failed if self.memory is not None else 0

    def values(self):
        """Return what is to be saved [list of integers]: see FIXED."""
        sequence, derived = self.keeper.core.sequence, self.keeper.core.derived
        lockout = sequence.lockout
        # Maintenance for the laptop's tools ends with them, not with the next start.
        stands = sequence.maintenance and not sequence.held_safe and not self.keeper.leaving
        fixed = [lockout.sides, lockout.element, self.keeper.first_out, derived.starts.milli,
                 derived.heat.heat, sequence.light.last_night_min, 1 if stands else 0,
                 _minutes(sequence.forbidden_periods), _minutes(sequence.drain_periods)]
        fixed += [self.marks[0], self.marks[1], 0 if sequence.start_mark == UNMARKED else 1,
                  self.keeper.night.lessons]
        fixed += self._more()
        return [len(fixed)] + fixed + self.keeper.night.curve + lockout.trips

    def _more(self):
        """Return what only a rig with less saves [list of integers]."""
        return []

    def _urgent(self):
        core = self.keeper.core
        sequence = core.sequence
        lockout = sequence.lockout
        return [lockout.sides, lockout.element, core.protection.first,
                sequence.start_mark == UNMARKED, sequence.maintenance,
                sequence.forbidden_periods > 0, sequence.drain_periods > 0] + lockout.trips

    def _slow(self):
        core = self.keeper.core
        return [core.derived.heat.heat // HEAT_STEP, core.sequence.forbidden_periods // EVERY_DS,
                core.sequence.drain_periods // EVERY_DS,
                core.sequence.light.last_night_min] + self.keeper.night.curve

    def is_due(self):
        """Return whether there is something to save, or to look for [bool].

        A trip at once, before power that goes can hide it, and a start before the pump runs.
        """
        core = self.keeper.core
        return core.uptime_ds >= self.next_ds or self.memory is not None and (
            core.protection.tripped or core.sequence.start_mark == TO_MARK)

    def work(self):
        """Save if something changed; return whether flash was written [bool]."""
        now_ds = self.keeper.uptime_ds
        self.next_ds = now_ds + LOOK_DS
        if self.was_cut:
            self._count_cut()
        urgent = self._urgent()
        sequence = self.keeper.core.sequence
        if sequence.start_mark == TO_MARK:
            # The rig stands: a stall of the flash holds nothing up.
            self._save(urgent)
            sequence.start_is_marked()  # or the flash fails, which is told; the rig goes on
            return True
        if urgent == self.urgent:
            self.changed_ds = -1
            if now_ds - self.saved_ds < EVERY_DS or self._slow() == self.slow:
                return False
        elif self.changed_ds < 0:
            self.changed_ds = now_ds
        waited = self.changed_ds >= 0 and now_ds - self.changed_ds >= FORCED_DS
        if self.keeper.busy and not waited:
            return False
        self._save(urgent)
        return True

    def _save(self, urgent):
        if self.memory.save(self.values()):
            self.urgent = urgent
            self.slow = self._slow()
            self.changed_ds = -1
        self.saved_ds = self.keeper.uptime_ds
