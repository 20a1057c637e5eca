"""What keeps the water, and what it drives, in bounds: hardware, then the board, then a person.

Which element guards against what is told here; its words, and whether this rig has it, come
from forebay.words.protection and forebay.rig.remaining.
"""

from collections.abc import Mapping
from typing import Any, NamedTuple

from forebay.explain.facts import air_gap_m
from forebay.explain.saying import Saying
from forebay.rig import remaining
from forebay.rig.instruments import mask
from forebay.words.protection import ACTIONS, ELEMENTS
from keeper.protection import elements


class Danger(NamedTuple):
    """Something that goes wrong: what would come of it, which elements see it, what to look at.

    hardware: acts without the board, beside what REMAINS names for the elements.
    """

    name: str
    harm: str
    elements: tuple[str, ...]
    looks: tuple[remaining.Look, ...]
    hardware: tuple[str, ...] = ()


class Guard(NamedTuple):
    """Who stands against a danger in one rig, in words, each list in the order of acting."""

    name: str
    harm: str
    hardware: list[str]
    board: list[str]
    person: list[str]


GAP = "air gap"
DANGERS = (
    Danger("The upper tank runs over", "Water falls on whatever stands below, and the ground"
           " under the tank goes soft.", ("71H-UP", "71H-LVL", "71HH-UP"),
           (remaining.STOPPED,)),
    Danger("The lower tank runs over", "What comes down is lost, and the ground by the shed gets"
           " wet.", ("71H-LO",), (remaining.LOWER,)),
    Danger("The pump runs dry", "Nothing cools the motor, and the pump wears.",
           ("71L-LO", "71L-PMP", "37-PMP", "80-PMP", "48-PMP", "26-PMP", "48-FUL"),
           (remaining.LOWER, remaining.PIPE)),
    Danger("The motor gets hot", "Its winding burns out; it may burn a hand.",
           ("26-MOT", "49-MOT", "14-PMP", "14-HOT", "26-PMP"), (remaining.STRAINER,)),
    Danger("The turbine runs away", "With no lamps on it the generator turns at full speed, and"
           " its voltage rises.", ("59-GEN", "12-GEN", "37-LMP"),
           (remaining.LAMPS, remaining.WARM)),
    Danger("Water leaks, or the valve does not shut", "The store is gone by the evening; a wet"
           " slope slides, a wet wire corrodes.",
           ("71D-UP", "71D-FLT", "48-SHT", "33-SHT", "33-LIT", "80-SHT"),
           (remaining.GROUND, remaining.NOZZLE)),
    Danger("The tank siphons back through the pump", "The pipe draws the tank empty by night.",
           ("71D-UP", "71D-FLT"),
           (remaining.Look("each season", "the rising main still ends above the water"),),
           (GAP,)),
    Danger("The pipes freeze", "Ice bursts pipes, pump, valve and meter, and in spring they"
           " leak.", ("23-WTR", "23-CLD"), (remaining.FROST,)),
)
NO_HARDWARE = "nothing: no part of the rig stands against it by itself"
NO_ELEMENT = "nothing: no element of this rig sees it"


def guards(values: Mapping[str, Any], said: Saying) -> list[Guard]:
    """Return who stands against each danger; values: of a rig by "section.key_unit"."""
    judge = remaining.fitted_elements(mask(values))
    return [Guard(one.name, one.harm, _hardware(one, values, said) or [NO_HARDWARE],
                  [_element(name) for name in one.elements if name in judge] or [NO_ELEMENT],
                  [look.text for look in one.looks]) for one in DANGERS]


def _hardware(danger, values, said):
    by = [part for name in danger.elements for part in remaining.REMAINS.get(
        name, remaining.Remains()).hardware]
    own = [f"{GAP}: the rising main ends {said(air_gap_m(values), 'length')} above the water at"
           " its overflow" if part == GAP else part for part in danger.hardware]
    return list(dict.fromkeys([*own, *by]))


def _element(name):
    number = elements.number(name)
    row = next(row for row in elements.ELEMENTS if row[elements.E_ID] == name)
    return f"{ELEMENTS[number].named}: {ACTIONS[row[elements.E_ACTION]].name}"
