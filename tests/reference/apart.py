"""The two long chains once more, written apart from them.

Colebrook by fluids, panel by pvlib, roots by scipy; nothing here
uses keeper.physics. The rig is that of the checks of generation and solar_pump.
"""

import math
from typing import Any

import fluids
import numpy
import pvlib
import scipy.optimize

GRAVITY = 9.80665
VISCOSITY_m2_s = 1.0033954e-6
DENSITY_KG_M3 = 998.2
brentq: Any = scipy.optimize.brentq  # its stub also allows a pair


def line_loss_m(flow: float, length: float, bore: float, coefficient: float) -> float:
    """Head loss of a smooth hose with fittings [m]."""
    speed = flow / (math.pi / 4 * bore**2)
    reynolds = fluids.core.Reynolds(V=speed, D=bore, nu=VISCOSITY_m2_s)
    factor = fluids.friction.friction_factor(Re=reynolds, eD=1.5e-6 / bore, Method="Colebrook")
    return (factor * length / bore + coefficient) * speed**2 / (2 * GRAVITY)


def turbine_point(head: float, kv: float) -> tuple[float, float, float, float]:
    """Flow, speed, current and lamp power of the turbine set."""

    def excess(flow: float) -> float:
        valve = 1e5 * (flow * 3600 / kv) ** 2 / (1000 * GRAVITY)
        jet = (flow / (3.46e-6 * 0.97)) ** 2 / (2 * GRAVITY)
        return line_loss_m(flow, 20.0, 0.025, 2.0) + valve + jet - head

    flow = brentq(excess, 1e-6, 1e-4, xtol=1e-16)
    speed, current = wheel_speed(flow)
    return flow, speed, current, current * (9.0 + 20.0 * current)


def wheel_speed(flow: float) -> tuple[float, float]:
    """Speed and current at which the wheel's torque is the generator's."""
    jet = flow / 3.46e-6

    def current(speed: float) -> float:
        return max(0.0, 0.1 * speed - 10.0) / 30.0

    def torque(speed: float) -> float:
        turned = 1 + 0.8 * math.cos(math.radians(20.0))
        push = DENSITY_KG_M3 * flow * 0.9 * 0.05 * (jet - speed * 0.05) * turned
        return push - 1e-4 - 1e-8 * speed**2 - 0.1 * current(speed)

    speed = brentq(torque, 1e-3, jet / 0.05, xtol=1e-13)
    return speed, current(speed)


def pump_flow(speed: float) -> float:
    """Flow of the demo pump up its main at a speed, 0 below the threshold [m3/s]."""
    ratio = speed / 350.0
    if 17.0 * ratio**2 <= 10.8:
        return 0.0

    def spare(flow: float) -> float:
        head = 17.0 * ratio**2 - 1.5e8 * flow**2
        return head - 10.8 - line_loss_m(flow, 22.0, 0.020, 2.0)

    return brentq(spare, 1e-9, 1e-3, xtol=1e-16)


def pump_point(curve: tuple[float, ...]) -> tuple[float, float, float, float]:
    """Voltage, current, speed and flow of the directly driven pump."""
    light, dark, ideality, series, shunt = curve

    def asked(speed: float) -> float:
        torque = 1.5e-7 * speed**2 + 0.2 * speed * pump_flow(speed)
        return (torque + 0.005 + 1e-5 * speed) / 0.06

    def lacking(speed: float) -> float:
        volts = 0.06 * speed + 3.0 * asked(speed)
        given = pvlib.pvsystem.i_from_v(volts, light, dark, series, shunt, ideality)
        return asked(speed) - float(numpy.asarray(given))

    speed = brentq(lacking, 1.0, 600.0, xtol=1e-12)
    return 0.06 * speed + 3.0 * asked(speed), asked(speed), speed, pump_flow(speed)
