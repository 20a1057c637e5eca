"""Contacts to ground, debounced by polling.

A closed contact pulls its pin low against the chip's pull-up and the one
beside it; an open contact, a cut wire and a pin without a cable read the same.
"""

from machine import Pin

from keeper.instruments.debouncing import Debounced


class Contacts(Debounced):
    """A row of contacts.  All read open until they have been seen closed."""

    def __init__(self, gpios, scans):
        """Take GPIO numbers in the order of the values, and equal scans wanted [1 or more]."""
        Debounced.__init__(self, [Pin(gpio, Pin.IN, Pin.PULL_UP) for gpio in gpios], scans)
