"""The main job without hardware: a day and a night of a rig, from sun to review.

The keeper runs unmodified in the twin, writes its journal, serves it on a
local serial line; the same code as for a real board pulls, balances and
reviews it.
"""

from forebay.rehearse.options import Plan, RehearsalError, plan
from forebay.rehearse.run import Rehearsal, rehearse

__all__ = ["Plan", "Rehearsal", "RehearsalError", "plan", "rehearse"]
