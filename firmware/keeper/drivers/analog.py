"""Analogue inputs, and sensors that are a straight line on them.

Inputs are 16 bits of the rail (12 bits stretched).  A pin becomes an input of
the converter only through its Pin object: a bare channel number would leave
the chip's pull-down on it.
"""

from machine import ADC, Pin

from keeper.channels import INVALID, OPEN, SHORT

FULL = 65535            # the rail, in steps of read_u16
# Single readings of the converter scatter by some steps of 12 bits (from
# memory); 8 of them cost about 0.1 ms and divide the scatter by nearly three.
SAMPLES = 8
SAMPLES_SHIFT = 3


class AnalogInput:
    """One input of the converter."""

    def __init__(self, gpio):
        """Take the GPIO number [26 to 28]."""
        self.adc = ADC(Pin(gpio))

    def read(self):
        """Return the mean of SAMPLES readings [0 to FULL = the rail]; allocates nothing."""
        adc = self.adc
        total = 0
        for _ in range(SAMPLES):
            total += adc.read_u16()
        return total >> SAMPLES_SHIFT


def steps(millivolts, rail_mV):
    """Return a voltage [mV] as a reading of an input [0 to FULL = rail_mV]."""
    return millivolts * FULL // rail_mV


class LinearSensor:
    """A sensor whose reading rises or falls in a straight line with what it measures."""

    def __init__(self, source, low, high, zero, span, zero_value, span_value):
        """Take the input and the line.

        low, high: readings below and above which a wire is open or shorted;
        zero: reading at zero_value; span: change of the reading over
        span_value, not 0 [all in steps of the input]; zero_value [the
        channel's unit]; span_value [the same, at most 16000: 31 bits].
        """
        self.source = source
        self.low = low
        self.high = high
        self.zero = zero
        self.span = span
        self.half = span // 2
        self.zero_value = zero_value
        self.span_value = span_value

    def read(self):
        """Return the value, or INVALID + OPEN or SHORT; allocates nothing."""
        reading = self.source.read()
        if reading < self.low:
            return INVALID + OPEN
        if reading > self.high:
            return INVALID + SHORT
        rise = (reading - self.zero) * self.span_value
        return self.zero_value + (rise + self.half) // self.span
