"""The valve's position sensor and travel, by full strokes that the board drives.

The order that empties the pipes opens the valve wide; its end shuts it.  A hand valve shut
before it keeps the water in the tank.
"""

import math

from forebay.calibrate import fitting, reading
from forebay.calibrate.outcomes import Drawn, Figure, Outcome, apart_said
from forebay.calibrate.sitting import CalibrateError, Sitting
from forebay.rig.instruments import FITTED
from forebay.rig.schema import KEYS
from keeper import modes
from keeper.boards import wiring
from keeper.operation import orders

COUNTS = (3, 2, 4, 5)
MEAN_S = 5.0
MOST_STROKE_S = 240.0
DRAIN_MIN = 30
PERMILLE = 1e3
# Of the stroke, between which its pace is taken: the ends creep.
FROM, TO = 0.2, 0.8
SEEN_PERMILLE = 20           # a position has left an end by so much; some noise (a guess)
# Of one reading of the position: the board's step (GUM F.2.2.1).
STEP = 1e-3 / math.sqrt(12)
RESTS = 10                   # looks without a move, after which it stands at its end
LOOK_S = 0.1
FOLLOWS = 0.02   # a position that lies so close to what was ordered follows it; a guess
WATCH_FRAC = 0.03            # of a travel that was timed by a watch, as the recipe doubts it
LOOK_U_S = 0.1 / math.sqrt(12)   # the board's clock goes in scans


def fit_pace(at_s, position, u_position) -> fitting.Fit:
    """Return the fit of position = figure 0 + figure 1 (time - its mean): pace in 1/s."""
    about_s = sum(at_s) / len(at_s)
    return fitting.straight(at_s, position, u_position, LOOK_U_S, about=about_s)


def fit_end(positions, u_position) -> fitting.Fit:
    """Return the fit of an end's position of several strokes."""
    return fitting.constant(positions, u_position)


def run(sitting: Sitting) -> Outcome:
    """Drive full strokes; return the position's two ends and the time of travel."""
    rig, outcome = sitting.rig, Outcome("valve")
    if not sitting.do("hand_valve", "Shut the hand valve before the turbine, so that no water"
                                    " runs, and see that nobody's hands are at the valve"):
        raise CalibrateError("the strokes want the hand valve shut, or let the tank run empty")
    count = sitting.count("strokes", "How many strokes", COUNTS)
    shut, opened, paces = [], [], []
    for number in range(1, count + 1):
        stroke = sitting.read(f"stroke_{number}", lambda: _stroke(sitting))
        shut.append(stroke["shut"])
        opened.append(stroke["open"])
        paces.append(stroke["path"])
    sitting.do("hand_valve_open", "Open the hand valve again")
    _ends(rig, outcome, shut, opened)
    _travel(rig, outcome, paces)
    return outcome


def _stroke(sitting):
    """Open the valve wide and shut it again; return its readings at both ends and between."""
    line = sitting.line
    reading.until(line, ("state",), lambda seen: seen["state"] == modes.STANDSTILL,
                  MOST_STROKE_S, "the rig is busy: order `forebay dispatch rest` and come again")
    shut = reading.means(line, ("valve_permille",), MEAN_S)["valve_permille"]
    reading.ordered(line, orders.DRAIN_DOWN, 1, DRAIN_MIN)
    try:
        path = _path(line, shut.value * PERMILLE)
        opened = reading.means(line, ("valve_permille",), MEAN_S)["valve_permille"]
    finally:
        reading.ordered(line, orders.DRAIN_DOWN, 0, 0)
    return {"shut": list(shut), "open": list(opened), "path": path}


def _path(line, shut_permille):
    """Return [time s, position, position ordered] while the valve opens, until it rests."""
    path, rests, waited_s = [], 0, 0.0
    while rests < RESTS and waited_s < MOST_STROKE_S:
        seen = line.values("uptime_ds", "valve_permille", "out_valve_permille")
        now = [seen["uptime_ds"] / 10, seen["valve_permille"] / PERMILLE,
               seen["out_valve_permille"] / PERMILLE]
        moved = path and abs(now[1] - path[-1][1]) * PERMILLE > SEEN_PERMILLE / 2
        left = abs(now[1] * PERMILLE - shut_permille) > SEEN_PERMILLE
        rests = 0 if moved or not left else rests + 1
        path.append(now)
        line.rest(LOOK_S)
        waited_s += LOOK_S
    if rests < RESTS:
        raise CalibrateError("the valve does not move, or its position is not read: look at its"
                             " leads and motor")
    return path


def _ends(rig, outcome, shut, opened):
    """State the two ends: where they read now tells the volts that stand for them."""
    fits = {name: fit_end([one[0] for one in found],
                          [math.hypot(one[1], STEP) for one in found])
            for name, found in (("shut", shut), ("open", opened))}
    shut_mV, open_mV = rig.board.valve_shut_mV, rig.board.valve_open_mV
    span_mV, stated = open_mV - shut_mV, rig.sensors.valve_frac
    for name, found in fits.items():
        at, u = float(found.values[0]), found.u(0)
        outcome.told.append((f"ZI-VLV {name}", f"read {PERMILLE * at:.1f} permille"
                             f" (u {PERMILLE * u:.1g})"))
        if rig.sensors.valve_position == FITTED:
            outcome.figures.append(Figure(
                f"board.valve_{name}_mV", shut_mV + span_mV * at,
                math.hypot(abs(span_mV) * u, 1 / math.sqrt(12)),
                shut_mV if name == "shut" else open_mV, abs(span_mV) * stated))
        outcome.notes += apart_said(found, [f"stroke {one + 1}, {name}"
                                            for one in range(len(shut))])
    low, high = KEYS["sensors.valve_frac"].bounds
    most = max(math.hypot(one.u(0), STEP) for one in fits.values())
    outcome.doubts["sensors.valve_frac"] = (min(max(low, most), high), stated)
    outcome.notes.append("What the position reads at the shut end the board takes off by itself:"
                         " little is left there to be put right.")
    outcome.notes.append("Between its ends the position is taken as straight: compare it with"
                         " marks on the shaft if the valve's lever is not.")


def _travel(rig, outcome, paths):
    """State the time from shut to open, where the motor and no ramp of the board set it."""
    times, us, drawn = [], [], []
    for path in paths:
        span = path[-1][1] - path[0][1]
        some = [(at, there, wish) for at, there, wish in path
                if FROM < (there - path[0][1]) / span < TO] if span else []
        if len(some) < 3:
            continue
        at_s, there, wish = zip(*some, strict=True)
        found = fit_pace(at_s, there, STEP)
        pace = float(found.values[1])
        if rig.board.valve_kind == wiring.SERVO and max(
                abs(a - b) for a, b in zip(there, wish, strict=True)) < FOLLOWS:
            outcome.notes.append("The servo follows the board's ramp: its own travel is no"
                                 " longer than that, and valve.travel stands.")
            return
        times.append(abs(span / pace))
        us.append(abs(span / pace) * found.u(1) / abs(pace))
        drawn.append((at_s, there))
    if not times:
        outcome.notes.append("The stroke was over too soon for its pace to be read: time it with"
                             " a watch for valve.travel.")
        return
    mean = fitting.constant(times, us)
    stood = rig.valve.travel_s
    outcome.figures.append(Figure("valve.travel", float(mean.values[0]), mean.u(0), stood,
                                  WATCH_FRAC * stood))
    outcome.drawn.append(Drawn(
        "Time of travel by stroke", "stroke", "s", [float(one + 1) for one in range(len(times))],
        times, us, [f"stroke {one + 1}" for one in range(len(times))], mean.apart(),
        [1.0, float(len(times))], [float(mean.values[0])] * 2))
