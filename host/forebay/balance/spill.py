"""What went over the rim or the overflow: by the level, else by floats that showed they work.

A float that never moved says nothing of itself: it may be stuck, or its wire shorted, and
the pump go on behind a tank that is full.
"""

from forebay.balance.figures import Figures
from forebay.balance.instruments import COVERAGE, L_PER_M3
from forebay.balance.measured import Measured
from forebay.balance.parts import no_part
from forebay.balance.sums import FULL_FLOATS, Sums
from forebay.balance.ways import BOUNDS, IDLE, MEASURED, MODEL, UNKNOWN, Told

SPILL = "spill"
SPILL_LABEL = "over the rim or the overflow"
SAID = {"over_full_float": "the over-full float", "full_float": "the float of a full tank"}
AT_RIM = ("what was pumped up with the water at the overflow, or so near it that it may have"
          " been")
UNPROVED = ("no float of a full tank moved while the pump ran, so none showed that it works: no"
            " more than the pump can lift, less what the tank had room for")
UNPROVED_NOTE = ("No float of a full tank moved while the pump ran: none showed that it works, so"
                 " what came up and what spilled have wide bounds. Lift one by hand to see.")


def spilling(sums: Sums, figures: Figures, flow_frac: float) -> tuple[Told, Measured | None]:
    """Return (how it is known, what went over the rim [L], None = unknown or within bounds).

    flow_frac: standard uncertainty of the meter in the rising main [-].
    """
    fitted = figures.fitted
    at_rim_L = sums.at_rim_m3 * L_PER_M3 * (1 + COVERAGE * flow_frac)
    if not sums.rows:
        return Told(UNKNOWN, no_part(("level",))), None
    if "level" in fitted:
        return _by_level(sums, at_rim_L if "flow_up" in fitted else None)
    there = {name: SAID[name] for name in FULL_FLOATS if name in fitted}
    if not there:
        return Told(UNKNOWN, no_part(("level",))), None
    idle = figures.part.maybe_idle_pump()
    if idle is not None:
        return Told(MODEL, IDLE), idle
    up_L = None
    if figures.told["up"].kind == MEASURED:
        up_L = figures["up"].value + COVERAGE * figures["up"].u
    return _by_floats(there, figures.modelled, up_L, at_rim_L if sums.at_rim else None)


def _by_level(sums, most_L):
    """most_L: what was metered with the water at the overflow [L], None = no meter."""
    if not sums.at_rim:
        return Told(MEASURED, "the level: the water never came to the overflow"), Measured(0.0)
    if most_L is None:
        return Told(UNKNOWN, "the level: the water may have come to the overflow, and there is"
                    f" {no_part(('flow_up',))}"), None
    return Told(BOUNDS, f"the level: {AT_RIM}", 0.0, most_L), None


def _by_floats(there, model, up_L, at_rim_L):
    """up_L, at_rim_L: metered in all, and with the nearest float lifted [L], None = not."""
    moving = model.moving
    spoke = [name for name in there if name in moving.spoke]
    if not spoke:
        most_L = model.most_spill_L()
        return Told(BOUNDS, UNPROVED, 0.0, most_L if up_L is None else min(most_L, up_L)), None
    name = spoke[0]
    if model.most_up_L(moving.longest_s[name]) < model.float_room_L(name):
        return Told(MODEL, f"{there[name]}: it moved, and the pump went off before the water"
                    " could come to the overflow"), Measured(0.0)
    most_L = model.most_up_L(moving.lifted_s[name])
    if at_rim_L is not None and name == next(iter(there)):
        most_L = min(most_L, at_rim_L)
    return Told(BOUNDS, f"{there[name]}: {AT_RIM}", 0.0, most_L), None
