"""Words for what is measured, driven, summed and derived, by name; for bad readings, by reason.

Tags of instruments are those of ISA-5.1.
"""

from typing import NamedTuple

from keeper import channels


class Tagged(NamedTuple):
    """An instrument or an output: its tag, what it measures, says or drives."""

    tag: str
    plain: str


# what a channel measures
CHANNELS: dict[str, Tagged] = {
    "panel_mV": Tagged("EI-PAN", "panel voltage"),
    "panel_mA": Tagged("II-PAN", "panel current"),
    "pump_mA": Tagged("II-PMP", "pump current"),
    "generator_mV": Tagged("EI-GEN", "generator voltage, rectified"),
    "generator_mA": Tagged("II-GEN", "generator current"),
    "lamp_mA": Tagged("II-LMP", "lamp current"),
    "supply_mV": Tagged("EI-SUP", "board supply voltage"),
    "supply_mA": Tagged("II-SUP", "board supply current, + charging"),
    "flow_up_uL_s": Tagged("FI-UP", "flow in the rising main"),
    "flow_down_uL_s": Tagged("FI-DN", "flow in the penstock"),
    "level_mm": Tagged("LI-UP", "water level in the upper tank"),
    "motor_mdegC": Tagged("TI-MOT", "motor temperature"),
    "water_mdegC": Tagged("TI-WTR", "water temperature"),
    "valve_permille": Tagged("ZI-VLV", "valve position, open"),
}

# what a contact says
CONTACTS: dict[str, Tagged] = {
    "contact_71h_up": Tagged("LSH-UP", "upper tank full float, opens when it lifts"),
    "contact_71hh_up": Tagged("LSHH-UP", "upper tank over-full float, opens when it lifts"),
    "contact_71l_up": Tagged("LSL-UP", "upper tank low float, opens when it hangs dry"),
    "contact_71l_lo": Tagged("LSL-LO", "lower tank low float, opens when it hangs dry"),
    "button": Tagged("HS-1", "push button, closed while pressed"),
    "contact_71h_lo": Tagged("LSH-LO", "lower tank full float, opens when it lifts"),
    "contact_stop": Tagged("HS-2", "local stop, read back by its own contact; opens when pressed"),
}

# what an output drives
OUTPUTS: dict[str, Tagged] = {
    "pump_switch": Tagged("YC-PMP", "pump switch"),
    "valve_permille": Tagged("ZC-VLV", "valve position wanted"),
    "lamps_off": Tagged("YC-LMP", "lamps taken off the generator; at rest they are on it"),
    "dump_switch": Tagged("YC-DMP", "dump load across the generator"),
    "valve_drive_ms": Tagged("MC-VLV", "how long the valve's motor runs in a scan, + opens"),
}

# what is summed
TOTALS: dict[str, str] = {
    "panel_mJ": "panel energy",
    "pump_mJ": "energy into the pump",
    "supply_in_mJ": "energy into the buffer battery",
    "supply_out_mJ": "energy out of the buffer battery",
    "generator_mJ": "generator energy, rectified",
    "lamp_mJ": "energy into the lamps",
    "up_uL": "volume pumped up",
    "down_uL": "volume let down",
    "pump_ms": "time with the pump switched on",
    "light_ms": "time with the lamps lit",
}

# what a derived value tells
DERIVED: dict[str, str] = {
    "welded_mA": "pump current while its switch is told to be off",
    "missing_mA": "current that the pump draws less than a loaded one would",
    "stall_mV": "voltage that the motor lacks against a turning one, without flow",
    "no_flow_up_mW": "power into the pump while no water is seen to go up",
    "no_flow_down_permille": "opening of the valve while no water goes down",
    "dark_lamps_mV": "generator voltage while the lamps draw nothing",
    "emf_mV": "inner voltage of the generator, a measure of its speed",
    "valve_gap_permille": "valve position against where it was told to stand",
    "shut_flow_uL_s": "flow down while the valve is told to be shut",
    "level_mean_mm": "level, mean of about 13 s",
    "level_gap_mm": "change of level against the metered volumes",
    "leak_mm": "fall of the level at standstill",
    "starts_milli": "starts of the pump, running out over an hour",
    "thermal_permille": "heat in the motor by the thermal model",
    "motor_still_s": "pumping since the motor's reading last moved",
    "no_volts_permille": "opening of the valve while water goes down and no volts come",
    "not_shut_permille": "what the valve reads after it was pressed shut",
    "open_lead_mV": "panel voltage while the pump is on and draws no current at all",
    "little_flow_mW": "power into the pump while water goes up, but less than is useful",
    "missing_rise_mdegC": "what the motor lacks in warmth over the water that it pumps",
    "shut_leak_uL_s": "flow down at a shut valve that the generator's volts, the level or the"
                      " valve's position bear out",
    "lamp_gap_mA": "generator current against that of the lamps, below the clamp's voltage",
    "generator_mW": "power of the generator in the light",
    "too_warm_mdegC": "what the motor of the running pump is warmer than a cooled one may be",
    "heats_mdegC": "warming of the running motor in a minute beyond what its losses explain",
    "warms_mdegC": "warming of the resting motor in a minute beyond what hot air explains",
    "filling_s": "pumping in good sun since water was last seen to be lifted, or let down",
    "unfilled_min": "pumping since water was last seen to be lifted, or lit a lamp",
    "spent_permille": "opening of the valve while no lamp has volts and the tank may be empty",
    "fell_early_s": "by how much too soon the full float fell while nothing was let down",
}

# why a reading cannot be trusted
REASONS: dict[int, str] = {
    channels.OUT_OF_RANGE: "out of range",
    channels.OPEN: "open",
    channels.SHORT: "short",
    channels.NO_ANSWER: "no answer",
    channels.DAMAGED: "damaged",
    channels.POWER_ON_VALUE: "power-on value",
    channels.CLIPPED: "clipped",
    channels.STALE: "stale",
    channels.ALL_ZERO: "all zero",
}
