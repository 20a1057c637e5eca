"""A contact loop that is supervised by two resistors at its far end.

One resistor in line with the contact, one across it: a closed contact, an open
one, a shorted cable and a cut one give four different voltages.  The loop hangs
between a resistor to the rail and ground, so a voltage is a share of the rail.
"""

from keeper.channels import LOOP_CUT, LOOP_HEALTHY, LOOP_SHORTED
from keeper.drivers.analog import FULL

# What a scan can see.
CLOSED, OPENED, SHORTED, CUT = range(4)
PERMILLE = 1000


class SupervisedLoop:
    """One loop.  It reads open until it has been seen otherwise.

    Attributes after `read`: contact, 1 = closed; state, one of LOOP_*.  A loop
    that is cut or shorted reads as closed: what it says is the state's matter.
    """

    def __init__(self, source, short_permille, open_permille, cut_permille, scans):
        """Take the input, three limits [permille of the rail] and equal scans wanted."""
        self.source = source
        self.short = short_permille * FULL // PERMILLE
        self.open = open_permille * FULL // PERMILLE
        self.cut = cut_permille * FULL // PERMILLE
        self.scans = scans
        self.seen = OPENED
        self.equal = 0
        self.contact = 0
        self.state = LOOP_HEALTHY

    def read(self):
        """Take one reading; allocates nothing."""
        now = self._classify(self.source.read())
        if now != self.seen:
            self.seen = now
            self.equal = 0
        if self.equal < self.scans:
            self.equal += 1
        if self.equal < self.scans:
            return
        self.contact = 0 if now == OPENED else 1
        if now == SHORTED:
            self.state = LOOP_SHORTED
        elif now == CUT:
            self.state = LOOP_CUT
        else:
            self.state = LOOP_HEALTHY

    def _classify(self, reading):
        if reading < self.short:
            return SHORTED
        if reading < self.open:
            return CLOSED
        if reading < self.cut:
            return OPENED
        return CUT
