"""What a plan was asked, and its answer: a whole plan, a wish, two rigs, or a sweep."""

from typing import NamedTuple

from forebay import rig as rigs
from forebay.plan import beside, sizing, skies
from forebay.plan.planning import Plan, plan, sized
from forebay.rig import Rig


class Asked(NamedTuple):
    """What was asked for, as texts that a person wrote; None = not asked."""

    wished: str | None = None
    source: str | None = None            # a file of sun
    station: str | None = None
    clearness: float = skies.CLEARNESS
    other: str | None = None             # path of a rig to compare with
    sweep: str | None = None


def answer(rig: Rig, asked: Asked) -> Plan:
    """Return the answer.  Raises InputError for what a user can mend."""
    if asked.wished:
        return sized(rig, sizing.wish(asked.wished), asked.source, asked.clearness, asked.station)
    if asked.sweep:
        part, told = beside.swept(rig, asked.sweep, asked.source, asked.clearness, asked.station)
        return Plan(rig, [part], told)
    if asked.other:
        part, told = beside.compared(rig, rigs.load(asked.other), asked.source, asked.clearness,
                                     asked.station)
        return Plan(rig, [part], told)
    return plan(rig, asked.source, asked.clearness, asked.station)
