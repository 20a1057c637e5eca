"""What a board's own code believes of leads that fail: `keeper.instruments`, run on them.

Made anew for each boot, and only where a lead is disturbed that it judges: a
sound one reads the same without it.
"""

from keeper.channels import (
    C_71H_UP, CLIPPED, CONTACTS, INVALID, MONITORS, MOTOR_MDEGC, REASONS, WATER_MDEGC)
from keeper.clock import PERIOD_MS
from keeper.instruments.debouncing import Debounced
from keeper.instruments.monitors import (
    BUS_DEN, BUS_NUM, CLIP, CONFIG, REG_BUS, REG_CONFIG, SHUNT_nV, Monitor, Monitors, arranged)
from keeper.instruments.thermometers import (
    CONFIG_BYTE, MILLI_DEN, MILLI_NUM, ROM_BYTES, SCRATCHPAD_BYTES, Thermometers)

SHUNTS = ("panel", "pump", "generator", "lamp", "supply")   # in the order of MONITORS
THERMOMETERS = (MOTOR_MDEGC, WATER_MDEGC)
ROMS = tuple([bytes([place + 1] * ROM_BYTES) for place in range(len(THERMOMETERS))])
TWELVE_BITS = 0x7F                   # in a thermometer's configuration
UNTRUSTED = INVALID + len(REASONS)   # below it stands a reason, and no reading


class Wire:
    """A contact's pin: low while the contact is closed."""

    def __init__(self):
        """Begin open."""
        self.closed = 0

    def __call__(self):
        """Return the pin's level."""
        return 1 - self.closed


class Chips:
    """Monitors on their bus: registers that say what a list of values says."""

    def __init__(self, rig):
        """Take the rig as a dict "section.key_unit"."""
        self.i2c = self
        self.values = []
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


class Line:
    """Thermometers on their line: scratchpads that say what a list of values says."""

    def __init__(self):
        """Begin with nothing written."""
        self.values = []
        self.lost = ()        # places of temperatures whose reading is damaged
        self.wrote = bytearray()
        self.answer = []      # bytes still to be read

    def reset(self):
        """Begin a transaction; return that somebody is there."""
        self.wrote = bytearray()
        self.answer = []
        return True

    def writebyte(self, byte):
        """Take a byte of a command."""
        self.wrote.append(byte)

    def readbit(self):
        """Return that the conversion is done."""
        return 1

    def readbyte(self):
        """Return a byte of the scratchpad of the sensor that was called."""
        if not self.answer:
            place = THERMOMETERS[ROMS.index(bytes(self.wrote[1:1 + ROM_BYTES]))]
            self.answer = _scratchpad(self.values[place], place in self.lost)
        return self.answer.pop(0)

    def crc8(self, data):
        """Return what is left over [-]: the last byte, where nothing was damaged nothing."""
        return data[-1]


def _scratchpad(mdegC, is_damaged):
    """Return the bytes that read a temperature; all ones where nobody answers."""
    if mdegC < UNTRUSTED:
        return [0xFF] * SCRATCHPAD_BYTES
    sixteenths = (mdegC * MILLI_DEN + MILLI_NUM - 1) // MILLI_NUM
    scratch = [0] * SCRATCHPAD_BYTES
    scratch[0], scratch[1] = sixteenths & 0xFF, sixteenths >> 8 & 0xFF
    scratch[CONFIG_BYTE] = TWELVE_BITS
    scratch[-1] = int(is_damaged)
    return scratch


class Clock:
    """A bus that answers, or refuses, in no time."""

    def ticks_us(self):
        """Return 0."""
        return 0

    def ticks_diff(self, later_us, before_us):
        """Return the difference of two times."""
        return later_us - before_us


class Judged:
    """Contacts, monitors and thermometers of one boot.  `read` puts what the board believes."""

    def __init__(self, rig, fitted, due):
        """Take the rig, the bits of what it has, and which monitor in turn is read next [-]."""
        self.wires = [Wire() for _ in CONTACTS]
        self.contacts = Debounced(self.wires, rig["board.contact_scans"])
        self.settled = False
        self.chips = Chips(rig)
        self.monitors = Monitors(self.chips, [
            Monitor(self.chips, row, self.chips.shunts[row], mA_place, mV_place, is_quick)
            for row, mA_place, mV_place, is_quick in arranged(fitted)], Clock())
        self.monitors.due = due
        self.line = Line()
        self.thermometers = Thermometers(self.line, ROMS, rig["board.temperature_stale_s"])
        self.now_ms = 0

    def prime(self, values):
        """Know what a board that has been running knows: the last readings [list]."""
        self.chips.values = values
        for monitor in self.monitors.monitors:
            monitor.sample()

    def read(self, values, lost):
        """Judge a list of values, in place; lost: currents whose monitor does not answer."""
        for place, wire in enumerate(self.wires):
            wire.closed = values[C_71H_UP + place]
        if not self.settled:
            self.settled = True
            self._settle(values)
        self.contacts.read(values, C_71H_UP)
        self.chips.values, self.chips.lost = values, lost
        self.monitors.step()   # what a board does between two scans
        self.monitors.read(values)
        self._temperatures(values, lost)

    def _settle(self, values):
        """Know what a board knows before its first scan: loops, and temperatures."""
        for _ in range(self.contacts.scans):
            self.contacts.read(list(values), C_71H_UP)
        for sensor, place in zip(self.thermometers.sensors, THERMOMETERS):
            sensor.value, sensor.is_stale = values[place], False

    def _temperatures(self, values, lost):
        line, thermometers = self.line, self.thermometers
        line.values, line.lost = list(values), lost
        while thermometers.step(self.now_ms):
            pass
        for sensor, place in enumerate(THERMOMETERS):
            values[place] = thermometers.read(sensor, self.now_ms)
        self.now_ms += PERIOD_MS
