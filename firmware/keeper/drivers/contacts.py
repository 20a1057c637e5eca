"""Contacts to ground, debounced by polling.

A closed contact pulls its pin low against the chip's pull-up and the one
beside it; an open contact, a cut wire and a pin without a cable read the same.
A change is believed after n equal scans, so the worst reaction is n scan
periods after the contact came to rest.
"""

from machine import Pin

OPEN, CLOSED = 0, 1


class Contacts:
    """A row of contacts.  All read open until they have been seen closed."""

    def __init__(self, gpios, scans):
        """Take GPIO numbers in the order of the values, and equal scans wanted [1 or more]."""
        self.pins = [Pin(gpio, Pin.IN, Pin.PULL_UP) for gpio in gpios]
        self.count = len(gpios)
        self.scans = scans
        self.state = [OPEN] * self.count      # as believed
        self.other_scans = [0] * self.count  # scans in a row that read otherwise

    def read(self, values, first):
        """Put the contacts as 1 = closed from place `first` on; allocates nothing."""
        pins = self.pins
        state = self.state
        other_scans = self.other_scans
        for place in range(self.count):
            now = OPEN if pins[place].value() else CLOSED
            if now == state[place]:
                other_scans[place] = 0
            else:
                other_scans[place] += 1
                if other_scans[place] >= self.scans:
                    state[place] = now
                    other_scans[place] = 0
            values[first + place] = state[place]
