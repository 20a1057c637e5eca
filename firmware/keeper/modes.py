"""States of operation and the transitions between them, as one literal table.

A missing entry is an error that leads to the safe state (pump off, valve
shutting).  A mode is what a person sees; a state says how far it is.
"""

MODES = range(5)
STANDSTILL_MODE, PUMP_MODE, TURBINE_MODE, DRAIN_MODE, MAINTENANCE_MODE = MODES

# state, its mode
STATES = (
    ("standstill", STANDSTILL_MODE),
    ("trial", PUMP_MODE),
    ("pumping", PUMP_MODE),
    ("running", TURBINE_MODE),
    ("closing", TURBINE_MODE),
    ("draining", DRAIN_MODE),
    ("maintenance", MAINTENANCE_MODE),
)
(STANDSTILL, TRIAL, PUMPING, RUNNING, CLOSING, DRAINING, MAINTENANCE) = range(len(STATES))

CAUSES = range(13)
(TRIPPED, STOPPED, TOO_WEAK, WATER_SEEN, SUN_ENOUGH, LIGHT_DUE, LIGHT_OVER, VALVE_SHUT,
 ORDERED_OFF, DRAIN_ORDERED, MAINTENANCE_ORDERED, ORDER_OVER, TRIAL_OVER) = CAUSES

TRANSITIONS = (
    (STANDSTILL, SUN_ENOUGH, TRIAL),
    (STANDSTILL, LIGHT_DUE, RUNNING),
    (STANDSTILL, DRAIN_ORDERED, DRAINING),
    (STANDSTILL, MAINTENANCE_ORDERED, MAINTENANCE),
    (TRIAL, WATER_SEEN, PUMPING),
    (TRIAL, TRIAL_OVER, PUMPING),
    (TRIAL, TOO_WEAK, STANDSTILL),
    (TRIAL, STOPPED, STANDSTILL),
    (TRIAL, TRIPPED, STANDSTILL),
    (TRIAL, ORDERED_OFF, STANDSTILL),
    (PUMPING, TOO_WEAK, STANDSTILL),
    (PUMPING, STOPPED, STANDSTILL),
    (PUMPING, TRIPPED, STANDSTILL),
    (PUMPING, ORDERED_OFF, STANDSTILL),
    (RUNNING, LIGHT_OVER, CLOSING),
    (RUNNING, STOPPED, CLOSING),
    (RUNNING, TRIPPED, CLOSING),
    (RUNNING, ORDERED_OFF, CLOSING),
    (CLOSING, VALVE_SHUT, STANDSTILL),
    (CLOSING, MAINTENANCE_ORDERED, MAINTENANCE),
    (DRAINING, STOPPED, CLOSING),
    (DRAINING, TRIPPED, CLOSING),
    (DRAINING, ORDER_OVER, CLOSING),
    (MAINTENANCE, ORDER_OVER, CLOSING),
)

SAFE_STATE = CLOSING


def mask(*states):
    """Return states as bits, 1 << state."""
    bits = 0
    for state in states:
        bits |= 1 << state
    return bits


def _matrix():
    """Return the transitions as rows by state, columns by cause; -1 = none."""
    rows = []
    for _ in STATES:
        rows.append([-1] * len(CAUSES))
    for source, cause, target in TRANSITIONS:
        rows[source][cause] = target
    return tuple([tuple(row) for row in rows])


NEXT = _matrix()
