"""A verdict on a night, and the words that every verdict shares."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from forebay.review.finding import Finding, Record
from forebay.review.standing import Light
from forebay.words.protection import ELEMENTS

LEAST_LIGHT_S = 60.0    # of a light that is worth a word
BELOW = "See below what to do."
USED_UP = ("That is all that the water could give. For longer light have it dimmed: `forebay"
           " dispatch last`; `forebay plan` says what would give more water.")


@dataclass(frozen=True)
class Night:
    """A verdict: good = True, False, or None where it cannot be said; short: in two words."""

    good: bool | None
    short: str
    finding: Finding


def what_to_do(others: Sequence[Finding], numbers: Iterable[int]) -> str:
    """Return what is to be done about elements: see below if that is told there.

    others: the findings below the verdict; where none speaks of the elements, it is their own
    word.
    """
    known = [ELEMENTS[number] for number in numbers if number in ELEMENTS]
    if any(one.do and one.folds.intersection(each.id for each in known) for one in others):
        return BELOW
    return " ".join(dict.fromkeys(one.look for one in known))


def ident(number: int) -> str:
    """Return an element's id, "" for a number that is none's."""
    return ELEMENTS[number].id if number in ELEMENTS else ""


def plain(number: int) -> str:
    """Return what an element says, without its code; "" for none."""
    return ELEMENTS[number].plain if number in ELEMENTS else ""


def till(record: Record) -> str:
    """Return until when light is wanted, as the rig's description has it."""
    if record.plant["night.until_dawn"]:
        return "till dawn"
    return "for longer"


def length_s(record: Record, light: Light) -> float:
    """Return how long a light was on within a time [s]."""
    end_s = record.end_s if light.end_s is None else light.end_s
    begin_s = light.begin_s if not light.begin_s < record.begin_s else record.begin_s
    return max(end_s - begin_s, 0.0) if np.isfinite(end_s - begin_s) else 0.0
