"""Contacts that are polled: what a pin says is believed once it has said so for long enough.

A closed contact reads 0, as against a pull-up.  A change is believed after n
equal scans, so the worst reaction is n scan periods after the contact came to
rest.
"""

OPEN, CLOSED = 0, 1


class Debounced:
    """A row of contacts.  All read open until they have been seen closed."""

    def __init__(self, pins, scans):
        """Take pins [each with value()] in the order of the values, equal scans wanted [1 up]."""
        self.pins = pins
        self.count = len(pins)
        self.scans = scans
        self.state = [OPEN] * self.count      # as believed
        self.other_scans = [0] * self.count  # scans in a row that read otherwise

    def read(self, values, first):
        """Put the contacts as 1 = closed from place `first` on; allocates nothing."""
        pins = self.pins
        state = self.state
        other_scans = self.other_scans
        for place in range(self.count):
            pin = pins[place]
            now = OPEN if pin() else CLOSED
            if now == state[place]:
                other_scans[place] = 0
            else:
                other_scans[place] += 1
                if other_scans[place] >= self.scans:
                    state[place] = now
                    other_scans[place] = 0
            values[first + place] = state[place]
