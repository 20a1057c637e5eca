"""Events in plain words."""

from dataclasses import dataclass

import numpy as np

from forebay.shelf.naming import argument2_name
from forebay.shelf.segments import STREAM_NAMES
from forebay.words import Named
from forebay.words.measured import CHANNELS, REASONS
from forebay.words.operation import CAUSES, ORDERS, REFUSALS, STATES
from forebay.words.protection import ELEMENTS, SEEN
from keeper import channels, events, modes
from keeper.operation import orders
from keeper.operation.budget import MAY_LAST, UNKNOWN
from keeper.protection import elements

MIN_PER_H = 60
PERMILLE = 1000
SIDES = {elements.PUMP: "pump", elements.TURBINE: "light"}


# How much an event weighs, the most first; the words by which they are chosen.
WEIGHTS = ("trips and losses", "what acted or changed", "daily work")
GRAVE, NOTABLE, ROUTINE = range(len(WEIGHTS))
# Elements that end the daily filling and the nightly light: that is their work.
DAILY = frozenset(("71H-UP", "71L-UP"))
NOTABLE_CODES = frozenset((
    events.BOOT, events.READING_BAD, events.LOCKOUT_RESET, events.ORDER, events.CLOCK_UNKNOWN,
    events.SUN_UNUSED, events.NOT_FITTED, events.REPEATED, events.RESTARTED))


@dataclass
class Event:
    """One line of the list of events: when [s since 1970 UTC, NaN unknown], what, how it weighs.

    weight: place in WEIGHTS.
    """

    utc_s: float
    text: str
    weight: int = ROUTINE

    @property
    def grave(self) -> bool:
        """Whether it is a trip, a lockout or a loss."""
        return self.weight == GRAVE


def events_of(table: np.ndarray, utc_s: np.ndarray, absent: np.ndarray | None = None,
              odd: frozenset[int] = frozenset()) -> list[Event]:
    """Return the events of a journal as sentences.

    table: its events in order; utc_s: their times [s since 1970 UTC]; absent: what the rig
    lacked at each, as bits (`forebay.shelf.fitted`), None = nothing; odd: numbers of elements
    that are no daily work this time.  Trial starts that lifted
    too little water come as one line a row of them.
    """
    lacked = np.zeros(len(table), np.int64) if absent is None else absent
    found = []
    weak = []
    lacks = None
    for event, at_s, lacks_now in zip(table, utc_s, lacked.tolist(), strict=True):
        if event["code"] == events.NOT_FITTED:
            # Each start tells it: news is only what has changed.
            before, lacks = lacks, int(event["argument2"])
            if before in (None, lacks):
                continue
        step = _weak_step(event)
        if step and (weak or step == "begin"):
            weak.append((step, float(at_s)))
            continue
        found += _flushed(weak)
        weak = []
        text = sentence(event, lacks_now)
        if text:
            weight = weight_of(event)
            if event["code"] == events.ACTED and int(event["argument"]) in odd:
                weight = min(weight, NOTABLE)
            found.append(Event(float(at_s), text, weight))
    return found + _flushed(weak)


def weight_of(event) -> int:
    """Return how much an event record weighs, a place in WEIGHTS."""
    code = int(event["code"])
    if code in (events.LOCKOUT, events.JOURNAL_LOST, events.RUN_CUT) or (
            code == events.ACTED and event["argument2"] >= elements.TRIP):
        return GRAVE
    if code == events.ACTED:
        said = ELEMENTS.get(event["argument"])
        return ROUTINE if said and said.id in DAILY else NOTABLE
    return NOTABLE if code in NOTABLE_CODES or code not in events.EVENT_CODES else ROUTINE


def _weak_step(event):
    """Return what part of a vain trial an event is, "" if none."""
    if event["code"] == events.HELD_OFF and event["argument"] == elements.PUMP:
        return "wait"
    if event["code"] != events.STATE:
        return ""
    if event["state"] == modes.TRIAL:
        return "begin"
    vain = event["argument"] == modes.TRIAL and event["argument2"] == modes.TOO_WEAK
    return "end" if vain else ""


def _flushed(weak):
    vain = [at_s for step, at_s in weak if step == "end"]
    if not weak:
        return []
    if not vain:
        # A trial that went well is told by what follows.
        return []
    which = "A trial start" if len(vain) == 1 else f"{len(vain)} trial starts"
    return [Event(vain[0], f"{which} lifted too little water, as a rule for want of sun.")]


def sentence(event, absent: int = 0) -> str:
    """Return one event record in plain words, "" if it says nothing to a person.

    absent: what the rig lacked, as bits (`forebay.shelf.fitted`).
    """
    if event["code"] == events.ACTED:
        return _acted(event, absent)
    return _SENTENCES.get(int(event["code"]), _unknown)(event)


def _boot(event):
    return f"The board started (start {event['boot']})."


def _state(event):
    state = STATES.get(event["state"], Named(f"state {event['state']}", ""))
    cause = CAUSES.get(event["argument2"])
    why = f": {cause.plain}" if cause else ""
    return f"{state.name.capitalize()}, {state.plain}{why}."


def _acted(event, absent):
    said = ELEMENTS.get(event["argument"])
    if said is None:
        return f"Element {event['argument']} acted."
    place, when_open, when_closed = SEEN.get(said.id, (0, "", ""))
    seen = when_closed if event["contacts"] >> place & 1 else when_open
    if absent >> channels.COLUMNS + place & 1:
        seen = ""  # no contact, so neither open nor closed
    return " ".join(filter(None, (f"{said.named}.", seen, said.look)))


def _let_go(event):
    said = ELEMENTS.get(event["argument"])
    if said is None:
        return f"Element {event['argument']} let go."
    armed = elements.ELEMENTS[event["argument"] - 1][elements.E_ARMED]
    # One that the new state does not arm lets go, whatever became of its cause.
    how = "Over again" if armed >> int(event["state"]) & 1 else "No longer looked at"
    return f"{how}: {said.plain[0].lower()}{said.plain[1:]}."


def _repeats(event):
    """Return (count, "in N minutes", whether it acts or runs now) of what recurred."""
    packed = int(event["argument2"])
    minutes = packed >> events.MINUTES_SHIFT & events.MINUTES_MASK
    return packed & events.COUNT_MASK, f"in {minutes} min", bool(packed & events.NOW_BIT)


def _repeated(event):
    said = ELEMENTS.get(event["argument"])
    count, when, acts = _repeats(event)
    now = "it acts now" if acts else "it does not act now"
    if said is None:
        return f"Element {event['argument']} acted {count} times more {when}; {now}."
    again = "once" if count == 1 else f"{count} times"
    return f"{said.named}: {again} more {when}; {now}. {said.look}"


def _restarted(event):
    count, when, runs = _repeats(event)
    side = SIDES.get(event["argument"], f"side {event['argument']}")
    now = "it runs now" if runs else "it does not run now"
    return f"The {side} started {count} times more {when}, each time after a stop; {now}."


def _sun_unused(event):
    return (f"Daylight, and the pump did not start: unloaded, the panel shows"
            f" {event['argument2'] / 1000:.1f} V at most and does not hold limits.start_voltage."
            " Nothing to do on a dull day; in full sun see whether that limit is too high for a"
            " hot panel, and look for shade, dirt or a bad joint.")


def _run_cut(event):
    return (f"The board stopped before a start of the pump was known to be well: it counts as"
            f" trip {event['argument2']} of 48-PMP, for it may have been one.")


def _lockout(event):
    number = event["argument"]
    known = number in ELEMENTS
    name = ELEMENTS[number].id if known else f"element {number}"
    trips = event["argument2"]
    after = f" after {trips} trips in a row" if trips > 1 else ""
    only_there = known and elements.ELEMENTS[number - 1][elements.E_WHERE] == elements.AT_RIG
    where = "at the rig" if only_there else "at the rig or by an order of one who has seen it"
    return f"Locked out{after} by {name}: find the cause, then reset {where}."


def _lockout_reset(event):
    return "A person reset the lockout."


def _journal_lost(event):
    stream = event["argument"]
    name = STREAM_NAMES[stream] if stream < len(STREAM_NAMES) else f"stream {stream}"
    return f"The journal gave up segment {event['argument2']} of its {name}: pull more often."


def _held_off(event):
    if event["argument"] == elements.TURBINE:
        return (f"The light was stopped: it rests for {event['argument2']} s at least before it"
                " comes again.")
    return f"Too little water came up: the next try is in {event['argument2']} s."


def _order(event):
    code, refusal = event["argument"], event["argument2"]
    name = ORDERS[code].name if code in ORDERS else f"number {code}"
    if refusal == orders.DONE:
        return f"Order: {name}."
    return f"Order refused: {name} ({REFUSALS.get(refusal, f'reason {refusal}')})."


def _planned(event):
    power = f"{event['argument2'] / 1000:.2g} W"
    if event["argument"] == UNKNOWN:
        return f"The water is not known well enough: no plan for the light, it stays at {power}."
    if event["argument"] == MAY_LAST:
        return f"The water may last, and may not: light stays at {power}."
    if event["argument"]:
        return f"The water lasts: light at {power} for as long as it is wanted."
    return f"The water does not last so long at any useful power; light stays at {power}."


def _lasts(event):
    hours = event["argument2"] / MIN_PER_H
    which = "the least useful power" if event["argument"] else "the wanted power"
    return f"At {which} the water gives {hours:.1f} h of light: choose hours, or dim."


def _between(event):
    least, most = (minutes / MIN_PER_H for minutes in between_min(int(event["argument2"])))
    which = "At the least useful power" if event["argument"] else "At this power"
    return f"{which} the water gives between {least:.1f} and {most:.1f} h of light."


def between_min(packed: int) -> tuple[int, int]:
    """Return the least and the most minutes that argument 2 of LIGHT_BETWEEN holds."""
    return packed & (1 << events.MINUTES_BITS) - 1, packed >> events.MINUTES_BITS


def _clock_set(event):
    hour, minute = divmod(event["argument2"], MIN_PER_H)
    return f"The clock was set ({hour:02d}:{minute:02d} UTC)."


def _clock_unknown(event):
    hour, minute = divmod(event["argument2"], MIN_PER_H)
    return ("Nobody has set the clock since the start: light by the clock"
            f" ({hour:02d}:{minute:02d} UTC) has to wait. The order clock sets it.")


def _reading_bad(event):
    channel, reason = event["argument"], event["argument2"]
    if channel >= len(channels.CHANNELS) or reason not in REASONS:
        return f"Reading {channel} is bad, reason {reason}."
    said = CHANNELS[channels.CHANNELS[channel][channels.CH_NAME]]
    return f"{said.plain.capitalize()} ({said.tag}): {REASONS[reason]}."


def _not_fitted(event):
    tags = argument2_name(events.NOT_FITTED, int(event["argument2"]))
    return f"From this start on the rig lacks {tags.replace(' ', ', ')}."


def _valve_zero(event):
    return ("The valve was pressed shut and its sensor read"
            f" {event['argument'] / PERMILLE:.1%} open: that counts as shut from now on.")


def _unknown(event):
    return f"Event {event['code']}, unknown to this forebay."


_SENTENCES = {
    events.BOOT: _boot,
    events.STATE: _state,
    events.LET_GO: _let_go,
    events.LOCKOUT: _lockout,
    events.LOCKOUT_RESET: _lockout_reset,
    events.JOURNAL_LOST: _journal_lost,
    events.HELD_OFF: _held_off,
    events.ORDER: _order,
    events.LIGHT_PLANNED: _planned,
    events.LIGHT_LASTS: _lasts,
    events.LIGHT_BETWEEN: _between,
    events.CLOCK_SET: _clock_set,
    events.CLOCK_UNKNOWN: _clock_unknown,
    events.READING_BAD: _reading_bad,
    events.VALVE_ZERO: _valve_zero,
    events.REPEATED: _repeated,
    events.RESTARTED: _restarted,
    events.SUN_UNUSED: _sun_unused,
    events.RUN_CUT: _run_cut,
    events.NOT_FITTED: _not_fitted,
}
