"""States of operation and the transitions between them, as one literal table.

A missing entry is an error that leads to the safe state (pump off, valve
shutting).  A mode is what a person sees; a state says how far it is.
"""

from keeper.elements import PUMP_MODE, STANDSTILL_MODE, TURBINE_MODE

MODES = ("standstill", "pump", "turbine")

# state, its mode, plain words
STATES = (
    ("standstill", STANDSTILL_MODE, "pump off, valve shut"),
    ("trial", PUMP_MODE, "pump on, water not yet seen"),
    ("pumping", PUMP_MODE, "water goes up"),
    ("running", TURBINE_MODE, "water goes down, the governor holds the light"),
    ("closing", TURBINE_MODE, "the valve is shutting"),
)
STANDSTILL, TRIAL, PUMPING, RUNNING, CLOSING = range(5)

CAUSES = (
    ("trip", "an element tripped"),
    ("stop", "an element stopped the process"),
    ("too weak", "the panel lifts too little water"),
    ("water seen", "the flow up passed the least useful flow"),
    ("sun enough", "the panel's voltage allows a trial start"),
    ("light due", "it is dark and light is wanted"),
    ("light over", "the day has come, or light is no longer wanted"),
    ("valve shut", "the valve reports shut"),
)
(TRIPPED, STOPPED, TOO_WEAK, WATER_SEEN, SUN_ENOUGH, LIGHT_DUE, LIGHT_OVER,
 VALVE_SHUT) = range(8)

TRANSITIONS = (
    (STANDSTILL, SUN_ENOUGH, TRIAL),
    (STANDSTILL, LIGHT_DUE, RUNNING),
    (TRIAL, WATER_SEEN, PUMPING),
    (TRIAL, TOO_WEAK, STANDSTILL),
    (TRIAL, STOPPED, STANDSTILL),
    (TRIAL, TRIPPED, STANDSTILL),
    (PUMPING, TOO_WEAK, STANDSTILL),
    (PUMPING, STOPPED, STANDSTILL),
    (PUMPING, TRIPPED, STANDSTILL),
    (RUNNING, LIGHT_OVER, CLOSING),
    (RUNNING, STOPPED, CLOSING),
    (RUNNING, TRIPPED, CLOSING),
    (CLOSING, VALVE_SHUT, STANDSTILL),
)

SAFE_STATE = CLOSING


def _matrix():
    """Return the transitions as rows by state, columns by cause; -1 = none."""
    rows = []
    for _ in STATES:
        rows.append([-1] * len(CAUSES))
    for source, cause, target in TRANSITIONS:
        rows[source][cause] = target
    return tuple([tuple(row) for row in rows])


NEXT = _matrix()
MODE_OF = tuple([state[1] for state in STATES])
