"""Each element disabled in turn: by which case, and by which rule, the campaign notices.

Finds for each element the cases in which it is declared to act, first or
later, and runs the quickest of them without its row.
"""

from typing import NamedTuple

from keeper.channels import ALL_FITTED
from keeper.protection.elements import E_ID, ELEMENTS
from keeper.protection.judging import judges
from tests.campaign import expected, pairs, singles

# Of the full demo's rig; what stands in is declared by `forebay.rehearse.lesser`.
IDS = tuple(str(row[E_ID]) for index, row in enumerate(ELEMENTS) if judges(index, ALL_FITTED))


class Noticed(NamedTuple):
    """How the lack of an element shows; no failures: it does not."""

    element: str
    case: str
    failures: tuple


def cases_of(element):
    """Returns the single faults that declare an element, those with it first before the rest."""
    first = [name for name in expected.NAMES if expected.first_of(name) == element]
    later = [name for name in expected.NAMES
             if element in expected.SCENES.get(name, expected.Scene()).then]
    return sorted(first, key=expected.within_s) + later


def notice(element) -> Noticed:
    """Runs the campaign's case of an element without it."""
    for name in cases_of(element):
        state = expected.state_of(name)
        if not singles.Case(name, state).needed:
            continue
        outcome = singles.run(singles.Case(name, state, disabled=(element,)))
        return Noticed(element, name, outcome.failures)
    for pair in pairs.PAIRS:
        if element == pair.first or element in pair.then:
            failures, _ = pairs.run(pair, disabled=(element,))
            return Noticed(element, " + ".join(pair.faults), failures)
    return Noticed(element, "no case declares it", ())
