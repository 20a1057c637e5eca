"""The page of cards: what is done when, in short, to print and hang up; a rig's own lines."""

from collections.abc import Mapping
from typing import Any

from forebay.docs.sheets import looks, pins, text
from forebay.hardware import fitting, tables
from forebay.hardware.build import Build

_HEAD = """\
# Cards: {name}

{drawn}

One to a page, to print and hang up at the rig. The bench sheet of a board and the
first commissioning are in [commissioning.md](commissioning.md), what each guards
against in [hazards.md](hazards.md). Nothing here has been tried: *not tried*.
Hobby-grade, not a safety-rated system; local codes and licensed practice come
first.
"""


def page(build: Build) -> str:
    """The page of a rig: the lines for what it has."""
    holds = fitting.conditions(build.rig)
    return "\n".join([_HEAD.format(name=build.name, drawn=text.MADE), *(
        _card(card, build, holds) for card in tables.load("cards")["card"])])


def _card(card: dict[str, Any], build: Build, holds: Mapping[str, bool]) -> str:
    parts = [f"## {card['name'].capitalize()}\n", text.paragraph(card["text"])]
    if card.get("light"):
        parts.append(pins.light())
    parts.append("".join(text.item(f"{line['do']}.", "- [ ] ") for line in card.get("line", ())
                         if fitting.is_there(line.get("when", ()), holds)))
    there = looks.there(build, card.get("look", ()))
    if there:
        parts.append(text.paragraph(f"Look at: {', '.join(there)}."))
    return "\n".join(part for part in parts if part)
