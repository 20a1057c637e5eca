"""Daylight that starts no pump: seen after half an hour, and told once a day.

Knows the unloaded panel's voltage; whether a start is barred it is told.
"""

from keeper.clock import PERIODS_PER_S
from keeper.events import SUN_UNUSED

# An unloaded panel this near its start voltage is in daylight: it loses a tenth when it is
# 35 K hotter; and so long without a start is worth a word.  Guesses.
NEAR_PERCENT, UNUSED_PERIODS = 90, 1800 * PERIODS_PER_S


class UnusedSun:
    """Daylight in which the pump may start, and does not."""

    def __init__(self, start_mV, events):
        """Take the start voltage of the unloaded panel [mV]; post to `events`."""
        self.near_mV = start_mV * NEAR_PERCENT // 100
        self.events = events
        self.periods = 0         # of such daylight, without a break
        self.highest_mV = 0      # of the panel in them
        self.was_told = False    # today it was told, or the pump has started

    def look(self, panel_mV, periods):
        """Take a scan at standstill, in such daylight, in which nothing bars the pump."""
        if self.was_told:
            return
        self.highest_mV = max(self.highest_mV, panel_mV) if self.periods else panel_mV
        self.periods += periods
        if self.periods >= UNUSED_PERIODS:
            self.was_told = True
            self.events.post(SUN_UNUSED, 0, self.highest_mV)
