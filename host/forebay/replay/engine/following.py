"""The record as a keeper's board reads it: waves by the tick, contacts, what was not trusted.

Runs in the simulation's process, on any Python from 3.9.  Knows no keeper and no plant; what
the valve reads where it did as it was told is whoever's who asks (`valve_is_off`).
"""

from keeper import channels as ch

NEVER = 1 << 60
TICKS_PER_S = 10
FLICKERS_TICKS = 600      # a motor's reading flickers within minutes; a guess
FLICKER_MDEGC = 63        # by a step of the sensor
NL_PER_UL = 1000


class Step:
    """What changes at ticks and stays between."""

    def __init__(self, ticks, values):
        """Take [ticks], [values] in order; at least one."""
        self.ticks, self.values = ticks, values
        self.place = 0            # of the knot at or before the tick asked last

    def find(self, tick):
        """Return the place of the last knot at or before a tick; asked forwards it is quick."""
        ticks = self.ticks
        place = self.place
        if tick < ticks[place]:
            place = 0
        last = len(ticks) - 1
        while place < last and ticks[place + 1] <= tick:
            place += 1
        self.place = place
        return place

    def at(self, tick):
        """Return the value at a tick."""
        return self.values[self.find(tick)]


class Line(Step):
    """One channel between its knots: straight lines, level beyond the ends."""

    def at(self, tick):
        """Return the value [the channel's unit] at a tick."""
        place = self.find(tick)
        from_tick, low = self.ticks[place], self.values[place]
        if place == len(self.ticks) - 1 or tick <= from_tick:
            return low
        return low + (self.values[place + 1] - low) * (tick - from_tick) / (
            self.ticks[place + 1] - from_tick)


class Within:
    """Whether a tick lies in one of some spans."""

    def __init__(self, spans):
        """Take (first, last) ticks, any order."""
        self.spans = sorted([(first, last) for first, last in spans])

    def at(self, tick):
        """Return whether a span holds a tick [bool]."""
        for first, last in self.spans:
            if first > tick:
                return False
            if tick <= last:
                return True
        return False


class Readings:
    """All that a board reads, by the record's tick."""

    def __init__(self, record, settings):
        """Take a record as plain data, and the settings that pulses are counted by."""
        from keeper import settings as st

        self.lines = [Line(*one) for one in record["channels"]]
        self.contacts = [Step(*one) for one in record["contacts"]]
        self.loop = Step(*record["loop"])
        self.still = Within(record["still"])
        self.valve_off = Within(record["valve_off"])
        self.bad = [[] for _ in range(ch.COLUMNS)]
        for place, first, last, why in record["bad"]:
            self.bad[place].append((first, last, why))
        self.touched = [place for place in range(ch.COLUMNS) if self.bad[place]]
        self.pulse_nL = {ch.PULSES_UP: settings[st.index("pulse_up_nL")],
                         ch.PULSES_DOWN: settings[st.index("pulse_down_nL")]}
        self.part_nL = {ch.PULSES_UP: 0.0, ch.PULSES_DOWN: 0.0}

    def fill(self, values, tick):
        """Fill `values` in the order of `keeper.channels` with what was read at a tick."""
        lines = self.lines
        for place in range(ch.COLUMNS):
            values[place] = int(lines[place].at(tick) + 100000.5) - 100000
        # What a single scan flickers by is not in a mean: a reading that never moved is told.
        if tick % FLICKERS_TICKS == 0 and not self.still.at(tick):
            values[ch.MOTOR_MDEGC] -= FLICKER_MDEGC
        self.count(values, ch.PULSES_UP, lines[ch.FLOW_UP].at(tick))
        self.count(values, ch.PULSES_DOWN, lines[ch.FLOW_DOWN].at(tick))
        for place in range(len(ch.CONTACTS)):
            values[ch.COLUMNS + place] = self.contacts[place].at(tick)
        values[ch.LOOP_71HH] = self.loop.at(tick)
        self.distrust(values, tick)

    def count(self, values, place, flow_uL_s):
        """Put the pulses of a scan that a flow [uL/s] makes."""
        part_nL = self.part_nL[place] + flow_uL_s * NL_PER_UL / TICKS_PER_S
        pulses = int(part_nL // self.pulse_nL[place]) if part_nL > 0.0 else 0
        self.part_nL[place] = part_nL - pulses * self.pulse_nL[place]
        values[place] = pulses

    def distrust(self, values, tick):
        """Put the reason where the record tells of no reading that can be trusted."""
        for place in self.touched:
            for first, last, why in self.bad[place]:
                if first > tick:
                    break
                if tick <= last:
                    values[place] = ch.INVALID + why
                    break
