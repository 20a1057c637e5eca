"""The protection elements: the table *is* the documentation of protection.

An element compares one value of the scan with its pickup; held for its delay
it acts on its targets, and lets go beyond its reset.  Names ending in a unit
are settings of the rig; plain numbers are contact states.  Device numbers are
those of IEEE C37.2 with a suffix that makes each unique.

Timing: the delay is counted two steps up for a scan beyond the pickup, one
step down for a scan inside the reset, so that a chattering fault still acts.
A value that cannot be trusted leaves its elements as they are: the element of
the sensor itself (sense "?") acts, and holds off at least as much.
"""

import keeper.channels as ch
import keeper.derived as dv
from keeper.modes import (
    CLOSING, DRAINING, MAINTENANCE, PUMPING, RUNNING, STANDSTILL, TRIAL, mask)


# Actions, mildest first; where several apply, the harshest wins.
RECORD, INHIBIT, STOP, TRIP, LOCK = 1, 2, 3, 4, 5
ACTIONS = (
    (RECORD, "record", "noted in the journal and shown, nothing else"),
    (INHIBIT, "inhibit", "no new start while it acts; what runs goes on"),
    (STOP, "stop", "process stop: starts again by itself when the element lets go"),
    (TRIP, "trip", "protective stop: bounded retries, then lockout until a person resets"),
    (LOCK, "lock", "protective stop and lockout at once"),
)

# What an element holds off.
PUMP, TURBINE = 1, 2
BOTH = PUMP | TURBINE

# Where a lockout that the element caused may be reset.
ANYWHERE, AT_RIG = 0, 1

# States in which an element is armed.
IN_PUMP = mask(TRIAL, PUMPING)
LIT = mask(RUNNING)
TURNING = mask(RUNNING, CLOSING, DRAINING)
AT_REST = mask(STANDSTILL)
PUMP_OFF = mask(STANDSTILL, RUNNING, CLOSING, DRAINING, MAINTENANCE)
VALVE_SHUT = mask(STANDSTILL, TRIAL, PUMPING, MAINTENANCE)
NOT_DRAINING = mask(STANDSTILL, TRIAL, PUMPING, RUNNING, CLOSING, MAINTENANCE)
ALWAYS = mask(STANDSTILL, TRIAL, PUMPING, RUNNING, CLOSING, DRAINING, MAINTENANCE)

# Delays [ms] that no rig needs to choose; guesses but where said.
STOP_MS = 100            # a person's wish is done at once
LOOP_MS = 300            # longer than a contact bounces
SENSOR_MS = 500          # a single lost reading is no fault, and 26-MOT waits longer
WELDED_MS = 3000         # an opened switch has let the current die by then
LEVEL_MS = 10000         # the level is a mean of 13 s already
OVERSPEED_MS = 1000      # the clamp needs a moment
THERMAL_MS = 1000        # the model moves in minutes
STALL_MS = 5000          # a motor that will turn does so within seconds
OPEN_MS = 1000           # a valve's reading flickers
SHUT_FLOW_MS = 15000     # longer than the flow's window and the water hammer's ringing
COLD_MS = 60000          # frost comes slowly
LAMP_MS = 5000           # longer than the wheel takes to start
STARTS_MS = 0            # the count itself is the delay
STUCK_MS = 30000         # nobody presses a button for so long

# Limits that the definition of their value fixes.
THERMAL_TRIP, THERMAL_RESET = 1000, 700  # of the heat that the base current makes in the end
MOTOR_STILL = 1800       # s; a working motor's reading flickers within minutes; a guess

# id, value, sense, pickup, reset, delay, armed in, action, holds off, retries, reset where,
# name, what to look at first
ELEMENTS = (
    ("71HH-UP", ch.C_71HH_UP, "<", 1, 1, "over_full_delay_ms", ALWAYS, TRIP, PUMP,
     "trip_retries", AT_RIG, "Upper tank over-full: the second float lifted",
     "See why the first float did not stop the pump, then reset at the tank."),
    ("3-SW", dv.WELDED_MA, ">", "welded_mA", "welded_mA", WELDED_MS, PUMP_OFF, LOCK, BOTH,
     0, AT_RIG, "Pump switch welded: told to be off, and current flows",
     "Open the isolator at the panel, then replace the switch."),
    ("12-GEN", dv.EMF_MV, ">", "overspeed_mV", "generator_trip_mV", OVERSPEED_MS, TURNING,
     LOCK, TURBINE, 0, AT_RIG, "Generator overspeed: the clamp does not hold it",
     "Shut the hand valve; look at the clamp and at the lamps' lead."),
    ("5-STP", ch.C_STOP, "<", 1, 1, STOP_MS, ALWAYS, STOP, BOTH,
     0, ANYWHERE, "Local stop: pressed, or its wire is open",
     "Release it when nobody works on the rig; else look for a cut wire."),
    ("3-HHU", ch.LOOP_71HH, ">", 0, 0, LOOP_MS, ALWAYS, STOP, PUMP,
     0, ANYWHERE, "Over-full loop at fault: shorted or cut",
     "Look along the cable of the second float for a crushed or open place."),
    ("3-MOT", ch.MOTOR_MDEGC, "?", 0, 0, SENSOR_MS, ALWAYS, STOP, PUMP,
     0, ANYWHERE, "Motor temperature cannot be trusted",
     "Look at the sensor's plug and cable at the motor."),
    ("3-PAN", ch.PANEL_MV, "?", 0, 0, SENSOR_MS, ALWAYS, STOP, PUMP,
     0, ANYWHERE, "Panel voltage cannot be trusted",
     "Look at the panel's monitor, its sense leads and the bus cable."),
    ("3-PMP", ch.PUMP_MA, "?", 0, 0, SENSOR_MS, ALWAYS, STOP, PUMP,
     0, ANYWHERE, "Pump current cannot be trusted",
     "Look at the pump's monitor; a reading at its end means too large a shunt."),
    ("3-GEN", ch.GENERATOR_MV, "?", 0, 0, SENSOR_MS, ALWAYS, STOP, TURBINE,
     0, ANYWHERE, "Generator voltage cannot be trusted",
     "Look at the generator's monitor, its sense leads and the bus cable."),
    ("3-LMP", ch.LAMP_MA, "?", 0, 0, SENSOR_MS, ALWAYS, STOP, TURBINE,
     0, ANYWHERE, "Lamp current cannot be trusted",
     "Look at the lamps' monitor and the bus cable."),
    ("3-VLV", ch.VALVE_PERMILLE, "?", 0, 0, SENSOR_MS, ALWAYS, STOP, BOTH,
     0, ANYWHERE, "Valve position cannot be trusted",
     "Look at the position sensor's cable; see where the valve really stands."),
    ("71H-UP", ch.C_71H_UP, "<", 1, 1, "full_delay_ms", ALWAYS, STOP, PUMP,
     0, ANYWHERE, "Upper tank full: the float lifted",
     "Nothing to do; if the tank is not full, look for a cut float wire."),
    ("71H-LVL", dv.LEVEL_MEAN, ">", "level_high_mm", "level_full_mm", LEVEL_MS, ALWAYS,
     STOP, PUMP, 0, ANYWHERE, "Upper tank full by its level, and the float has not lifted",
     "Lift the float by hand: it should stop the pump. Then check the level reading."),
    ("71L-LO", ch.C_71L_LO, "<", 1, 1, "lower_empty_delay_ms", ALWAYS, STOP, PUMP,
     0, ANYWHERE, "Lower tank empty: the float hangs dry",
     "Look at the inflow of the lower tank and its float wire."),
    ("26-MOT", ch.MOTOR_MDEGC, ">", "motor_trip_mdegC", "motor_reset_mdegC",
     "motor_delay_ms", ALWAYS, TRIP, PUMP,
     "trip_retries", ANYWHERE, "Motor hot: its temperature passed the limit",
     "Feel for flow through the cooling jacket and clear the strainer."),
    ("49-MOT", dv.THERMAL, ">", THERMAL_TRIP, THERMAL_RESET,
     THERMAL_MS, ALWAYS, TRIP, PUMP,
     "trip_retries", ANYWHERE, "Motor overloaded: it drew more than it stands for long",
     "Turn the pump by hand: look for a jammed wheel or a wrong voltage."),
    ("14-PMP", dv.STALL_MV, ">", 0, 0, STALL_MS, IN_PUMP, TRIP, PUMP,
     "trip_retries", ANYWHERE, "Motor stands: current without turning",
     "Open the isolator, then look for what blocks the wheel."),
    ("37-PMP", dv.MISSING_MA, ">", 0, 0, "dry_delay_ms", IN_PUMP, TRIP, PUMP,
     "trip_retries", ANYWHERE, "Pump draws too little: it runs dry, or a lead is open",
     "Is there water at the pump? If so measure along its leads; the thermostat may be open."),
    ("80-PMP", dv.NO_FLOW_UP_MW, ">", "flow_sure_mW", "flow_sure_mW", "no_flow_delay_ms",
     mask(PUMPING), TRIP, PUMP,
     "trip_retries", ANYWHERE, "No flow up while the pump works",
     "Look for a shut cock, a blocked strainer or a meter that stands still."),
    ("48-PMP", dv.NO_FLOW_UP_MW, ">", "flow_sure_mW", "flow_sure_mW", "prime_ms",
     mask(TRIAL), TRIP, PUMP,
     "trip_retries", ANYWHERE, "No water came in time after the start",
     "Fill the pump and its suction side; look at the foot valve."),
    ("33-VLV", ch.VALVE_PERMILLE, ">", "valve_open_permille", "valve_shut_permille",
     OPEN_MS, IN_PUMP, STOP, PUMP,
     0, ANYWHERE, "Valve not shut while the pump runs",
     "See where the valve stands; shut the hand valve if it does not obey."),
    ("71L-UP", ch.C_71L_UP, "<", 1, 1, "upper_empty_delay_ms", NOT_DRAINING, STOP, TURBINE,
     0, ANYWHERE, "Upper tank empty: the low float hangs dry",
     "Nothing to do; if there is water, look for a cut float wire."),
    ("71L-LVL", dv.LEVEL_MEAN, "<", "level_low_mm", "level_empty_mm", LEVEL_MS,
     NOT_DRAINING, STOP, TURBINE,
     0, ANYWHERE, "Upper tank empty by its level, and the low float still floats",
     "Push the low float down by hand: it should stop the light. Check the level reading."),
    ("71H-LO", ch.C_71H_LO, "<", 1, 1, "lower_full_delay_ms", NOT_DRAINING, STOP, TURBINE,
     0, ANYWHERE, "Lower tank full: nowhere for the water to go",
     "Look at the overflow of the lower tank; if it is not full, at the float wire."),
    ("59-GEN", ch.GENERATOR_MV, ">", "generator_trip_mV", "generator_reset_mV",
     "generator_delay_ms", TURNING, TRIP, TURBINE,
     "trip_retries", ANYWHERE, "Generator over-voltage: the lamps draw too little",
     "Look for an open lead or a blown lamp; the clamp carries the power."),
    ("48-VLV", dv.VALVE_GAP, ">", "valve_gap_permille", "valve_gap_permille", "valve_travel_ms",
     ALWAYS, TRIP, BOTH,
     "trip_retries", ANYWHERE, "Valve did not travel as told",
     "Shut the hand valve, then look at the valve's motor, gear and fuse."),
    ("48-SHT", dv.SHUT_FLOW, ">", "shut_flow_uL_s", "shut_flow_uL_s", SHUT_FLOW_MS,
     VALVE_SHUT, LOCK, TURBINE,
     0, ANYWHERE, "Water goes down while the valve is told to be shut",
     "Shut the hand valve; look for grit in the valve's seat."),
    ("80-VLV", dv.NO_FLOW_DOWN, ">", "valve_sure_permille", "valve_sure_permille",
     "no_flow_delay_ms", LIT, TRIP, TURBINE,
     "trip_retries", ANYWHERE, "Valve open and no flow down",
     "Is the hand valve open? Look at the tank's outlet, the nozzle and the meter."),
    ("27-SUP", ch.SUPPLY_MV, "<", "supply_low_mV", "supply_good_mV", "supply_delay_ms",
     ALWAYS, STOP, BOTH,
     0, ANYWHERE, "Board supply low: everything off before it browns out",
     "Charge the buffer battery; look at its charger, fuse and leads."),
    ("23-WTR", ch.WATER_MDEGC, "<", "freeze_mdegC", "cold_mdegC", COLD_MS,
     ALWAYS, INHIBIT, BOTH,
     0, ANYWHERE, "Pipes near freezing: no new start",
     "Shut the tank's hand valve and order drain-down before the pipes freeze."),
    ("66-PMP", dv.STARTS_MILLI, ">", "starts_most_milli", "starts_again_milli", STARTS_MS,
     ALWAYS, INHIBIT, PUMP,
     0, ANYWHERE, "Too many starts of the pump in an hour",
     "Nothing to do on a day of clouds; else look for a chattering float."),
    ("23-CLD", ch.WATER_MDEGC, "<", "cold_mdegC", "cold_reset_mdegC", COLD_MS,
     ALWAYS, RECORD, BOTH,
     0, ANYWHERE, "Pipes are cold: frost may follow",
     "Think of drain-down: pump, filter and pipes must be empty before frost."),
    ("71D-UP", dv.LEAK_MM, ">", "leak_mm", "leak_mm", LEVEL_MS, AT_REST, RECORD, TURBINE,
     0, ANYWHERE, "Level falls while nothing runs: a leak",
     "Walk along tank, penstock and valve and look for water."),
    ("37-LMP", dv.DARK_LAMPS_MV, ">", "lamp_sure_mV", "lamp_sure_mV", LAMP_MS, LIT,
     RECORD, TURBINE,
     0, ANYWHERE, "Volts and no current at the lamps: a lead is open",
     "Measure along the lamps' leads from the generator, point by point."),
    ("3-VOL", dv.LEVEL_GAP, ">", "volume_gap_mm", "volume_gap_mm", LEVEL_MS,
     ALWAYS, RECORD, BOTH,
     0, ANYWHERE, "Level and metered volumes disagree: level, meter or a leak",
     "Compare both with a dipstick; a meter that stands still is the usual cause."),
    ("3-STK", dv.MOTOR_STILL_S, ">", MOTOR_STILL, MOTOR_STILL, SENSOR_MS,
     mask(PUMPING), RECORD, PUMP,
     0, ANYWHERE, "Motor temperature does not move while the pump works",
     "See that the sensor touches the motor; the thermal model goes on watching."),
    ("3-LVL", ch.LEVEL_MM, "?", 0, 0, SENSOR_MS, ALWAYS, RECORD, BOTH,
     0, ANYWHERE, "Level cannot be trusted: the floats go on watching",
     "Look at the level sensor's cable and its vent."),
    ("3-WTR", ch.WATER_MDEGC, "?", 0, 0, SENSOR_MS, ALWAYS, RECORD, BOTH,
     0, ANYWHERE, "Water temperature cannot be trusted: frost would go unseen",
     "Look at the sensor's plug and cable at the coldest pipe."),
    ("3-SUP", ch.SUPPLY_MV, "?", 0, 0, SENSOR_MS, ALWAYS, RECORD, BOTH,
     0, ANYWHERE, "Supply voltage cannot be trusted",
     "Look at the supply's monitor and the bus cable."),
    ("3-PNA", ch.PANEL_MA, "?", 0, 0, SENSOR_MS, ALWAYS, RECORD, PUMP,
     0, ANYWHERE, "Panel current cannot be trusted",
     "Look at the panel's monitor; a reading at its end means too large a shunt."),
    ("3-GNA", ch.GENERATOR_MA, "?", 0, 0, SENSOR_MS, ALWAYS, RECORD, TURBINE,
     0, ANYWHERE, "Generator current cannot be trusted",
     "Look at the generator's monitor; the voltage goes on being watched."),
    ("3-SPA", ch.SUPPLY_MA, "?", 0, 0, SENSOR_MS, ALWAYS, RECORD, BOTH,
     0, ANYWHERE, "Supply current cannot be trusted",
     "Look at the supply's monitor and the bus cable."),
    ("3-BTN", ch.BUTTON, ">", 0, 0, STUCK_MS, ALWAYS, RECORD, BOTH,
     0, ANYWHERE, "Button held for long: it may be stuck",
     "Look at the button and its wire; it is not heard until it lets go."),
)

(E_ID, E_VALUE, E_SENSE, E_PICKUP, E_RESET, E_DELAY, E_ARMED, E_ACTION, E_TARGET, E_RETRIES,
 E_WHERE, E_NAME, E_LOOK) = range(13)

# 0 in the register map and the journal means "no element".
NO_ELEMENT = 0


def number(element_id):
    """Return the number [-] of an element as the wire carries it: its row, counted from 1."""
    for index, row in enumerate(ELEMENTS):
        if row[E_ID] == element_id:
            return index + 1
    raise ValueError("no element " + element_id)
