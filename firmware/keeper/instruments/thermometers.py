"""Digital thermometers on a 1-Wire line, of the DS18B20 type, read in steps.

A conversion takes 750 ms and a reading 12 ms, so both happen between scans, a
piece at a time: the longest blocks for 7 ms (0.56 ms a byte and 1 ms a reset
by the constants of the interpreter's 1-Wire code), a search for 15 ms a
sensor.  Commands, scratchpad and times after the DS18B20 data sheet ("Memory",
"ROM commands", tables 2 and 3; from memory).  The sensors need their own
supply, not parasite power.
"""

from keeper.channels import (
    ALL_ZERO, DAMAGED, INVALID, NO_ANSWER, POWER_ON_VALUE, STALE)
from keeper.clock import TICKS_MASK

FAMILY = 0x28
SKIP_ROM, MATCH_ROM = 0xCC, 0x55
CONVERT, READ_SCRATCHPAD = 0x44, 0xBE
ROM_BYTES, SCRATCHPAD_BYTES = 8, 9
CONFIG_BYTE = 4
CONVERSION_ms = 750     # longest at 12 bits
GIVE_UP_ms = 1000       # a line that still says "busy" then is no sensor's
PERIOD_ms = 1000        # from one conversion to the next
POWER_ON_RAW = 85 * 16  # the scratchpad after power came, also a legal reading
# Between two readings in a row 85 degC is believed only this near to the one
# before: a motor of 100 J/K heated by 100 W gains 1 K a second.
PLAUSIBLE_mdegC = 5000
MILLI_NUM, MILLI_DEN = 125, 2   # 1/16 K in mdegC
SIGN, RANGE = 0x8000, 0x10000
ANY = None              # serial of a sensor that is taken as it is found

IDLE, CONVERTING, ADDRESSED = range(3)


class Sensor:
    """One thermometer.  Attributes: rom, its 8 bytes or ANY; value, reason, is_stale."""

    def __init__(self, rom):
        """Take its ROM code [8 bytes], ANY if it is still to be found."""
        self.rom = rom
        self.value = INVALID + STALE
        self.good_ms = 0         # ticks of the last good reading
        self.reason = STALE      # of the last one that failed
        self.is_stale = True     # latched until a good reading: ticks wrap


def rom_code(serial_high, serial_low, crc8):
    """Return the ROM code of a serial number [two halves of 24 bits], ANY for 0.

    crc8: function over bytes, as the 1-Wire library has it.
    """
    if not serial_high and not serial_low:
        return ANY
    # Family, then the serial number from its lowest byte, then the CRC.
    code = bytearray([FAMILY])
    for half in (serial_low, serial_high):
        code += bytearray([half & 0xFF, half >> 8 & 0xFF, half >> 16 & 0xFF])
    return bytes(code + bytearray([crc8(code)]))


class Thermometers:
    """The sensors of a line.  Attribute: faults, readings that failed since the start [-]."""

    def __init__(self, line, roms, stale_s):
        """Take the line (as `onewire.OneWire`), ROM codes [8 bytes or ANY], age limit [s].

        Looks for sensors of unknown code on the line: about 15 ms for each.
        """
        self.line = line
        self.sensors = [Sensor(rom) for rom in roms]
        self.count = len(roms)
        self.stale_ms = stale_s * 1000
        self.scratch = bytearray(SCRATCHPAD_BYTES)
        self.faults = 0
        self.state = IDLE
        self.next_sensor = 0     # whose reading is next
        self.began_ms = -1       # ticks of the last conversion, -1 = none yet
        self._find()

    def _find(self):
        """Give the unknown sensors what is on the line and not yet known, in its order.

        If fewer are there than wanted, none is given: one could be taken for another.
        """
        unknown = [sensor for sensor in self.sensors if sensor.rom is ANY]
        if not unknown:
            return
        known = [sensor.rom for sensor in self.sensors]
        found = [bytes(rom) for rom in self.line.scan()]
        found = [rom for rom in found if rom[0] == FAMILY and rom not in known
                 and self.line.crc8(rom) == 0]
        if len(found) < len(unknown):
            return
        for sensor in unknown:
            sensor.rom = found.pop(0)

    def read(self, place, now_ms):
        """Return the temperature [mdegC] of a sensor, or INVALID + a reason; allocates nothing.

        A failed reading is bridged until the good one before it is too old.
        """
        sensor = self.sensors[place]
        if not sensor.is_stale and self._age(sensor.good_ms, now_ms) > self.stale_ms:
            sensor.is_stale = True
        return INVALID + sensor.reason if sensor.is_stale else sensor.value

    @staticmethod
    def _age(then_ms, now_ms):
        return (now_ms - then_ms) & TICKS_MASK

    def step(self, now_ms):
        """Do the next piece at `now_ms` [ticks], if any is due; return whether there was one."""
        if self.state == IDLE:
            if self.began_ms >= 0 and self._age(self.began_ms, now_ms) < PERIOD_ms:
                return False
            self._convert(now_ms)
            return True
        if self.state == CONVERTING:
            waited_ms = self._age(self.began_ms, now_ms)
            if waited_ms < CONVERSION_ms:
                return False
            if self.next_sensor == 0 and not self.line.readbit() and waited_ms < GIVE_UP_ms:
                return False
            self._address()
        else:
            self._read(now_ms)
        return True

    def _convert(self, now_ms):
        """Start a conversion in all sensors: 2.1 ms."""
        self.began_ms = now_ms
        self.next_sensor = 0
        line = self.line
        if not line.reset():
            for sensor in self.sensors:
                self._fail(sensor, NO_ANSWER)
            return
        line.writebyte(SKIP_ROM)
        line.writebyte(CONVERT)
        self.state = CONVERTING if self.count else IDLE

    def _address(self):
        """Call the sensor whose turn it is: 6.1 ms, one still to be found 15 ms and more."""
        sensor = self.sensors[self.next_sensor]
        line = self.line
        if sensor.rom is ANY:
            self._find()  # it may have been plugged in since
        if sensor.rom is ANY or not line.reset():
            self._fail(sensor, NO_ANSWER)
            self._next()
            return
        line.writebyte(MATCH_ROM)
        for byte in sensor.rom:
            line.writebyte(byte)
        self.state = ADDRESSED

    def _read(self, now_ms):
        """Read the scratchpad of the sensor that was called: 5.6 ms."""
        line = self.line
        line.writebyte(READ_SCRATCHPAD)
        scratch = self.scratch
        for place in range(SCRATCHPAD_BYTES):
            scratch[place] = line.readbyte()
        self._judge(self.sensors[self.next_sensor], now_ms)
        self._next()

    def _next(self):
        self.next_sensor += 1
        self.state = CONVERTING if self.next_sensor < self.count else IDLE

    def _judge(self, sensor, now_ms):
        """Take the scratchpad as a reading, or say why not."""
        scratch = self.scratch
        if max(scratch) == 0:
            self._fail(sensor, ALL_ZERO)  # its CRC fits: a line shorted low reads so
        elif min(scratch) == 0xFF:
            self._fail(sensor, NO_ANSWER)  # nobody pulled the line down
        elif self.line.crc8(scratch) != 0:
            self._fail(sensor, DAMAGED)
        else:
            raw = _sixteenths(scratch)
            value = raw * MILLI_NUM // MILLI_DEN
            if raw == POWER_ON_RAW and not self._is_plausible(sensor, value, now_ms):
                self._fail(sensor, POWER_ON_VALUE)
                return
            sensor.value = value
            sensor.good_ms = now_ms
            sensor.is_stale = False
            sensor.reason = STALE

    def _is_plausible(self, sensor, value, now_ms):
        """Return whether a value may follow the one before, which must be of the last cycle."""
        if sensor.is_stale or self._age(sensor.good_ms, now_ms) > 2 * PERIOD_ms:
            return False
        return abs(value - sensor.value) <= PLAUSIBLE_mdegC

    def _fail(self, sensor, reason):
        sensor.reason = reason
        self.faults += 1


def _sixteenths(scratch):
    """Return the temperature [1/16 K] in a scratchpad; bits below its resolution are 0."""
    raw = scratch[1] << 8 | scratch[0]
    if raw & SIGN:
        raw -= RANGE
    # Bits 5 and 6 of the configuration: 0 = 9 bits ... 3 = 12 bits.
    unused = 3 - (scratch[CONFIG_BYTE] >> 5 & 3)
    return raw >> unused << unused
