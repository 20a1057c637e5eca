"""The rig's two machines once more, written apart from them.

Friction by fluids, panel by pvlib, roots by scipy; nothing here uses
keeper.physics.  A rig is a mapping "section.key_unit" to numbers, as a
description gives it; water is density, kinematic viscosity and free fall.
"""

import math
from typing import Any

import fluids
import numpy
import pvlib
import scipy.optimize

brentq: Any = scipy.optimize.brentq  # its stub also allows a pair
pvsystem: Any = pvlib.pvsystem
BEYOND = 1.5  # of the rated open-circuit voltage, which no cell of a rig reaches

# The rig of the checks of solar_pump and generation, in water of 20 degC.
WATER = (998.2, 1.0033954e-6, 9.80665)
RIG = {
    "panel.open_circuit_voltage_V": 29.0, "panel.short_circuit_current_A": 4.5,
    "panel.best_voltage_V": 23.8, "panel.best_current_A": 4.2,
    "panel.current_temperature_per_K": 5e-4, "panel.voltage_temperature_per_K": -3.2e-3,
    "pump.rated_voltage_V": 24.0, "pump.rated_power_W": 18.0, "pump.rated_speed_rad_s": 314.0,
    "pump.shut_off_head_m": 17.0, "pump.rated_head_m": 11.3, "pump.rated_flow_m3_s": 55e-6,
    "pump.shut_off_torque_frac": 0.4, "motor.resistance_ohm": 3.0,
    "motor.no_load_current_A": 0.12, "rising_main.length_m": 22.0,
    "rising_main.diameter_m": 0.016, "rising_main.roughness_m": 1.5e-6,
    "rising_main.minor_loss": 5.0, "penstock.length_m": 20.0, "penstock.diameter_m": 0.025,
    "penstock.roughness_m": 1.5e-6, "penstock.minor_loss": 2.0,
    "valve.flow_coefficient_m3_h": 1.2, "valve.rangeability": 50.0,
    "valve.characteristic": "equal percentage", "turbine.nozzle_diameter_m": 0.0021,
    "turbine.nozzle_coefficient": 0.97, "turbine.wheel_radius_m": 0.05,
    "turbine.bucket_coefficient": 0.8, "turbine.bucket_angle_deg": 160.0,
    "turbine.hit_frac": 0.9, "turbine.friction_torque_N_m": 1e-4,
    "generator.emf_constant_V_s_rad": 0.1, "generator.resistance_ohm": 10.0,
    "generator.rectifier_drop_V": 1.0, "generator.clamp_voltage_V": 20.0,
    "generator.clamp_resistance_ohm": 2.0, "generator.dump_resistance_ohm": 45.0,
    "lamps.threshold_voltage_V": 9.0, "lamps.resistance_ohm": 20.0,
}  # fmt: skip


def friction_factor(reynolds: float, relative: float, rule: str) -> float:
    """Darcy's factor; turbulent by a rule of fluids, between Re 2000 and 4000 blended."""
    if reynolds <= 2000.0:
        return fluids.friction.friction_laminar(reynolds)
    turbulent = getattr(fluids.friction, rule)(reynolds, relative)
    x = min(1.0, reynolds / 2000.0 - 1.0)
    weight = 3 * x**2 - 2 * x**3
    return (1 - weight) * fluids.friction.friction_laminar(reynolds) + weight * turbulent


def line_loss_m(rig, section: str, water, flow: float, rule: str) -> float:
    """Head loss of a line with its fittings [m]."""
    if flow <= 0:
        return 0.0
    _, viscosity, gravity = water
    length, bore, rough, minor = (rig[f"{section}.{key}"] for key in (
        "length_m", "diameter_m", "roughness_m", "minor_loss"))
    speed = flow / (math.pi / 4 * bore**2)
    reynolds = fluids.core.Reynolds(V=speed, D=bore, nu=viscosity)
    factor = friction_factor(reynolds, rough / bore, rule)
    return (factor * length / bore + minor) * speed**2 / (2 * gravity)


class Pump:
    """Panel, motor, pump and rising main in one sun."""

    def __init__(self, rig, water, irradiance: float, cell_degC: float, rule="Haaland"):
        self.rig, self.water, self.rule = rig, water, rule
        plate = [rig[f"panel.{key}"] for key in (
            "best_voltage_V", "best_current_A", "open_circuit_voltage_V",
            "short_circuit_current_A", "current_temperature_per_K", "voltage_temperature_per_K")]
        fit = pvlib.ivtools.sdm.fit_desoto_batzelis(
            plate[0], plate[1], plate[2], plate[3], plate[4] * plate[3], plate[5] * plate[2])
        # The nameplate's coefficient is relative: it holds for the light current as well.
        self.curve = pvsystem.calcparams_desoto(
            irradiance, cell_degC, plate[4] * fit["I_L_ref"], fit["a_ref"], fit["I_L_ref"],
            fit["I_o_ref"], fit["R_sh_ref"], fit["R_s"], EgRef=1.121, dEgdT=-0.0002677)
        self.most_V = BEYOND * rig["panel.open_circuit_voltage_V"]
        rated_A = rig["pump.rated_power_W"] / rig["pump.rated_voltage_V"]
        self.ohm, self.idle_A = rig["motor.resistance_ohm"], rig["motor.no_load_current_A"]
        self.back_V = rig["pump.rated_voltage_V"] - self.ohm * rated_A
        self.torque_A = rated_A - self.idle_A  # torque over the machine constant

    def given_A(self, volts: float) -> float:
        """Current of the panel at a voltage."""
        light, dark, series, shunt, ideality = self.curve
        return float(numpy.asarray(
            pvsystem.i_from_v(volts, light, dark, series, shunt, ideality)))

    def excess_A(self, volts: float, amps: float) -> float:
        """What the diode model gives beyond a current at a voltage; far beyond it, cut off."""
        light, dark, series, shunt, ideality = self.curve
        junction = volts + amps * series
        return float(light - dark * math.expm1(min(junction / ideality, 100.0))
                     - junction / shunt - amps)

    def flow(self, ratio: float, lift_m: float) -> float:
        """Flow at a speed [m3/s]: where the curve of the affinity laws meets lift and friction."""
        rig = self.rig
        head, rated = rig["pump.shut_off_head_m"], rig["pump.rated_flow_m3_s"]
        if head * ratio**2 <= lift_m:
            return 0.0

        def spare(flow: float) -> float:
            own = head * ratio**2 - (head - rig["pump.rated_head_m"]) * (flow / rated) ** 2
            return own - lift_m - line_loss_m(rig, "rising_main", self.water, flow, self.rule)

        most = rated * ratio * math.sqrt(head / (head - rig["pump.rated_head_m"]))
        return brentq(spare, 0.0, most, xtol=1e-18, rtol=1e-14)

    def point(self, lift_m: float) -> tuple[float, float, float, float]:
        """Flow, voltage, current and speed over rated speed."""
        frac, rated = self.rig["pump.shut_off_torque_frac"], self.rig["pump.rated_flow_m3_s"]

        def asked_A(ratio: float) -> float:
            load = frac * ratio + (1 - frac) * self.flow(ratio, lift_m) / rated
            return self.idle_A + self.torque_A * ratio * load

        def volts(ratio: float, amps: float) -> float:
            return self.back_V * ratio + self.ohm * amps

        def spare_A(ratio: float) -> float:
            amps = asked_A(ratio)      # asked once: a flow is solved for it
            return self.excess_A(volts(ratio, amps), amps)

        if spare_A(0.0) <= 0:
            still = brentq(lambda v: self.given_A(v) - v / self.ohm, 0.0, self.most_V, xtol=1e-13)
            return 0.0, still, still / self.ohm, 0.0
        ratio = brentq(spare_A, 0.0, self.most_V / self.back_V, xtol=1e-14, rtol=1e-14)
        amps = asked_A(ratio)
        return self.flow(ratio, lift_m), volts(ratio, amps), amps, ratio


def turbine_point(rig, water, travel: float, head_m: float, rule="Haaland"):
    """Flow, speed, voltage behind the rectifier and lamp power of the turbine set."""
    density, _, gravity = water
    ratio = rig["valve.rangeability"]
    share = (ratio ** (travel - 1) if rig["valve.characteristic"] == "equal percentage"
             else 1 / ratio + (1 - 1 / ratio) * travel)
    kv = rig["valve.flow_coefficient_m3_h"] * share
    area = math.pi / 4 * rig["turbine.nozzle_diameter_m"] ** 2

    def excess(flow: float) -> float:
        valve = 1e5 * (flow * 3600 / kv) ** 2 / (1000 * gravity)
        jet = (flow / (area * rig["turbine.nozzle_coefficient"])) ** 2 / (2 * gravity)
        return line_loss_m(rig, "penstock", water, flow, rule) + valve + jet - head_m

    flow = brentq(excess, 0.0, area * math.sqrt(2 * gravity * head_m), xtol=1e-18, rtol=1e-14)
    jet, radius = flow / area, rig["turbine.wheel_radius_m"]
    turned = 1 - rig["turbine.bucket_coefficient"] * math.cos(
        math.radians(rig["turbine.bucket_angle_deg"]))

    def spare_Nm(speed: float) -> float:
        push = density * flow * rig["turbine.hit_frac"] * turned * radius
        braking = rig["generator.emf_constant_V_s_rad"] * generator(rig, speed)[1]
        return push * (jet - speed * radius) - rig["turbine.friction_torque_N_m"] - braking

    speed = 0.0
    if spare_Nm(0.0) > 0:
        speed = brentq(spare_Nm, 0.0, jet / radius, xtol=1e-13, rtol=1e-14)
    volts, _, lamp_A = generator(rig, speed)
    return flow, speed, volts, volts * lamp_A


def generator(rig, speed: float) -> tuple[float, float, float]:
    """Voltage, current and the lamps' share of it: Kirchhoff at the node, without a dump load."""
    source = rig["generator.emf_constant_V_s_rad"] * speed - rig["generator.rectifier_drop_V"]
    if source <= 0:
        return 0.0, 0.0, 0.0

    def loads(volts: float) -> tuple[float, float]:
        return (max(0.0, volts - rig["lamps.threshold_voltage_V"]) / rig["lamps.resistance_ohm"],
                max(0.0, volts - rig["generator.clamp_voltage_V"])
                / rig["generator.clamp_resistance_ohm"])

    volts = brentq(lambda v: (source - v) / rig["generator.resistance_ohm"] - sum(loads(v)),
                   0.0, source, xtol=1e-14, rtol=1e-14)
    return volts, sum(loads(volts)), loads(volts)[0]
