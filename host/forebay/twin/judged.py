"""What a board's own code believes of leads that fail: `keeper.instruments`, run on them.

Made anew for each boot, and only where a lead is disturbed that it judges: a
sound one reads the same without it.
"""

from keeper.channels import C_71H_UP, CLIPPED, CONTACTS, INVALID, MONITORS, REASONS
from keeper.instruments.debouncing import Debounced
from keeper.instruments.monitors import (
    BUS_DEN, BUS_NUM, CLIP, CONFIG, REG_BUS, REG_CONFIG, SHUNT_nV, Monitor, Monitors)

SHUNTS = ("panel", "pump", "generator", "lamp", "supply")   # in the order of MONITORS
UNTRUSTED = INVALID + len(REASONS)   # below it stands a reason, and no reading


class Wire:
    """A contact's pin: low while the contact is closed."""

    def __init__(self):
        """Begin open."""
        self.closed = 0

    def value(self):
        """Return the pin's level."""
        return 1 - self.closed


class Chips:
    """Monitors on their bus: registers that say what a list of values says."""

    def __init__(self, rig):
        """Take the rig as a dict "section.key_unit"."""
        self.i2c = self
        self.values = ()
        self.lost = ()       # places of currents whose monitor does not answer
        self.shunts = [rig["board." + name + "_shunt_uohm"] for name in SHUNTS]

    def readfrom_mem_into(self, address, register, word):
        """Answer for a row of MONITORS; OSError if it does not answer."""
        mA_place, mV_place, _ = MONITORS[address]
        if mA_place in self.lost:
            raise OSError
        if register == REG_CONFIG:
            raw = CONFIG
        elif register == REG_BUS:
            raw = max(0, _raw(self.values[mV_place], BUS_DEN, BUS_NUM))   # it has no sign
        else:
            raw = _raw(self.values[mA_place], self.shunts[address], SHUNT_nV)
        word[0] = raw >> 8 & 0xFF
        word[1] = raw & 0xFF


def _raw(value, num, den):
    """Return the steps [-] of a register that reads a value; OSError where there is none."""
    if value == INVALID + CLIPPED:
        return CLIP
    if value < UNTRUSTED:
        raise OSError
    return (value * num + den // 2) // den


class Clock:
    """A bus that answers, or refuses, in no time."""

    def ticks_us(self):
        """Return 0."""
        return 0

    def ticks_diff(self, later_us, before_us):
        """Return the difference of two times."""
        return later_us - before_us


class Judged:
    """Contacts and monitors of one boot.  `read` puts what the board believes."""

    def __init__(self, rig, due):
        """Take the rig and which monitor in turn is read next [-]."""
        self.wires = [Wire() for _ in CONTACTS]
        self.contacts = Debounced(self.wires, rig["board.contact_scans"])
        self.settled = False
        self.chips = Chips(rig)
        self.monitors = Monitors(self.chips, [
            Monitor(self.chips, place, self.chips.shunts[place], mA_place, mV_place, is_quick)
            for place, (mA_place, mV_place, is_quick) in enumerate(MONITORS)], Clock())
        self.monitors.due = due

    def prime(self, values):
        """Know what a board that has been running knows: the last readings [list]."""
        self.chips.values = values
        for monitor in self.monitors.monitors:
            monitor.sample()

    def read(self, values, lost):
        """Judge a list of values, in place; lost: currents whose monitor does not answer."""
        for place, wire in enumerate(self.wires):
            wire.closed = values[C_71H_UP + place]
        if not self.settled:   # a board reads them so often before its first scan
            self.settled = True
            for _ in range(self.contacts.scans):
                self.contacts.read(list(values), C_71H_UP)
        self.contacts.read(values, C_71H_UP)
        self.chips.values, self.chips.lost = values, lost
        self.monitors.step()   # what a board does between two scans
        self.monitors.read(values)
