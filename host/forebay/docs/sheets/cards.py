"""The page of cards: what is done when, in short, to print and hang up."""

from typing import Any

from forebay.docs.sheets import pins, text

_HEAD = """\
# Cards

{drawn}

One to a page, to print and hang up at the rig. The bench sheet of a board and the
first commissioning are in [commissioning.md](commissioning.md), what each guards
against in [hazards.md](hazards.md). Nothing here has been tried: *not tried*.
Hobby-grade, not a safety-rated system; local codes and licensed practice come
first.
"""


def page(cards: dict[str, Any]) -> str:
    """The page. cards: hardware/cards.toml."""
    return "\n".join([_HEAD.format(drawn=text.DRAWN.format("cards")), *map(_card, cards["card"])])


def _card(card: dict[str, Any]) -> str:
    parts = [f"## {card['name'].capitalize()}\n", text.paragraph(card["text"])]
    if card.get("light"):
        parts.append(pins.light())
    if card["lines"]:
        parts.append("".join(text.item(f"{line}.", "- [ ] ") for line in card["lines"]))
    if "look" in card:
        parts.append(text.paragraph(f"Look at: {', '.join(card['look'])}."))
    return "\n".join(parts)
