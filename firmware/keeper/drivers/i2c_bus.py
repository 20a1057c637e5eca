"""The I2C bus of the monitors, and how it is freed when a device holds it.

A reset of the board in the middle of a reading leaves a device that waits for
clocks and holds the data line low: every transaction then times out.  Nine
clocks with the data line let go end its byte, a stop condition ends the rest
(I2C-bus specification UM10204, section 3.1.16).
"""

from machine import I2C, Pin

FREQUENCY_Hz = 400000   # fast mode: eight registers take about 1 ms
# A transaction of five bytes takes 0.12 ms.  The port's default of 50 ms would
# be half a scan.
TIMEOUT_us = 2000
CLOCKS = 9
# Half a clock of standard mode (100 kHz), which every device follows.
HALF_CLOCK_us = 5


class Bus:
    """One hardware bus.  Attribute: i2c, replaced by `recover`."""

    def __init__(self, number, sda_gpio, scl_gpio, clock):
        """Take the number of the bus [0 or 1], its GPIOs and a clock with sleep_us."""
        self.number = number
        self.sda_gpio = sda_gpio
        self.scl_gpio = scl_gpio
        self.clock = clock
        self.i2c = self._open()

    def _open(self):
        return I2C(self.number, scl=Pin(self.scl_gpio), sda=Pin(self.sda_gpio),
                   freq=FREQUENCY_Hz, timeout=TIMEOUT_us)

    def recover(self):
        """Clock the bus free and open it again; return whether both lines are high.

        Takes about 0.2 ms; allocates, so never inside a scan.
        """
        sleep_us = self.clock.sleep_us
        sda = Pin(self.sda_gpio, Pin.OPEN_DRAIN, value=1)
        scl = Pin(self.scl_gpio, Pin.OPEN_DRAIN, value=1)
        for _ in range(CLOCKS):
            scl.value(0)
            sleep_us(HALF_CLOCK_us)
            scl.value(1)
            sleep_us(HALF_CLOCK_us)
        scl.value(0)
        sda.value(0)
        sleep_us(HALF_CLOCK_us)
        scl.value(1)  # data rises while the clock is high: stop
        sleep_us(HALF_CLOCK_us)
        sda.value(1)
        sleep_us(HALF_CLOCK_us)
        is_free = bool(sda.value() and scl.value())
        self.i2c = self._open()
        return is_free
