"""Draws host/docs/rig.md from the one table of keys: python -m forebay.docs.rig."""

import sys
import textwrap

from forebay import units
from forebay.rig.keys import OPTIONAL, REQUIRED, Derived, Key
from forebay.rig.recipes import ROWS
from forebay.rig.recipes.rows import Spread, Stated
from forebay.rig.schema import SCHEMA

_WIDTH = 79
PERCENT = 100
_HEAD = """# The description of a rig

One TOML file describes one rig. A quantity is a number in the SI unit of its
key, or text with a unit: `length = 1.5`, `length = "1500 mm"`,
`diameter = "3/4 in"`. A ratio is a number, or text in percent. Every fault of
a file is reported at once, with its key, what may stand there and what to do.
This page is drawn from the table that the loader uses.

Below each key that is a figure of the real world stands how it is found with
simple things, and two standard uncertainties: of a figure that is only carried
over from a typical part, and of one found so. They are guesses of ours, but
for those that `[model]` states. Whatever moves, is live, high up or under
pressure, is switched off or made safe before anyone measures at it.

A section `[assumed]` lists the figures that nobody has measured, by section:
`pump = ["rated_head", "rated_flow"]`. Take a name out of its list when you
have measured the figure. The board never sees the list; a rehearsal says how
many are left. A figure that the file leaves to its default counts with them.

The demo rig, `forebay/demo/hillside.toml`, is a whole file to start from. Its
figures are invented: measure your own. The limits here guard a hobby-grade
installation, which is not a safety-rated system; electrical work, and water
above people's heads, are for local codes and licensed practice.
"""


def page() -> str:
    """Return the page as Markdown."""
    parts = [_HEAD]
    for section in SCHEMA:
        lines = [f"## [{section.name}]", "", *textwrap.wrap(section.meaning, _WIDTH), ""]
        for key in section.keys:
            lines += _item(f"`{key.name}`: {_described(key)}")
            lines += _recipe(section.name, key)
        parts.append("\n".join(lines) + "\n")
    parts.append(_units())
    return "\n".join(parts)


def _described(key: Key) -> str:
    unit = f" A number alone is in {key.unit}." if key.unit else ""
    only = f' Only with shape = "{key.shape}".' if key.shape else ""
    return f"{key.meaning}. {_sentence(key.allowed)}.{unit}{only} {_default(key)}"


def _recipe(section: str, key: Key) -> list[str]:
    """Return how a figure is found, as an item below its key; [] of a choice."""
    row = ROWS.get(f"{section}.{key.name}")
    if row is None:
        return []
    doubt = ""
    if row.assumed is not None:
        doubt = (f" ({_spread(row.assumed, key)} carried over, {_spread(row.measured, key)} found"
                 " so)")
    return textwrap.wrap(f"  - {row.recipe}{doubt}", _WIDTH, subsequent_indent="    ",
                         break_on_hyphens=False)


def _spread(spread: Spread | Stated | None, key: Key) -> str:
    if isinstance(spread, Stated):
        return f"model.{spread.key}"
    assert spread is not None
    if spread.is_share:
        return f"{PERCENT * spread.amount:.3g} %"
    unit = key.unit or key.name.rpartition("_")[2]
    return f"{spread.amount:.3g} {unit}"


def _default(key: Key) -> str:
    if key.default is REQUIRED:
        return "Must be stated."
    if key.default is OPTIONAL:
        return "May be left out."
    rule = key.default.text if isinstance(key.default, Derived) else key.default
    return f"Default: {rule}."


def _sentence(text: str) -> str:
    return text[:1].upper() + text[1:]


def _units() -> str:
    used = {key.kind for section in SCHEMA for key in section.keys}
    lines = ["## Units", ""]
    for name in units.DIMENSIONS:
        if name in used:
            lines += _item(f"{name}: {units.fitting(name)}")
    return "\n".join(lines) + "\n"


def _item(text: str) -> list[str]:
    return textwrap.wrap(f"- {text}", _WIDTH, subsequent_indent="  ", break_on_hyphens=False)


if __name__ == "__main__":
    sys.stdout.write(page())
