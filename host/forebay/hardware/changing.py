"""What to change in a rig whose hardware would not stand it: by the figure that is too large.

Keys are those of its description; a figure that is the circuit's own has none.
"""

_PANEL_V = "a lower panel.open_circuit_voltage: fewer panel.cells in series"
_PANEL_A = "a lower panel.short_circuit_current: less panel.power, or more panel.cells"
_LIGHT = "dimmer lamps.steps, or lamps of a higher lamps.threshold_voltage"
_CLAMP = "a higher generator.clamp_power"
_LAMPS_V = "lamps of a lower lamps.threshold_voltage, and a generator for them"
# By the name of a figure of forebay.docs.sheets.worst.
CHANGES = {
    "panel_open_cold_V": _PANEL_V,
    "panel_peak_V": _PANEL_V,
    "pump_plus_peak_V": f"{_PANEL_V}, or shorter leads",
    "panel_short_A": _PANEL_A,
    "pump_stall_A": _PANEL_A,
    "panel_best_A": f"{_PANEL_A}; or a shorter cables.panel_length",
    "pump_run_A": "a pump of a higher pump.rated_voltage, or of less pump.rated_power",
    "pump_most_mL_s": "a pump of a lower pump.rated_flow, or a higher upper.inlet_height",
    "rising_main_bar": "a pump of a lower pump.shut_off_head",
    "motor_hottest_degC": "a lower motor.trip_temperature",
    "clamp_runaway_W": _CLAMP,
    "clamp_base_A": _LIGHT,
    "water_W": _CLAMP,
    "dump_W": "a higher generator.dump_resistance",
    "generator_unclamped_V": _LAMPS_V,
    "generator_clamped_V": _LAMPS_V,
    "generator_A": _LIGHT,
    "lamp_A": _LIGHT,
    "supply_most_V": "a lower supply.voltage",
    "supply_low_V": "a higher supply.low_voltage",
    "battery_short_A": "a link that breaks more direct current",
    "charge_A": "a lower supply.charge_current",
    "penstock_bar": "a higher penstock.pressure_rating, or a wider penstock.diameter",
    "two_bores_mm": "a higher upper.inlet_height",
}
OTHERWISE = "another part"


def what(figure: str) -> str:
    """Return what to change where a figure is more than a part or a cable stands."""
    return CHANGES.get(figure, OTHERWISE)
