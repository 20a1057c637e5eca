"""The level's reading against a rule dipped into the tank: where it begins and how it rises."""

import math

from forebay.calibrate import fitting, reading
from forebay.calibrate.outcomes import Drawn, Figure, Outcome, apart_said, stretched_said
from forebay.calibrate.sitting import Sitting
from forebay.rig.schema import KEYS

COUNTS = (5, 3, 4, 6, 8, 10)
MEAN_S = 20.0
MM = 1e3
# A whole millimetre is the board's step of both its figures (GUM F.2.2.1).
ROUNDED_M = 1e-3 / math.sqrt(12)
LOOKS = 21   # places over the height at which the line's uncertainty is looked at


def fit(read_m, dipped_m, u_read_m, u_dip_m, rule_m, about_m) -> fitting.Fit:
    """Return the fit of dipped = figure 0 + figure 1 (read - about_m) [m].

    u_read_m, u_dip_m: standard uncertainties of each pair's own [m]; rule_m: of the rule's
    zero, which all share [m].
    """
    return fitting.straight(read_m, dipped_m, u_dip_m, u_read_m,
                            [[rule_m] * len(list(dipped_m))], about_m)


def run(sitting: Sitting) -> Outcome:
    """Have the tank dipped at some levels; return the sensor's zero and span."""
    rig, outcome = sitting.rig, Outcome("level")
    dip_m = sitting.needed("dip_reading", "How exactly can the water be read on the rule"
                           " (standard uncertainty)", "length", "mm", 1e-4, 0.05)
    rule_m = sitting.needed("rule_zero", "How exactly does the rule begin at the tank's floor"
                            " (standard uncertainty)", "length", "mm", 0.0, 0.05)
    count = sitting.count("dips", "At how many levels, spread from low to high; the water may be"
                          " moved on another day in between", COUNTS)
    read, dipped, u_read, names = [], [], [], []
    for number in range(1, count + 1):
        found = _dip(sitting, number)
        if found is not None:
            read.append(found[0])
            u_read.append(found[1])
            dipped.append(found[2])
            names.append(f"dip {number}")
    about_m = sum(read) / len(read) if read else 0.0
    line = fit(read, dipped, u_read, dip_m, rule_m, about_m)
    outcome.notes += apart_said(line, names) + stretched_said(line, "the level")
    _figures(rig, outcome, line, about_m)
    _doubt(rig, outcome, line, about_m)
    ends = [min(read), max(read)]
    outcome.drawn.append(Drawn(
        "LI-UP: level by the rule", "level by the board, mm", "level by the rule, mm",
        [MM * one for one in read], [MM * one for one in dipped],
        [MM * math.hypot(dip_m, one) * line.stretch for one in u_read], names, line.apart(),
        [MM * one for one in ends],
        [MM * float(line.values @ [1.0, one - about_m]) for one in ends]))
    return outcome


def _dip(sitting, number):
    """Return (board's level, its u, dipped level) [m]; None where it is skipped."""
    name = f"dip_{number}"
    dipped_m = sitting.number(name, f"Dip {number}: let the water come to rest; how high does it"
                              " stand on the rule, from the floor", "length", "mm", 0.0, 20.0)
    if dipped_m is None:
        return None
    found = sitting.read(f"{name}_board", lambda: list(
        reading.means(sitting.line, ("level_mm",), MEAN_S)["level_mm"]))
    step_m = sitting.rig.sensors.level_resolution_m / math.sqrt(12)
    return found[0], math.hypot(found[1], step_m), dipped_m


def _figures(rig, outcome, line, about_m):
    """State the board's zero and span anew: they move with what it reads now."""
    zero_m, span_m = rig.board.level_zero_mm / MM, rig.board.level_span_mm / MM
    stated_m = rig.sensors.level_uncertainty_m
    at_zero = [1.0, zero_m - about_m]
    outcome.figures.append(Figure(
        "board.level_zero_mm", MM * float(line.values @ at_zero),
        MM * math.hypot(line.along(at_zero), ROUNDED_M), zero_m * MM, MM * stated_m))
    height_m = rig.upper.height_m
    outcome.figures.append(Figure(
        "board.level_span_mm", MM * span_m * float(line.values[1]),
        MM * math.hypot(span_m * line.u(1), ROUNDED_M), span_m * MM,
        MM * stated_m * math.sqrt(2) * span_m / height_m))


def _doubt(rig, outcome, line, about_m):
    """State how far a level may be off, anywhere in the tank, once the line is in use.

    Beside the line's own uncertainty stands what the points scatter about it beyond their
    stated errors: a bend that a line cannot follow.
    """
    height_m = rig.upper.height_m
    places = [height_m * one / (LOOKS - 1) for one in range(LOOKS)]
    most_m = max(line.along([1.0, one - about_m]) for one in places)
    mean_spread2 = sum(one**2 for one in line.spreads) / len(line.spreads)
    mean_off2 = sum(one**2 for one in line.residuals) / len(line.residuals)
    bend_m = math.sqrt(max(0.0, mean_off2 - mean_spread2))
    low, high = KEYS["sensors.level_uncertainty"].bounds
    found = math.hypot(math.hypot(most_m, bend_m), math.sqrt(2) * ROUNDED_M)
    outcome.doubts["sensors.level_uncertainty"] = (min(max(low, found), high),
                                                   rig.sensors.level_uncertainty_m)
