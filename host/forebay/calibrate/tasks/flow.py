"""The flow meters against buckets of water: litres by hand over litres by the board.

A bucket is held into the running stream, so that start and end of the flow, where a meter
reads low, are in none.
"""

import math
from typing import NamedTuple

from forebay.calibrate import fitting, reading
from forebay.calibrate.outcomes import (
    Drawn,
    Figure,
    Outcome,
    apart_said,
    stretched_said,
)
from forebay.calibrate.sitting import Sitting
from forebay.rig.instruments import FITTED, pulses_L
from forebay.rig.schema import KEYS
from keeper import modes
from keeper.operation import orders

COUNTS = (3, 4, 5, 6, 8)
# How exactly a person says the moment at which the stream goes in or out; a guess.
HAND_S = 0.2
FULL_WIDTH = 1 / math.sqrt(12)   # of a pulse that may have just come (GUM F.2.2.1)
L_PER_M3 = 1e3
WAIT_S = 300.0
LIGHT_MIN = 60
MILLI = 1e3
BOTH = "sensors.pulses_per_litre"   # what stands for a meter without a figure of its own
SIDES = {
    "up": ("FI-UP", "the meter in the rising main", "the end of the rising main",
           (modes.TRIAL, modes.PUMPING), "the pump runs"),
    "down": ("FI-DN", "the meter in the penstock", "the outlet under the turbine",
             (modes.RUNNING,), "the light is on"),
}
CAUTIONS = {
    "up": "The end of the rising main is high up: no ladder alone, no full bucket on a ladder."
          " Lead the hose down to the ground if it can be.",
    "down": "Keep hands and sleeves off the turbine, and the bucket off leads and lamps.",
}


class Bucket(NamedTuple):
    """A bucket: its name, litres by hand and by the board, the flow meanwhile [L/s]."""

    name: str
    litres: float
    by_board: float
    flow_L_s: float


def fit(buckets: list[Bucket], mark_L: float, mark_frac: float, pulses: float) -> fitting.Fit:
    """Return the fit of litres by hand = figure 0 x litres by the board.

    mark_L: standard uncertainty of reading each bucket [L]; mark_frac: that of the bucket or
    scale itself, which all share [-]; pulses: of a litre [1/L].
    """
    by_board = [one.by_board for one in buckets]
    litres = [one.litres for one in buckets]
    u_x = [math.hypot(one.flow_L_s * HAND_S * math.sqrt(2), FULL_WIDTH * math.sqrt(2) / pulses)
           for one in buckets]
    return fitting.proportional(by_board, litres, mark_L, u_x,
                                [[mark_frac * one for one in litres]])


def run(sitting: Sitting) -> Outcome:
    """Have buckets filled at each meter, and return the pulses of a litre of each."""
    rig, outcome = sitting.rig, Outcome("flow")
    fitted = [side for side in SIDES if getattr(rig.sensors, f"flow_{side}") == FITTED]
    mark_frac = sitting.needed(
        "bucket_frac", "How sure is the bucket's mark, or the scale, as a part of it (standard"
        " uncertainty; a household bucket 1 %, a good scale 0.2 %)", "ratio", "%", 1e-4, 0.1)
    mark_L = L_PER_M3 * sitting.needed(
        "bucket_reading", "How exactly can one filling be read (standard uncertainty)", "volume",
        "L", 1e-6, 1e-2)
    fracs = []
    for side in fitted:
        own = f"sensors.pulses_{side}"
        is_alone = fitted == [side] and getattr(rig.sensors, f"pulses_{side}") is None
        found = _side(sitting, outcome, side, mark_L, mark_frac, BOTH if is_alone else own)
        if found is not None:
            fracs.append(found)
    if len(fracs) == len(fitted) == 2:
        outcome.facts[BOTH] = sum(one.value for one in outcome.figures) / 2
    if len(fracs) == len(fitted) and fracs:
        low, high = KEYS["sensors.flow_frac"].bounds
        outcome.doubts["sensors.flow_frac"] = (min(max(low, *fracs), high), rig.sensors.flow_frac)
    elif fracs:
        outcome.notes.append("sensors.flow_frac stands: it speaks for both meters, and one was"
                             " not measured.")
    return outcome


def _side(sitting, outcome, side, mark_L, mark_frac, place) -> float | None:
    """Find one meter's figure; return its relative standard uncertainty, None if skipped."""
    tag, name, where, _, _ = SIDES[side]
    sitting.tell(f"{tag}, {name}. {CAUTIONS[side]}")
    if not sitting.do(f"{side}_ready", f"Stand at {where} with the bucket"):
        return None
    count = sitting.count(f"{side}_buckets", f"How many buckets at {where}", COUNTS)
    pulses = pulses_L(sitting.rig.plant(), side)
    buckets = [one for one in (_bucket(sitting, side, number) for number in range(1, count + 1))
               if one is not None]
    if side == "down" and sitting.is_kept("down_light"):
        sitting.read("down_release", lambda: reading.ordered(sitting.line, orders.RELEASE))
    if not buckets:
        return None
    found = fit(buckets, mark_L, mark_frac, pulses)
    factor, u_frac = float(found.values[0]), found.u(0) / float(found.values[0])
    new = pulses / factor
    rig = sitting.rig
    outcome.figures.append(Figure(place, new, new * u_frac, pulses,
                                  pulses * rig.sensors.flow_frac))
    names = [one.name for one in buckets]
    outcome.notes += apart_said(found, names) + stretched_said(found, tag)
    most_L = max(one.by_board for one in buckets)
    outcome.drawn.append(Drawn(
        f"{tag}: litres by hand", "litres by the board's present figure", "litres by hand",
        [one.by_board for one in buckets], [one.litres for one in buckets],
        [mark_L * found.stretch] * len(buckets), names, found.apart(), [0.0, most_L],
        [0.0, factor * most_L]))
    return u_frac


def _bucket(sitting, side, number) -> Bucket | None:
    """Have one bucket filled; None where it is skipped."""
    key, where = f"{side}_{number}", SIDES[side][2]
    if not sitting.is_kept(f"{key}_end") and not sitting.is_skipped(f"{key}_in"):
        # A bucket that was left half full is begun anew.
        sitting.forget(f"{key}_begin", f"{key}_in", f"{key}_out", f"{key}_runs")
        sitting.read(f"{key}_runs", lambda: _running(sitting, side))
    if not sitting.do(f"{key}_in", f"Bucket {number}: empty it, hold it into the stream at"
                                   f" {where}, and at that moment"):
        return None
    begin = sitting.read(f"{key}_begin", lambda: _total(sitting, side))
    if not sitting.do(f"{key}_out", f"Bucket {number}: take it out of the stream, and at that"
                                    " moment"):
        return None
    end = sitting.read(f"{key}_end", lambda: _total(sitting, side))
    volume_m3 = sitting.number(f"{key}_volume", f"Bucket {number}: how much is in it (by the"
                               " mark, or kilograms as litres)", "volume", "L", 1e-4, 1.0)
    if volume_m3 is None:
        return None
    litres = end["litres"] - begin["litres"]
    seconds = end["seconds"] - begin["seconds"]
    return Bucket(f"{SIDES[side][0]} bucket {number}", volume_m3 * L_PER_M3, litres,
                  litres / seconds if seconds > 0 else 0.0)


def _total(sitting, side):
    """Return what the board has counted, and when."""
    found = sitting.line.values(f"{side}_uL", "uptime_ds")
    return {"litres": found[f"{side}_uL"] * 1e-6, "seconds": found["uptime_ds"] * 0.1}


def _light(line, power_W):
    """Order light, and no pump meanwhile; the release at the end lets both go."""
    reading.ordered(line, orders.PUMP_ALLOWED, 0, LIGHT_MIN)
    reading.ordered(line, orders.LIGHT, round(power_W * MILLI), LIGHT_MIN)


def _running(sitting, side):
    """See that water runs, well above the meter's floor; order light where it needs some."""
    line, rig = sitting.line, sitting.rig
    states, running = SIDES[side][3:]
    if side == "down" and line.values("state")["state"] not in states:
        sitting.read("down_light", lambda: _light(line, max(rig.lamps.steps_W)))
    floor_uL_s = rig.sensors.flow_floor_m3_s * 1e9
    name = f"flow_{side}_uL_s"
    found = reading.until(
        line, ("state", name),
        lambda seen: seen["state"] in states and seen[name] > floor_uL_s, WAIT_S,
        f"no water runs past {SIDES[side][0]} above the meter's floor: come when {running}")
    return found[name]
