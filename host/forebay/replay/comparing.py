"""Events of a record beside those of a keeper under replay: what came again, and what did not.

Compared is what says that something happened at the rig: changes of state, elements, lockouts,
waits, readings that failed.  An event whose cause lasts for less than two rows is not decided
by means: it may come again or not.
"""

from typing import NamedTuple

import numpy as np

from forebay.replay.engine.aligning import PUMPS, SETTLING_TICKS
from forebay.replay.engine.edges import AT_EDGE, BELOW
from forebay.replay.jobs import THERMAL, Came, Span, heat_known_from
from forebay.replay.spells import recurring, spells_of
from forebay.replay.timeline import DS_PER_S, Timeline
from forebay.words.operation import CAUSES, EVENTS, STATES
from forebay.words.protection import ELEMENTS
from keeper import events as ev
from keeper import modes
from keeper import settings as st
from keeper.protection import derived as dv
from keeper.protection import elements as el

COMPARED = (ev.STATE, ev.ACTED, ev.LET_GO, ev.LOCKOUT, ev.LOCKOUT_RESET, ev.HELD_OFF,
            ev.READING_BAD)
ROWS = 2                 # that a cause must last for
SAME_TICKS = 2 * DS_PER_S


class Event(NamedTuple):
    """An event: its tick, what it is, its element or None, for how long its cause lasted.

    row: ticks of a row of the state that it came in; since: tick from which its cause lasted.
    """

    tick: int
    key: tuple[int, ...]
    element: int | None
    lasts: int
    row: int
    since: int

    @property
    def is_decidable(self) -> bool:
        """Whether means of rows show its cause."""
        return self.lasts >= ROWS * self.row

    @property
    def words(self) -> str:
        """The event in a few words."""
        code, *rest = self.key
        if code == ev.STATE:
            return f"{STATES[rest[0]].name} left: {CAUSES[rest[1]].name}"
        if code in (ev.ACTED, ev.LET_GO):
            return f"{ELEMENTS[rest[0]].id} {'acted' if code == ev.ACTED else 'let go'}"
        if code in (ev.LOCKOUT, ev.LOCKOUT_RESET) and rest[0] in ELEMENTS:
            return f"{EVENTS[code].name} {ELEMENTS[rest[0]].id}"
        return f"{EVENTS[code].name} {rest[0]}"


class Matched(NamedTuple):
    """Two lists of events beside each other: pairs, those of either that have no partner."""

    pairs: list[tuple[Event, Event]]
    gone: list[Event]
    new: list[Event]


def events_of(journal, event_ticks, time: Timeline, settings, first: int, last: int
              ) -> list[Event]:
    """Return the events that are compared, of ticks first to last, in order."""
    table = journal.events
    own = time._replace(event=event_ticks)
    spells = spells_of(journal, own, settings)
    running = settings[st.index("row_running_s")] * DS_PER_S
    standing = settings[st.index("row_standstill_s")] * DS_PER_S
    chosen = np.flatnonzero((event_ticks >= first) & (event_ticks <= last)
                            & np.isin(table["code"], COMPARED))
    states = [(int(event_ticks[place]), int(table["argument2"][place]))
              for place in np.flatnonzero((table["code"] == ev.STATE) & (event_ticks >= 0))]
    found = []
    for place in chosen:
        one = table[place]
        tick, code = int(event_ticks[place]), int(one["code"])
        left = int(one["argument"]) if code == ev.STATE else int(one["state"])
        row = standing if left == modes.STANDSTILL else running
        since, lasts, element = _lasts(one, tick, code, spells, states, last)
        key = (code, int(one["argument"]))
        if code == ev.STATE:
            key += (int(one["argument2"]),)
        found.append(Event(tick, key, element, lasts, row, since))
    return sorted(found, key=lambda one: one.tick)


def _lasts(one, tick, code, spells, states, last):
    """Return (tick from which an event's cause lasted, for how long, the element it is of)."""
    argument = int(one["argument"])
    if code in (ev.ACTED, ev.LET_GO, ev.LOCKOUT):
        mine = [spell for spell in spells if spell.number == argument
                and spell.acted - SAME_TICKS <= tick <= spell.let_go + SAME_TICKS]
        if code == ev.LET_GO:  # not of the spell that begins with the next scan
            mine = [spell for spell in mine if tick <= spell.let_go and (
                spell.acted < tick)] or mine
        return *_longest(mine, tick), argument
    if code == ev.READING_BAD:
        return *_longest([spell for spell in spells if spell.acted == tick], tick), None
    if code == ev.STATE and int(one["argument2"]) in (modes.TRIPPED, modes.STOPPED):
        mine = [spell for spell in spells if spell.begin <= tick <= spell.end + SAME_TICKS
                and el.judged(spell.number - 1, el.J_ACTION) >= el.STOP]
        near = [spell for spell in mine if abs(spell.acted - tick) <= SAME_TICKS] or mine
        return *_longest(near, tick), near[0].number if near else None
    # A change that no element made is due to what goes on: until the next change.
    after = [at for at, _ in states if at > tick]
    return tick, (after[0] if after else last) - tick, None


def _longest(spells, tick):
    """Return (begin, ticks) of the longest of some spells; of none, that nothing lasted."""
    return max(((spell.begin, spell.end - spell.begin) for spell in spells),
               key=lambda one: one[1], default=(tick, 0))


def matched(one: list[Event], other: list[Event], tolerance_ticks: int) -> Matched:
    """Return two lists matched by what they tell, in order, within a tolerance."""
    waiting: dict[tuple[int, ...], list[Event]] = {}
    for event in other:
        waiting.setdefault(event.key, []).append(event)
    pairs, gone = [], []
    for event in one:
        near = [each for each in waiting.get(event.key, [])
                if abs(each.tick - event.tick) <= tolerance_ticks]
        if near:
            best = min(near, key=lambda each: abs(each.tick - event.tick))
            waiting[event.key].remove(best)
            pairs.append((event, best))
        else:
            gone.append(event)
    new = sorted((event for events in waiting.values() for event in events),
                 key=lambda event: event.tick)
    return Matched(pairs, gone, new)


class Undecided(NamedTuple):
    """An event that came in one of two runs only, and why the record does not decide it."""

    event: Event
    why: str


class Fidelity(NamedTuple):
    """How well a replay under unchanged settings gives the record again.

    gone, new: of `wrong`, what the record has and what it lacks; swapped: pairs of events that
    came in the other order, though more than a row lay between.
    """

    recorded: int
    reproduced: list[Event]
    undecidable: list[Undecided]
    gone: list[Event]
    new: list[Event]
    swapped: list[tuple[Event, Event]]

    @property
    def wrong(self) -> list[Event]:
        """Events that the record decides, and that are in one of both only."""
        return sorted([*self.gone, *self.new])


def fidelity(span: Span, came: Came, knows_heat: bool = True) -> tuple[Fidelity, Matched]:
    """Return how the replay of a span under its own settings fits the record.

    knows_heat: how warm the motor's thermal model was at the begin is known.
    """
    tolerance = ROWS * span.settings[st.index("row_standstill_s")] * DS_PER_S
    recorded = events_of(span.journal, span.time.event, span.time, span.settings,
                         span.begin + 1, span.end)
    played = replayed_events(span, came, span.settings)
    starts = span.begin + SETTLING_TICKS
    recorded = [one for one in recorded if one.tick > starts]
    played = [one for one in played if one.tick > starts]
    found = matched(recorded, played, tolerance)
    is_warmer = any(one.element == THERMAL for one in [*found.gone, *found.new])
    why = Undecidable(span, came, tolerance, knows_heat or not is_warmer)
    gone = [(one, why.of(one, tolerance)) for one in found.gone]
    new = [(one, why.of(one)) for one in found.new]
    return Fidelity(
        len(recorded), [one for one, _ in found.pairs],
        sorted(Undecided(one, said) for one, said in [*gone, *new] if said),
        [one for one, said in gone if not said], [one for one, said in new if not said],
        _swapped(found.pairs)), found


class Undecidable:
    """Why means of rows do not decide an event of a span."""

    def __init__(self, span: Span, came: Came, tolerance_ticks: int, knows_heat: bool):
        """Take a span, what came of it again, by how much an event may be off in time, and
        whether the motor's heat at the begin is known.
        """
        self.span = span
        self.heat_known_from = span.begin if knows_heat else heat_known_from(span)
        self.tolerance = tolerance_ticks
        self.recurs = recurring(span.journal, span.time, span.waves.spells)
        # Where the replay went on otherwise than the record while something recurred untold.
        self.out_of_step = [(first, last + tolerance_ticks) for first, last in came.told["astray"]
                            if any(begin <= first <= end for _, begin, end in self.recurs)]
        self.edges = dict(came.told["edges"])
        # The record begins while something runs: how it came to is not in it.
        self.began = next((last + tolerance_ticks for first, last in came.told["astray"]
                           if first <= span.begin + 1), -1)
        # Nor is what holds a side off when it begins with a rig that stands.
        first, start = span.time.runs[0], span.time.starts[0]
        self.first_change = -1 if start.is_whole or first.state != modes.STANDSTILL \
            else first.last

    def of(self, event: Event, slack_ticks: int = 0) -> str:
        """Return the reason in words, "" for an event that is decided.

        slack_ticks: by how much the replay's own time may be off the event's: none for its own.
        """
        tick = event.tick
        if not event.is_decidable:
            return "its cause lasted for less than two rows"
        # With an element that comes and goes so do the changes of state that it makes.
        if any(first <= tick <= last and event.element in (number, None)
               for number, first, last in self.recurs):
            return "it recurs, and after a few times is only counted"
        if any(first <= one <= last for first, last in self.out_of_step
               for one in (event.since, tick)):
            return "the replay is out of step there, as what recurs is only counted"
        if any(first - self.tolerance <= tick <= last + self.tolerance
               for first, last in self.span.time.gaps):
            return "rows are missing there"
        if event.since <= self.began:
            return "it lies in what ran when the record begins"
        if event.since <= self.first_change:
            return "what held the rig off when the record begins is not told"
        left = event.key[1] if event.key[0] == ev.STATE else None
        if tick < self.heat_known_from and (event.element == THERMAL or left in PUMPS):
            return "how warm the motor's thermal model was at the begin is not known"
        return self._at_limit(event, slack_ticks)

    def _at_limit(self, event, slack_ticks):
        """Return why it is not decided whether what an element judges went beyond its limit."""
        if event.element is None or event.element not in self.edges:
            return ""
        ticks, kinds = self.edges[event.element]
        first, last = event.since - slack_ticks, event.since + event.lasts + slack_ticks
        begin = max(0, int(np.searchsorted(ticks, first, side="right")) - 1)
        if max(kinds[begin:int(np.searchsorted(ticks, last, side="right"))],
               default=BELOW) != AT_EDGE:
            return ""
        if el.judged(event.element - 1, el.J_VALUE) == dv.STARTS_MILLI:
            return "its starts are no further from the limit than the two runs differ in time"
        return "its level is no further from the limit than levels are read to"


def replayed_events(span: Span, came: Came, settings) -> list[Event]:
    """Return the events of a replay, by the record's ticks."""
    return [one for one in events_of(came.journal, came.event, span.time, settings,
                                     span.begin + 1, span.end)
            if one.tick > span.begin + SETTLING_TICKS or span.begin < span.time.starts[0].first]


def _swapped(pairs):
    """Return pairs of decidable events, near each other in the list, in the wrong order."""
    found = []
    ordered = [pair for pair in sorted(pairs, key=lambda pair: pair[0].tick)
               if pair[0].is_decidable]
    for first, second in zip(ordered, ordered[1:], strict=False):
        apart = second[0].tick - first[0].tick
        if apart > max(first[0].row, second[0].row) and second[1].tick < first[1].tick:
            found.append((first[0], second[0]))
    return found
