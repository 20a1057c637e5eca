"""Names in place of an event's two arguments, where they are numbers of something.

An amount (seconds, mW, a count) has no name: it stands as a number already.
"""

from collections.abc import Callable

from forebay.shelf.segments import STREAM_NAMES
from forebay.words.measured import CHANNELS, CONTACTS, REASONS
from forebay.words.operation import CAUSES, ORDERS, REFUSALS, STATES
from forebay.words.protection import ACTIONS, ELEMENTS
from keeper import channels, events
from keeper.protection import elements

SIDES = {elements.PUMP: "pump", elements.TURBINE: "light"}


def _of(table: dict, attribute: str = "name") -> Callable[[int], str]:
    return lambda number: getattr(table[number], attribute) if number in table else ""


def _channel(number):
    if not 0 <= number < len(channels.CHANNELS):
        return ""
    return CHANNELS[channels.CHANNELS[number][channels.CH_NAME]].tag


def _channels(bits):
    """Return the tags of what `NOT_FITTED` tells, with spaces between."""
    said = [CHANNELS[row[channels.CH_NAME]] for row in channels.CHANNELS]
    said += list(CONTACTS.values())
    return " ".join(one.tag for place, one in enumerate(said) if bits >> place & 1)


def _stream(number):
    return STREAM_NAMES[number] if 0 <= number < len(STREAM_NAMES) else ""


def _nothing(_):
    return ""


_ELEMENT, _SIDE = _of(ELEMENTS, "id"), lambda number: SIDES.get(number, "")
# By an event's code: what names its argument, and its argument 2.
_NAMES: dict[int, tuple[Callable, Callable]] = {
    events.STATE: (_of(STATES), _of(CAUSES)),
    events.ACTED: (_ELEMENT, _of(ACTIONS)),
    events.LET_GO: (_ELEMENT, _nothing),
    events.LOCKOUT: (_ELEMENT, _nothing),
    events.LOCKOUT_RESET: (_ELEMENT, _nothing),
    events.JOURNAL_LOST: (_stream, _nothing),
    events.HELD_OFF: (_SIDE, _nothing),
    events.ORDER: (_of(ORDERS), lambda number: REFUSALS.get(number, "")),
    events.READING_BAD: (_channel, lambda number: REASONS.get(number, "")),
    events.REPEATED: (_ELEMENT, _nothing),
    events.RESTARTED: (_SIDE, _nothing),
    events.RUN_CUT: (_SIDE, _nothing),
    events.NOT_FITTED: (_nothing, _channels),
}


def argument_name(code: int, argument: int) -> str:
    """Return the name that an event's argument stands for, "" if it is an amount or unknown."""
    return _NAMES.get(code, (_nothing, _nothing))[0](argument)


def argument2_name(code: int, argument2: int) -> str:
    """Return the name that an event's second argument stands for, as `argument_name` does."""
    return _NAMES.get(code, (_nothing, _nothing))[1](argument2)
