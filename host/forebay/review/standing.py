"""How things stood at the end of a time, and what acted in it: the events, read as a story.

Owns what follows from the order of events: when and for how long an element acted, whether it
still does, whether a lockout is on, how each light ended, what was going on last.  It has no
words for any of it.
"""

from dataclasses import dataclass, field

import numpy as np

from keeper import events, modes, settings
from keeper.integers import R_HIGHEST, R_LOWEST
from keeper.protection import elements

NOTHING = -1  # no state is known
LIGHT = settings.SETTINGS[settings.index("setpoint_mW")]


@dataclass
class Acted:
    """What one element did: by its number.

    times_s: (begin, end) [s since 1970 UTC] of each act that was told by itself, end = None
    while it still acts; repeats: acts more that were only counted [-]; tripped: of all of them
    those that tripped or locked [-]; first: its first event.
    """

    number: int
    first: np.void
    times_s: list[tuple[float, float | None]] = field(default_factory=list)
    repeats: int = 0
    tripped: int = 0
    acts_now: bool = False

    @property
    def count(self) -> int:
        """How often it acted [-]."""
        return len(self.times_s) + self.repeats

    def held_s(self, end_s: float) -> float:
        """Return for how long it acted until an end [s since 1970 UTC], as far as is told [s]."""
        spans = [(end_s if end is None else end) - begin for begin, end in self.times_s]
        return float(sum(max(span, 0.0) for span in spans if np.isfinite(span)))


@dataclass
class Light:
    """One light: from when till when [s since 1970 UTC], how it ended.

    end_s: None = it goes on; cause: of keeper.modes, None = it goes on; element: number of
    the one that ended it, 0 = none did.
    """

    begin_s: float
    end_s: float | None = None
    cause: int | None = None
    element: int = 0


@dataclass
class Standing:
    """What the events of a time tell, and what those before it left behind.

    acted: by number of the element, in the order of their first acts; lockout: its event and
    time, None = none is on; resets: times of lockouts that a person reset; state: the last one
    told; starts: (event, time) of each start of the board; clock_wanted: whether light by the
    clock waits for somebody to set it; plans: (time, whether it lasts, power [mW], how long at
    that power [min] or None); lights_before: those that were over before the time began.
    """

    acted: dict[int, Acted] = field(default_factory=dict)
    lockout: tuple[np.void, float] | None = None
    resets_s: list[float] = field(default_factory=list)
    state: int = NOTHING
    lights: list[Light] = field(default_factory=list)
    starts: list[tuple[np.void, float]] = field(default_factory=list)
    clock_wanted: bool = False
    plans: list["Planned"] = field(default_factory=list)
    sun_unused: list[tuple[np.void, float]] = field(default_factory=list)
    segments_lost: int = 0
    lights_before: list[Light] = field(default_factory=list)


@dataclass
class Planned:
    """What the board planned: when [s since 1970 UTC], whether that lasts (as its event says).

    power_mW: of the lamps [mW]; minutes: how long the water gives that power [min], None = not
    told.
    """

    utc_s: float
    lasts: int
    power_mW: int
    minutes: int | None = None


def standing_of(table: np.ndarray, utc_s: np.ndarray, begin_s: float) -> Standing:
    """Return how things stood at the end of events in order.

    utc_s: their times [s since 1970 UTC]; begin_s: what ended before it is left out [s since
    1970 UTC]; what stood then still stands, whenever it began.
    """
    found = Standing()
    for event, at_s in zip(table, utc_s.tolist(), strict=True):
        take = _TAKES.get(int(event["code"]))
        if take:
            take(found, event, at_s)
    _leave_out(found, begin_s)
    return found


def _leave_out(found, begin_s):
    """Let go of what was over before the time began."""
    for one in list(found.acted.values()):
        one.times_s = [(begin, end) for begin, end in one.times_s
                       if end is None or not end < begin_s]
        if not one.times_s and not one.repeats and not one.acts_now:
            del found.acted[one.number]
    was_over = [one.end_s is not None and one.end_s < begin_s for one in found.lights]
    found.lights_before, found.lights = (
        [one for one, over in zip(found.lights, was_over, strict=True) if over == wanted]
        for wanted in (True, False))
    found.resets_s = [at_s for at_s in found.resets_s if not at_s < begin_s]
    found.starts = [one for one in found.starts if not one[1] < begin_s]
    found.sun_unused = [one for one in found.sun_unused if not one[1] < begin_s]
    found.plans = [one for one in found.plans if not one.utc_s < begin_s]


def _boot(found, event, at_s):
    found.starts.append((event, at_s))
    found.clock_wanted = False
    for one in found.acted.values():
        _end(one, at_s)
    _light_over(found, at_s, None)


def _end(one, at_s):
    one.acts_now = False
    if one.times_s and one.times_s[-1][1] is None:
        one.times_s[-1] = (one.times_s[-1][0], at_s)


def _acted(found, event, at_s):
    number = int(event["argument"])
    one = found.acted.setdefault(number, Acted(number, event))
    _end(one, at_s)
    one.times_s.append((at_s, None))
    one.acts_now = True
    one.tripped += int(event["argument2"] >= elements.TRIP)


def _let_go(found, event, at_s):
    one = found.acted.get(int(event["argument"]))
    if one:
        _end(one, at_s)


def _repeated(found, event, at_s):
    number = int(event["argument"])
    packed = int(event["argument2"])
    one = found.acted.setdefault(number, Acted(number, event))
    count = packed & events.COUNT_MASK
    one.repeats += count
    if 0 < number <= len(elements.ELEMENTS) and (
            elements.ELEMENTS[number - 1][elements.E_ACTION] >= elements.TRIP):
        one.tripped += count
    acts_now = bool(packed & events.NOW_BIT)
    if acts_now and not one.acts_now:
        one.times_s.append((at_s, None))
        one.repeats = max(one.repeats - 1, 0)
    elif not acts_now:
        _end(one, at_s)
    one.acts_now = acts_now


def _lockout(found, event, at_s):
    # The first cause is the one to look at; later ones come of it.
    found.lockout = found.lockout or (event, at_s)


def _lockout_reset(found, event, at_s):
    found.lockout = None
    found.resets_s.append(at_s)


def _state(found, event, at_s):
    found.state, cause = int(event["state"]), int(event["argument2"])
    if found.state == modes.RUNNING:
        found.lights.append(Light(at_s))
    elif event["argument"] == modes.RUNNING:
        _light_over(found, at_s, cause)


def _light_over(found, at_s, cause):
    if not found.lights or found.lights[-1].end_s is not None:
        return
    light = found.lights[-1]
    light.end_s, light.cause = at_s, cause
    if cause in (modes.TRIPPED, modes.STOPPED):
        # The one that acted in this very scan; several may.
        here = [one for one in found.acted.values()
                if one.times_s and one.times_s[-1][0] == at_s and _is_of_light(one.number)]
        light.element = here[0].number if here else 0


def _is_of_light(number):
    return 0 < number <= len(elements.ELEMENTS) and bool(
        elements.ELEMENTS[number - 1][elements.E_TARGET] & elements.TURBINE)


def _planned(found, event, at_s):
    # A power that no light can be set to is no plan; the list of events shows it as it came.
    if LIGHT[R_LOWEST] <= event["argument2"] <= LIGHT[R_HIGHEST]:
        found.plans.append(Planned(at_s, int(event["argument"]), int(event["argument2"])))


def _lasts(found, event, _):
    if found.plans and event["argument"] == 0 and event["argument2"] >= 0:
        found.plans[-1].minutes = int(event["argument2"])


def _clock_unknown(found, event, at_s):
    found.clock_wanted = True


def _clock_set(found, event, at_s):
    found.clock_wanted = False


def _sun_unused(found, event, at_s):
    found.sun_unused.append((event, at_s))


def _journal_lost(found, event, at_s):
    found.segments_lost += 1


_TAKES = {
    events.BOOT: _boot,
    events.STATE: _state,
    events.ACTED: _acted,
    events.LET_GO: _let_go,
    events.REPEATED: _repeated,
    events.LOCKOUT: _lockout,
    events.LOCKOUT_RESET: _lockout_reset,
    events.LIGHT_PLANNED: _planned,
    events.LIGHT_LASTS: _lasts,
    events.CLOCK_UNKNOWN: _clock_unknown,
    events.CLOCK_SET: _clock_set,
    events.SUN_UNUSED: _sun_unused,
    events.JOURNAL_LOST: _journal_lost,
}
