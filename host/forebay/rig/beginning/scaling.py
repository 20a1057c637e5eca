"""Every figure of a new rig from a few answers, in the proportions of the modest one.

The turbine set is scaled so that it works as the modest one does, at other powers, volts and
heads: powers go with head x flow, currents with power / volts, resistances with volts / amperes,
speeds with the root of the head over the wheel's radius, torques with power / speed.
Nobody has measured any of it; what has to be looked at is said by the cross-checks.
"""

import math
from collections.abc import Collection, Mapping
from typing import Any

from forebay.errors import InputError
from forebay.hardware import sizing
from forebay.rig import governing, instruments, machines, protecting
from forebay.rig.beginning.questions import Answers, inlet_m, modest, tank_height_m
from forebay.rig.checks import BRIGHTEST_FRAC, STARTING_FRAC
from forebay.rig.machines import PA_PER_BAR
from forebay.rig.schema import CYLINDER, NAME_OF, RECTANGULAR
from forebay.rig.wired import MONITOR_MOST_V
from keeper.boards import wiring
from keeper.physics import of_rig
from keeper.physics.panel import REFERENCE_W_M2
from keeper.physics.solar_pump import SolarPump

Figures = dict[str, Any]  # by "section.key" [plain unit]
LEAST_RIM_M = 0.1         # depth of the lower tank
NOMINAL_Pa = (6e5, 10e5, 16e5, 25e5)  # nominal pressures of pipes, PN 6 to PN 25
STANDING_PART = 2.0       # of the standing pressure: room for the surge; a guess
LEAST_STEP_W = 0.02       # the schema's
LEAST_NOZZLE_M = 0.0005   # the schema's
FINEST_M = 0.0007         # a finer nozzle clogs for ever; a guess
JETS_A_RADIUS = 12        # a jet is thin beside its wheel; a guess
LAMP_HEADROOM = 0.75      # of what the lowest head gives: the governor needs some over
USEFUL_PART = 0.4         # of what goes up in full sun; a guess
SEEN_PART = 0.6           # of what a meter must see; a guess
START_PART = 0.8          # of the open-circuit voltage, as the schema's default
HOT_PART = 0.97           # of what the hottest panel gives
DARK_PART = 0.15          # of the open-circuit voltage; a guess
LEAST_LAMP_V = 0.5
# Light as bright as a lead of 6 mm2 feeds with the most lamps in series; the modest rig's is
# of 2.5 mm2, of which it uses four fifths.
MOST_LEAD = 3.0
# Room that hardware/parts.toml asks of clamp and pipe.
CLAMP_TIMES, CLAMP_ROOM, PIPE_ROOM = 2.0, 1.05, 1.5
MONITOR_ROOM = 1.1  # that it asks, and as much for friction, which weighs less in a large wheel
LEAST_RANGE_A, MOST_RANGE_A = 0.082, 8.0  # the schema's
PULSES_L, SUPPLY_RANGE_A = 450.0, 0.4     # of a small meter; a guess
MOST_WINDING_OHM = 60.0   # the schema's
MOST_DROP_V = 0.7         # of one silicon diode; common practice, no source


def figures(answers: Answers, fitted: set[str], stated: Collection[str] = ()) -> Figures:
    """Return all figures of a rig; answers: to every question; fitted: names of instruments.

    stated: "section.key" of those that stay as they are answered; all others are rounded.
    Raises InputError where a lower tank has no place below the nozzle.
    """
    found = {**_place(answers), **upper(answers), **_lower(answers), **_pipes(answers),
             **_panel(answers), **_pump(answers), **_valve(answers), **_turbine(answers),
             **_supply(), **sensors(answers, fitted), **_wishes(answers, fitted)}
    return {place: value if place in stated else _rounded(value)
            for place, value in found.items()}


def settled(values: Mapping[str, Any], free: bool) -> Figures:
    """Return those figures that follow from what the machines then do, over all `figures`.

    values: by "section.key_unit", as they are read; free: nobody stated the steps.
    """
    more: Figures = {}
    for rule in (_useful, start, _standing, *([_dimmer] if free else [])):
        try:
            more |= rule(values)
        except (KeyError, ValueError):
            continue  # the cross-checks say what is wrong
    return more


def _rounded(value: Any) -> Any:
    if isinstance(value, list):
        return [_rounded(one) for one in value]
    return float(f"{value:.4g}") if isinstance(value, float) else value


def _taken(section: str, *names: str) -> Figures:
    """Return figures of the modest rig as they are; names: with their units."""
    return {NAME_OF[f"{section}.{name}"]: modest()[f"{section}.{name}"] for name in names}


def _place(answers) -> Figures:
    return {"site.latitude": answers["latitude"], "site.longitude": answers["longitude"],
            "site.height": answers["height"]}


def upper(answers: Answers) -> Figures:
    """Return the figures of the upper tank, its floats and its inlet."""
    base, tank, height_m = modest(), answers["tank"], tank_height_m(answers)
    capacity_m3 = tank.volume_m3
    more = capacity_m3 / of_rig.tank(base, "upper.").capacity_m3
    if tank.shape == CYLINDER:
        sides = {"upper.diameter": tank.sizes_m[0] if tank.sizes_m else answers["tank_diameter"]}
    else:
        sides = {"upper.length": tank.sizes_m[0], "upper.width": tank.sizes_m[1]}
    return {
        "upper.shape": tank.shape, **sides, "upper.height": height_m,
        "upper.base_height": answers["head"], "upper.inlet_height": inlet_m(answers),
        **{f"upper.{name}_volume": base[f"upper.{name}_volume_m3"] * more
           for name in ("start", "empty", "full", "over_full", "overflow")},
        "upper.float_hysteresis": base["upper.float_hysteresis_m"] * min(
            1.0, height_m / base["upper.height_m"]),
    }


def _lower(answers) -> Figures:
    base = modest()
    depth_m = answers["lift"] - inlet_m(answers)
    if depth_m < LEAST_RIM_M:
        least_m = inlet_m(answers) + LEAST_RIM_M
        raise InputError(
            f"--lift {answers['lift']:.4g} m: must be at least {least_m:.4g} m: the rising main"
            f" ends {inlet_m(answers):.4g} m above the nozzle, over the upper tank's rim, and the"
            " lower tank lies below it")
    height_m = min(base["lower.height_m"], depth_m)
    capacity = of_rig.tank(base, "lower.").capacity_m3
    volume_m3 = capacity / of_rig.tank(base, "upper.").capacity_m3 * answers["tank"].volume_m3
    slant = base["lower.length_m"] / base["lower.width_m"]
    width_m = (volume_m3 / height_m / slant) ** 0.5
    return {
        "lower.shape": RECTANGULAR, "lower.length": slant * width_m, "lower.width": width_m,
        "lower.height": height_m, "lower.base_height": -depth_m,
        **{f"lower.{name}_volume": base[f"lower.{name}_volume_m3"] / capacity * volume_m3
           for name in ("start", "low")},
        **_taken("lower", "float_hysteresis_m"),
    }


def _pipes(answers) -> Figures:
    standing_Pa = 1e4 * (answers["head"] + tank_height_m(answers))  # near enough to choose by
    rating_Pa = next((one for one in NOMINAL_Pa if one >= STANDING_PART * standing_Pa),
                     NOMINAL_Pa[-1])
    return {
        "rising_main.length": answers["main_length"],
        "rising_main.diameter": answers["main_bore"], **_taken("rising_main", "minor_loss"),
        "penstock.length": answers["penstock_length"],
        "penstock.diameter": answers["penstock_bore"], **_taken("penstock", "minor_loss"),
        "penstock.pressure_rating": rating_Pa,
    }


def _panel(answers) -> Figures:
    latitude = answers["latitude"]
    return {
        "panel.power": answers["panel_power"], "panel.cells": int(answers["panel_cells"]),
        "panel.open_circuit_voltage": answers["open_voltage"],
        "panel.short_circuit_current": answers["short_current"],
        "panel.best_voltage": answers["best_voltage"],
        "panel.best_current": answers["best_current"],
        # Towards the noon sun, steep enough for the winter; common practice, no source.
        "panel.tilt": min(60.0, max(15.0, abs(latitude))),
        "panel.azimuth": 180.0 if latitude >= 0 else 0.0,
    }


def _pump(answers) -> Figures:
    base, watts, volts = modest(), answers["pump_power"], answers["pump_voltage"]
    more = watts / base["pump.rated_power_W"]
    ohms = volts ** 2 / watts / (base["pump.rated_voltage_V"] ** 2 / base["pump.rated_power_W"])
    amps = (watts / volts) / (base["pump.rated_power_W"] / base["pump.rated_voltage_V"])
    return {
        "pump.rated_voltage": volts, "pump.rated_power": watts,
        **_taken("pump", "rated_speed_rad_s"), "pump.shut_off_head": answers["pump_shut_off_head"],
        "pump.rated_head": answers["pump_head"], "pump.rated_flow": answers["pump_flow"],
        **_taken("pump", "shut_off_torque_frac"),
        "motor.resistance": base["motor.resistance_ohm"] * ohms,
        "motor.no_load_current": base["motor.no_load_current_A"] * amps,
        "motor.cooled_resistance": base["motor.cooled_resistance_K_W"] / more,
        "motor.still_resistance": base["motor.still_resistance_K_W"] / more,
        "motor.heat_capacity": base["motor.heat_capacity_J_K"] * more,
        **_taken("motor", "trip_temperature_degC", "reset_temperature_degC"),
    }


def light_ratios(answers: Answers) -> tuple[float, float, float]:
    """Return (power, head, flow) of the light over those of the modest rig [-]."""
    base = modest()
    base_m = base["upper.base_height_m"] + base["upper.height_m"] / 2
    head = (answers["head"] + tank_height_m(answers) / 2) / base_m
    flow = answers["tank"].volume_m3 / of_rig.tank(base, "upper.").capacity_m3
    steps = answers.get("steps")
    if steps:
        power = max(steps) / max(base["lamps.steps_W"])
    else:
        least = (FINEST_M / base["turbine.nozzle_diameter_m"]) ** 2 * head ** 0.5
        power = max(max(flow, least) * head, LEAST_STEP_W / min(base["lamps.steps_W"]))
        power = min(power, most_in_series(answers) ** 2 * MOST_LEAD)
    return power, head, power / head


def most_in_series(answers: Answers) -> int:
    """Return with how many lamps in series the monitors still stand a generator without its clamp.

    Its volts without load go with the root of the head, and stand to the lamps' as the modest
    rig's do; no fewer than one.
    """
    base, height_m = modest(), tank_height_m(answers)
    base_m = base["upper.height_m"]
    fuller = ((answers["head"] + height_m) / (answers["head"] + height_m / 2)
              / ((base["upper.base_height_m"] + base_m) / (base["upper.base_height_m"]
                                                           + base_m / 2)))
    each_V = sizing.figures(base)["generator_unclamped_V"] * fuller ** 0.5
    return max(1, int(MONITOR_MOST_V / MONITOR_ROOM / each_V))


def _ratios(answers) -> tuple[float, float, float, float]:
    """Return (power, volts, head, flow) of the light over those of the modest rig [-]."""
    power, head, flow = light_ratios(answers)
    lamp_V = max(LEAST_LAMP_V, answers["lamp_voltage"])
    return power, lamp_V / modest()["lamps.threshold_voltage_V"], head, flow


def steps_W(answers: Answers) -> list[float]:
    """Return steps of brightness [W] on which a full tank lasts as long as the modest one."""
    power = light_ratios({**answers, "steps": None})[0]
    return [float(f"{power * one:.2g}") for one in modest()["lamps.steps_W"]]


def _turbine(answers) -> Figures:
    base, (power, volts, head, flow) = modest(), _ratios(answers)
    nozzle_m = max(LEAST_NOZZLE_M,
                   base["turbine.nozzle_diameter_m"] * (flow / head ** 0.5) ** 0.5)
    radius_m = max(base["turbine.wheel_radius_m"], JETS_A_RADIUS * nozzle_m)
    speed = head ** 0.5 / (radius_m / base["turbine.wheel_radius_m"])
    ohms = volts ** 2 / power
    return {
        "turbine.nozzle_diameter": nozzle_m, **_taken("turbine", "hit_frac"),
        "turbine.wheel_radius": radius_m,
        "turbine.inertia": base["turbine.inertia_kg_m2"] * power / speed ** 2,
        "turbine.friction_torque": base["turbine.friction_torque_N_m"] * power / speed,
        "generator.emf_constant": base["generator.emf_constant_V_s_rad"] * volts / speed,
        "generator.resistance": min(MOST_WINDING_OHM, base["generator.resistance_ohm"] * ohms),
        "generator.rectifier_drop": min(MOST_DROP_V, base["generator.rectifier_drop_V"] * volts),
        "generator.rated_power": base["generator.rated_power_W"] * power,
        "generator.clamp_voltage": base["generator.clamp_voltage_V"] * volts,
        "generator.clamp_resistance": base["generator.clamp_resistance_ohm"] * ohms,
        "generator.clamp_power": base["generator.clamp_power_W"] * power,
        "generator.trip_voltage": base["generator.trip_voltage_V"] * volts,
        "generator.reset_voltage": base["generator.reset_voltage_V"] * volts,
        "lamps.threshold_voltage": answers["lamp_voltage"],
        "lamps.resistance": base["lamps.resistance_ohm"] * ohms,
        "lamps.steps": answers["steps"],
    }


def _valve(answers) -> Figures:
    _, _, head, flow = _ratios(answers)
    return {
        "valve.flow_coefficient": modest()["valve.flow_coefficient_m3_h"] * flow / head ** 0.5,
        **_taken("valve", "characteristic", "rangeability", "travel_s", "on_power_loss"),
    }


def _supply() -> Figures:
    return _taken("supply", "voltage_V", "capacity_Ah", "charge_current_A", "resistance_ohm",
                  "board_load_W")


def sensors(answers: Answers, fitted: set[str]) -> Figures:
    """Return what is fitted, and the ranges that its meters need."""
    power, volts, _, _ = _ratios(answers)
    lamp_A = modest()["sensors.lamp_range_A"] * power / volts
    needed = {
        "panel": BRIGHTEST_FRAC * answers["short_current"],
        "pump": STARTING_FRAC * answers["pump_power"] / answers["pump_voltage"],
        "generator": lamp_A, "lamp": lamp_A, "supply": SUPPLY_RANGE_A,
    }
    found = {one.key: instruments.FITTED if one.name in fitted else instruments.ABSENT
             for one in instruments.INSTRUMENTS}
    found |= {f"sensors.{name}_range": min(MOST_RANGE_A, max(LEAST_RANGE_A, round(
        1.1 * amps, 3))) for name, amps in needed.items() if f"{name}_meter" in fitted}
    if fitted & {"flow_up", "flow_down"}:
        found["sensors.pulses_per_litre"] = PULSES_L
    if {"motor_temperature", "water_temperature"} <= fitted:
        found |= {f"board.{name}_serial_low": number  # told apart by anything but the true ones
                  for number, name in enumerate(("motor", "water"), 1)}
    return found


def _wishes(answers, fitted) -> Figures:
    sees_dusk = any(name in fitted for name in instruments.SUN)
    begins = ({"night.begins": "dusk"} if sees_dusk
              else {"night.begins": "order", **_taken("night", "press_s")})
    return {"night.setpoint": max(answers["steps"]), **begins, "board.valve_kind": wiring.MOTOR}


def most_lifted_m3_s(values: Mapping[str, Any]) -> float:
    """Return what goes up in full sun and heat over the longest lift [m3/s]."""
    pump = SolarPump(*of_rig.solar_pump(values, *of_rig.water(values)))
    return pump.steady(REFERENCE_W_M2, machines.hottest_cell_degC(values),
                       machines.longest_lift_m(values))[0]


def _useful(values) -> Figures:
    """Return the useful flow, and a meter's floor below it."""
    base = modest()
    most = most_lifted_m3_s(values)
    flow = max(1e-6, min(base["limits.useful_flow_m3_s"], _two_digits(USEFUL_PART * most)))
    more = {"limits.useful_flow": flow}
    floor = min(flow, _two_digits(_seen_m3_s(values)))
    if floor < values["sensors.flow_floor_m3_s"]:
        more |= {"sensors.flow_floor": floor, "sensors.flow_stall": floor / 2}
    return more


def _seen_m3_s(values) -> float:
    """Return the floor of a meter that still sees what comes down at the lowest head [m3/s]."""
    if not instruments.is_fitted(values, "flow_down"):
        return values["sensors.flow_floor_m3_s"]
    down = governing.turbine_set(values).steady(1.0, governing.lowest_head_m(values))[0]
    return SEEN_PART * down / protecting.SEEN_FLOW_PART


def _two_digits(value: float) -> float:
    return float(f"{value:.2g}")


def start(values: Mapping[str, Any]) -> Figures:
    """Return the voltages of dusk and start, where something reads them."""
    open_V = values["panel.open_circuit_voltage_V"]
    more = {}
    start_V = START_PART * open_V
    if instruments.any_fitted(values, instruments.SUN):
        start_V = min(start_V, HOT_PART * machines.hottest_open_V(values))
        more["limits.start_voltage"] = float(f"{start_V:.3g}")
    if values["night.dark_voltage_V"] >= start_V:
        more["night.dark_voltage"] = float(f"{DARK_PART * open_V:.2g}")
    return more


def _standing(values) -> Figures:
    """Return what clamp and penstock must stand, where the proportions give too little."""
    worst = sizing.figures({name: one for name, one in values.items() if one is not None})
    clamp_W = max(values["generator.clamp_power_W"], CLAMP_TIMES * worst["clamp_runaway_W"],
                  CLAMP_ROOM * worst["water_W"])
    least_Pa = PIPE_ROOM * worst["penstock_bar"] * PA_PER_BAR
    rating_Pa = next((one for one in NOMINAL_Pa if one >= least_Pa), NOMINAL_Pa[-1])
    return {"generator.clamp_power": _up(clamp_W),
            "penstock.pressure_rating": max(values["penstock.pressure_rating_Pa"], rating_Pa)}


def _up(value: float) -> float:
    """Return a figure in two digits, rounded up."""
    step = 10.0 ** (math.floor(math.log10(value)) - 1)
    return float(f"{math.ceil(value / step * (1 - 1e-9)) * step:.3g}")


def _dimmer(values) -> Figures:
    """Return steps that the lowest head gives easily, where the proportions ask for more."""
    least_W, steps = machines.least_light_W(values), values["lamps.steps_W"]
    if max(steps) <= LAMP_HEADROOM * least_W:
        return {}
    most_W = LAMP_HEADROOM * least_W
    dimmer = [max(LEAST_STEP_W, _two_digits(one * most_W / max(steps))) for one in steps]
    dimmer = sorted(set(dimmer))
    return {"lamps.steps": dimmer, "night.setpoint": max(dimmer)}
