"""What a person must have wished, where the record does what no rule of the settings does.

Runs in the simulation's process, on any Python from 3.9.
"""

from forebay.replay.engine.aligning import PUMPS
from keeper import modes
from keeper.operation import orders

PRESS = 0                 # no order: somebody presses the button, a times

TICKS_PER_MIN = 600
NEAR_TICKS = 1200         # a wish that begins so near to a light is for that
LAST_TICKS = 50           # before patience ends: a dusk of our own may come late


def wished(keeper, align, wishes):
    """Return the order or press (code, a, b) that explains how the present run ended, or None.

    wishes: (from, to [ticks], power [mW]) of light, as the lamps were given it.
    """
    _, last, state, cause = align.run
    light = keeper.core.sequence.light
    if cause == modes.LIGHT_DUE:
        if light.due() or align.waited < align.patience(align.run) - LAST_TICKS:
            return None
        if light.steps:
            return PRESS, 1, 0
        for begin, end, power_mW in wishes:
            if abs(begin - last) < NEAR_TICKS:
                return orders.LIGHT, power_mW, _minutes(end - last)
        return None
    if cause == modes.LIGHT_OVER and light.due():
        return PRESS, len([step for step in light.steps if step > light.wanted_mW]) + 1, 0
    if cause == modes.ORDERED_OFF and state in PUMPS:
        return orders.PUMP_ALLOWED, 0, _minutes(_until(align, (modes.TRIAL,)))
    if cause == modes.MAINTENANCE_ORDERED or cause == modes.ORDERED_OFF:
        return orders.MAINTAIN, 2, 0
    if cause == modes.DRAIN_ORDERED:
        return orders.DRAIN_DOWN, 1, orders.DAY_MIN
    if cause == modes.ORDER_OVER:
        return (orders.DRAIN_DOWN if state == modes.DRAINING else orders.MAINTAIN), 0, 0
    return None


def brightened(light, planned_mW):
    """Return how often the button was pressed, if the light that was announced [mW] tells it.

    A press takes the next step up; the night's plan only dims.
    """
    if planned_mW <= light.wanted_mW or not light.due():
        return 0
    steps = [step for step in light.steps if step > light.wanted_mW]
    below = [step for step in steps if step < planned_mW]
    return len(below) + 1 if len(below) < len(steps) else 0


def _until(align, states):
    """Return the ticks from now until the next run of some states; a day if none comes."""
    for run in align.runs[align.place + 1:]:
        if run[2] in states:
            return run[0] - align.tick - TICKS_PER_MIN
    return orders.DAY_MIN * TICKS_PER_MIN


def _minutes(ticks):
    return max(1, min(orders.DAY_MIN, int(ticks // TICKS_PER_MIN)))
