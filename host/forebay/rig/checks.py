"""What must hold between the keys of a description, over and above each range."""

from collections.abc import Callable, Iterator, Mapping
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from forebay.rig import instruments
from keeper.physics import of_rig, panel
from keeper.physics.generator import lamp_current_A
from keeper.physics.pump import hydraulic_power_W

# Keys of which the first must be below the second ("<"), or not above it ("<=").
ORDERED = (
    ("upper.empty_volume", "<", "upper.full_volume"),
    ("upper.full_volume", "<", "upper.over_full_volume"),
    ("upper.over_full_volume", "<", "upper.overflow_volume"),
    ("upper.start_volume", "<=", "upper.overflow_volume"),
    ("motor.reset_temperature", "<", "motor.trip_temperature"),
    ("site.water_temperature", "<", "motor.reset_temperature"),
    ("generator.reset_voltage", "<", "generator.trip_voltage"),
    ("generator.trip_voltage", "<", "generator.clamp_voltage"),
    ("lamps.threshold_voltage", "<", "generator.trip_voltage"),
    ("panel.best_voltage", "<", "panel.open_circuit_voltage"),
    ("panel.best_current", "<", "panel.short_circuit_current"),
    ("pump.rated_head", "<", "pump.shut_off_head"),
    ("motor.cooled_resistance", "<=", "motor.still_resistance"),
    ("sensors.flow_stall", "<=", "sensors.flow_floor"),
    ("sensors.flow_floor", "<=", "limits.useful_flow"),
    ("generator.rated_power", "<=", "generator.clamp_power"),
    ("supply.charge_current", "<=", "sensors.supply_range"),
    ("turbine.nozzle_diameter", "<", "penstock.diameter"),
    ("limits.start_voltage", "<", "panel.open_circuit_voltage"),
    ("limits.holdoff", "<=", "limits.holdoff_longest"),
    ("limits.trip_wait", "<", "limits.trip_window"),
    ("night.dark_voltage", "<", "limits.start_voltage"),
    ("supply.low_voltage", "<", "supply.good_voltage"),
    ("limits.freeze_temperature", "<", "limits.cold_temperature"),
)
POWER_SLACK_FRAC = 0.1     # nameplates round their figures
ROUGHEST_DIAMETERS = 0.05  # end of the Moody diagram
BRIGHTEST_FRAC = 1.3       # of the rated sun: snow or a cloud's rim adds to it; a guess
STARTING_FRAC = 2.0        # of the rated current, while the motor gathers speed; a guess
# Which key is meant by each argument of panel.fit_nameplate.
NAMEPLATE = {
    "open_V": "panel.open_circuit_voltage",
    "short_A": "panel.short_circuit_current",
    "power_V": "panel.best_voltage",
    "power_A": "panel.best_current",
    "short_coefficient_K": "panel.current_temperature",
    "open_coefficient_K": "panel.voltage_temperature",
}


def faults(values: Mapping, is_told: Callable[[str], bool]) -> Iterator[tuple[str, str]]:
    """Yield (key, what must hold) for rules that take more than comparing two keys.

    values: by "section.key_unit"; a rule whose values are missing is passed over, and so is
    one that rests on a key at fault already: one mistake is one line.
    is_told: whether a key is at fault.
    """
    for rule, rests_on in RULES:
        if any(map(is_told, rests_on)):
            continue
        try:
            yield from rule(values)
        except KeyError:
            continue


def _zone(values):
    name = values["site.zone"]
    try:
        if name is not None:
            ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        yield "site.zone", "must be the name of a time zone, such as Europe/Madrid or UTC"


def _shape(values, name):
    """Return the shape of a tank, or (key, what must hold) if it has none."""
    try:
        shape = of_rig.tank(values, name + ".")
        if values[f"{name}.height_m"] != shape.height_m:
            return f"{name}.height", f"must be the last of levels, {shape.height_m:.6g} m"
        return shape
    except ValueError as error:
        return f"{name}.levels", f"levels and volumes must rise together from 0: {error}"


def _brim(shape):
    return f"must not be above what the tank holds to the brim, {shape.capacity_m3 * 1e3:.6g} L"


def _upper(values):
    shape = _shape(values, "upper")
    if isinstance(shape, tuple):
        yield shape
        return
    overflow_m3 = values["upper.overflow_volume_m3"]
    if overflow_m3 > shape.capacity_m3:
        yield "upper.overflow_volume", _brim(shape)
        return
    least_m = values["upper.base_height_m"] + shape.level_m(overflow_m3)
    if values["upper.inlet_height_m"] <= least_m:
        yield "upper.inlet_height", f"must be above the overflow's level, {least_m:.6g} m"


def _lower(values):
    shape = _shape(values, "lower")
    if isinstance(shape, tuple):
        yield shape
        return
    above = [key for key in ("start_volume", "low_volume", "full_volume")
             if values[f"lower.{key}_m3"] > shape.capacity_m3]
    if above:
        yield f"lower.{above[0]}", _brim(shape)
    elif values["lower.low_volume_m3"] >= values["lower.full_volume_m3"]:
        full_L = values["lower.full_volume_m3"] * 1e3
        yield "lower.low_volume", f"must be below lower.full_volume, {full_L:.6g} L"
    if values["lower.base_height_m"] + shape.height_m > 0:
        yield "lower.base_height", "the rim must not lie above the nozzle, or the jet drowns"


def _pipes(values):
    for name in ("rising_main", "penstock"):
        most_m = ROUGHEST_DIAMETERS * values[f"{name}.diameter_m"]
        if values[f"{name}.roughness_m"] > most_m:
            yield f"{name}.roughness", f"must be at most 0.05 diameters, {most_m * 1e3:.4g} mm"


def _fall(values):
    fall_m = values["upper.base_height_m"]
    if values["penstock.length_m"] < fall_m:
        yield "penstock.length", f"must be at least its fall, upper.base_height, {fall_m:.6g} m"


def _lift(values):
    # To the brim of the lower tank: no state of the rig has less to lift.
    brim_m = values["lower.base_height_m"] + values["lower.height_m"]
    least_m = values["upper.inlet_height_m"] - brim_m
    if values["pump.shut_off_head_m"] <= least_m:
        yield "pump.shut_off_head", f"must be above the least lift, {least_m:.4g} m"
    elif values["rising_main.length_m"] < least_m:
        yield "rising_main.length", f"must be at least the least lift, {least_m:.4g} m"


def _panel(values):
    product_W = values["panel.best_voltage_V"] * values["panel.best_current_A"]
    power_W = values["panel.power_W"]
    if abs(product_W - power_W) > POWER_SLACK_FRAC * power_W:
        slack = f"within {POWER_SLACK_FRAC:.0%}"
        yield "panel.power", f"must be best_voltage x best_current, {product_W:.4g} W, {slack}"


def _nameplate(values):
    open_V, best_V = values["panel.open_circuit_voltage_V"], values["panel.best_voltage_V"]
    short_A, best_A = values["panel.short_circuit_current_A"], values["panel.best_current_A"]
    try:
        panel.fit_nameplate(open_V, short_A, best_V, best_A,
                            values["panel.current_temperature_per_K"],
                            values["panel.voltage_temperature_per_K"])
    except ValueError as error:
        argument, _, refusal = str(error).partition(" = ")
        allowed = refusal.partition(": ")[2]
        yield NAMEPLATE[argument], f"no panel has this nameplate: {allowed}"


def _pump(values):
    density_kg_m3, _, gravity_m_s2 = of_rig.water(values)
    water_W = hydraulic_power_W(values["pump.rated_flow_m3_s"], values["pump.rated_head_m"],
                                density_kg_m3, gravity_m_s2)
    if water_W >= values["pump.rated_power_W"]:
        yield "pump.rated_power", f"must be above what the rated point lifts, {water_W:.4g} W"


def _rated_A(values):
    return values["pump.rated_power_W"] / values["pump.rated_voltage_V"]


def _motor(values):
    rated_A = _rated_A(values)
    # Otherwise no voltage is left for the electromotive force at the rated point.
    most_ohm = values["pump.rated_voltage_V"] / rated_A
    if values["motor.resistance_ohm"] >= most_ohm:
        yield "motor.resistance", f"must be below rated voltage / current, {most_ohm:.4g} ohm"
    if values["motor.no_load_current_A"] >= rated_A:
        yield "motor.no_load_current", f"must be below the rated current, {rated_A:.4g} A"


def _lamps(values):
    steps = values["lamps.steps_W"]
    if any(low >= high for low, high in zip(steps, steps[1:], strict=False)):
        yield "lamps.steps", "must rise from step to step"
    if values["night.setpoint_W"] > max(steps):
        yield "night.setpoint", f"must not be above the brightest lamp step, {max(steps):.4g} W"
    rated_W = values["generator.rated_power_W"]
    if values["night.useful_W"] > max(rated_W, *steps):
        yield "night.useful", f"must not be above generator.rated_power, {rated_W:.4g} W"


def _panel_range(values):
    if not instruments.is_fitted(values, "panel_meter"):
        return
    most_A = BRIGHTEST_FRAC * values["panel.short_circuit_current_A"]
    if values["sensors.panel_range_A"] < most_A:
        yield "sensors.panel_range", (
            f"must be at least {BRIGHTEST_FRAC} x short_circuit_current, {most_A:.4g} A")


def _pump_range(values):
    if not instruments.is_fitted(values, "pump_meter"):
        return
    most_A = STARTING_FRAC * _rated_A(values)
    if values["sensors.pump_range_A"] < most_A:
        yield "sensors.pump_range", (
            f"must be at least {STARTING_FRAC:.0f} x the pump's rated current, {most_A:.4g} A")


def _lamp_range(values):
    most_A = lamp_current_A(max(values["lamps.steps_W"]), values["lamps.threshold_voltage_V"],
                            values["lamps.resistance_ohm"])
    for name in ("generator", "lamp"):
        if instruments.is_fitted(values, f"{name}_meter") and (
                values[f"sensors.{name}_range_A"] < most_A):
            yield f"sensors.{name}_range", f"must be at least the lamps' current, {most_A:.4g} A"


_NAMEPLATE = ("panel.best_voltage", "panel.best_current", "panel.open_circuit_voltage",
              "panel.short_circuit_current")
_RATED = ("pump.rated_power", "pump.rated_voltage")
# Each rule, and the keys that it rests on.
RULES: tuple[tuple[Callable[[Mapping], Iterator[tuple[str, str]]], tuple[str, ...]], ...] = (
    (_zone, ()), (_upper, ()), (_lower, ()), (_pipes, ()),
    (_fall, ("upper.inlet_height",)),
    (_lift, ("upper.inlet_height", "lower.base_height", "pump.rated_head")),
    (_panel, _NAMEPLATE), (_nameplate, ("panel.power", *_NAMEPLATE)),
    (_pump, ("pump.rated_head",)), (_motor, _RATED), (_lamps, ()),
    (_panel_range, ("panel.short_circuit_current",)),
    (_pump_range, (*_RATED, "motor.resistance")), (_lamp_range, ("lamps",)),
    (instruments.faults, ()),
)
