"""Draws host/docs/protection.md and states.svg: python -m forebay.docs.protection.

The trip table, the states of operation, the orders and the settings, from the
keeper's own tables.
"""

import sys
import textwrap
from pathlib import Path

from forebay.docs.diagram import picture
from forebay.words import measured, protection, rig
from forebay.words.operation import CAUSES, EVENTS, MODES, ORDERS, REFUSALS, STATES
from keeper import channels, modes, settings
from keeper.operation import orders
from keeper.protection import derived, elements

_WIDTH = 79
PAGE, PICTURE = "protection.md", "states.svg"
_HEAD = """# What the keeper protects, and how it runs

Hobby-grade, not a safety-rated system: the hardware layer of
[hardware/README.md](../../hardware/README.md) acts first and without it, and
local codes and licensed practice come before both. This page is drawn from the
tables that the board itself loops over.

An element compares one value with its pickup in every scan, ten times a second.
Beyond it for the delay, it acts; inside its reset for as long again, it lets go.
The delay counts two steps up for a scan beyond the pickup and one down for a
scan inside the reset, so that a chattering fault still acts. One write to flash
may stop the processor for up to three sector erases: 140 ms typical, 1.2 s
worst (flash data sheet, from memory). A stated time to act is "the delay, plus
one such stall"; the hardware layer covers the stall.

A value that cannot be trusted is not compared: the element of the sensor itself
(3-...) acts instead, after half a second, and holds off what depends on it.
"""


def _limit(value) -> str:
    return f"`{value}`" if isinstance(value, str) else str(value)


def _states(mask: int) -> str:
    names = [row[0] for state, row in enumerate(modes.STATES) if mask >> state & 1]
    if len(names) == len(modes.STATES):
        return "always"
    left = [row[0] for state, row in enumerate(modes.STATES) if not mask >> state & 1]
    return f"always but {', '.join(left)}" if len(left) < len(names) else ", ".join(names)


def _sides(target: int) -> str:
    return {elements.PUMP: "pump", elements.TURBINE: "turbine", elements.BOTH: "both"}[target]


def _value_name(place: int) -> str:
    if place < channels.COLUMNS:
        return f"`{channels.CHANNELS[place][channels.CH_NAME]}`"
    if place < channels.COLUMNS + len(channels.CONTACTS):
        return f"`{channels.CONTACTS[place - channels.COLUMNS]}`"
    if place == channels.LOOP_71HH:
        return "state of the over-full loop"
    return f"`{derived.DERIVED[place - channels.READ][0]}`"


def _element(row, said: protection.Element) -> list[str]:
    sense = row[elements.E_SENSE]
    value = _value_name(int(row[elements.E_VALUE]))
    if sense == "?":
        when = f"{value} cannot be trusted"
    else:
        pickup, reset = _limit(row[elements.E_PICKUP]), _limit(row[elements.E_RESET])
        back = "at or below" if sense == ">" else "at or above"
        when = f"{value} {sense} {pickup}; lets go {back} {reset}"
    delay = row[elements.E_DELAY_MS]
    waits = f"`{delay}`" if isinstance(delay, str) else f"{delay} ms"
    action = protection.ACTIONS[row[elements.E_ACTION]].name
    does = f"{action}, {_sides(row[elements.E_TARGET])}"
    if row[elements.E_ACTION] == elements.TRIP:
        does += f"; lockout after `{row[elements.E_RETRIES]}` retries"
    if row[elements.E_ACTION] >= elements.TRIP:
        where = row[elements.E_WHERE] == elements.AT_RIG
        does += ", reset only at the rig" if where else ", reset at the rig or by order"
    lines = [f"### {said.id}", ""]
    lines += textwrap.wrap(f"**{said.plain}.** {said.look}", _WIDTH)
    lines.append("")
    for text in (f"when: {when}", f"after: {waits}; armed: {_states(row[elements.E_ARMED])}",
                 f"does: {does}"):
        lines += textwrap.wrap(f"* {text}", _WIDTH, subsequent_indent="  ")
    return [*lines, ""]


def _list(rows) -> list[str]:
    lines = []
    for text in rows:
        lines += textwrap.wrap(f"* {text}", _WIDTH, subsequent_indent="  ")
    return [*lines, ""]


def _order(row) -> str:
    def argument(low, high, text):
        return "" if text == "-" else f" {low} to {high}: {text};"
    code, a_low, a_high, b_low, b_high = row
    said = ORDERS[code]
    first, second = argument(a_low, a_high, said.a), argument(b_low, b_high, said.b)
    return f"{code} **{said.name}**:{first}{second}".rstrip(":;")


def page() -> str:
    """Return the page as Markdown."""
    lines = [_HEAD, "## Actions", ""]
    lines += _list(f"**{name}**: {text}" for name, text in protection.ACTIONS.values())
    lines += ["## Elements", ""]
    lines += textwrap.wrap("In the order in which a scan judges them, those of readings that"
                           " cannot be trusted before all others. Device numbers are those of"
                           " IEEE C37.2. 86 is the lockout itself: both modes off until a"
                           " person resets.", _WIDTH)
    lines.append("")
    for row, said in zip(elements.ELEMENTS, protection.ELEMENTS.values(), strict=True):
        lines += _element(row, said)
    lines += ["## Derived values", ""]
    lines += _list(f"`{name}` [{unit}]: {measured.DERIVED[name]}"
                   for name, unit, _ in derived.DERIVED)
    lines += ["## Reasons of a bad reading", ""]
    lines += _list(f"{number}: {text}" for number, text in measured.REASONS.items())
    lines += ["## States of operation", "", f"![states and transitions]({PICTURE})", ""]
    lines += _list(f"**{said.name}** ({MODES[modes.STATES[number][1]]} mode): {said.plain}"
                   for number, said in STATES.items())
    lines += _list(f"{STATES[source].name} -> {STATES[target].name}: {CAUSES[cause].name}"
                   for source, cause, target in modes.TRANSITIONS)
    lines += textwrap.wrap("A cause without an entry leads to"
                           f" {STATES[modes.SAFE_STATE].name}.", _WIDTH)
    lines += ["", "## Orders", ""]
    lines += textwrap.wrap("Orders express wishes; protection stands above them, and every hold"
                           " runs out.", _WIDTH)
    lines += ["", *_list(_order(row) for row in orders.ORDERS)]
    lines += ["Answers:", "", *_list(f"{number}: {text}"
                                     for number, text in REFUSALS.items())]
    lines += ["## Events", ""]
    lines += _list(f"{code} **{said.name}**: {said.argument}; {said.argument2}"
                   for code, said in EVENTS.items())
    lines += ["## Settings", ""]
    lines += textwrap.wrap("What the host works out from the rig's description"
                           " ([rig.md](rig.md)); the board refuses a file that is damaged or"
                           " out of range, and stays safe.", _WIDTH)
    lines += ["", *_list(f"`{name}`, {low} to {high}: {rig.SETTINGS[name]}"
                         for name, low, high in settings.SETTINGS)]
    lines += _list(f"`{lower}` lies below `{upper}`" for lower, upper in settings.ORDERED)
    return "\n".join(lines).rstrip() + "\n"


def drawn() -> dict[str, str]:
    """Return the page and its picture by file name."""
    return {PAGE: page(), PICTURE: picture()}


if __name__ == "__main__":
    folder = Path(sys.argv[1] if len(sys.argv) > 1 else "host/docs")
    for name, text in drawn().items():
        (folder / name).write_text(text, encoding="utf-8")
