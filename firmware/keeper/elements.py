"""The protection elements: the table *is* the documentation of protection.

An element compares one value of the scan with its pickup; held for its delay
it acts on its targets, and lets go beyond its reset.  Names ending in a unit
are settings of the rig; plain numbers are contact states.  Device numbers are
those of IEEE C37.2 with a suffix that makes each unique.

Timing: the delay is counted two steps up for a scan beyond the pickup, one
step down for a scan inside the reset, so that a chattering fault still acts.
A value that cannot be trusted counts as beyond the pickup.
"""

import keeper.channels as ch

# Actions, mildest first; where several apply, the harshest wins.
RECORD, STOP, TRIP = 1, 2, 3
ACTIONS = (
    (RECORD, "record", "noted in the journal, nothing else"),
    (STOP, "stop", "process stop: starts again by itself when the element lets go"),
    (TRIP, "trip", "protective stop: bounded retries, then lockout until a person resets"),
)

# What an element holds off.
PUMP, TURBINE = 1, 2

# Modes of operation in which an element is armed, as a mask of 1 << mode.
STANDSTILL_MODE, PUMP_MODE, TURBINE_MODE = 0, 1, 2
ALWAYS = 0b111

# id, value, sense, pickup, reset, delay, armed in, action, holds off, name, first look
ELEMENTS = (
    ("71HH-UP", ch.C_71HH_UP, "<", 1, 1, "over_full_delay_ms", ALWAYS, TRIP, PUMP,
     "Upper tank over-full: the second float lifted",
     "See why the first float did not stop the pump, then reset at the tank."),
    ("71H-UP", ch.C_71H_UP, "<", 1, 1, "full_delay_ms", ALWAYS, STOP, PUMP,
     "Upper tank full: the float lifted",
     "Nothing to do; if the tank is not full, look for a cut float wire."),
    ("71L-LO", ch.C_71L_LO, "<", 1, 1, "lower_empty_delay_ms", ALWAYS, STOP, PUMP,
     "Lower tank empty: the float hangs dry",
     "Look at the inflow of the lower tank and its float wire."),
    ("26-MOT", ch.MOTOR_MDEGC, ">", "motor_trip_mdegC", "motor_reset_mdegC",
     "motor_delay_ms", ALWAYS, TRIP, PUMP,
     "Motor hot: its temperature passed the limit",
     "Feel for flow through the cooling jacket and clear the strainer."),
    ("71L-UP", ch.C_71L_UP, "<", 1, 1, "upper_empty_delay_ms", ALWAYS, STOP, TURBINE,
     "Upper tank empty: the low float hangs dry",
     "Nothing to do; if there is water, look for a cut float wire."),
    ("59-GEN", ch.GENERATOR_MV, ">", "generator_trip_mV", "generator_reset_mV",
     "generator_delay_ms", 1 << TURBINE_MODE, TRIP, TURBINE,
     "Generator over-voltage: the lamps draw too little",
     "Look for an open lead or a blown lamp; the clamp carries the power."),
)

(E_ID, E_VALUE, E_SENSE, E_PICKUP, E_RESET, E_DELAY, E_ARMED, E_ACTION, E_TARGET,
 E_NAME, E_LOOK) = range(11)

# 0 in the register map and the journal means "no element".
NO_ELEMENT = 0


def number(element_id):
    """Return the number [-] of an element as the wire carries it: its row, counted from 1."""
    for index, row in enumerate(ELEMENTS):
        if row[E_ID] == element_id:
            return index + 1
    raise ValueError("no element " + element_id)
