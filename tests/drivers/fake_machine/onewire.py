# pyright: reportMissingImports=false, reportMissingModuleSource=false
# pyright: reportAttributeAccessIssue=false
"""A 1-Wire line with thermometers of the DS18B20 type, by commands and bytes.

ROM commands 0xCC, 0x55; functions 0x44, 0xBE; scratchpad of nine bytes with
its CRC last (DS18B20 data sheet; from memory).  Every slave answers at once
and the line shows the AND of all, as open drain does.
"""

from machine import CHIP

SKIP_ROM, MATCH_ROM, CONVERT, READ_SCRATCHPAD = 0xCC, 0x55, 0x44, 0xBE
# x^8 + x^5 + x^4 + 1, reflected: Maxim application note 27.
POLYNOMIAL = 0x8C


def crc8(data):
    """Returns the CRC of the line over bytes."""
    crc = 0
    for byte in data:
        crc ^= byte
        for _ in range(8):
            crc = crc >> 1 ^ POLYNOMIAL if crc & 1 else crc >> 1
    return crc


class Thermometer:
    """One slave.  Set `sixteenths`, what its next conversion gives [1/16 degC]."""

    CONVERSION_us = 750000
    IDLE, ROM, MATCHING, FUNCTION, READING = range(5)

    def __init__(self, serial, sixteenths=320, family=0x28):
        code = bytes([family]) + serial.to_bytes(6, "little")
        self.rom = code + bytes([crc8(code)])
        self.sixteenths = sixteenths
        self.damage = 0          # bits turned over in the first byte of each reading
        self.config = 0x7F       # 12 bits
        self.present = True
        self.converts = True
        self.power_up()

    def power_up(self):
        """Its supply went and came: the register holds 85 degC."""
        self.register = 85 * 16
        self.done_us = -1        # when the conversion is done, -1 = none runs
        self.state = self.IDLE
        self.at = 0
        self.matches = True
        self.conversions = 0

    def reset(self):
        self.state = self.ROM
        return self.present

    def write(self, byte):
        if not self.present:
            return
        if self.state == self.ROM:
            self.state = self.FUNCTION if byte == SKIP_ROM else self.MATCHING
            self.at = 0
            self.matches = True
        elif self.state == self.MATCHING:
            self.matches = self.matches and self.rom[self.at] == byte
            self.at += 1
            if self.at == 8:
                self.state = self.FUNCTION if self.matches else self.IDLE
        elif self.state == self.FUNCTION:
            if byte == CONVERT and self.converts:
                self.done_us = CHIP.clock.us + self.CONVERSION_us
            self.state = self.READING if byte == READ_SCRATCHPAD else self.IDLE
            self.at = 0

    def settle(self):
        if 0 <= self.done_us <= CHIP.clock.us:
            self.register = self.sixteenths
            self.done_us = -1
            self.conversions += 1

    def is_converting(self):
        self.settle()
        return self.present and self.done_us >= 0

    def scratchpad(self):
        """Returns the nine bytes."""
        self.settle()
        raw = self.register & 0xFFFF
        body = bytes([raw & 0xFF, raw >> 8, 0x4B, 0x46, self.config, 0xFF, 0x0C, 0x10])
        return body + bytes([crc8(body)])

    def read(self):
        """Returns the next byte of the scratchpad, all ones if it is not its turn."""
        if not self.present or self.state != self.READING or self.at > 8:
            return 0xFF
        byte = self.scratchpad()[self.at]
        if self.at == 0:
            byte ^= self.damage
        self.at += 1
        return byte


class OneWire:
    """The master's side, as the interpreter's library has it."""

    def __init__(self, pin):
        self.pin = pin
        self.longest_bytes = 0   # most bytes moved since `moved` was last set to 0
        self.moved = 0

    def reset(self, required=False):
        if CHIP.one_wire_shorted:
            return True          # the line is low where a presence pulse would be
        found = [slave.reset() for slave in CHIP.one_wire]
        return True in found

    def writebyte(self, byte):
        self.moved += 1
        for slave in CHIP.one_wire:
            slave.write(byte)

    def readbyte(self):
        self.moved += 1
        if CHIP.one_wire_shorted:
            return 0
        byte = 0xFF
        for slave in CHIP.one_wire:
            byte &= slave.read()
        return byte

    def readbit(self):
        if CHIP.one_wire_shorted:
            return 0
        return 0 if True in [slave.is_converting() for slave in CHIP.one_wire] else 1

    def scan(self):
        if CHIP.one_wire_shorted:
            return []
        codes = [bytearray(slave.rom) for slave in CHIP.one_wire if slave.present]
        return sorted(codes)

    def crc8(self, data):
        return crc8(data)
