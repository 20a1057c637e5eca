"""The board's own supply: where it comes from, the dull days it survives, what it costs."""

from collections.abc import Mapping
from typing import Any

from forebay.docs.sheets.worst import runaway
from forebay.plan.answers import Figure, Part
from forebay.rig import machines
from keeper.physics import electrical, motor
from keeper.physics.generator import lamp_current_A

HOUR_S = 3600.0
DAY_h = 24.0
# What a lithium iron phosphate battery may give of its capacity and keep its age; common
# practice, no source.
USABLE_FRAC = 0.8
# Panel current over its nameplate: NEC 690.8(A)(1), from memory; (B) asks conductors and devices
# for as much again, as the note says.
SUN_RATIO = 1.25
COLD_COPPER_degC = 50.0   # of conductors in the sun; our own
NO_BATTERY_DAYS = 2.0     # fewer dull days than this are soon met; a guess


def part(values: Mapping[str, Any], night_h: float, lamps_Wh: float) -> Part:
    """Return what is to be said of the board's supply, leads and cold.

    night_h: the longest night; lamps_Wh: what the lamps get of a full tank.
    """
    load_W, volts = values["supply.board_load_W"], values["supply.voltage_V"]
    stored_Wh = USABLE_FRAC * values["supply.capacity_Ah"] * volts
    day_Wh = DAY_h * load_W
    charge_W = values["supply.charge_current_A"] * volts
    figures = [
        Figure("board_J", "the board takes a day", day_Wh * HOUR_S, "energy"),
        Figure("board_night_J", "of that, in the longest night", night_h * load_W * HOUR_S,
               "energy", note=f"the lamps get {lamps_Wh:.3g} Wh of a full tank"),
        Figure("dull_days", "days without sun that it survives", stored_Wh / day_Wh, "",
               note=f"by {USABLE_FRAC:.0%} of the battery"),
        Figure("charge_s", "sun that a day of the board needs", day_Wh / charge_W * HOUR_S,
               "time", note="at the charger's full current"),
        *_currents(values), *_leads(values)]
    warns = []
    if stored_Wh / day_Wh < NO_BATTERY_DAYS:
        warns.append(f"The battery carries the board for {stored_Wh / day_Wh:.1f} days without"
                     " sun: 27-SUP then stops everything. Take a larger one.")
    return Part("supply", "Board, leads, cold", figures, (), _frost(values), warns)


def _currents(values):
    short_A = SUN_RATIO * values["panel.short_circuit_current_A"]
    open_V = machines.coldest_open_V(values)
    stall_A = min(motor.stall_current_A(open_V, values["motor.resistance_ohm"]), short_A)
    clamped = runaway(values, clamped=True)
    return [
        Figure("panel_most_V", "highest voltage of the panel", open_V, "voltage",
               note="contacts, switch and meter must stand it, as direct current"),
        Figure("panel_most_A", "most current of the panel", short_A, "current",
               note="what carries it for hours: rated a quarter more again; a panel blows no fuse,"
               " one belongs at the battery"),
        Figure("stall_A", "most that the pump's contact carries or breaks", stall_A, "current",
               note="a rotor that is held"),
        Figure("clamp_A", "most current of the generator, through its clamp", clamped.clamp_A,
               "current")]


def _leads(values):
    found = []
    for key, name, amps, volts in (
            ("panel", "lead of the panel and pump", values["panel.best_current_A"],
             values["panel.best_voltage_V"]),
            ("lamp", "lead of the lamps", _brightest_A(values),
             values["lamps.threshold_voltage_V"])):
        length_m = values.get(f"cables.{key}_length_m")
        section_m2 = values.get(f"cables.{key}_section_m2")
        if length_m is None or section_m2 is None:
            continue
        drop_V = electrical.voltage_drop_V(amps, length_m, section_m2, COLD_COPPER_degC)
        found.append(Figure(f"{key}_drop_V", f"lost in the {name}", drop_V, "voltage",
                            note=f"{drop_V / volts:.1%} of {volts:.3g} V"))
    return found


def _brightest_A(values):
    return lamp_current_A(max(values["lamps.steps_W"]), values["lamps.threshold_voltage_V"],
                          values["lamps.resistance_ohm"])


def _frost(values):
    says = []
    if values["site.coldest_cell_degC"] < values["limits.freeze_temperature_degC"]:
        says.append("By site.coldest_cell frost comes here: order drain-down before it, and drain"
                    " pump, filter and pipes to the last drop; a frozen pipe bursts when it thaws."
                    " A battery of lithium must not be charged below 0 degC.")
    return says
