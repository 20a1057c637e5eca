"""What protection must do, element by element: a statement beside the keeper's own table.

Written from the design and from `hardware/hazards.toml`; nothing here is taken
from `keeper.protection.elements`, which is held against it. The last column of a row says
why: D = the design's table of elements, H = a hazard, G = a guess of ours where
neither gives a figure.

Who may reset concerns the lockout that an element leads to. The order of the
rows is that of the numbers on the wire and in the journal.
"""

from typing import NamedTuple

# What an element does, mildest first.
RECORD, INHIBIT, STOP, TRIP, LOCK = "record", "inhibit", "stop", "trip", "lock"
ACTIONS = (RECORD, INHIBIT, STOP, TRIP, LOCK)
BARS = (INHIBIT, STOP, TRIP, LOCK)   # no new start while it acts
ENDS = (STOP, TRIP, LOCK)            # a run ends
COUNTS = (TRIP, LOCK)                # counted, and locks out in the end

# What it acts on.
PUMP, LIGHT, BOTH = ("pump",), ("light",), ("pump", "light")

# Who may end a lockout that it leads to.
AT_RIG, ANYWHERE = "at the rig", "at the rig or by order"

# In which states it is armed.
ALWAYS = ("standstill", "trial", "pumping", "running", "closing", "draining", "maintenance")
PUMP_ON = ("trial", "pumping")
PUMP_OFF = ("standstill", "running", "closing", "draining", "maintenance")
LIT = ("running",)
AT_REST = ("standstill",)
TOLD_SHUT = ("standstill", "trial", "pumping", "maintenance")
# Drain-down empties tank and pipes: the upper tank's emptiness must not end it.
NOT_EMPTYING = ("standstill", "trial", "pumping", "running", "closing", "maintenance")


class Said(NamedTuple):
    """One element, as the design wants it."""

    id: str
    value: str         # name of what it looks at
    sense: str         # beyond is: ">" above, "<" below, "?" not to be trusted
    pickup: str | int  # setting or number
    reset: str | int
    delay: str | int   # setting or ms
    armed: tuple
    does: str
    side: tuple
    who: str
    why: str


# A reading that is lost for half a second is a fault of its sensor (G).
_LOST = ("?", 0, 0, 500)

STATEMENT = tuple(Said(*row) for row in (
    ("71HH-UP", "contact_71hh_up", "<", 1, 1, "over_full_delay_ms", ALWAYS, TRIP, PUMP, AT_RIG,
     "D: over-full trips the pump; 'over-full ... only at the rig'; H1"),
    ("3-SW", "welded_mA", ">", "welded_mA", "welded_mA", 3000, PUMP_OFF, LOCK, BOTH, AT_RIG,
     "D: 'commanded off and current flows: lockout'; only at the rig; H4; 3 s: G"),
    ("12-GEN", "emf_mV", ">", "overspeed_mV", "generator_trip_mV", 1000, ALWAYS, LOCK, LIGHT,
     AT_RIG, "D: overspeed closes the valve; only at the rig; H7, H8: a wheel that runs on "
     "under a valve that says 'shut' is the same danger; 1 s for the clamp: G"),
    ("5-STP", "contact_stop", "<", 1, 1, 100, ALWAYS, STOP, BOTH, ANYWHERE,
     "design, layers: 'local stop for both modes'; H18; at once"),
    ("3-HHU", "loop_71hh", ">", 0, 0, 300, ALWAYS, STOP, PUMP, ANYWHERE,
     "D 3-*: shorted or cut, the pump depends on it; H1, H17; a contact's bounce: G"),
    ("3-MOT", "motor_mdegC", *_LOST, ALWAYS, STOP, PUMP, ANYWHERE, "D 3-*; H3"),
    ("3-PAN", "panel_mV", *_LOST, ALWAYS, STOP, PUMP, ANYWHERE, "D 3-*; 37-PMP, 14-PMP need it"),
    ("3-PMP", "pump_mA", *_LOST, ALWAYS, STOP, PUMP, ANYWHERE, "D 3-*; H2"),
    ("3-GEN", "generator_mV", *_LOST, ALWAYS, STOP, LIGHT, ANYWHERE, "D 3-*; H6"),
    ("3-LMP", "lamp_mA", *_LOST, ALWAYS, STOP, LIGHT, ANYWHERE, "D 3-*; the light's power; H6"),
    ("3-VLV", "valve_permille", *_LOST, ALWAYS, STOP, BOTH, ANYWHERE,
     "D 3-*; never pump and turbine together: H8, H10"),
    ("71H-UP", "contact_71h_up", "<", 1, 1, "full_delay_ms", ALWAYS, STOP, PUMP, ANYWHERE,
     "D: full stops the pump; H1"),
    ("71H-LVL", "level_mean_mm", ">", "level_high_mm", "level_full_mm", 10000, ALWAYS, STOP,
     PUMP, ANYWHERE, "H1: the first float stuck; a mean needs no short delay: G"),
    ("71L-LO", "contact_71l_lo", "<", 1, 1, "lower_empty_delay_ms", ALWAYS, STOP, PUMP, ANYWHERE,
     "D: lower tank empty stops the pump; H2"),
    ("26-MOT", "motor_mdegC", ">", "motor_trip_mdegC", "motor_reset_mdegC", "motor_delay_ms",
     ALWAYS, TRIP, PUMP, ANYWHERE, "D: hot trips, 'restart below reset'; H3"),
    ("49-MOT", "thermal_permille", ">", 1000, 700, 1000, ALWAYS, TRIP, PUMP, ANYWHERE,
     "D: the model's full heat; restart below reset (700: G); H3"),
    ("14-PMP", "stall_mV", ">", 0, 0, 5000, PUMP_ON, TRIP, PUMP, ANYWHERE,
     "D: 'voltage per ampere low and no flow'; H3; 5 s: G"),
    ("37-PMP", "missing_mA", ">", 0, 0, "dry_delay_ms", PUMP_ON, TRIP, PUMP, ANYWHERE,
     "D: 'current below what its voltage demands'; H2"),
    ("80-PMP", "no_flow_up_mW", ">", "flow_sure_mW", "flow_sure_mW", "no_flow_delay_ms",
     ("pumping",), TRIP, PUMP, ANYWHERE, "D: 'pump running and no flow'; H2"),
    ("48-PMP", "no_flow_up_mW", ">", "flow_sure_mW", "flow_sure_mW", "prime_ms", ("trial",),
     TRIP, PUMP, ANYWHERE, "D: 'no prime in time'; H2"),
    ("33-VLV", "valve_permille", ">", "valve_open_permille", "valve_shut_permille", 1000,
     PUMP_ON, STOP, PUMP, ANYWHERE, "design, modes: 'never together'; H10; 1 s: G"),
    ("71L-UP", "contact_71l_up", "<", 1, 1, "upper_empty_delay_ms", NOT_EMPTYING, STOP, LIGHT,
     ANYWHERE, "D: upper tank empty stops the turbine; H8"),
    ("71L-LVL", "level_mean_mm", "<", "level_low_mm", "level_empty_mm", 10000, NOT_EMPTYING,
     STOP, LIGHT, ANYWHERE, "H8: the low float stuck; 10 s: G"),
    ("71H-LO", "contact_71h_lo", "<", 1, 1, "lower_full_delay_ms", NOT_EMPTYING, STOP, LIGHT,
     ANYWHERE, "D: 'nowhere for the water to go'; a pipe that stays full in the frost is worse"
     " than what the lower tank's own overflow leads away; H19"),
    ("59-GEN", "generator_mV", ">", "generator_trip_mV", "generator_reset_mV",
     "generator_delay_ms", ALWAYS, TRIP, LIGHT, ANYWHERE,
     "D: over-voltage closes the valve; H6, H7; in every state as 12-GEN"),
    ("48-VLV", "valve_gap_permille", ">", "valve_gap_permille", "valve_gap_permille",
     "valve_travel_ms", ALWAYS, TRIP, BOTH, ANYWHERE, "D: 'valve did not travel'; H8"),
    ("48-SHT", "shut_leak_uL_s", ">", "shut_flow_uL_s", "shut_flow_uL_s", 15000, TOLD_SHUT, LOCK,
     LIGHT, ANYWHERE, "H8: water through a shut valve, a person must look; never by a meter alone,"
     " which may hum: volts, the level or the valve bear it out; 15 s: G"),
    ("80-VLV", "no_flow_down_permille", ">", "valve_sure_permille", "valve_sure_permille",
     "no_flow_delay_ms", LIT, TRIP, LIGHT, ANYWHERE, "D: 'valve open and no flow'; H7"),
    ("37-GEN", "no_volts_permille", ">", "wheel_turns_permille", "wheel_turns_permille",
     "no_volts_delay_ms", LIT, TRIP, LIGHT, ANYWHERE, "H7: water on a wheel that gives no volts"),
    ("27-SUP", "supply_mV", "<", "supply_low_mV", "supply_good_mV", "supply_delay_ms", ALWAYS,
     STOP, BOTH, ANYWHERE, "D: 'safe state before brown-out'; H16"),
    ("23-WTR", "water_mdegC", "<", "freeze_mdegC", "cold_mdegC", 60000, ALWAYS, INHIBIT, BOTH,
     ANYWHERE, "D: 'inhibit both'; H12; frost comes slowly: G"),
    ("66-PMP", "starts_milli", ">", "starts_most_milli", "starts_again_milli", 0, ALWAYS,
     INHIBIT, PUMP, ANYWHERE, "D: too many starts inhibit; H3; the count is the delay"),
    ("23-CLD", "water_mdegC", "<", "cold_mdegC", "cold_reset_mdegC", 60000, ALWAYS, RECORD, BOTH,
     ANYWHERE, "D 23-WTR: 'alarm, then inhibit'; H12"),
    ("71D-UP", "leak_mm", ">", "leak_mm", "leak_mm", 10000, AT_REST, RECORD, LIGHT, ANYWHERE,
     "D: 'level falls at standstill': alarm; H11"),
    ("37-LMP", "dark_lamps_mV", ">", "lamp_sure_mV", "lamp_sure_mV", 5000, LIT, RECORD, LIGHT,
     ANYWHERE, "H6: a lead of the lamps is open, said before 59-GEN must act; 5 s: G"),
    ("3-VOL", "level_gap_mm", ">", "volume_gap_mm", "volume_gap_mm", 10000, ALWAYS, RECORD, BOTH,
     ANYWHERE, "D 3-*: disagreeing; cannot tell level from meter: told only; H17"),
    ("3-STK", "motor_still_s", ">", 1800, 1800, 500, ("pumping",), RECORD, PUMP, ANYWHERE,
     "D 3-*: stuck; 49-MOT goes on watching; half an hour: G; H3"),
    ("3-LVL", "level_mm", *_LOST, ALWAYS, RECORD, BOTH, ANYWHERE,
     "D 3-*: nothing depends on it while the floats watch; H1"),
    ("3-WTR", "water_mdegC", *_LOST, ALWAYS, INHIBIT, BOTH, ANYWHERE,
     "D 3-*: as 23-WTR, which it blinds; H12"),
    ("3-SUP", "supply_mV", *_LOST, ALWAYS, INHIBIT, BOTH, ANYWHERE,
     "D 3-*: 'inhibit what depends on it'; a supply that was low stays so; H16"),
    ("3-PNA", "panel_mA", *_LOST, ALWAYS, RECORD, PUMP, ANYWHERE, "D 3-*: nothing depends on it"),
    ("3-GNA", "generator_mA", *_LOST, ALWAYS, RECORD, LIGHT, ANYWHERE,
     "D 3-*: the voltage goes on being watched"),
    ("3-SPA", "supply_mA", *_LOST, ALWAYS, RECORD, BOTH, ANYWHERE, "D 3-*: nothing depends on it"),
    ("3-BTN", "button", ">", 0, 0, 30000, ALWAYS, RECORD, BOTH, ANYWHERE,
     "D 3-*: stuck; the button itself is not heard; half a minute: G"),
    ("33-SHT", "not_shut_permille", ">", "valve_shut_permille", "valve_shut_permille", 15000,
     (*TOLD_SHUT, "closing"), STOP, BOTH, ANYWHERE,
     "H8, H10: pressed shut and open by its reading: nothing may start until a person looks;"
     " longer than the wait before the next press: G"),
    ("3-THM", "missing_rise_mdegC", ">", 0, 0, 30000, ("pumping",), TRIP, PUMP, ANYWHERE,
     "D 3-*: disagreeing, and 26-MOT, on which the motor depends, is blind; H3; a stop would let"
     " it start again at once, for at rest nothing shows it; 30 s: G"),
    ("37-LED", "open_lead_mV", ">", 0, 0, "dry_delay_ms", PUMP_ON, TRIP, PUMP, ANYWHERE,
     "D 37-PMP: 'dry running or open lead', told apart: what is repaired is not the same; H2"),
    ("80-LOW", "little_flow_mW", ">", "useful_sure_mW", "useful_sure_mW", "prime_ms", PUMP_ON,
     TRIP, PUMP, ANYWHERE, "D: 'weak sun is not a fault', a clogging strainer is one; H2; it must"
     " come before a trial ends as too weak, and a run likewise"),
    ("80-SHT", "shut_flow_uL_s", ">", "shut_flow_uL_s", "shut_flow_uL_s", 30000, TOLD_SHUT,
     RECORD, LIGHT, ANYWHERE, "H8, H17: noise or a leak; a meter alone bars nothing; 30 s: G"),
    ("3-AMP", "lamp_gap_mA", ">", "lamp_gap_mA", "lamp_gap_mA", 10000, LIT, RECORD, LIGHT,
     ANYWHERE, "D 3-*: disagreeing; either may be wrong: told only; H6; 10 s: G"),
    ("32-GEN", "generator_mW", ">", "generator_most_mW", "generator_most_mW", 60000, LIT, TRIP,
     LIGHT, ANYWHERE, "H6: beyond its rating the winding burns in the end; a minute: G"),
    # What stands in, see INSTEAD.
    ("26-PMP", "too_warm_mdegC", ">", 0, 0, 30000, PUMP_ON, STOP, PUMP, ANYWHERE,
     "H2, H3: warmer than its water makes it, it lifts nothing; D: 'weak sun is not a fault',"
     " and warms it likewise: no trip; 30 s: G"),
    ("14-HOT", "heats_mdegC", ">", 0, 0, 3000, PUMP_ON, TRIP, PUMP, ANYWHERE,
     "D 14-PMP: a rotor that stands; H3; no healthy loss warms it so quickly; 3 s: G"),
    ("3-HOT", "warms_mdegC", ">", 0, 0, 10000, PUMP_OFF, LOCK, BOTH, AT_RIG,
     "D 3-SW: 'pump commanded off and current flows ... lockout', here by its heat; H4; 10 s: G"),
    ("48-FUL", "filling_s", ">", "fill_most_s", "fill_most_s", 500, PUMP_ON, TRIP, PUMP,
     ANYWHERE, "D 80-PMP: 'pump running and no flow', here by what does not arrive; H2"),
    ("48-LOK", "unfilled_min", ">", "fill_look_min", "fill_look_min", 500, ALWAYS, RECORD, PUMP,
     ANYWHERE, "H2: who sees no sun cannot tell a dull week from a dry pump: a person looks"),
    ("71L-LMP", "spent_permille", ">", "wheel_turns_permille", "wheel_turns_permille",
     "no_volts_delay_ms", LIT, STOP, LIGHT, ANYWHERE,
     "D 71L-UP: an empty tank stops the turbine, and is no fault; here the lamps tell; H8"),
    ("71D-FLT", "fell_early_s", ">", 0, 0, 10000, TOLD_SHUT, RECORD, LIGHT, ANYWHERE,
     "D 71D-UP: 'level falls at standstill': alarm; here by the float; H11"),
    ("33-LIT", "generator_mV", ">", 1000, 1000, "shut_dark_ms", TOLD_SHUT, LOCK, LIGHT,
     ANYWHERE, "H8: water through a shut valve, a person must look; a volt is what a wheel that"
     " turns gives: G"),
    ("71L-PMP", "missing_mA", ">", 0, 0, "dry_delay_ms", PUMP_ON, STOP, PUMP, ANYWHERE,
     "D 71L-LO: an empty lower tank stops the pump, and is no fault; here the current tells; H2"),
))

# Of what stands in: readings with all of which, in any of the rows, it is not there.
INSTEAD = {
    "26-PMP": (("flow_up_uL_s",),),
    "14-HOT": (("panel_mV", "pump_mA"),),
    "3-HOT": (("pump_mA",),),
    "48-FUL": (("flow_up_uL_s",),),
    "48-LOK": (("panel_mV",), ("flow_up_uL_s",)),
    "71L-LMP": (("contact_71l_up",), ("level_mm",)),
    "71D-FLT": (("level_mm",),),
    "33-LIT": (("valve_permille",), ("flow_down_uL_s",)),
    "71L-PMP": (("contact_71l_lo",),),
}
# What a value cannot be told without; one that is read needs itself.
NEEDS = {
    "welded_mA": ("pump_mA",), "missing_mA": ("panel_mV", "pump_mA"),
    "stall_mV": ("panel_mV", "pump_mA"), "open_lead_mV": ("panel_mV", "pump_mA"),
    "no_flow_up_mW": ("panel_mV", "pump_mA", "flow_up_uL_s"),
    "little_flow_mW": ("panel_mV", "pump_mA", "flow_up_uL_s"),
    "thermal_permille": ("pump_mA",), "starts_milli": (),
    "no_flow_down_permille": ("flow_down_uL_s",), "shut_flow_uL_s": ("flow_down_uL_s",),
    "shut_leak_uL_s": ("flow_down_uL_s",), "valve_gap_permille": ("valve_permille",),
    "not_shut_permille": ("valve_permille",), "no_volts_permille": ("generator_mV",),
    "emf_mV": ("generator_mV",), "dark_lamps_mV": ("generator_mV", "lamp_mA"),
    "generator_mW": ("generator_mV", "generator_mA"),
    "lamp_gap_mA": ("generator_mV", "generator_mA", "lamp_mA"),
    "level_mean_mm": ("level_mm",), "leak_mm": ("level_mm",),
    "level_gap_mm": ("level_mm", "flow_up_uL_s", "flow_down_uL_s"),
    "motor_still_s": ("motor_mdegC",), "missing_rise_mdegC": ("motor_mdegC", "water_mdegC"),
    "too_warm_mdegC": ("motor_mdegC",), "heats_mdegC": ("motor_mdegC",),
    "warms_mdegC": ("motor_mdegC",), "filling_s": ("panel_mV",), "unfilled_min": (),
    "spent_permille": ("generator_mV",), "fell_early_s": ("contact_71h_up",),
}


def is_there(row, readings):
    """Whether a rig that has these readings [names] has an element [a row of STATEMENT]."""
    if not set(NEEDS.get(row.value, (row.value,))) <= set(readings):
        return False
    # A dry pump is a fault where a float says that there is water, and else may be none.
    if row.id == "37-PMP" and "contact_71l_lo" not in readings:
        return False
    return not any(set(group) <= set(readings) for group in INSTEAD.get(row.id, ()))


IDS = tuple(row.id for row in STATEMENT)
BY_ID = {row.id: row for row in STATEMENT}
# A loop that may be open from the start, a motor that may be hot still: what these
# saw before a restart is so until their value comes back below the reset (D: 'state
# kept over a reset, hot if unknown'; H16 for the supply).
STAYS_OVER_A_RESTART = ("26-MOT", "49-MOT", "27-SUP")
