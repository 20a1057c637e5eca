"""What a keeper retains over a restart: gathers it, brings it back, saves it when it changed."""

import binascii

from keeper.settings import index as at
from keeper.protection.elements import BOTH, E_ID, ELEMENTS, J_TARGET, JUDGED, NO_ELEMENT
from keeper.operation.light import PERIODS_PER_MIN
from keeper.operation.night import POINTS
from keeper.protection.judging import ROWS
from keeper.operation.sequence import SIDES

LOOK_DS = 10             # how often a change is looked for
EVERY_DS = 6000          # what creeps is saved this often
FORCED_DS = 50           # a change that protects waits no longer for a quiet moment
HEAT_STEP = 50000        # a twentieth of the heat that trips is a change
NEVER_DS = 1 << 30
WORST_HEAT = 1002000     # above the pickup of 49-MOT
LONGEST_HEAT, LONGEST_NIGHT_MIN, LONGEST_HOLD_MIN = 1 << 28, 1440, 10080
MARK_MASK = 0x3FFFFFFF   # a CRC as a small int
FIXED = ("lockout", "lockout_element", "first_out", "starts_milli", "heat", "last_night_min",
         "maintenance", "forbidden_min", "drain_min", "elements_mark", "night_mark")
COUNT = len(FIXED) + POINTS + ROWS
CURVE, TRIPS = len(FIXED), len(FIXED) + POINTS
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
        values = memory.load(COUNT) if memory is not None else None
        if values and self._fits(values):
            self._restore(values)
        elif memory is not None:
            self._worst()
        self.urgent = self._urgent()
        self.slow = self._slow()

    def _fits(self, values):
        """Return whether the values can be what a keeper saved [bool]."""
        saved = dict(zip(FIXED, values))
        return (saved["lockout"] in (0, BOTH) and 0 <= saved["lockout_element"] <= ROWS
                and 0 <= saved["first_out"] <= ROWS
                and 0 <= saved["starts_milli"] <= self.keeper.core.derived.starts.full
                and 0 <= saved["heat"] < LONGEST_HEAT
                and 0 <= saved["last_night_min"] <= LONGEST_NIGHT_MIN
                and 0 <= saved["forbidden_min"] <= LONGEST_HOLD_MIN
                and 0 <= saved["drain_min"] <= LONGEST_HOLD_MIN and min(values[CURVE:]) >= 0)

    def _restore(self, values):
        sequence, derived = self.keeper.core.sequence, self.keeper.core.derived
        saved = dict(zip(FIXED, values))
        derived.starts.milli = saved["starts_milli"]
        derived.heat.heat = saved["heat"]
        sequence.light.last_night_min = saved["last_night_min"]
        sequence.maintenance = saved["maintenance"] == 1
        sequence.forbidden_periods = saved["forbidden_min"] * PERIODS_PER_MIN
        sequence.drain_periods = saved["drain_min"] * PERIODS_PER_MIN
        sequence.lockout.sides = saved["lockout"]
        if saved["night_mark"] == self.marks[1] and min(values[CURVE:TRIPS]) > 0:
            self.keeper.night.curve = values[CURVE:TRIPS]
        if saved["elements_mark"] != self.marks[0]:
            return  # another firmware's rows: the lockout holds, its element is not known
        sequence.lockout.element = saved["lockout_element"]
        self.keeper.core.protection.first = saved["first_out"]
        for index in range(ROWS):
            trips = values[TRIPS + index]
            if trips:
                sequence.lockout.trips[index] = trips
                sequence.lockout.counted += 1
                for side in range(2):
                    if JUDGED[index][J_TARGET] & SIDES[side]:
                        sequence.wait_periods[side] = sequence.trip_wait_periods

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
        """Return what is to be saved [list of COUNT integers]."""
        sequence, derived = self.keeper.core.sequence, self.keeper.core.derived
        lockout = sequence.lockout
        # Maintenance for the laptop's tools ends with them, not with the next start.
        stands = sequence.maintenance and not sequence.held_safe and not self.keeper.leaving
        fixed = [lockout.sides, lockout.element, self.keeper.first_out, derived.starts.milli,
                 derived.heat.heat, sequence.light.last_night_min, 1 if stands else 0,
                 _minutes(sequence.forbidden_periods), _minutes(sequence.drain_periods)]
        return fixed + list(self.marks) + self.keeper.night.curve + lockout.trips

    def _urgent(self):
        core = self.keeper.core
        sequence = core.sequence
        lockout = sequence.lockout
        return [lockout.sides, lockout.element, core.protection.first, core.derived.starts.counted,
                sequence.maintenance, sequence.forbidden_periods > 0,
                sequence.drain_periods > 0] + lockout.trips

    def _slow(self):
        core = self.keeper.core
        return [core.derived.heat.heat // HEAT_STEP, core.sequence.forbidden_periods // EVERY_DS,
                core.sequence.drain_periods // EVERY_DS,
                core.sequence.light.last_night_min] + self.keeper.night.curve

    def work(self):
        """Save if something changed; return whether flash was written [bool]."""
        now_ds = self.keeper.uptime_ds
        self.next_ds = now_ds + LOOK_DS
        urgent = self._urgent()
        if urgent == self.urgent:
            self.changed_ds = -1
            if now_ds - self.saved_ds < EVERY_DS or self._slow() == self.slow:
                return False
        elif self.changed_ds < 0:
            self.changed_ds = now_ds
        waited = self.changed_ds >= 0 and now_ds - self.changed_ds >= FORCED_DS
        if self.keeper.busy and not waited:
            return False
        if self.memory.save(self.values()):
            self.urgent = urgent
            self.slow = self._slow()
            self.changed_ds = -1
        self.saved_ds = now_ds
        return True
