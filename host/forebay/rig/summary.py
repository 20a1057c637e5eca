"""What a rig lacks and what is left to hardware or a person, as lines and as a document."""

import hashlib
import json
import textwrap
from collections.abc import Mapping
from typing import Any

from forebay.rig import remaining
from forebay.rig.instruments import BY_NAME, INSTRUMENTS, mask
from forebay.words.protection import ELEMENTS

WIDTH = 80


def document(values: Mapping[str, Any]) -> dict[str, Any]:
    """Return what a rig lacks as a JSON document, as described in docs/json.md.

    values: of a rig by "section.key_unit".
    """
    fitted = mask(values)
    return {
        "instruments_absent": remaining.absent(values),
        "elements_not_fitted": [
            {"element": element, "other_elements": list(one.by), "hardware": list(one.hardware),
             "person": one.look.text if one.look else None}
            for element, one in remaining.not_fitted(fitted).items()],
        "left_to_hardware": remaining.left_to_hardware(values),
    }


def digest(values: Mapping[str, Any]) -> str:
    """Return a text that changes when what is left to hardware does; "" if nothing is."""
    left = remaining.left_to_hardware(values)
    return hashlib.sha256(json.dumps(left, sort_keys=True).encode()).hexdigest() if left else ""


def short(values: Mapping[str, Any]) -> list[str]:
    """Return how much is not there, and the hazards left, in a few lines; [] if nothing."""
    absent = remaining.absent(values)
    if not absent:
        return []
    lacking = len(remaining.not_fitted(mask(values)))
    left = remaining.left_to_hardware(values)
    text = (f"{len(absent)} of {len(INSTRUMENTS)} instruments are absent, {lacking} elements not"
            " fitted; ")
    text += (f"left to hardware or a person: {', '.join(left)}. What remains for each is on the"
             " page of `forebay review`." if left else "no hazard is left to hardware alone.")
    return _wrapped(text, "")


def hazards(values: Mapping[str, Any]) -> list[str]:
    """Return the hazards that are left to hardware or a person, each with what remains."""
    found = []
    for row in remaining.lefts(mask(values)):
        found += _wrapped(f"{row.hazard}: {row.what}. Remains: {row.text}.", "  ")
    return found


def full(values: Mapping[str, Any]) -> list[str]:
    """Return all of it: what is absent, what is in its place, what to look at, what is left."""
    fitted = mask(values)
    absent = remaining.absent(values)
    if not absent:
        return ["Every instrument is there, every element judges."]
    lines = ["Instruments absent:"]
    lines += _wrapped("; ".join(f"{name} ({BY_NAME[name].meaning})" for name in absent), "  ")
    lines += ["Elements not fitted, and what is in the place of each:"]
    for element, one in remaining.not_fitted(fitted).items():
        instead = "; ".join([*one.by, *one.hardware]) or "a person looks, see below"
        lines += _wrapped(f"{_plain(element)}. In its place: {instead}.", "  ")
    looks = remaining.looks(fitted)
    lines += ["What a person looks at:"] if looks else []
    for look in looks:
        lines += _wrapped(f"{look.text}.", "  ")
    left = hazards(values)
    lines += ["Hazards left to hardware or to a person, and to elements that act later:"
              ] if left else []
    return lines + left


def _plain(element):
    return next(said.named for said in ELEMENTS.values() if said.id == element)


def _wrapped(text, indent):
    return textwrap.wrap(text, WIDTH, initial_indent=indent, subsequent_indent=indent + "  ",
                         break_on_hyphens=False)
