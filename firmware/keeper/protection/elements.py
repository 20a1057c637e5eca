"""The protection elements: the table *is* the documentation of protection.

An element compares one value of the scan with its pickup; held for its delay
it acts on its targets, and lets go beyond its reset.  Names ending in a unit
are settings of the rig; plain numbers are contact states.  Device numbers are
those of IEEE C37.2 with a suffix that makes each unique.

Timing: the delay is counted two steps up for a scan beyond the pickup, one
step down for a scan inside the reset, so that a chattering fault still acts.
A value that cannot be trusted leaves its elements as they are: the element of
the sensor itself (sense "?") acts, and holds off what depends on it.
"""

import keeper.channels as ch
from keeper import settings
import keeper.protection.derived as dv
from keeper.modes import (
    CLOSING, DRAINING, MAINTENANCE, PUMPING, RUNNING, STANDSTILL, TRIAL, mask)


# Actions, mildest first; where several apply, the harshest wins.
ACTIONS = range(1, 6)
RECORD, INHIBIT, STOP, TRIP, LOCK = ACTIONS

# What an element holds off.
PUMP, TURBINE = 1, 2
BOTH = PUMP | TURBINE

# Where a lockout that the element caused may be reset.
ANYWHERE, AT_RIG = 0, 1

# States in which an element is armed.
IN_PUMP = mask(TRIAL, PUMPING)
LIT = mask(RUNNING)
AT_REST = mask(STANDSTILL)
PUMP_OFF = mask(STANDSTILL, RUNNING, CLOSING, DRAINING, MAINTENANCE)
VALVE_SHUT = mask(STANDSTILL, TRIAL, PUMPING, MAINTENANCE)
TOLD_SHUT = VALVE_SHUT | mask(CLOSING)
# Drain-down is there to empty pipes and tank: what stays in them bursts them in the frost.
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
SHUT_MS = 15000          # longer than a valve waits until it is pressed shut again
COLD_MS = 60000          # frost comes slowly
LAMP_MS = 5000           # longer than the wheel takes to start
STARTS_MS = 0            # the count itself is the delay
STUCK_MS = 30000         # nobody presses a button for so long
PLACE_MS = 30000         # temperatures move in minutes
HUM_MS = 30000           # longer than the wheel of a leaking valve takes to give volts
GAP_MS = 10000           # the lamps' monitor is read in turn, the valve moves slowly
OVERLOAD_MS = 60000      # a winding warms in minutes
HEATS_MS = 3000          # the warming of a minute is looked at once a second
WARMS_MS = 10000         # likewise, and what locks out is looked at for longer

# Limits that the definition of their value fixes.
THERMAL_TRIP, THERMAL_RESET = 1000, 700  # of the heat that the base current makes in the end
MOTOR_STILL_MOST_S = 1800  # a working motor's reading flickers within minutes; a guess

# id, value, sense, pickup, reset, delay, armed in, action, holds off, retries, reset where
ELEMENTS = (
    ("71HH-UP", ch.C_71HH_UP, "<", 1, 1, "over_full_delay_ms", ALWAYS, TRIP, PUMP,
     "trip_retries", AT_RIG),
    ("3-SW", dv.WELDED_MA, ">", "welded_mA", "welded_mA", WELDED_MS, PUMP_OFF, LOCK, BOTH,
     0, AT_RIG),
    ("12-GEN", dv.EMF_MV, ">", "overspeed_mV", "generator_trip_mV", OVERSPEED_MS, ALWAYS,
     LOCK, TURBINE, 0, AT_RIG),
    ("5-STP", ch.C_STOP, "<", 1, 1, STOP_MS, ALWAYS, STOP, BOTH,
     0, ANYWHERE),
    ("3-HHU", ch.LOOP_71HH, ">", 0, 0, LOOP_MS, ALWAYS, STOP, PUMP,
     0, ANYWHERE),
    ("3-MOT", ch.MOTOR_MDEGC, "?", 0, 0, SENSOR_MS, ALWAYS, STOP, PUMP,
     0, ANYWHERE),
    ("3-PAN", ch.PANEL_MV, "?", 0, 0, SENSOR_MS, ALWAYS, STOP, PUMP,
     0, ANYWHERE),
    ("3-PMP", ch.PUMP_MA, "?", 0, 0, SENSOR_MS, ALWAYS, STOP, PUMP,
     0, ANYWHERE),
    ("3-GEN", ch.GENERATOR_MV, "?", 0, 0, SENSOR_MS, ALWAYS, STOP, TURBINE,
     0, ANYWHERE),
    ("3-LMP", ch.LAMP_MA, "?", 0, 0, SENSOR_MS, ALWAYS, STOP, TURBINE,
     0, ANYWHERE),
    ("3-VLV", ch.VALVE_PERMILLE, "?", 0, 0, SENSOR_MS, ALWAYS, STOP, BOTH,
     0, ANYWHERE),
    ("71H-UP", ch.C_71H_UP, "<", 1, 1, "full_delay_ms", ALWAYS, STOP, PUMP,
     0, ANYWHERE),
    ("71H-LVL", dv.LEVEL_MEAN, ">", "level_high_mm", "level_full_mm", LEVEL_MS, ALWAYS,
     STOP, PUMP, 0, ANYWHERE),
    ("71L-LO", ch.C_71L_LO, "<", 1, 1, "lower_empty_delay_ms", ALWAYS, STOP, PUMP,
     0, ANYWHERE),
    ("26-MOT", ch.MOTOR_MDEGC, ">", "motor_trip_mdegC", "motor_reset_mdegC",
     "motor_delay_ms", ALWAYS, TRIP, PUMP,
     "trip_retries", ANYWHERE),
    ("49-MOT", dv.THERMAL, ">", THERMAL_TRIP, THERMAL_RESET,
     THERMAL_MS, ALWAYS, TRIP, PUMP,
     "trip_retries", ANYWHERE),
    ("14-PMP", dv.STALL_MV, ">", 0, 0, STALL_MS, IN_PUMP, TRIP, PUMP,
     "trip_retries", ANYWHERE),
    ("37-PMP", dv.MISSING_MA, ">", 0, 0, "dry_delay_ms", IN_PUMP, TRIP, PUMP,
     "trip_retries", ANYWHERE),
    ("80-PMP", dv.NO_FLOW_UP_MW, ">", "flow_sure_mW", "flow_sure_mW", "no_flow_delay_ms",
     mask(PUMPING), TRIP, PUMP,
     "trip_retries", ANYWHERE),
    ("48-PMP", dv.NO_FLOW_UP_MW, ">", "flow_sure_mW", "flow_sure_mW", "prime_ms",
     mask(TRIAL), TRIP, PUMP,
     "trip_retries", ANYWHERE),
    ("33-VLV", ch.VALVE_PERMILLE, ">", "valve_open_permille", "valve_shut_permille",
     OPEN_MS, IN_PUMP, STOP, PUMP,
     0, ANYWHERE),
    ("71L-UP", ch.C_71L_UP, "<", 1, 1, "upper_empty_delay_ms", NOT_DRAINING, STOP, TURBINE,
     0, ANYWHERE),
    ("71L-LVL", dv.LEVEL_MEAN, "<", "level_low_mm", "level_empty_mm", LEVEL_MS,
     NOT_DRAINING, STOP, TURBINE,
     0, ANYWHERE),
    ("71H-LO", ch.C_71H_LO, "<", 1, 1, "lower_full_delay_ms", NOT_DRAINING, STOP, TURBINE,
     0, ANYWHERE),
    ("59-GEN", ch.GENERATOR_MV, ">", "generator_trip_mV", "generator_reset_mV",
     "generator_delay_ms", ALWAYS, TRIP, TURBINE,
     "trip_retries", ANYWHERE),
    ("48-VLV", dv.VALVE_GAP, ">", "valve_gap_permille", "valve_gap_permille", "valve_travel_ms",
     ALWAYS, TRIP, BOTH,
     "trip_retries", ANYWHERE),
    ("48-SHT", dv.SHUT_LEAK, ">", "shut_flow_uL_s", "shut_flow_uL_s", SHUT_FLOW_MS,
     VALVE_SHUT, LOCK, TURBINE,
     0, ANYWHERE),
    ("80-VLV", dv.NO_FLOW_DOWN, ">", "valve_sure_permille", "valve_sure_permille",
     "no_flow_delay_ms", LIT, TRIP, TURBINE,
     "trip_retries", ANYWHERE),
    ("37-GEN", dv.NO_VOLTS, ">", "wheel_turns_permille", "wheel_turns_permille",
     "no_volts_delay_ms", LIT, TRIP, TURBINE,
     "trip_retries", ANYWHERE),
    ("27-SUP", ch.SUPPLY_MV, "<", "supply_low_mV", "supply_good_mV", "supply_delay_ms",
     ALWAYS, STOP, BOTH,
     0, ANYWHERE),
    ("23-WTR", ch.WATER_MDEGC, "<", "freeze_mdegC", "cold_mdegC", COLD_MS,
     ALWAYS, INHIBIT, BOTH,
     0, ANYWHERE),
    ("66-PMP", dv.STARTS_MILLI, ">", "starts_most_milli", "starts_again_milli", STARTS_MS,
     ALWAYS, INHIBIT, PUMP,
     0, ANYWHERE),
    ("23-CLD", ch.WATER_MDEGC, "<", "cold_mdegC", "cold_reset_mdegC", COLD_MS,
     ALWAYS, RECORD, BOTH,
     0, ANYWHERE),
    ("71D-UP", dv.LEAK_MM, ">", "leak_mm", "leak_mm", LEVEL_MS, AT_REST, RECORD, TURBINE,
     0, ANYWHERE),
    ("37-LMP", dv.DARK_LAMPS_MV, ">", "lamp_sure_mV", "lamp_sure_mV", LAMP_MS, LIT,
     RECORD, TURBINE,
     0, ANYWHERE),
    ("3-VOL", dv.LEVEL_GAP, ">", "volume_gap_mm", "volume_gap_mm", LEVEL_MS,
     ALWAYS, RECORD, BOTH,
     0, ANYWHERE),
    ("3-STK", dv.MOTOR_STILL_S, ">", MOTOR_STILL_MOST_S, MOTOR_STILL_MOST_S, SENSOR_MS,
     mask(PUMPING), RECORD, PUMP,
     0, ANYWHERE),
    ("3-LVL", ch.LEVEL_MM, "?", 0, 0, SENSOR_MS, ALWAYS, RECORD, BOTH,
     0, ANYWHERE),
    ("3-WTR", ch.WATER_MDEGC, "?", 0, 0, SENSOR_MS, ALWAYS, INHIBIT, BOTH,
     0, ANYWHERE),
    ("3-SUP", ch.SUPPLY_MV, "?", 0, 0, SENSOR_MS, ALWAYS, INHIBIT, BOTH,
     0, ANYWHERE),
    ("3-PNA", ch.PANEL_MA, "?", 0, 0, SENSOR_MS, ALWAYS, RECORD, PUMP,
     0, ANYWHERE),
    ("3-GNA", ch.GENERATOR_MA, "?", 0, 0, SENSOR_MS, ALWAYS, RECORD, TURBINE,
     0, ANYWHERE),
    ("3-SPA", ch.SUPPLY_MA, "?", 0, 0, SENSOR_MS, ALWAYS, RECORD, BOTH,
     0, ANYWHERE),
    ("3-BTN", ch.BUTTON, ">", 0, 0, STUCK_MS, ALWAYS, RECORD, BOTH,
     0, ANYWHERE),
    ("33-SHT", dv.NOT_SHUT, ">", "valve_shut_permille", "valve_shut_permille", SHUT_MS,
     TOLD_SHUT, STOP, BOTH,
     0, ANYWHERE),
    # 26-MOT is blind then, as with 3-MOT; but at rest nothing shows it: a stop would start anew.
    ("3-THM", dv.MISSING_RISE_MDEGC, ">", 0, 0, PLACE_MS, mask(PUMPING), TRIP, PUMP,
     "trip_retries", ANYWHERE),
    ("37-LED", dv.OPEN_LEAD_MV, ">", 0, 0, "dry_delay_ms", IN_PUMP, TRIP, PUMP,
     "trip_retries", ANYWHERE),
    # Before a trial start ends as too weak: a strainer that clogs goes on clogging.
    ("80-LOW", dv.LITTLE_FLOW_MW, ">", "useful_sure_mW", "useful_sure_mW", "prime_ms", IN_PUMP,
     TRIP, PUMP, "trip_retries", ANYWHERE),
    ("80-SHT", dv.SHUT_FLOW, ">", "shut_flow_uL_s", "shut_flow_uL_s", HUM_MS, VALVE_SHUT,
     RECORD, TURBINE, 0, ANYWHERE),
    ("3-AMP", dv.LAMP_GAP_MA, ">", "lamp_gap_mA", "lamp_gap_mA", GAP_MS, LIT, RECORD, TURBINE,
     0, ANYWHERE),
    ("32-GEN", dv.GENERATOR_MW, ">", "generator_most_mW", "generator_most_mW", OVERLOAD_MS, LIT,
     TRIP, TURBINE, "trip_retries", ANYWHERE),
    # From here on each stands in for what judges sooner: STAND_INS says where.
    # A weak sun, too, warms a motor that lifts nothing, and is no fault: a stop that waits.
    ("26-PMP", dv.TOO_WARM_MDEGC, ">", 0, 0, PLACE_MS, IN_PUMP, STOP, PUMP,
     0, ANYWHERE),
    ("14-HOT", dv.HEATS_MDEGC, ">", 0, 0, HEATS_MS, IN_PUMP, TRIP, PUMP,
     "trip_retries", ANYWHERE),
    ("3-HOT", dv.WARMS_MDEGC, ">", 0, 0, WARMS_MS, PUMP_OFF, LOCK, BOTH,
     0, AT_RIG),
    ("48-FUL", dv.FILLING_S, ">", "fill_most_s", "fill_most_s", SENSOR_MS, IN_PUMP, TRIP, PUMP,
     "trip_retries", ANYWHERE),
    ("48-LOK", dv.UNFILLED_MIN, ">", "fill_look_min", "fill_look_min", SENSOR_MS, ALWAYS,
     RECORD, PUMP, 0, ANYWHERE),
    ("71L-LMP", dv.SPENT, ">", "wheel_turns_permille", "wheel_turns_permille",
     "no_volts_delay_ms", LIT, STOP, TURBINE, 0, ANYWHERE),
    ("71D-FLT", dv.FELL_EARLY_S, ">", 0, 0, LEVEL_MS, VALVE_SHUT, RECORD, TURBINE,
     0, ANYWHERE),
    ("33-LIT", ch.GENERATOR_MV, ">", dv.LEAST_GENERATOR_MV, dv.LEAST_GENERATOR_MV,
     "shut_dark_ms", VALVE_SHUT, LOCK, TURBINE, 0, ANYWHERE),
    # A lower tank that nothing reads may run empty, which is no fault: 37-PMP gives way.
    ("71L-PMP", dv.MISSING_MA, ">", 0, 0, "dry_delay_ms", IN_PUMP, STOP, PUMP,
     0, ANYWHERE),
)  # type: tuple

# Of what stands in: an element, and readings with all of which it is not fitted.
STAND_INS = (
    ("26-PMP", (ch.FLOW_UP,)),
    ("14-HOT", (ch.PANEL_MV, ch.PUMP_MA)),
    ("3-HOT", (ch.PUMP_MA,)),
    ("48-FUL", (ch.FLOW_UP,)),
    ("48-LOK", (ch.FLOW_UP,)),
    ("48-LOK", (ch.PANEL_MV,)),
    ("71L-LMP", (ch.C_71L_UP,)),
    ("71L-LMP", (ch.LEVEL_MM,)),
    ("71D-FLT", (ch.LEVEL_MM,)),
    ("33-LIT", (ch.VALVE_PERMILLE,)),
    ("33-LIT", (ch.FLOW_DOWN,)),
    ("71L-PMP", (ch.C_71L_LO,)),
)

(E_ID, E_VALUE, E_SENSE, E_PICKUP, E_RESET, E_DELAY_MS, E_ARMED, E_ACTION, E_TARGET, E_RETRIES,
 E_WHERE) = range(11)

# Of the value beyond its pickup: above, below, or not to be trusted.
SENSES = (">", "<", "?")
ABOVE, BELOW, UNTRUSTED = range(len(SENSES))
# A limit from here on is no number but the place of a setting.
SETTING = 1 << 24


def _placed(limit):
    return SETTING + settings.index(limit) if isinstance(limit, str) else limit


def _judged(row):
    return (int(row[E_VALUE]), SENSES.index(row[E_SENSE]), _placed(row[E_PICKUP]),
            _placed(row[E_RESET]), _placed(row[E_DELAY_MS]), row[E_ARMED], row[E_ACTION],
            row[E_TARGET], _placed(row[E_RETRIES]), row[E_WHERE])


# The table as a board judges by it: numbers alone, row after row.  One list, as in
# `keeper.integers`: a board can let it go after the start, a tuple of constants not.
JUDGED = [number for row in ELEMENTS for number in _judged(row)]
(J_VALUE, J_SENSE, J_PICKUP, J_RESET, J_DELAY_MS, J_ARMED, J_ACTION, J_TARGET, J_RETRIES,
 J_WHERE) = range(10)
J_NUMBERS = 10
ROWS = len(ELEMENTS)


def judged(index, place):
    """Return one number of the table: of element `index + 1`, at a place of J_VALUE and so on."""
    return JUDGED[index * J_NUMBERS + place]


def column(place):
    """Return a number of each element [list]; for the start."""
    return JUDGED[place::J_NUMBERS]


def limit_of(number, values):
    """Return a number of JUDGED as it is, or the setting [values: list] that it places."""
    return values[number - SETTING] if number >= SETTING else number


def _stand_ins():
    """Return STAND_INS as numbers: place of an element, bits of readings; one list."""
    numbers = []
    for element_id, places in STAND_INS:
        bits = 0
        for place in places:
            bits |= 1 << place
        numbers += [number(element_id) - 1, bits]
    return numbers


def is_spared(index, fitted):
    """Return whether what an element stands in for is there [bool]; `fitted` as the setting."""
    for at in range(0, len(SPARED), 2):
        if SPARED[at] == index and SPARED[at + 1] & fitted == SPARED[at + 1]:
            return True
    return False


# 0 in the register map and the journal means "no element".
NO_ELEMENT = 0


def number(element_id):
    """Return the number [-] of an element as the wire carries it: its row, counted from 1."""
    for index, row in enumerate(ELEMENTS):
        if row[E_ID] == element_id:
            return index + 1
    raise ValueError("no element " + element_id)


# An element, and what stands in for another in its place.
GIVES_WAY, TAKES_ITS_PLACE = number("37-PMP") - 1, number("71L-PMP") - 1
# A list, as JUDGED: a board lets it go after the start.
SPARED = _stand_ins()
# After a restart these act while their value has not yet come back below the reset:
# what was hot, or empty, is so still.
HELD_BY_VALUE = (number("26-MOT"), number("49-MOT"), number("27-SUP"))
