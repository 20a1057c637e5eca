"""What a person ordered, as far as a journal tells it: that is which order and when, no argument.

What was asked for is seen by what came of it: a light that ends a whole number of minutes later,
a brightness that was announced at once, an element that acted inside its own limit.  Where more
than one order would have had that outcome, it is said.
"""

import itertools
from typing import NamedTuple

import numpy as np

from forebay.replay.engine.aligning import PUMPS
from forebay.replay.timeline import DS_PER_S, MINUTE_TICKS, Run, Timeline
from forebay.shelf import Journal
from keeper import channels as ch
from keeper import events as ev
from keeper import modes
from keeper import settings as st
from keeper.journal.rows import NOT_TRUSTED
from keeper.operation import orders, proving
from keeper.operation.light import STEPS
from keeper.protection import elements as el

AT_ONCE_TICKS = 3 * DS_PER_S     # a pump's start is marked first, a valve shuts, a plan is made
SHUTS_TICKS = 60 * DS_PER_S      # a valve that trips has shut by then; a guess
CODES = [row[orders.O_CODE] for row in orders.ORDERS]
LASTING = (orders.LIGHT, orders.BRIGHTNESS, orders.LAST)

Deed = tuple[int, int, int, int]


class Untold(NamedTuple):
    """An order of which the journal does not tell all: its tick, its code, what was assumed."""

    tick: int
    code: int
    why: str


class Ordered(NamedTuple):
    """What was ordered: deeds (tick, order, a, b), and what of them is not told."""

    deeds: list[Deed]
    untold: list[Untold]

    def after(self, tick: int) -> "Ordered":
        """Return what was ordered after a tick."""
        return Ordered([one for one in self.deeds if one[0] > tick],
                       [one for one in self.untold if one.tick > tick])


def ordered(journal: Journal, time: Timeline, settings: list[int]) -> Ordered:
    """Return what a person ordered and was not refused."""
    return _Orders(journal, time, settings).found()


class _Orders:
    """Reads the orders of one journal."""

    def __init__(self, journal, time, settings):
        self.table, self.time, self.settings = journal.events, time, settings
        given = np.flatnonzero((time.event >= 0) & (self.table["code"] == ev.ORDER)
                               & (self.table["argument2"] == orders.DONE)
                               & np.isin(self.table["argument"], CODES))
        self.given = [(int(time.event[place]), int(self.table["argument"][place]))
                      for place in given]
        self.planned = _of_code(self.table, time, ev.LIGHT_PLANNED)
        # What ends an order of light while it is lit.
        self.dimmed = [tick for tick, *_ in self.planned
                       if self.time.run_at(tick).state == modes.RUNNING]
        self.acted = _of_code(self.table, time, ev.ACTED)
        self.let_go = _of_code(self.table, time, ev.LET_GO)
        self.untold: list[Untold] = []
        self.lowered_until = -1      # tick up to which a lowered limit would hold

    def found(self) -> Ordered:
        """Return all."""
        deeds = []
        for tick, code in self.given:
            deed = self._deed(tick, code)
            if deed is not None:
                # An order comes between two scans, and is told with the one before.
                deeds.append((tick + 1, code, *deed))
        return Ordered(deeds, self.untold)

    def _deed(self, tick, code):
        """Return the arguments (a, b) of an order, None where nothing came of it."""
        if code == orders.RESET:
            return 1, 0
        if code == orders.RELEASE:
            return 0, 0
        if code == orders.CLOCK:
            days, second = divmod(int(self.time.utc_s(tick)), orders.DAY_S)
            return days, second
        if code == orders.PROVE:
            return self._proof(tick)
        if code == orders.MAINTAIN:
            return self._maintenance(tick)
        if code == orders.DRAIN_DOWN:
            return self._drain(tick)
        if code in LASTING:
            return self._light(tick, code)
        return self._pause(tick, code)

    def _run(self, tick) -> Run:
        return self.time.run_at(tick + 1)

    def _maintenance(self, tick):
        """Return (2, for the laptop's tools) of a maintenance that came, (0, 0) of its end."""
        run = self._run(tick)
        if run.state != modes.MAINTENANCE:
            run = next((one for one in self.time.runs if one.state == modes.MAINTENANCE
                        and tick < one.first <= tick + SHUTS_TICKS), None)
        elif run.last - tick <= AT_ONCE_TICKS:
            run = None
        if run is None:
            return 0, 0
        # Only what was for the tools ends with the board's next start.
        after = next((one.first for before, one in itertools.pairwise(self.time.starts)
                      if before.last == run.last), None)
        goes_on = after is None or any(
            one.state == modes.MAINTENANCE and after <= one.first <= after + SHUTS_TICKS
            for one in self.time.runs)
        return 2, 0 if goes_on else 1

    def _next(self, tick, states):
        """Return the first tick of the next run of some states, None if none comes."""
        return next((one.first for one in self.time.runs
                     if one.first > tick and one.state in states), None)

    def _minutes(self, tick, ends):
        """Return the minutes after which the first of some ticks ends what lasts whole ones."""
        for end in ends:
            minutes = round((end - tick) / MINUTE_TICKS)
            if 1 <= minutes <= orders.DAY_MIN and abs(
                    end - tick - minutes * MINUTE_TICKS) <= AT_ONCE_TICKS:
                return minutes
        return None

    def _until(self, tick, codes):
        """Return the tick of the next order of some codes, or the record's end."""
        return next((at for at, code in self.given if at > tick and code in codes),
                    self.time.end)

    def _say(self, tick, code, why):
        self.untold.append(Untold(tick, code, why))

    def _drain(self, tick):
        """Return (1, minutes) of a drain that came, (0, 0) of one that ended."""
        run = self._run(tick)
        if run.state == modes.DRAINING and run.last - tick <= AT_ONCE_TICKS:
            return 0, 0
        until = self._until(tick, (orders.DRAIN_DOWN, orders.RELEASE))
        came = [one for one in self.time.runs if one.state == modes.DRAINING
                and one.last > tick and one.first <= until]
        if not came and not (run.cause == modes.ORDERED_OFF
                             and run.last - tick <= AT_ONCE_TICKS):
            self._say(tick, orders.DRAIN_DOWN, "nothing came of it: taken as its end")
            return 0, 0
        over = [one.last for one in came if one.cause == modes.ORDER_OVER]
        return 1, self._minutes(tick, over) or orders.DAY_MIN

    def _pause(self, tick, code):
        """Return the arguments of a rest, or of a pump that may not run, till it ran again."""
        states = PUMPS if code == orders.PUMP_ALLOWED else (*PUMPS, modes.RUNNING)
        run = self._run(tick)
        after = tick if run.state in states and not self._ended(tick, states) else self._next(
            tick, states)
        lasts = orders.DAY_MIN if after is None else min(
            orders.DAY_MIN, (after - tick) // MINUTE_TICKS)
        if code == orders.REST:
            self._say(tick, code, "for how long is not told: taken until pump or light began")
            return max(1, lasts), 0
        if lasts < 1:
            return 1, 0
        self._say(tick, code, "for how long is not told, nor whether it allows if the pump stood:"
                  " taken as forbidden until the pump was tried again")
        return 0, lasts

    def _ended(self, tick, states):
        run = self._run(tick)
        return run.state in states and run.last - tick <= AT_ONCE_TICKS

    def _light(self, tick, code):
        """Return the arguments of an order of light: by what was announced, and when it ended."""
        until = self._until(tick, (*LASTING, orders.REST, orders.RELEASE))
        ends = [one.last for one in self.time.runs if one.state == modes.RUNNING
                and tick < one.last <= until and one.cause == modes.LIGHT_OVER]
        ends += [at for at in self.dimmed if tick < at <= until]
        minutes = self._minutes(tick, sorted(ends))
        if not self._lights(tick):
            self._say(tick, code, "no light came of it: taken as over before one could begin")
            minutes = 1
        elif minutes is None:
            self._say(tick, code, "for how long is not told: taken as till dawn"
                      if code == orders.LAST else "for how long is not told: taken as a day, or"
                      " until another")
        if code == orders.LAST:
            return minutes or 0, 0
        power_mW = self._announced(tick)
        if code == orders.LIGHT:
            return max(1, power_mW), minutes or orders.DAY_MIN
        first = st.index("step_1_mW")
        steps = [one for one in self.settings[first:first + STEPS] if one]
        near = min(range(len(steps)), key=lambda place: abs(steps[place] - power_mW), default=0)
        return near + 1, minutes or orders.DAY_MIN

    def _lights(self, tick):
        """Return whether it was light then, or became so as soon as the rig stood."""
        if self._run(tick).state == modes.RUNNING:
            return True
        after = next((one for one in self.time.runs if one.first > tick
                      and one.state == modes.RUNNING), None)
        if after is None:
            return False
        stood = self.time.run_at(after.first - 1)
        waits = self.settings[st.index("light_least_off_s")] * DS_PER_S + SHUTS_TICKS
        return stood.state == modes.STANDSTILL and after.first - max(tick, stood.first) <= waits

    def _announced(self, tick):
        """Return the power [mW] that was announced with an order, or last before."""
        told = [mW for at, _, mW in self.planned if at <= tick + AT_ONCE_TICKS]
        return told[-1] if told else self.settings[st.index("setpoint_mW")]

    def _proof(self, tick):
        """Return the arguments of what was proven: the pump tried, an element acting sooner."""
        if self._tries_pump(tick):
            return proving.TRY_PUMP, 0
        until = min(tick + proving.LASTS_DS, self._until(tick, (orders.PROVE, orders.RELEASE)))
        for at, number, _ in self.acted:
            limit = self._lowered(at, number, until) if tick < at <= until else None
            if limit is not None:
                self.lowered_until = tick + proving.LASTS_DS
                return proving.ELEMENT + number, limit
        if tick <= self.lowered_until:
            self.lowered_until = -1
            return proving.END, 0
        self._say(tick, orders.PROVE, "nothing that the journal tells came of it")
        return None

    def _tries_pump(self, tick):
        """Return whether the pump was tried next, without the sun that it waits for by itself."""
        run = self.time.run_at(tick)
        if run.state != modes.STANDSTILL or run.cause != modes.SUN_ENOUGH or (
                run.last - tick > proving.LASTS_DS):
            return False
        panel_mV = self._reading(run.last, ch.PANEL_MV)
        return run.last - tick <= AT_ONCE_TICKS or (
            panel_mV is not None and panel_mV < self.settings[st.index("start_panel_mV")])

    def _lowered(self, tick, number, until):
        """Return a limit by which an element acted inside its own; None if it did not.

        until: tick up to which it was lowered: what lets go only then was beyond it so long.
        """
        place, sense = (el.judged(number - 1, one) for one in (el.J_VALUE, el.J_SENSE))
        if place >= ch.COLUMNS or sense == el.UNTRUSTED:
            return None
        row = ch.CHANNELS[place]
        step = max(1, row[ch.CH_STEP_NUM] // row[ch.CH_STEP_DEN])
        side = 1 if sense == el.ABOVE else -1
        acted = self._reading(tick, place)
        limit = el.limit_of(el.judged(number - 1, el.J_PICKUP), self.settings)
        if acted is None or side * (limit - acted) <= step:
            return None
        let_go = next((at for at, one, _ in self.let_go if one == number and at > tick), None)
        after = None if let_go is None else self._reading(let_go, place)
        inside = side * acted - step
        if after is not None:
            inside = min(inside, side * after - (step if let_go >= until else 0))
        return side * inside

    def _reading(self, tick, place):
        """Return a channel's reading in the scan of an event [its unit]; None if untrusted."""
        there = np.flatnonzero(self.time.event == tick)
        stored = int(self.table["stored"][there[-1], place]) if len(there) else NOT_TRUSTED
        row = ch.CHANNELS[place]
        return None if stored == NOT_TRUSTED else (
            stored * row[ch.CH_STEP_NUM] // row[ch.CH_STEP_DEN])


def planned_of(journal: Journal, time: Timeline) -> list[tuple[int, int]]:
    """Return (tick, power [mW]) of each light that was announced."""
    return [(tick, mW) for tick, _, mW in _of_code(journal.events, time, ev.LIGHT_PLANNED)]


def _of_code(table, time, code):
    """Return (tick, argument, argument 2) of the events of a code, in order."""
    return sorted((int(time.event[place]), int(table["argument"][place]),
                   int(table["argument2"][place]))
                  for place in np.flatnonzero((time.event >= 0) & (table["code"] == code)))
