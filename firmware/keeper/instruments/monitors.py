"""Current and voltage monitors on I2C, by the registers that the driver knows.

Registers after its data sheet (SBOS547, section 7.6 "Register maps"; values
from memory): 0 configuration, 1 shunt voltage, signed, 2.5 uV a step, 2 bus
voltage, 1.25 mV a step, big-endian.  Each averages over at least a scan
period, as loads chop their current.

A register costs a quarter of a millisecond, most of it the bus's: pump and
generator, whose protection acts within a scan or two, are read in every scan,
the others in turn, one a scan.

A device that does not answer is bridged with its last reading for one turn,
then it has no answer.  A scan waits for at most one time-out: after one, what
comes later on the bus waits for the next scan.  Devices without an answer are
looked for between scans, one a scan.
"""

from keeper.channels import CLIPPED, GENERATOR_MV, INVALID, MONITORS, NO_ANSWER, NOWHERE

REG_CONFIG, REG_SHUNT, REG_BUS = 0, 1, 2
# 64 averages (011), bus conversions of 0.588 ms (011), shunt 1.1 ms (100), both
# continuously (111); bit 14 is always set.  64 x 1.688 ms = 108 ms.
CONFIG = 0x4000 | 0b011 << 9 | 0b011 << 6 | 0b100 << 3 | 0b111
SIGN, RANGE = 0x8000, 0x10000
# An average of readings at the end of the range, 32767, may lie a little below.
CLIP = 32760
SHUNT_nV = 2500         # a step of the shunt register
# nV / uohm = mA: a step is SHUNT_nV / shunt_uohm milliamperes
BUS_NUM, BUS_DEN = 5, 4  # a step of the bus register in mV
HOLD_SCANS = 1          # readings that may be missed and are bridged
# The first average after a configuration is there after 108 ms, +10 % of the
# device's clock.
SETTLE_SCANS = 2
# A refused address costs 0.1 ms, a time-out 2 ms.
SLOW_us = 1000


def arranged(fitted):
    """Return a rig's monitors as (row of MONITORS, mA place, mV place, read in every scan).

    fitted: bits of what exists, as the setting; a monitor does if its current is.
    The first on a node reads its voltage, and the generator's is needed in every scan.
    """
    found = []
    nodes = [NOWHERE]
    for row, (mA_place, mV_place, is_quick) in enumerate(MONITORS):
        if fitted >> mA_place & 1:
            reads = NOWHERE if mV_place in nodes else mV_place
            nodes.append(mV_place)
            found.append((row, mA_place, reads, is_quick or reads == GENERATOR_MV))
    return found


class Monitor:
    """One device.

    Attributes: missed, readings in a row without an answer [-]; is_quick, it is
    read in every scan.
    """

    def __init__(self, bus, address, shunt_uohm, mA_place, mV_place=NOWHERE, is_quick=True):
        """Take the bus, the address, the shunt [uohm, not 0] and the places of the values."""
        self.is_quick = is_quick
        self.bus = bus
        self.address = address
        self.shunt_uohm = shunt_uohm
        self.mA_place = mA_place
        self.mV_place = mV_place
        self.word = bytearray(2)
        self.wanted = bytearray([CONFIG >> 8, CONFIG & 0xFF])
        self.mA = INVALID + NO_ANSWER   # last reading
        self.mV = INVALID + NO_ANSWER
        self.missed = HOLD_SCANS + 1    # begins as a device that must be looked for
        self.settling_scans = 0         # scans until its first average

    def sample(self):
        """Read the device; return whether it answered.  Allocates nothing."""
        try:
            current = self._signed(REG_SHUNT)
            voltage = self._signed(REG_BUS) if self.mV_place != NOWHERE else 0
        except OSError:
            self.missed = min(self.missed + 1, HOLD_SCANS + 1)
            return False
        self.missed = 0
        if self.settling_scans:
            self.pass_scan()
            return True
        if -CLIP < current < CLIP:
            self.mA = (current * SHUNT_nV + self.shunt_uohm // 2) // self.shunt_uohm
        else:
            self.mA = INVALID + CLIPPED
        # The register's sign is always 0: anything else is no voltage.
        self.mV = voltage * BUS_NUM // BUS_DEN if 0 <= voltage < CLIP else INVALID + CLIPPED
        return True

    def pass_scan(self):
        """Let a scan pass, in which the device goes on with its first average."""
        if self.settling_scans:
            self.settling_scans -= 1

    def publish(self, values):
        """Put the readings in their places; allocates nothing."""
        if self.missed > HOLD_SCANS:
            values[self.mA_place] = INVALID + NO_ANSWER
            if self.mV_place != NOWHERE:
                values[self.mV_place] = INVALID + NO_ANSWER
            return
        values[self.mA_place] = self.mA
        if self.mV_place != NOWHERE:
            values[self.mV_place] = self.mV

    def _signed(self, register):
        word = self.word
        self.bus.i2c.readfrom_mem_into(self.address, register, word)
        value = word[0] << 8 | word[1]
        return value - RANGE if value & SIGN else value

    def look_after(self):
        """Configure the device if it has lost that; return whether it answered.

        For the time between scans: blocks for two transactions.
        """
        i2c = self.bus.i2c
        try:
            i2c.readfrom_mem_into(self.address, REG_CONFIG, self.word)
            if self.word != self.wanted:
                i2c.writeto_mem(self.address, REG_CONFIG, self.wanted)
                self.settling_scans = SETTLE_SCANS
        except OSError:
            return False
        if self.settling_scans or self.missed > HOLD_SCANS:
            self.mA = self.mV = INVALID + NO_ANSWER  # no older reading bridges that
        self.missed = 0
        return True


class Monitors:
    """All monitors of a bus.  Attribute: faults, readings given up since the start [-]."""

    def __init__(self, bus, monitors, clock):
        """Take the bus, its monitors [list] and a clock with ticks_us and ticks_diff."""
        self.bus = bus
        self.monitors = monitors
        self.count = len(monitors)
        self.clock = clock
        self.faults = 0
        self.is_stuck = False     # a time-out was seen: the bus wants clocks
        self.next_monitor = 0     # whose turn it is to be looked after
        self.slow = [monitor for monitor in monitors if not monitor.is_quick]
        self.due = 0              # which of the slow ones is read next
        self.may_look = False     # once a scan
        for monitor in monitors:
            monitor.look_after()

    def read(self, values):
        """Read those that answer, put all values; allocates nothing.

        Blocks for 0.25 ms a register, and for at most one time-out of TIMEOUT_us.
        """
        skip = False
        due = None
        if self.slow:
            due = self.slow[self.due]
            self.due = (self.due + 1) % len(self.slow)
        for place in range(self.count):
            monitor = self.monitors[place]
            if not monitor.is_quick and monitor is not due:
                monitor.pass_scan()
            elif not skip and monitor.missed <= HOLD_SCANS:  # else it is looked for in slack
                began_us = self.clock.ticks_us()
                if not monitor.sample():
                    self.faults += 1
                    took_us = self.clock.ticks_diff(self.clock.ticks_us(), began_us)
                    skip = took_us >= SLOW_us
                    self.is_stuck = self.is_stuck or skip
            monitor.publish(values)
        self.may_look = True

    def step(self):
        """Do one piece of the upkeep, at most one a scan; return whether there was any.

        Frees the bus after a time-out; else looks after the monitors in turn, those
        without an answer and those that may have lost their configuration.
        """
        if not self.may_look:
            return False
        self.may_look = False
        if self.is_stuck:
            self.is_stuck = False
            self.bus.recover()
            return True
        if not self.count:
            return False
        monitor = self.monitors[self.next_monitor]
        self.next_monitor = (self.next_monitor + 1) % self.count
        began_us = self.clock.ticks_us()
        if not monitor.look_after():
            took_us = self.clock.ticks_diff(self.clock.ticks_us(), began_us)
            self.is_stuck = took_us >= SLOW_us
        return True
