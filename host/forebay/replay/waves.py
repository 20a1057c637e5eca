"""What every instrument read in between, rebuilt of row means and of the readings at events.

A row tells a mean: it stands at the row's middle, with straight lines between, and no line
crosses a change of state where the reading may jump.  An event brings the readings of its own
scan.  An element that acted tells that its condition stood for the delay before: there the
event's reading holds.  What a mean hides, flicker and what comes and goes within a row, is not
there.
"""

import numpy as np

from forebay.replay.knots import Hold, held, in_order, steps, value_at, without_glitches
from forebay.replay.spells import spells_of, told, untold
from forebay.replay.timeline import Timeline
from forebay.shelf import Journal
from keeper import channels as ch
from keeper import events as ev
from keeper import modes
from keeper import settings as st
from keeper.clock import PERIOD_MS, PERIODS_PER_S
from keeper.journal.rows import NOT_TRUSTED
from keeper.protection import derived as dv
from keeper.protection import elements as el
from keeper.scan import FLOW_WINDOW_SCANS

FLOWS = (ch.FLOW_UP, ch.FLOW_DOWN)
# What moves in minutes: no state makes these jump.
SLOW = (ch.SUPPLY_MV, ch.LEVEL_MM, ch.MOTOR_MDEGC, ch.WATER_MDEGC)
# A single reading of these flickers by more than a mean of a row is off.
FLICKERING = (ch.LEVEL_MM,)
HALF_WINDOW = FLOW_WINDOW_SCANS // 2     # a flow that is read is that of so long before
MEAN_SCANS = 1 << dv.MEAN_SHIFT          # the level's mean follows in so many scans
LEVEL_SURE_MM = 2        # beyond its limit: twice the resolution
LEVEL_MOST_MM = 6        # further than noise and a straight line are off, it is left as it is
MOST_SPILL = 0.03        # of a row: a state's last row takes in some scans of the next
PRESSED_TICKS = 3 * PERIODS_PER_S        # long enough to reset a lockout


def scaled(stored, place: int):
    """Return stored numbers of a channel in its own unit; NaN where not trusted."""
    row = ch.CHANNELS[place]
    values = np.asarray(stored, float) * row[ch.CH_STEP_NUM] / row[ch.CH_STEP_DEN]
    return np.where(np.asarray(stored) == NOT_TRUSTED, np.nan, values)


class Waves:
    """Makes the waves of a span.  `channels`, `bad`, `contacts` and `loop` are plain data."""

    def __init__(self, journal: Journal, time: Timeline, settings: list[int]):
        """Take a span's journal, its line of time, and the settings that it was made under."""
        self.journal, self.time, self.settings = journal, time, settings
        self.spells = spells_of(journal, time, settings)
        self.spells = sorted([*self.spells, *untold(self.spells, time, settings)],
                             key=lambda one: (one.acted, one.number))
        table = journal.events
        self._at = {}            # of each tick with events, the place of the last of them
        for place in np.flatnonzero(time.event >= 0):
            self._at[int(time.event[place])] = place
        self._snapshot = {place: scaled(table["stored"][:, place], place)
                          for place in range(ch.COLUMNS)}

    def seen(self, place: int, tick: int) -> float:
        """Return a channel's reading in the scan of an event, NaN where none tells it."""
        at = self._at.get(tick)
        return np.nan if at is None else float(self._snapshot[place][at])

    def channels(self) -> list[list[list[float]]]:
        """Return of each channel [ticks, values], to be joined by straight lines."""
        return [self._channel(place) for place in range(ch.COLUMNS)]

    def _channel(self, place):
        base = self._slow(place) if place in SLOW else self._by_run(place)
        if not base:
            return [[self.time.begin], [0.0]]
        until = self.time.begin     # of what is held so far
        for hold in sorted(self._holds(place), key=lambda one: one.last):
            base = held(self._not_before(base, hold, until) if hold.jumps else base, hold)
            until = hold.last
        base = self._level_beyond(base) if place == ch.LEVEL_MM else base
        return [[tick for tick, _ in base], [round(value, 3) for _, value in base]]

    def _not_before(self, knots, hold, until):
        """Return knots in which what is held does not begin before: its row's mean mixes both.

        until: tick up to which another hold is told; what goes on from there stays.
        """
        time = self.time
        row = int(np.searchsorted(time.row_last, hold.first))
        if row >= len(time.row_last):
            return knots
        first = int(time.row_first[row])
        before = [one for one in knots if one[0] < first]
        begin = self._run_first(hold.first)
        if first <= begin or until >= first or not before or before[-1][0] < begin:
            return knots
        return [*before, (hold.first - 1, before[-1][1]),
                *[one for one in knots if one[0] >= hold.first]]

    def _means(self, place):
        """Return (ticks of the rows' middles, means, states) of the rows that can be trusted."""
        means = scaled(self.journal.rows.stored[place], place)
        middles = (self.time.row_first + self.time.row_last) // 2
        if place in FLOWS:
            middles = np.maximum(middles - HALF_WINDOW, self.time.row_first)
        known = np.isfinite(means)
        return middles[known], means[known], self.journal.rows.state[known]

    def _spill(self, place):
        """Return of the trusted rows the share of each that lies behind its state's end [-]."""
        known = np.isfinite(scaled(self.journal.rows.stored[place], place))
        first, last = self.time.row_first[known], self.time.row_last[known]
        ends = np.array([run.last for run in self.time.runs])
        states = np.array([run.state for run in self.time.runs])
        at = np.clip(np.searchsorted(ends, first, side="left"), 0, len(ends) - 1)
        own = states[at] == self.journal.rows.state[known]
        return np.where(own, np.maximum(0, last - ends[at]) / np.maximum(1, last - first + 1), 0)

    def _slow(self, place):
        ticks, means, _ = self._means(place)
        return list(zip(ticks.tolist(), means.tolist(), strict=True))

    def _by_run(self, place):
        ticks, means, states = self._means(place)
        spill = self._spill(place)
        knots: list[tuple[int, float]] = []
        for run in self.time.runs:
            # A row that ends with a state may have its middle beyond it.
            inside = (ticks >= run.first) & (ticks <= run.last) & (states == run.state)
            if (inside & (spill <= MOST_SPILL)).any() or np.isfinite(self.seen(place, run.last)):
                inside &= spill <= MOST_SPILL
            mine = list(zip(ticks[inside].tolist(), means[inside].tolist(), strict=True))
            last = self.seen(place, run.last)
            if place == ch.VALVE_PERMILLE and run in self._shuts_at_start():
                mine = mine[-1:]     # it shuts within a row, and reads a little open still
            if not mine and not np.isfinite(last):
                continue
            if not np.isfinite(last) and place == ch.FLOW_UP and run.cause == modes.WATER_SEEN:
                last = 2.0 * self.settings[st.index("useful_flow_uL_s")]   # it was enough
            first = mine[0][1] if mine else last
            end = last if np.isfinite(last) else mine[-1][1]
            if run.state == modes.TRIAL and place == ch.FLOW_UP and run.cause == modes.WATER_SEEN:
                first = 0.0      # it came in the end: a mean over both would be too early
                mine = []
                knots.append((max(run.first, run.last - FLOW_WINDOW_SCANS - 1), 0.0))
            knots += [(run.first, first), *mine, (run.last, end)]
        return in_order(knots)

    def _holds(self, place):
        """Yield for how long the readings at events had stood."""
        bit = 1 << place
        more = FLOW_WINDOW_SCANS if place in FLOWS else 0
        for spell in self.spells:
            judged = el.judged(spell.number - 1, el.J_VALUE)
            is_own = judged == place
            needs = judged >= ch.READ and dv.NEEDS[judged - ch.READ] & bit
            value = self.seen(place, spell.acted)
            if (is_own or needs) and np.isfinite(value) and place not in FLICKERING and not (
                    needs and place in SLOW):
                first = max(spell.begin - more, self._run_first(spell.acted))
                yield Hold(first, spell.acted, value, place not in SLOW,
                           spell.end > spell.acted + 1)
            if is_own and place in SLOW and spell.is_over and place not in FLICKERING:
                value = self.seen(place, spell.let_go)
                if np.isfinite(value):
                    yield Hold(max(spell.end - 1, spell.acted + 1), spell.let_go, value, False)
        yield from self._holds_of_causes(place, more)

    def _holds_of_causes(self, place, more):
        """Yield what stood for a while before a change of state that no element made."""
        waits = {(ch.PANEL_MV, modes.SUN_ENOUGH): "start_wait_s",
                 (ch.PANEL_MV, modes.LIGHT_DUE): "dark_s",
                 (ch.FLOW_UP, modes.TOO_WEAK): "trial_s", (ch.FLOW_UP, modes.WATER_SEEN): None}
        dark_mV = self.settings[st.index("dark_panel_mV")]
        for run in self.time.runs:
            if run.cause is None or (place, run.cause) not in waits:
                continue
            name = waits[place, run.cause]
            wait = self.settings[st.index(name)] * PERIODS_PER_S if name else 0
            value = self.seen(place, run.last)
            if run.cause == modes.WATER_SEEN and not np.isfinite(value):
                value = 2.0 * self.settings[st.index("useful_flow_uL_s")]
            if run.cause == modes.LIGHT_DUE and not value < dark_mV:
                continue         # by day somebody wished it
            if np.isfinite(value):
                yield Hold(max(run.first, run.last - wait - more), run.last, value, True)

    def _run_first(self, tick):
        return self.time.run_at(tick).first

    def _level_beyond(self, knots):
        """Let the level be beyond a limit that its mean is told to have passed, if it is near."""
        for spell in self.spells:
            index = spell.number - 1
            if el.judged(index, el.J_VALUE) != dv.LEVEL_MEAN:
                continue
            pickup = el.limit_of(el.judged(index, el.J_PICKUP), self.settings)
            is_below = el.judged(index, el.J_SENSE) == el.BELOW
            target = pickup - LEVEL_SURE_MM if is_below else pickup + LEVEL_SURE_MM
            first, last = spell.begin - MEAN_SCANS, spell.acted
            now = value_at(knots, last)
            if abs(now - target) > LEVEL_MOST_MM:
                continue
            beyond = min(now, target) if is_below else max(now, target)
            knots = held(knots, Hold(first, last, beyond, False))
        return knots

    def bad(self) -> list[tuple[int, int, int, int]]:
        """Return (channel, from, to, reason) of what could not be trusted, ticks included."""
        why = {}
        for tick, _, place, reason in told(self.journal, self.time, (ev.READING_BAD,)):
            why.setdefault(place, []).append((tick, reason))
        found = []
        for spell in self.spells:
            index = spell.number - 1
            if el.judged(index, el.J_SENSE) == el.UNTRUSTED:
                place = el.judged(index, el.J_VALUE)
                found.append((place, spell.begin, spell.end - 1, _reason(why, place,
                                                                        spell.acted)))
        fitted = self.settings[st.index("fitted")]
        for place in range(ch.COLUMNS):
            if place in FLOWS or not fitted >> place & 1:
                continue
            for row in np.flatnonzero(self.journal.rows.stored[place] == NOT_TRUSTED):
                first, last = int(self.time.row_first[row]), int(self.time.row_last[row])
                if not any(one[0] == place and one[1] <= last and one[2] >= first
                           for one in found[:len(self.spells)]):
                    found.append((place, first, last, _reason(why, place, last)))
        return sorted(found, key=lambda one: one[1])

    def contacts(self) -> list[list[list[int]]]:
        """Return of each contact [ticks, values]: each value from its tick on."""
        return [self._contact(place) for place in range(len(ch.CONTACTS))]

    def _contact(self, place):
        is_button = place + ch.COLUMNS == ch.BUTTON
        points = []
        if not is_button:
            points += [(tick, int(bits) >> place & 1) for tick, bits in zip(
                self.time.row_last.tolist(), self.journal.rows.contacts.tolist(), strict=True)]
            points += [(int(self.time.event[at]), int(self.journal.events["contacts"][at])
                        >> place & 1) for at in self._at.values()]
        at_rest = 0 if is_button else 1
        points = without_glitches(sorted(points), at_rest)
        for spell in self.spells:
            if el.judged(spell.number - 1, el.J_VALUE) == place + ch.COLUMNS:
                points += [(spell.begin, 1 - at_rest), (spell.acted, 1 - at_rest)]
                if spell.is_over:
                    points.append((spell.end, at_rest))
        if is_button:
            points += self._presses()
        points = self._closed_at_starts(place + ch.COLUMNS, sorted(points))
        begin = points[0][1] if points and not is_button else at_rest
        return steps([(self.time.begin, begin), *points])

    def _closed_at_starts(self, place, points):
        """Return points of a contact without those that would bar a start which came."""
        numbers = [spell for spell in range(1, el.ROWS + 1)
                   if el.judged(spell - 1, el.J_VALUE) == place
                   and el.judged(spell - 1, el.J_ACTION) >= el.STOP]
        for number in numbers:
            sides = el.judged(number - 1, el.J_TARGET)
            delay_ms = el.limit_of(el.judged(number - 1, el.J_DELAY_MS), self.settings)
            eases = 2 * (delay_ms // PERIOD_MS) + 2
            for run in self.time.runs:
                side = {modes.TRIAL: el.PUMP, modes.RUNNING: el.TURBINE}.get(run.state, 0)
                if side & sides and run.first > self.time.begin + 1:
                    first = run.first - eases - 1
                    points = sorted([one for one in points if not first <= one[0] < run.first]
                                    + [(first, 1)])
        return points

    def _presses(self):
        """Return the long presses that reset lockouts; a press counts when it is let go."""
        orders = {tick for tick, *_ in told(self.journal, self.time, (ev.ORDER,))}
        for tick, *_ in told(self.journal, self.time, (ev.LOCKOUT_RESET,)):
            if not any(tick - 2 <= one <= tick + 2 for one in orders):
                yield tick - PRESSED_TICKS, 1
                yield tick, 0

    def loop(self) -> list[list[int]]:
        """Return [ticks, values] of the supervised loop."""
        points = [(self.time.begin, ch.LOOP_HEALTHY)]
        for spell in self.spells:
            if el.judged(spell.number - 1, el.J_VALUE) == ch.LOOP_71HH:
                points += [(spell.begin, ch.LOOP_CUT)]
                if spell.is_over:
                    points.append((spell.end, ch.LOOP_HEALTHY))
        return steps(sorted(points))

    def still(self) -> list[tuple[int, int]]:
        """Return (from, to) where the motor's reading is told to have stood still."""
        stuck = el.number("3-STK")
        return [(spell.acted - (el.MOTOR_STILL_MOST_S + 1) * PERIODS_PER_S, spell.let_go)
                for spell in self.spells if spell.number == stuck]

    def valve_off(self) -> list[tuple[int, int]]:
        """Return (from, to) where the valve did not stand where it was told to, nor read so.

        Nor does it after a start: where a cut left it, until it is pressed shut and its zero is
        learnt.
        """
        numbers = [el.number(name) for name in ("48-VLV", "33-VLV", "33-SHT")]
        return [(spell.begin, spell.let_go) for spell in self.spells
                if spell.number in numbers] + [
            (run.first, run.last) for run in self._shuts_at_start()]

    def _shuts_at_start(self):
        """Return the runs in which a board that has started shuts its valve."""
        firsts = {one.first for one in self.time.starts if one.is_whole}
        return [run for run in self.time.runs
                if run.first in firsts and run.state == modes.CLOSING]


def _reason(why, place, tick):
    before = [reason for at, reason in why.get(place, []) if at <= tick]
    return before[-1] if before else ch.OUT_OF_RANGE
