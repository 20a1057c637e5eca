"""Whether the currents of a node add up, and which shunt is reversed or wrong if they do not.

By Kirchhoff's rule: what the panel gives goes into the pump and, by the charger, into the
battery and the board; what the generator gives goes into the lamps.  Pure functions.
"""

from typing import NamedTuple

from forebay.prove.found import Result, reversed_shunt, wrong_shunt

# What sums up is told from what does not: 3 u of two monitors of 1 % each, and 10 mA of
# charger, lags and rounding; a guess.
SHARE, FLOOR_MA = 0.05, 10.0
LEAST_MA = 10.0          # a current that has a direction at all; ten of its steps
LAMP_SHARE = 0.25        # of a lamp's current by its volts: makers' figures are no better; a guess


class Currents(NamedTuple):
    """Means of a steady while [mA]; None: not read, or not to be trusted."""

    panel: float | None
    pump: float | None
    supply: float | None


def judge_panel(rest: Currents, run: Currents, board_mA: float) -> Result | None:
    """Return which of three shunts is wrong, None if the currents add up or cannot be told.

    rest: pump off in the sun; run: pump on; board_mA: what the board takes of its battery [mA].
    Each is tried as the only wrong one: by which factor, and whether both whiles then add up.
    """
    if run.panel is None or run.pump is None:
        return None
    charge_run = _charge(run, rest, board_mA)
    charge_rest = _charge(rest, rest, board_mA)
    if _adds_up(run.panel, run.pump + charge_run) and (
            rest.panel is None or rest.supply is None or _adds_up(rest.panel, charge_rest)):
        return None
    tried = []
    whole = run.pump + charge_run
    for monitor, factor in (("panel", _ratio(run.panel, whole)),
                            ("pump", _ratio(run.pump, run.panel - charge_run)),
                            ("supply", _supply_factor(rest, board_mA))):
        if factor:
            tried.append((_left_over(monitor, factor, rest, run, board_mA), monitor, factor))
    if not tried:
        return None
    _, monitor, factor = min(tried)
    return reversed_shunt(monitor) if factor < 0 else wrong_shunt(monitor, factor)


def judge_battery(supply_mA: float | None, board_mA: float) -> Result | None:
    """Return whether the battery's shunt is wrong, by night, when it carries the board alone."""
    if supply_mA is None or board_mA < LEAST_MA:
        return None
    ratio = -supply_mA / board_mA
    if ratio < 0 and abs(supply_mA) >= LEAST_MA / 2:
        return reversed_shunt("supply")
    return None


def judge_lamps(generator_mA: float | None, lamp_mA: float | None,
                expected_mA: float) -> Result | None:
    """Return which shunt of generator and lamps is wrong, None if both read the same.

    expected_mA: what lamps of this rig take at the volts that are read [mA].
    """
    for monitor, read in (("generator", generator_mA), ("lamp", lamp_mA)):
        if read is not None and read <= -LEAST_MA:
            return reversed_shunt(monitor)
    if generator_mA is None or lamp_mA is None or _adds_up(generator_mA, lamp_mA):
        return None
    off = {name: abs(read - expected_mA) for name, read in (("generator", generator_mA),
                                                            ("lamp", lamp_mA))}
    worse, better = sorted(off, key=lambda name: -off[name])
    read, right = ((generator_mA, lamp_mA) if worse == "generator" else (lamp_mA, generator_mA))
    if off[better] > LAMP_SHARE * expected_mA + FLOOR_MA:
        return None  # neither fits the lamps: which is wrong cannot be told so
    return wrong_shunt(worse, read / right)


def _adds_up(one, other):
    return abs(one - other) <= SHARE * max(abs(one), abs(other)) + FLOOR_MA


def _ratio(read, true):
    return read / true if abs(true) >= LEAST_MA else 0.0


def _charge(now, rest, board_mA):
    """Return what the charger takes of the panel: into battery and board."""
    if now.supply is not None:
        return now.supply + board_mA
    return rest.panel or 0.0


def _supply_factor(rest, board_mA):
    if rest.panel is None or rest.supply is None:
        return 0.0
    return _ratio(rest.supply, rest.panel - board_mA)


def _left_over(monitor, factor, rest, run, board_mA):
    """Return what does not add up in both whiles once a monitor is put right [mA]."""
    left = 0.0
    for now in (rest, run):
        panel, pump, supply = now
        if monitor == "panel" and panel is not None:
            panel = panel / factor
        elif monitor == "pump" and pump is not None:
            pump = pump / factor
        elif monitor == "supply" and supply is not None:
            supply = supply / factor
        if panel is not None and pump is not None:
            charge = _charge(Currents(panel, pump, supply), rest, board_mA)
            left += abs(panel - (pump if now is run else 0.0) - charge)
    return left
