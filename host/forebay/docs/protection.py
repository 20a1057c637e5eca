"""Draws host/docs/protection.md and states.svg: python -m forebay.docs.protection.

The trip table, the states of operation, the orders and the settings, from the
keeper's own tables.
"""

import sys
import textwrap
from pathlib import Path

from forebay.docs.diagram import picture
from keeper import channels, events, modes, settings
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
        return f"`{channels.CONTACTS[place - channels.COLUMNS][0]}`"
    if place == channels.LOOP_71HH:
        return "state of the over-full loop"
    return f"`{derived.DERIVED[place - channels.READ][0]}`"


def _element(row) -> list[str]:
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
    action = elements.ACTIONS[row[elements.E_ACTION] - 1][1]
    does = f"{action}, {_sides(row[elements.E_TARGET])}"
    if row[elements.E_ACTION] == elements.TRIP:
        does += f"; lockout after `{row[elements.E_RETRIES]}` retries"
    if row[elements.E_ACTION] >= elements.TRIP:
        where = row[elements.E_WHERE] == elements.AT_RIG
        does += ", reset only at the rig" if where else ", reset at the rig or by order"
    lines = [f"### {row[elements.E_ID]}", ""]
    lines += textwrap.wrap(f"**{row[elements.E_NAME]}.** {row[elements.E_LOOK]}", _WIDTH)
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
    first = argument(row[orders.O_A_LOW], row[orders.O_A_HIGH], row[orders.O_A_TEXT])
    second = argument(row[orders.O_B_LOW], row[orders.O_B_HIGH], row[orders.O_B_TEXT])
    return f"{row[orders.O_CODE]} **{row[orders.O_NAME]}**:{first}{second}".rstrip(":;")


def page() -> str:
    """Return the page as Markdown."""
    lines = [_HEAD, "## Actions", ""]
    lines += _list(f"**{name}**: {text}" for _, name, text in elements.ACTIONS)
    lines += ["## Elements", ""]
    lines += textwrap.wrap("In the order in which a scan judges them, those of readings that"
                           " cannot be trusted before all others. Device numbers are those of"
                           " IEEE C37.2. 86 is the lockout itself: both modes off until a"
                           " person resets.", _WIDTH)
    lines.append("")
    for row in elements.ELEMENTS:
        lines += _element(row)
    lines += ["## Derived values", ""]
    lines += _list(f"`{name}` [{unit}]: {text}" for name, unit, text in derived.DERIVED)
    lines += ["## Reasons of a bad reading", ""]
    lines += _list(f"{number}: {text}" for number, text in enumerate(channels.REASONS))
    lines += ["## States of operation", "", f"![states and transitions]({PICTURE})", ""]
    lines += _list(f"**{name}** ({modes.MODES[mode]} mode): {text}"
                   for name, mode, text in modes.STATES)
    lines += _list(f"{modes.STATES[source][0]} -> {modes.STATES[target][0]}:"
                   f" {modes.CAUSES[cause][0]}" for source, cause, target in modes.TRANSITIONS)
    lines += textwrap.wrap("A cause without an entry leads to"
                           f" {modes.STATES[modes.SAFE_STATE][0]}.", _WIDTH)
    lines += ["", "## Orders", ""]
    lines += textwrap.wrap("Orders express wishes; protection stands above them, and every hold"
                           " runs out.", _WIDTH)
    lines += ["", *_list(_order(row) for row in orders.ORDERS)]
    lines += ["Answers:", "", *_list(f"{number}: {text}"
                                     for number, (text,) in enumerate(orders.REFUSALS))]
    lines += ["## Events", ""]
    lines += _list(f"{code} **{name}**: {first}; {second}"
                   for code, name, first, second in events.EVENTS)
    lines += ["## Settings", ""]
    lines += textwrap.wrap("What the host works out from the rig's description"
                           " ([rig.md](rig.md)); the board refuses a file that is damaged or"
                           " out of range, and stays safe.", _WIDTH)
    lines += ["", *_list(f"`{name}`, {low} to {high}: {text}"
                         for name, low, high, text in settings.SETTINGS)]
    lines += _list(f"`{lower}` lies below `{upper}`" for lower, upper in settings.ORDERED)
    return "\n".join(lines).rstrip() + "\n"


def drawn() -> dict[str, str]:
    """Return the page and its picture by file name."""
    return {PAGE: page(), PICTURE: picture(modes)}


if __name__ == "__main__":
    folder = Path(sys.argv[1] if len(sys.argv) > 1 else "host/docs")
    for name, text in drawn().items():
        (folder / name).write_text(text, encoding="utf-8")
