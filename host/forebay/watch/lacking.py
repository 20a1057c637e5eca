"""What a board's rig lacks, by its register `fitted`: neither bad nor zero, so it has no value."""

from collections.abc import Mapping
from typing import Any

from forebay.rig import remaining
from forebay.shelf.fitted import totals_measured
from forebay.words.measured import CHANNELS, CONTACTS
from keeper.channels import CONTACTS as CONTACT_NAMES
from keeper.protection import derived

# What `fitted` has a bit for, by name, in the order of its bits, and the instruments' tags.
PLACES = {name: place for place, name in enumerate([*CHANNELS, *CONTACT_NAMES])}
TAGS = [said.tag for said in (*CHANNELS.values(), *CONTACTS.values())]
FIRST = "first_"  # registers of the readings at the first-out


def is_there(live: Mapping[str, int], name: str) -> bool:
    """Return whether a board has what reads a channel or a contact, by its name."""
    return bool(live["fitted"] >> PLACES[name] & 1)


def tags(live: Mapping[str, int]) -> list[str]:
    """Return the tags of what is absent."""
    return [tag for place, tag in enumerate(TAGS) if not live["fitted"] >> place & 1]


def lines(live: Mapping[str, int], whole: bool) -> list[str]:
    """Return what is absent, which elements are not fitted for it, and the hazards left.

    whole: with the tags and the ids, else only how many they are.
    """
    fitted = live["fitted"]
    absent = tags(live)
    if not absent:
        return []
    elements = list(remaining.not_fitted(fitted))
    left = list(dict.fromkeys(row.hazard for row in remaining.lefts(fitted)))
    if not whole:
        return [f"absent: {len(absent)} readings; not fitted: {len(elements)} elements; left to"
                f" hardware or a person: {len(left)} hazards"]
    return [f"absent: {' '.join(absent)}",
            f"elements not fitted: {' '.join(elements) or 'none'}",
            f"left to hardware or a person: {', '.join(left) or 'nothing'}"]


def known(live: Mapping[str, int]) -> dict[str, Any]:
    """Return registers with None in place of what no instrument reads."""
    found: dict[str, Any] = dict(live)
    if not found:
        return found
    fitted = live["fitted"]
    for name, place in PLACES.items():
        if not fitted >> place & 1:
            found.update({one: None for one in (name, FIRST + name) if one in found})
    found.update({name: None for name, there in totals_measured(fitted).items() if not there})
    for (name, _, _), needs in zip(derived.DERIVED, derived.NEEDS, strict=True):
        if needs & fitted != needs:
            found[name] = None
    return found
