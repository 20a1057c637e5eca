"""What a keeper keeps over a restart: gathers it, brings it back, saves it when it changed."""

from keeper.elements import BOTH
from keeper.night import POINTS
from keeper.protection import ROWS

LOOK_DS = 100            # how often a change is looked for
EVERY_DS = 6000          # heat and starts are saved this often while they change
HEAT_STEP = 50000        # a twentieth of the heat that trips is a change
FIXED = ("lockout", "lockout_element", "starts_milli", "heat", "last_night_min")
COUNT = len(FIXED) + POINTS + ROWS


class Kept:
    """Lockout, first trips, starts, heat and what the nights taught."""

    def __init__(self, keeper, memory):
        """Bring back what `memory` holds; unreadable: locked out, motor hot, counter full."""
        self.keeper = keeper
        self.memory = memory
        self.next_ds = 1 << 30 if memory is None else LOOK_DS
        self.saved_ds = 0
        values = memory.load(COUNT) if memory is not None else None
        if values and self._fits(values):
            self._restore(values)
        elif memory is not None:
            self._worst()
        self.urgent = self._urgent()
        self.slow = self._slow()

    def _fits(self, values):
        """Return whether the values can be what a keeper saved [bool]."""
        lockout, element, starts, heat, night = values[:len(FIXED)]
        derived = self.keeper.core.derived
        return (lockout in (0, BOTH) and 0 <= element <= ROWS and 0 <= starts
                and 0 <= heat < 1 << 28 and 0 <= night <= 1440 and starts <= derived.starts.full
                and min(values[len(FIXED):]) >= 0)

    def _restore(self, values):
        sequence, derived = self.keeper.core.sequence, self.keeper.core.derived
        lockout = sequence.lockout
        (lockout.sides, lockout.element, derived.starts.milli, derived.heat.heat,
         sequence.light.last_night_min) = values[:len(FIXED)]
        curve = values[len(FIXED):len(FIXED) + POINTS]
        if min(curve) > 0:
            self.keeper.night.curve = curve
        for index in range(ROWS):
            lockout.trips[index] = values[len(FIXED) + POINTS + index]
            if lockout.trips[index]:
                lockout.counted += 1

    def _worst(self):
        sequence, derived = self.keeper.core.sequence, self.keeper.core.derived
        sequence.lockout.sides = BOTH
        derived.heat.heat = derived.heat.FULL
        derived.starts.milli = derived.starts.full

    def values(self):
        """Return what is to be kept [list of COUNT integers]."""
        sequence, derived = self.keeper.core.sequence, self.keeper.core.derived
        lockout = sequence.lockout
        return [lockout.sides, lockout.element, derived.starts.milli, derived.heat.heat,
                sequence.light.last_night_min] + self.keeper.night.curve + lockout.trips

    def _urgent(self):
        lockout = self.keeper.core.sequence.lockout
        return [lockout.sides, lockout.element] + lockout.trips

    def _slow(self):
        core = self.keeper.core
        derived = core.derived
        return [derived.heat.heat // HEAT_STEP, derived.starts.milli // derived.starts.ONE,
                core.sequence.light.last_night_min] + self.keeper.night.curve

    def work(self):
        """Save if something changed; return whether flash was written [bool]."""
        keeper = self.keeper
        now_ds = keeper.uptime_ds
        self.next_ds = now_ds + LOOK_DS
        urgent = self._urgent()
        due = now_ds - self.saved_ds >= EVERY_DS
        if keeper.busy or not (urgent != self.urgent or due and self._slow() != self.slow):
            return False
        if self.memory.save(self.values()):
            self.urgent = urgent
            self.slow = self._slow()
        self.saved_ds = now_ds
        return True
