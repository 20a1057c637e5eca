"""What a plan was asked, and its answer: a whole plan, a wish, two rigs, or a sweep."""

import math
from typing import NamedTuple

from forebay import rig as rigs
from forebay.errors import InputError
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
    _check(asked)
    if asked.wished is not None:
        return sized(rig, sizing.wish(asked.wished), asked.source, asked.clearness, asked.station)
    if asked.sweep is not None:
        part, told = beside.swept(rig, asked.sweep, asked.source, asked.clearness, asked.station)
        return Plan(rig, [part], told)
    if asked.other is not None:
        part, told = beside.compared(rig, rigs.load(asked.other), asked.source, asked.clearness,
                                     asked.station)
        return Plan(rig, [part], told)
    return plan(rig, asked.source, asked.clearness, asked.station)


def _check(asked):
    """Raise InputError where what is asked does not go together."""
    questions = [name for name, text in (("--for", asked.wished), ("--compare", asked.other),
                                         ("--sweep", asked.sweep)) if text is not None]
    if len(questions) > 1:
        raise InputError(f"{' and '.join(questions)}: a plan answers one of them at a time;"
                         " ask once for each")
    if asked.station is not None and asked.source is None:
        raise InputError("--station: says where the sun of a file was measured; give the file"
                         " with --sun, or leave it out")
    if not math.isfinite(asked.clearness):
        raise InputError(f"--clearness {asked.clearness}: must be a number, such as"
                         f" {skies.CLEARNESS}")
