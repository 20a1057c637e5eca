"""Words for people about the keeper's tables, by the first column of each row.

Read by the laptop, which shows and documents what the board does; the board
itself leaves them alone: see `keeper.worded`.
"""

from keeper.texts_of_rig import SETTINGS, WIRING  # noqa: F401 - all words from one place

# what a channel measures
CHANNELS = {
    "panel_mV": ("panel voltage",),
    "panel_mA": ("panel current",),
    "pump_mA": ("pump current",),
    "generator_mV": ("generator voltage, rectified",),
    "generator_mA": ("generator current",),
    "lamp_mA": ("lamp current",),
    "supply_mV": ("board supply voltage",),
    "supply_mA": ("board supply current, + charging",),
    "flow_up_uL_s": ("flow in the rising main",),
    "flow_down_uL_s": ("flow in the penstock",),
    "level_mm": ("water level in the upper tank",),
    "motor_mdegC": ("motor temperature",),
    "water_mdegC": ("water temperature",),
    "valve_permille": ("valve position, open",),
}

# what a contact says
CONTACTS = {
    "contact_71h_up": ("upper tank full float, opens when it lifts",),
    "contact_71hh_up": ("upper tank over-full float, opens when it lifts",),
    "contact_71l_up": ("upper tank low float, opens when it hangs dry",),
    "contact_71l_lo": ("lower tank low float, opens when it hangs dry",),
    "button": ("push button, closed while pressed",),
    "contact_71h_lo": ("lower tank full float, opens when it lifts",),
    "contact_stop": ("local stop, read back by its own contact; opens when pressed",),
}

# what an output drives
OUTPUTS = {
    "pump_switch": ("pump switch",),
    "valve_permille": ("valve position wanted",),
    "lamps_off": ("lamps taken off the generator; at rest they are on it",),
    "dump_switch": ("dump load across the generator",),
}

# what is summed
TOTALS = {
    "panel_mJ": ("panel energy",),
    "pump_mJ": ("energy into the pump",),
    "supply_in_mJ": ("energy into the buffer battery",),
    "supply_out_mJ": ("energy out of the buffer battery",),
    "generator_mJ": ("generator energy, rectified",),
    "lamp_mJ": ("energy into the lamps",),
    "up_uL": ("volume pumped up",),
    "down_uL": ("volume let down",),
    "pump_ms": ("time with the pump switched on",),
    "light_ms": ("time with the lamps lit",),
}

# what a derived value tells
DERIVED = {
    "welded_mA": ("pump current while its switch is told to be off",),
    "missing_mA": ("current that the pump draws less than a loaded one would",),
    "stall_mV": ("voltage that the motor lacks against a turning one, without flow",),
    "no_flow_up_mW": ("power into the pump while no water is seen to go up",),
    "no_flow_down_permille": ("opening of the valve while no water goes down",),
    "dark_lamps_mV": ("generator voltage while the lamps draw nothing",),
    "emf_mV": ("inner voltage of the generator, a measure of its speed",),
    "valve_gap_permille": ("valve position against where it was told to stand",),
    "shut_flow_uL_s": ("flow down while the valve is told to be shut",),
    "level_mean_mm": ("level, mean of about 13 s",),
    "level_gap_mm": ("change of level against the metered volumes",),
    "leak_mm": ("fall of the level at standstill",),
    "starts_milli": ("starts of the pump, running out over an hour",),
    "thermal_permille": ("heat in the motor by the thermal model",),
    "motor_still_s": ("pumping since the motor's reading last moved",),
    "no_volts_permille": ("opening of the valve while water goes down and no volts come",),
}

# name of an action, what it means
ACTIONS = {
    1: ("record", "noted in the journal and shown, nothing else"),
    2: ("inhibit", "no new start while it acts; what runs goes on"),
    3: ("stop", "process stop: starts again by itself when the element lets go"),
    4: ("trip", "protective stop: bounded retries, then lockout until a person resets"),
    5: ("lock", "protective stop and lockout at once"),
}

# plain name of an element, what to look at first
ELEMENTS = {
    "71HH-UP": (
        "Upper tank over-full: the second float lifted",
        "See why the first float did not stop the pump, then reset at the tank."),
    "3-SW": (
        "Pump switch welded: told to be off, and current flows",
        "Open the isolator at the panel, then replace the switch."),
    "12-GEN": (
        "Generator overspeed: the clamp does not hold it",
        "Shut the hand valve; look at the clamp and at the lamps' lead."),
    "5-STP": (
        "Local stop: pressed, or its wire is open",
        "Release it when nobody works on the rig; else look for a cut wire."),
    "3-HHU": (
        "Over-full loop at fault: shorted or cut",
        "Look along the cable of the second float for a crushed or open place."),
    "3-MOT": (
        "Motor temperature cannot be trusted",
        "Look at the sensor's plug and cable at the motor."),
    "3-PAN": (
        "Panel voltage cannot be trusted",
        "Look at the panel's monitor, its sense leads and the bus cable."),
    "3-PMP": (
        "Pump current cannot be trusted",
        "Look at the pump's monitor; a reading at its end means too large a shunt."),
    "3-GEN": (
        "Generator voltage cannot be trusted",
        "Look at the generator's monitor, its sense leads and the bus cable."),
    "3-LMP": ("Lamp current cannot be trusted", "Look at the lamps' monitor and the bus cable."),
    "3-VLV": (
        "Valve position cannot be trusted",
        "Look at the position sensor's cable; see where the valve really stands."),
    "71H-UP": (
        "Upper tank full: the float lifted",
        "Nothing to do; if the tank is not full, look for a cut float wire."),
    "71H-LVL": (
        "Upper tank full by its level, and the float has not lifted",
        "Lift the float by hand: it should stop the pump. Then check the level reading."),
    "71L-LO": (
        "Lower tank empty: the float hangs dry",
        "Look at the inflow of the lower tank and its float wire."),
    "26-MOT": (
        "Motor hot: its temperature passed the limit",
        "Feel for flow through the cooling jacket and clear the strainer."),
    "49-MOT": (
        "Motor overloaded: it drew more than it stands for long",
        "Turn the pump by hand: look for a jammed wheel or a wrong voltage."),
    "14-PMP": (
        "Motor stands: current without turning",
        "Open the isolator, then look for what blocks the wheel."),
    "37-PMP": (
        "Pump draws too little: it runs dry, or a lead is open",
        "Is there water at the pump? If so measure along its leads; the thermostat may be open."),
    "80-PMP": (
        "No flow up while the pump works",
        "Look for a shut cock, a blocked strainer or a meter that stands still."),
    "48-PMP": (
        "No water came in time after the start",
        "Fill the pump and its suction side; look at the foot valve."),
    "33-VLV": (
        "Valve not shut while the pump runs",
        "See where the valve stands; shut the hand valve if it does not obey."),
    "71L-UP": (
        "Upper tank empty: the low float hangs dry",
        "Nothing to do; if there is water, look for a cut float wire."),
    "71L-LVL": (
        "Upper tank empty by its level, and the low float still floats",
        "Push the low float down by hand: it should stop the light. Check the level reading."),
    "71H-LO": (
        "Lower tank full: nowhere for the water to go",
        "Look at the overflow of the lower tank; if it is not full, at the float wire."),
    "59-GEN": (
        "Generator over-voltage: the lamps draw too little",
        "Look for an open lead or a blown lamp; the clamp carries the power."),
    "48-VLV": (
        "Valve did not travel as told",
        "Shut the hand valve, then look at the valve's motor, gear and fuse."),
    "48-SHT": (
        "Water goes down while the valve is told to be shut",
        "Shut the hand valve; look for grit in the valve's seat."),
    "80-VLV": (
        "Valve open and no flow down",
        "Is the hand valve open? Look at the tank's outlet, the nozzle and the meter."),
    "37-GEN": ("Water goes down and the generator gives no volts",
        "Does the wheel turn? If so measure along the generator's leads, from the winding on."),
    "27-SUP": (
        "Board supply low: everything off before it browns out",
        "Charge the buffer battery; look at its charger, fuse and leads."),
    "23-WTR": (
        "Pipes near freezing: no new start",
        "Shut the tank's hand valve and order drain-down before the pipes freeze."),
    "66-PMP": (
        "Too many starts of the pump in an hour",
        "Nothing to do on a day of clouds; else look for a chattering float."),
    "23-CLD": (
        "Pipes are cold: frost may follow",
        "Think of drain-down: pump, filter and pipes must be empty before frost."),
    "71D-UP": (
        "Level falls while nothing runs: a leak",
        "Walk along tank, penstock and valve and look for water."),
    "37-LMP": (
        "Volts and no current at the lamps: a lead is open",
        "Measure along the lamps' leads from the generator, point by point."),
    "3-VOL": (
        "Level and metered volumes disagree: level, meter or a leak",
        "Compare both with a dipstick; a meter that stands still is the usual cause."),
    "3-STK": (
        "Motor temperature does not move while the pump works",
        "See that the sensor touches the motor; the thermal model goes on watching."),
    "3-LVL": (
        "Level cannot be trusted: the floats go on watching",
        "Look at the level sensor's cable and its vent."),
    "3-WTR": (
        "Water temperature cannot be trusted: frost would go unseen",
        "Look at the sensor's plug and cable at the coldest pipe."),
    "3-SUP": (
        "Supply voltage cannot be trusted",
        "Look at the supply's monitor and the bus cable."),
    "3-PNA": (
        "Panel current cannot be trusted",
        "Look at the panel's monitor; a reading at its end means too large a shunt."),
    "3-GNA": (
        "Generator current cannot be trusted",
        "Look at the generator's monitor; the voltage goes on being watched."),
    "3-SPA": (
        "Supply current cannot be trusted",
        "Look at the supply's monitor and the bus cable."),
    "3-BTN": (
        "Button held for long: it may be stuck",
        "Look at the button and its wire; it is not heard until it lets go."),
}

# what a state of operation is
STATES = {
    "standstill": ("pump off, valve shut",),
    "trial": ("pump on, water not yet seen",),
    "pumping": ("water goes up",),
    "running": ("water goes down, the governor holds the light",),
    "closing": ("the valve is shutting",),
    "draining": ("pump off, valve open: pump, filter and pipes run empty",),
    "maintenance": ("pump off, valve told to be shut, nothing starts",),
}

# name of a cause, in words
CAUSES = {
    0: ("trip", "an element tripped"),
    1: ("stop", "an element stopped the process"),
    2: ("too weak", "the panel lifts too little water"),
    3: ("water seen", "the flow up passed the least useful flow"),
    4: ("sun enough", "the panel's voltage allows a trial start"),
    5: ("light due", "it is dark, or ordered, and light is wanted"),
    6: ("light over", "the day has come, or light is no longer wanted"),
    7: ("valve shut", "the valve reports shut"),
    8: ("ordered off", "an order ends what runs"),
    9: ("drain ordered", "a person orders pump and pipes to be emptied"),
    10: ("maintenance ordered", "a person wants everything to stand"),
    11: ("order over", "the order ended or ran out"),
}

# name of an event, meaning of its argument, of argument 2
EVENTS = {
    1: ("boot", "reason", "settings version"),
    2: ("state", "state left", "cause"),
    3: ("element acted", "number of the element", "action"),
    4: ("element let go", "number of the element", "scans beyond its pickup"),
    5: ("lockout", "number of the element", "trips in a row"),
    6: ("lockout reset", "number of the element", "0"),
    7: ("journal lost", "stream", "segment removed or not written"),
    8: ("held off", "side", "seconds until the next try"),
    9: ("order", "number of the order", "0 = done, else number of the refusal"),
    10: ("light planned", "0 = the water is too little, 1 = it lasts, 2 = nobody knows it",
        "lamp power [mW]"),
    11: ("light lasts", "0 = at the wanted power, 1 = at the least useful", "minutes"),
    12: ("clock set", "0", "minute of the day, UTC"),
    13: ("clock unknown", "0", "minute of the day that was to switch the light"),
    14: ("reading bad", "number of the channel", "reason"),
}

# name of an order, meaning of its arguments
ORDERS = {
    1: ("light", "lamp power [mW]", "for so long [min]"),
    2: ("rest", "no light and no pump for so long [min]", "-"),
    3: ("brightness", "step of the button", "for so long [min]"),
    4: ("last", "make the light last for so long [min], 0 = till dawn", "-"),
    5: ("pump", "0 = forbid, 1 = allow", "forbid for so long [min]"),
    6: ("drain-down", "1 = empty pump, filter and pipes, 0 = end", "for so long [min]"),
    7: (
        "maintenance",
        "1 = stand if nothing runs, 2 = stop what runs, 0 = end",
        "1 = leave the program for the laptop's tools"),
    8: ("reset", "1 = seen on site", "-"),
    9: ("clock", "days since 1970-01-01", "second of the day, UTC"),
    10: ("release", "-", "-"),
}

# why an order is refused
REFUSALS = {
    0: ("done",),
    1: ("no such order",),
    2: ("an argument is out of range",),
    3: ("locked out: a person must reset first",),
    4: ("the cause is still present",),
    5: ("this lockout can only be reset at the rig, by its button",),
    6: ("something runs: order it to stop, or wait",),
    7: ("the keeper stands in its safe mode",),
    8: ("below the least useful power: choose fewer hours instead",),
    9: ("there is no such brightness step",),
    10: ("nothing is locked out",),
}
