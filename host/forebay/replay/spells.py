"""Elements that acted: from when to when their condition stood, as the events tell it.

And what no event tells: what recurs is told a few times one by one, then only counted.
"""

from typing import NamedTuple

import numpy as np

from forebay.replay.timeline import Timeline
from forebay.shelf import Journal
from keeper import events as ev
from keeper import modes
from keeper.clock import PERIOD_MS
from keeper.protection import elements as el


class Spell(NamedTuple):
    """An element that acted: its number, ticks at which it acted and let go, its delay [scans].

    let_go: the record's end where it did not; beyond: scans beyond the pickup, as told.
    """

    number: int
    acted: int
    let_go: int
    is_over: bool
    delay: int
    beyond: int | None

    @property
    def begin(self) -> int:
        """Tick of the first scan that counted, if it did not chatter."""
        return self.acted - self.delay

    @property
    def end(self) -> int:
        """Tick of the first scan in which its condition was gone again."""
        if not self.is_over:
            return self.let_go + 1
        by_ease = self.let_go - (2 * self.delay + 1)
        return by_ease if by_ease > self.acted else self.acted + 1


def spells_of(journal: Journal, time: Timeline, settings: list[int]) -> list[Spell]:
    """Return every spell that the events tell, in order."""
    found, open_at = [], {}
    ends = [one.last for one in time.starts]
    for tick, code, argument, argument2 in told(journal, time, (ev.ACTED, ev.LET_GO)):
        if code == ev.ACTED and 1 <= argument <= el.ROWS:
            open_at[argument] = tick
        elif argument in open_at:
            found.append(_spell(argument, open_at.pop(argument), tick, settings, argument2))
    for number, tick in open_at.items():
        last = next(end for end in ends if end >= tick)
        found.append(_spell(number, tick, last, settings, None))
    return sorted(found, key=lambda one: (one.acted, one.number))


def _spell(number, acted, let_go, settings, beyond):
    delay_ms = el.limit_of(el.judged(number - 1, el.J_DELAY_MS), settings)
    return Spell(number, acted, let_go, beyond is not None, delay_ms // PERIOD_MS, beyond)


def untold(spells: list[Spell], time: Timeline, settings: list[int]) -> list[Spell]:
    """Return spells that no event tells: what recurs is told a few times, then only counted.

    A run that ended without a word was ended by the element that had ended runs of its side
    before, as shortly as it can.
    """
    ends = {one.last for one in time.starts}
    found = []
    for run in time.runs:
        side = el.PUMP if run.state in (modes.TRIAL, modes.PUMPING) else el.TURBINE
        if run.cause not in (None, modes.STOPPED, modes.TRIPPED) or run.last in ends or (
                run.state not in (modes.TRIAL, modes.PUMPING, modes.RUNNING)):
            continue
        mine = [one for one in spells if el.judged(one.number - 1, el.J_ACTION) >= el.STOP
                and el.judged(one.number - 1, el.J_TARGET) & side]
        if any(abs(one.acted - run.last) <= 1 for one in mine):
            continue
        before = [one for one in mine if one.let_go < run.last and (
            run.cause != modes.TRIPPED or el.judged(one.number - 1, el.J_ACTION) >= el.TRIP)]
        if before:
            number = before[-1].number
            delay = before[-1].delay
            found.append(Spell(number, run.last, run.last + 2 * delay + 2, True, delay, None))
    return found


def recurring(journal: Journal, time: Timeline, spells: list[Spell]
              ) -> list[tuple[int, int, int]]:
    """Return (element, from, to) where one recurs that is only counted: no mean shows when.

    From the last time that it was told one by one until it is again, which takes an hour without
    it, or the record's end: a count may wait for hours until it is told.
    """
    found = []
    counted: dict[int, list[int]] = {}
    for tick, _, number, _ in told(journal, time, (ev.REPEATED,)):
        counted.setdefault(number, []).append(tick)
    for spell in spells:
        if spell.beyond is None and spell.is_over:   # one of `untold`
            counted.setdefault(spell.number, []).append(spell.let_go)
    for number, ticks in counted.items():
        before = [spell.acted for spell in spells
                  if spell.number == number and spell.acted < max(ticks)]
        after = [spell.acted for spell in spells
                 if spell.number == number and spell.acted > max(ticks) + ev.QUIET_DS]
        found.append((number, before[-ev.FIRST_TOLD] if len(before) >= ev.FIRST_TOLD else min(
            [*before, *ticks]), min(after) - ev.QUIET_DS if after else time.end))
    return found


def told(journal, time, codes):
    """Yield (tick, code, argument, argument 2) of the events of some codes, in order."""
    table = journal.events
    for place in np.flatnonzero(np.isin(table["code"], codes) & (time.event >= 0)):
        one = table[place]
        yield (int(time.event[place]), int(one["code"]), int(one["argument"]),
               int(one["argument2"]))
