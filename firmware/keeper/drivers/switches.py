"""A load that is on or off: pump switch, lamps, dump, a supply."""

from machine import Pin


class Switch:
    """One output, off from the moment it exists."""

    def __init__(self, gpio):
        """Drive the GPIO low, and only then make it an output."""
        self.pin = Pin(gpio, Pin.OUT, value=0)

    def drive(self, on):
        """Set the output [0 or 1]; whatever is neither is off.  Allocates nothing."""
        self.pin.value(1 if on == 1 else 0)
