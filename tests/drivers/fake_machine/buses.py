# pyright: reportMissingImports=false, reportMissingModuleSource=false
# pyright: reportAttributeAccessIssue=false
"""The serial ports of the fake chip: UART and I2C."""

from machine import CHIP


class UART:
    """One serial port: what was received waits in `waiting`, what was sent is in `sent`."""

    def __init__(self, number, baudrate=9600, tx=None, rx=None, rxbuf=256, txbuf=256):
        self.baudrate = baudrate
        self.rxbuf = rxbuf
        self.txbuf = txbuf
        self.waiting = bytearray()
        self.sent = bytearray()
        self.done = True         # the last bit has gone
        CHIP.uarts[number] = self

    def any(self):
        return len(self.waiting)

    def readinto(self, buffer, count):
        count = min(count, len(self.waiting), len(buffer))
        if not count:
            return None
        buffer[:count] = self.waiting[:count]
        self.waiting = self.waiting[count:]
        return count

    def write(self, data):
        count = min(len(data), self.txbuf)
        self.sent += bytes(data[:count])
        self.done = False
        return count

    def txdone(self):
        return self.done


class I2C:
    """One bus.  A missing device refuses at once, a stuck bus costs the whole time-out."""

    REFUSED_us = 60
    ETIMEDOUT, EIO = 110, 5

    def __init__(self, number, scl=None, sda=None, freq=400000, timeout=50000):
        if scl is None or sda is None or sda.gpio % 2 or sda.gpio // 2 % 2 != number:
            raise ValueError("bad SDA pin")
        if scl.gpio % 2 == 0 or scl.gpio // 2 % 2 != number:
            raise ValueError("bad SCL pin")
        self.timeout_us = timeout
        self.byte_us = 9000000 // freq
        CHIP.i2c_opened += 1

    def _device(self, address):
        if CHIP.i2c_stuck:
            CHIP.clock.us += self.timeout_us
            raise OSError(self.ETIMEDOUT)
        device = CHIP.i2c_devices.get(address)
        if device is None or device.silent:
            CHIP.clock.us += self.REFUSED_us
            raise OSError(self.EIO)
        return device

    def readfrom_mem_into(self, address, register, buffer):
        device = self._device(address)
        CHIP.clock.us += self.byte_us * (3 + len(buffer))
        device.read_into(register, buffer)

    def writeto_mem(self, address, register, data):
        device = self._device(address)
        CHIP.clock.us += self.byte_us * (2 + len(data))
        device.write(register, data)
