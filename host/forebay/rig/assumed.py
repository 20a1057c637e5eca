"""The section [assumed] of a description: which of its figures nobody has measured.

It lists, for each section, names of keys: `pump = ["rated_head"]`.  It is no part of the
values: neither the board nor the digest knows of it.  A name goes out of its list when the
figure has been measured.
"""

import difflib
import tomllib
from collections.abc import Callable, Iterator, Mapping
from typing import Any

from forebay.rig import recipes
from forebay.rig.reading import shown, shown_name
from forebay.rig.schema import KEYS, SECTIONS

SECTION = "assumed"


def marked(text: str) -> frozenset[str]:
    """Return the "section.key" of each known figure that is marked; the rest is passed by."""
    content = tomllib.loads(text).get(SECTION, {})
    lists = content.items() if isinstance(content, Mapping) else ()
    return frozenset(f"{section}.{name}" for section, names in lists if isinstance(names, list)
                     for name in names if recipes.is_figure(f"{section}.{name}"))


def unstated(text: str, values: Mapping[str, Any]) -> frozenset[str]:
    """Return the "section.key" of each figure that is a guess because the file leaves it out.

    text: a sound description; values: its, by "section.key_unit".
    """
    source = tomllib.loads(text)
    return frozenset(place for place in recipes.figures(values)
                     if recipes.guessed(place) and not _is_stated(source, place))


def faults(source: Mapping[str, Any], is_told: Callable[[str], bool]) -> Iterator[str]:
    """Yield one line for each fault of the section.

    source: of the whole file; is_told: whether a key is at fault already, and so not told
    again as one that the file does not state.
    """
    content = source.get(SECTION, {})
    if not isinstance(content, Mapping):
        yield f"{SECTION} = {shown(content)}: must be a section, written [{SECTION}]"
        return
    for section, names in content.items():
        if section not in SECTIONS:
            near = difflib.get_close_matches(section[:60], list(SECTIONS), 1)
            yield (f"{SECTION}.{shown_name(section)}: unknown section; "
                   + (f"did you mean {SECTION}.{near[0]}?" if near else "remove it"))
        elif not isinstance(names, list) or not all(isinstance(one, str) for one in names):
            yield (f"{SECTION}.{section} = {shown(names)}: must be a list of names of keys of"
                   f" [{section}], each in quotes; [] = all measured")
        else:
            yield from _listed(source, section, names, is_told)


def _listed(source, section, names, is_told) -> Iterator[str]:
    """Yield the faults of one section's list."""
    for index, name in enumerate(names):
        where = f"{SECTION}.{section}[{index + 1}] = {shown(name)}"
        place = f"{section}.{name}"
        if place not in KEYS:
            known = [key.name for key in SECTIONS[section].keys]
            near = difflib.get_close_matches(name[:60], known, 1)
            yield (f"{where}: [{section}] has no such key; "
                   + (f'did you mean "{near[0]}"?' if near else "take it out of the list"))
        elif not recipes.is_figure(place):
            yield (f"{where}: {place} is a choice of yours, and nothing to measure; take it out"
                   " of the list")
        elif name in names[:index]:
            yield f"{where}: is there twice; take one out of the list"
        elif not (_is_stated(source, place) or is_told(place) or is_told(section)):
            yield (f"{where}: the file does not state {place}; take it out of the list, or state"
                   " the figure")


def _is_stated(source, place) -> bool:
    section, _, name = place.partition(".")
    content = source.get(section)
    return isinstance(content, Mapping) and name in content
