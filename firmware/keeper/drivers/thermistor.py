"""A thermistor between an analogue input and ground, with a resistor to the rail.

The reading is a share of the rail that also feeds the resistor, so the rail
drops out.  A table made at the start turns it into a temperature by straight
lines; its nodes lie close enough for 0.25 K between -20 and 90 degC, with a
resistor of half to twice the thermistor's.
"""

from keeper.channels import INVALID, OPEN, SHORT
from keeper.drivers.analog import FULL
from keeper.physics.sensors import beta_degC

SEGMENT = 512           # steps of the input between two nodes
SEGMENT_SHIFT = 9
NODES = (FULL + 1) // SEGMENT + 1
# Shares of the rail beyond which there is no thermistor: with its nominal
# resistance to the rail, 10 kohm and Beta 3950 K, -50 degC read 0.985 and
# 150 degC read 0.018 (worked out from the Beta equation).
OPEN_ABOVE = FULL * 990 // 1000
SHORT_BELOW = FULL * 15 // 1000
LOWEST_mdegC, HIGHEST_mdegC = -60000, 200000


class Thermistor:
    """One thermistor by its Beta."""

    def __init__(self, source, ohm, beta_K, pull_ohm):
        """Take the input, resistance at 25 degC [ohm], Beta [K], resistor to the rail [ohm]."""
        self.source = source
        self.table = [_mdegC(node * SEGMENT, ohm, beta_K, pull_ohm) for node in range(NODES)]

    def read(self):
        """Return the temperature [mdegC], or INVALID + OPEN or SHORT; allocates nothing."""
        reading = self.source.read()
        if reading > OPEN_ABOVE:
            return INVALID + OPEN
        if reading < SHORT_BELOW:
            return INVALID + SHORT
        node = reading >> SEGMENT_SHIFT
        below = self.table[node]
        along = reading - node * SEGMENT
        return below + (self.table[node + 1] - below) * along // SEGMENT


def _mdegC(reading, ohm, beta_K, pull_ohm):
    """Return the temperature [mdegC] at a reading, within the ends of the table."""
    if reading <= 0:
        return HIGHEST_mdegC
    if reading >= FULL:
        return LOWEST_mdegC
    resistance = pull_ohm * reading / (FULL - reading)
    try:
        found = beta_degC(resistance, ohm, beta_K)
    except ValueError:  # beyond any temperature: which end, the resistance tells
        return LOWEST_mdegC if resistance > ohm else HIGHEST_mdegC
    return max(LOWEST_mdegC, min(HIGHEST_mdegC, int(found * 1000)))
