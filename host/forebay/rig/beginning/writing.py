"""A description as a person reads it: each figure with its meaning, the assumed with a recipe."""

import json
import textwrap
from collections.abc import Collection, Iterable, Mapping
from typing import Any

from forebay.rig.assumed import SECTION
from forebay.rig.beginning.questions import shown
from forebay.rig.keys import Key
from forebay.rig.recipes import ROWS
from forebay.rig.schema import SCHEMA, SECTIONS

WIDTH = 88
# Units that people read and write, where the plain one is unhandy.
UNITS = {"volume": "L", "flow": "L/min", "pressure": "bar", "rotational speed": "rpm",
         "relative change": "%/K", "torque": "mN m", "moment of inertia": "g cm2",
         "voltage by speed": "mV s/rad"}
SMALL_M, SMALL_W, S_PER_H = 0.1, 1.0, 3600
STATED_DIGITS, DIGITS, SCALED_DIGITS = 9, 6, 4  # as stated but for float noise; carried; scaled
HEAD = """{name}: written by forebay new from what you stated; every other figure is scaled from
the packaged rig {demo}, and is nobody's. An assumed figure has the way to find it
beside it, and stands in the list at the end: when you have measured it, put it right,
and take its name out of that list. What is left out here takes the default of
host/docs/rig.md, which lists all keys, units and ranges.

Hobby-grade, not a safety-rated system. Whatever is high up, moves, is live or under
pressure is made safe before anyone measures at it; electrical work and water above
people's heads are for local codes and licensed practice."""
MARKS = ("Figures that nobody has measured: they are typical ones, and may be far from yours."
         " Take a name out of its list once you have measured the figure.")


def text(name: str, demo: str, figures: Mapping[str, Any], marks: Collection[str]) -> str:
    """Return a whole description as TOML.

    figures: by "section.key" [plain unit]; marks: those of them that are assumed.
    """
    parts = [comment(HEAD.format(name=" ".join(name.split()), demo=demo)),
             f"[rig]\nname = {quoted(name)}\n"]
    for section in SCHEMA:
        lines = []
        for key in section.keys:
            place = f"{section.name}.{key.name}"
            if place in figures:
                lines += _lines(place, key, figures[place], place in marks)
        if lines:
            said = section.meaning.partition(". ")[0].rstrip(".")
            parts.append(comment(f"{said}.") + "\n".join([f"[{section.name}]", *lines]) + "\n")
    return "\n".join([*parts, marked(marks)])


def _lines(place: str, key: Key, value: Any, is_assumed: bool) -> list[str]:
    said = f"{key.meaning}."
    if is_assumed:
        said += f" Assumed. {ROWS[place].recipe}"
    digits = SCALED_DIGITS if is_assumed else STATED_DIGITS
    return [*comment(said).splitlines(), f"{key.name} = {written(key, value, digits)}"]


def written(key: Key, value: Any, digits: int = DIGITS) -> str:
    """Return the value of a key [plain unit] as TOML, in a unit that people use."""
    if isinstance(value, list):
        return f"[{', '.join(written(key, one, digits) for one in value)}]"
    if isinstance(value, str):
        return quoted(value)
    if isinstance(value, int) or not key.is_quantity or not key.unit:
        return f"{value:.10g}"
    unit = UNITS.get(key.kind, key.unit)
    if key.kind == "length" and 0 < abs(value) < SMALL_M:
        unit = "mm"
    if key.kind == "power" and abs(value) < SMALL_W:
        unit = "mW"
    if key.kind == "time" and value >= S_PER_H and value % S_PER_H == 0:
        unit = "h"
    return quoted(shown(value, key.kind, unit, digits))


def marked(marks: Iterable[str]) -> str:
    """Return the section that lists what is assumed, with what it means."""
    lists: dict[str, list[str]] = {}
    for place in sorted(marks, key=_order):
        section, _, name = place.partition(".")
        lists.setdefault(section, []).append(quoted(name))
    lines = [f"{section} = {_listed(names)}" for section, names in lists.items()]
    return f"{comment(MARKS)}[{SECTION}]\n" + "\n".join(lines) + "\n"


def _listed(names: list[str]) -> str:
    if len(names) == 1:
        return f"[{names[0]}]"
    inner = textwrap.wrap(f"{', '.join(names)},", WIDTH, initial_indent="    ",
                          subsequent_indent="    ")
    return "[\n" + "\n".join(inner) + "\n]"


def _order(place: str) -> tuple[int, int]:
    section, _, name = place.partition(".")
    keys = [key.name for key in SECTIONS[section].keys]
    return list(SECTIONS).index(section), keys.index(name)


def quoted(value: str) -> str:
    """Return a text as TOML."""
    return json.dumps(value, ensure_ascii=False)


def comment(said: str) -> str:
    """Return a text as lines of comment."""
    lines = []
    for line in said.splitlines():
        lines += textwrap.wrap(line, WIDTH - 2, break_on_hyphens=False,
                               break_long_words=False) or [""]
    return "".join(f"# {line}".rstrip() + "\n" for line in lines)
