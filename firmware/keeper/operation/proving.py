"""What lets a person prove the rig, for some minutes: an order of its own, three ways.

An element acts sooner than it is set to, so that a hand-warm sensor shows that it acts;
the pump is tried at once, by its ordinary trial, whatever the sun says; the board's light
blinks.  All of it is lost at a restart and ends by itself.  Nothing here lets an element
act later, and nothing passes protection by.
"""

from keeper.channels import COLUMNS, INVALID
from keeper.clock import PERIODS_PER_S
from keeper.modes import STANDSTILL
from keeper.operation.orders import DONE, LOCKED, NOT_SAFER, RUNS
from keeper.protection.elements import LOCK, ROWS
from keeper.protection.judging import (
    R_DELAY_STEPS, R_PICKUP, R_PLACE, R_RESET, R_SIGN)

# What the order's first argument says: end it all, blink, try the pump; from here on the
# number of an element added.
END, BLINK, TRY_PUMP, ELEMENT = 0, 1, 2, 100
LASTS_DS = 600 * PERIODS_PER_S
MOST_BLINKS = 20


class Proving:
    """What is proven now.

    Attributes: element, the number of the one that acts sooner, 0 = none; ends_ds,
    uptime at which it acts as set again [0.1 s].
    """

    def __init__(self, core, lamp):
        """Take the scan, and the board's own light, None without one."""
        self.core = core
        self.lamp = lamp
        self.element = 0
        self.ends_ds = 0
        self.row = None          # its row as set
        self.tries_ds = -1       # uptime at which the pump was to be tried, -1 = it is not
        self.start_mV = self.near_mV = 0  # as set, while it is

    def order(self, a, b):
        """Do what an order says by its arguments [integers]; return DONE or the refusal."""
        if a == END:
            self.end()
            return DONE
        if a == BLINK:
            if self.lamp is not None:
                self.lamp.say(max(1, min(MOST_BLINKS, b)))
            return DONE
        sequence = self.core.sequence
        if sequence.lockout.sides:
            return LOCKED
        if a == TRY_PUMP:
            return self._try_pump(sequence)
        return self._lower(a - ELEMENT - 1, b)

    def _try_pump(self, sequence):
        """Let no wait for the sun keep the pump from its trial, for once."""
        if sequence.state != STANDSTILL:
            return RUNS
        if self.tries_ds < 0:
            self.start_mV, self.near_mV = sequence.start_mV, sequence.near_mV
        self.tries_ds = self.core.uptime_ds
        sequence.start_mV = sequence.near_mV = INVALID
        sequence.sunny_periods = sequence.start_wait_periods
        return DONE

    def _lower(self, index, limit):
        """Let an element act from another limit on, which must be on the safe side of its own."""
        protection = self.core.protection
        row = protection.by_index[index] if 0 <= index < ROWS else None
        if index == self.element - 1:
            row = self.row
        # Of what is worked out no hand can make the value, and what locks out needs a key or
        # a way to the rig.
        if (row is None or not row[R_SIGN] or row[R_PLACE] >= COLUMNS
                or protection.action[index] == LOCK):
            return NOT_SAFER
        pickup = limit * row[R_SIGN]
        if pickup >= row[R_PICKUP]:
            return NOT_SAFER
        self._restore()
        self.row = row
        self.element = index + 1
        self.ends_ds = self.core.uptime_ds + LASTS_DS
        protection.put((index, row[R_PLACE], row[R_SIGN], pickup, min(pickup, row[R_RESET]),
                        row[R_DELAY_STEPS]))
        return DONE

    def left_ds(self):
        """Return for how long the element acts sooner still [0.1 s]."""
        return max(0, self.ends_ds - self.core.uptime_ds) if self.element else 0

    def look(self):
        """End what has had its time; between two scans."""
        if self.element and not self.left_ds():
            self._restore()
        if self.tries_ds >= 0:
            sequence = self.core.sequence
            tried_ds = self.core.uptime_ds - self.tries_ds
            # A state that is younger than the order: the pump was tried.
            if (tried_ds >= LASTS_DS or sequence.state != STANDSTILL
                    or sequence.in_state_periods < tried_ds):
                self._leave_pump()

    def end(self):
        """Let everything be as it is set; between two scans."""
        self._restore()
        if self.tries_ds >= 0:
            self._leave_pump()

    def _restore(self):
        if self.element:
            self.core.protection.put(self.row)
            self.element = 0
            self.row = None

    def _leave_pump(self):
        sequence = self.core.sequence
        sequence.start_mV, sequence.near_mV = self.start_mV, self.near_mV
        self.tries_ds = -1
