"""Where the power goes, step by step: from the panel up to the tank, from the tank to the lamps.

Every loss comes from its own law, and so does what each step passes on: that a step
closes is a test, not a definition.  Only the sun that stays unused is a difference,
of the panel's best power and of what it gives.  Values: by "section.key_unit" [SI].
"""

from collections.abc import Mapping
from typing import Any, NamedTuple

from forebay.rig import governing, machines
from forebay.sun.window import DEFAULT_AIR_DEGC
from keeper.physics import energy, of_rig
from keeper.physics.panel import REFERENCE_W_M2, max_power_point
from keeper.physics.solar_pump import SolarPump

# Names of the steps, in their order.
UPHILL = ("panel", "motor winding", "motor rotor", "pump", "rising main", "inlet")
DOWNHILL = ("penstock", "valve", "nozzle", "wheel", "bearings", "generator winding", "rectifier",
            "lamps")


class Step(NamedTuple):
    """One step of the way: power in and out [W], and each loss by its plain name [W]."""

    name: str
    W_in: float
    W_out: float
    losses: tuple[tuple[str, float], ...]


def stored_head_m(values: Mapping[str, Any]) -> float:
    """Return the height of the stored water above the nozzle [m]: of its middle, by weight.

    Stored is what lies between 71L-UP and 71H-UP.
    """
    tank = of_rig.tank(values, "upper.")
    levels = (tank.level_m(values["upper.empty_volume_m3"]),
              tank.level_m(values["upper.full_volume_m3"]))
    return values["upper.base_height_m"] + tank.slab(*levels)[1]


def store_J(values: Mapping[str, Any]) -> float:
    """Return the energy [J] of the water between 71L-UP and 71H-UP, above the nozzle."""
    tank = of_rig.tank(values, "upper.")
    density, _, fall = of_rig.water(values)
    return energy.energy_between_J(tank, tank.level_m(values["upper.empty_volume_m3"]),
                                   tank.level_m(values["upper.full_volume_m3"]),
                                   values["upper.base_height_m"], density, fall)


def mean_lift_m(values: Mapping[str, Any]) -> float:
    """Return the lift [m] with the lower tank half-way between 71L-LO and full."""
    middle_m3 = 0.5 * (values["lower.low_volume_m3"] + values["lower.full_volume_m3"])
    surface_m = values["lower.base_height_m"] + of_rig.tank(values, "lower.").level_m(middle_m3)
    return values["upper.inlet_height_m"] - surface_m


def sunlit_cell_degC(values: Mapping[str, Any]) -> float:
    """Return the temperature of the cells [degC] in full sun and still air."""
    air_degC = values.get("site.air_temperature_degC", DEFAULT_AIR_DEGC)
    air_degC = min(air_degC, values["site.hottest_air_degC"])
    return air_degC + REFERENCE_W_M2 / machines.STILL_AIR_W_M2_K


def uphill(values: Mapping[str, Any], irradiance_W_m2: float, cell_degC: float, lift_m: float,
           head_m: float | None = None) -> list[Step]:
    """Return the steps from the panel's best power to the power that is stored, steadily.

    irradiance_W_m2: in the panel's plane; lift_m: from the water below to the end of the
    rising main; head_m: of the upper water over the nozzle, None = of what is stored in the
    mean.  Stored counts above the nozzle, where the wheel can take it.  The charger is off.
    Raises ValueError if an argument is outside the range of the physics.
    """
    pump = SolarPump(*of_rig.solar_pump(values, *of_rig.water(values)))
    pump.steady(irradiance_W_m2, cell_degC, lift_m)
    copper_W, rotor_W, pump_W, pipe_W = pump.losses_W(True)
    best_W = 0.0
    if pump.light > 0.0:
        best_W = max_power_point(pump.light, pump.dark, pump.ideal, pump.series, pump.shunt)[2]
    taken_W = pump.panel_V * pump.panel_A
    inner_V = pump.emf * pump.rated_speed * pump.ratio
    shaft_W = inner_V * (pump.pump_A - pump.no_load_A) if pump.ratio > 0.0 else 0.0
    weight_N_s = pump.weight * pump.flow
    given_m = pump.head_m * pump.ratio ** 2 - pump.inner_s2_m5 * pump.flow ** 2
    surface_m = stored_head_m(values) if head_m is None else head_m
    inlet_m = values["upper.inlet_height_m"]
    return _steps(UPHILL, (
        best_W, taken_W, inner_V * pump.pump_A, shaft_W, weight_N_s * given_m,
        weight_N_s * lift_m, weight_N_s * surface_m), (
        (("sun that the pump does not take", best_W - taken_W),),
        (("warmth of the motor's winding", copper_W),),
        (("friction of the motor", rotor_W),),
        (("swirl and slip in the pump", pump_W),),
        (("friction of the rising main", pipe_W),),
        (("drop from the inlet to the water", weight_N_s * (inlet_m - surface_m)),
         ("rise from the lower water to the nozzle", weight_N_s * (lift_m - inlet_m)))))


def downhill(values: Mapping[str, Any], power_W: float, head_m: float) -> list[Step]:
    """Return the steps from the water that is let down to the lamps, steadily.

    power_W: that the lamps are to take; head_m: of the upper water over the nozzle.  Where
    not even the open valve gives that much, the steps are those of the open valve.
    Raises ValueError if an argument is outside the range of the physics.
    """
    machine = governing.turbine_set(values)
    wanted_m3_s = machine.flow_for_lamps_m3_s(power_W)
    return at_travel(values, machine.travel_for_frac(wanted_m3_s, head_m), head_m)


def at_travel(values: Mapping[str, Any], travel_frac: float, head_m: float) -> list[Step]:
    """Return the steps of `downhill` at a travel of the valve, 0 to 1, under a head [m]."""
    machine = governing.turbine_set(values)
    flow, speed, volts, lamp_W = machine.steady(travel_frac, head_m)
    wheel, amps, jet_m_s = machine.wheel, machine.generator_A, flow / machine.area
    cubed = machine.weight * flow ** 3
    after_m5 = machine.nozzle_s2_m5 + machine.jet_s2_m5
    bucket_W, splash_W = wheel.lost_J(machine.density * flow, jet_m_s, speed * wheel.radius_m)
    shaft_W = wheel.torque_Nm(speed, flow, jet_m_s, machine.density) * speed
    return _steps(DOWNHILL, (
        machine.weight * flow * head_m, (machine.valve_s2_m5 + after_m5) * cubed,
        after_m5 * cubed, machine.jet_power_W(flow), shaft_W, machine.emf * amps * speed,
        (volts + machine.drop_V) * amps, volts * amps, lamp_W), (
        (("friction of the penstock", machine.pipe_s2_m5 * cubed),),
        (("throttled in the valve", machine.valve_s2_m5 * cubed),),
        (("friction of the nozzle", machine.nozzle_s2_m5 * cubed),),
        (("on the buckets, and with the water that leaves", bucket_W),
         ("water that misses the buckets", splash_W)),
        (("friction of the bearings", wheel.friction_Nm * speed),),
        (("warmth of the generator's winding", machine.winding * amps * amps),),
        (("drop of the rectifier", machine.drop_V * amps),),
        (("clamp", volts * machine.clamp_A),)))


def _steps(names, powers_W, losses):
    return [Step(name, *ends, lost) for name, ends, lost in zip(
        names, zip(powers_W, powers_W[1:], strict=False), losses, strict=True)]
