# pyright: reportMissingImports=false, reportMissingModuleSource=false
# pyright: reportAttributeAccessIssue=false
"""Devices for the fake chip: a monitor on I2C, and the data line that one can hold low."""

from machine import CHIP


class MonitorRegisters:
    """A monitor by its registers (data sheet SBOS547, section 7.6; from memory).

    Averages appear only once a conversion is complete; `silent` makes it
    refuse its address; `restart` is what a loss of its supply does.
    """

    CONFIG, SHUNT, BUS, MAKER = 0x00, 0x01, 0x02, 0xFE
    RESET_CONFIG = 0x4127

    def __init__(self):
        self.silent = False
        self.reads = 0
        self.writes = 0
        self.restart()

    def restart(self):
        """Its supply went and came."""
        self.config = self.RESET_CONFIG
        self.shunt = self.bus = 0

    def set(self, shunt, bus=0):
        """Puts numbers in its data registers: shunt signed, of 16 bits."""
        self.shunt = shunt & 0xFFFF
        self.bus = bus & 0xFFFF

    def read_into(self, register, buffer):
        self.reads += 1
        word = 0
        if register == self.CONFIG:
            word = self.config
        elif register == self.SHUNT:
            word = self.shunt
        elif register == self.BUS:
            word = self.bus
        elif register == self.MAKER:
            word = 0x5449
        buffer[0] = word >> 8
        buffer[1] = word & 0xFF

    def write(self, register, data):
        self.writes += 1
        if register == self.CONFIG:
            self.config = data[0] << 8 | data[1]


class HeldLine:
    """A device that was cut off while it sent zeros: it holds the data line until clocked."""

    def __init__(self, sda_gpio, scl_gpio, clocks):
        self.sda = CHIP.lines[sda_gpio]
        self.clocks = clocks
        self.stops = 0
        self.data_low = False
        self.sda.outside = 0
        CHIP.i2c_stuck = clocks
        self.scl = CHIP.lines[scl_gpio]
        self.scl.i2c_slave = self
        self.sda.i2c_slave = Stop(self)

    def on_level(self, before, after):
        """Counts rising clocks; lets the data line go after enough of them."""
        if before == 0 and after == 1 and self.clocks:
            self.clocks -= 1
            CHIP.i2c_stuck = self.clocks
            if not self.clocks:
                self.sda.outside = -1


class Stop:
    """Sees the stop condition: data rises while the clock is high."""

    def __init__(self, held):
        self.held = held

    def on_level(self, before, after):
        if before == 0 and after == 1 and self.held.scl.level() == 1:
            self.held.stops += 1
