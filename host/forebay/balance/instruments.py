"""What the meters' errors do to sums: one place for every uncertainty of the balance.

A calibration error is the same at every scan: it grows with the sum.  Noise
is new at every scan: it grows with the square root of their number.  Each
meter's calibration is one source, so that two sums of one meter share it.
"""

import math
from dataclasses import dataclass
from typing import Any

import numpy as np

from forebay.balance.measured import Measured
from keeper.channels import (
    CH_TAG,
    CHANNELS,
    GENERATOR_MA,
    LAMP_MA,
    LEVEL_MM,
    PANEL_MA,
    PUMP_MA,
    SUPPLY_MA,
)
from keeper.clock import PERIOD_S

J_PER_MJ = 1e-3
M3_PER_UL = 1e-9
L_PER_M3 = 1000.0
# Standard deviation of a rectangular distribution over its half-width (GUM 4.3.7).
HALF_WIDTH = 1 / math.sqrt(3)
# ... over its full width, as for the last digit of a display (GUM F.2.2.1).
FULL_WIDTH = 1 / math.sqrt(12)


def tag(channel: int) -> str:
    """Return the instrument's tag of a channel, the name of its calibration error."""
    return str(CHANNELS[channel][CH_TAG])


def rounding_bias(resolution: float, noise: float) -> float:
    """Standard uncertainty of a long mean from rounding to `resolution`, under `noise`.

    resolution, noise (standard deviation): in one unit, which is also the
    result's.  b = (q / pi) exp(-2 pi^2 (s / q)^2), the first harmonic of the
    mean of a rounded Gaussian reading, over sqrt 2 for an unknown phase
    (Widrow and Kollar, "Quantization Noise", from memory); never more than
    that of the last digit itself.
    """
    if resolution <= 0:
        return 0.0
    spread = noise / resolution
    bias = resolution / math.pi * math.exp(-2 * (math.pi * spread) ** 2) / math.sqrt(2)
    return min(bias, resolution * FULL_WIDTH)


@dataclass
class Meters:
    """The rig's instruments as its description states them (section sensors, SI)."""

    sensors: Any

    def current_range_A(self, channel: int) -> float:
        """Return the range of the monitor of a current channel [A]."""
        names = {
            PANEL_MA: "panel_range_A",
            PUMP_MA: "pump_range_A",
            GENERATOR_MA: "generator_range_A",
            LAMP_MA: "lamp_range_A",
            SUPPLY_MA: "supply_range_A",
        }
        return getattr(self.sensors, names[channel])

    def energy(self, joules, volts_channel, amps_channel, volts, amps, seconds) -> Measured:
        """Return a metered energy [J] with its uncertainty.

        volts [V], amps [A]: root mean squares while it flowed; seconds [s]:
        for how long.
        """
        s = self.sensors
        amps_noise = s.current_noise_frac * self.current_range_A(amps_channel)
        volts_rounding = rounding_bias(s.voltage_resolution_V, s.voltage_noise_V)
        amps_rounding = rounding_bias(s.current_resolution_A, amps_noise)
        noise_W = math.hypot(volts * amps_noise, amps * s.voltage_noise_V)
        return (
            Measured(joules)
            .with_part(tag(volts_channel), s.voltage_frac * joules)
            .with_part(tag(amps_channel), s.current_frac * joules)
            .with_part(tag(volts_channel) + " rounding", volts_rounding * amps * seconds)
            .with_part(tag(amps_channel) + " rounding", amps_rounding * volts * seconds)
            .with_noise(noise_W * math.sqrt(PERIOD_S * seconds))
        )

    def volume(self, litres, channel, runs, unseen_litres=0.0) -> Measured:
        """Return a metered volume [L] with its uncertainty.

        channel: FLOW_UP or FLOW_DOWN; runs: how often flow began and ended
        [-], each of which may hide a pulse; unseen_litres: half-width of what
        a meter may have missed below its floor [L].
        """
        s = self.sensors
        pulse_l = 1 / s.pulses_per_litre
        return (
            Measured(litres)
            .with_part(tag(channel), s.flow_frac * litres)
            .with_part(tag(channel) + " floor", unseen_litres * HALF_WIDTH)
            .with_noise(pulse_l * FULL_WIDTH * math.sqrt(2 * runs))
        )

    def level(self, metres, height_m, scans) -> Measured:
        """Return a level [m], the mean of `scans` [-] readings, in a tank of `height_m` [m].

        The calibration error is taken as a smooth curve over the height:
        levels close together share it, so that it cancels in their difference,
        floor and rim do not.  Two independent errors e0, e1 of one size make
        such a curve of even size: e = e0 cos(pi x / 2) + e1 sin(pi x / 2), x =
        level / height.
        """
        s = self.sensors
        angle = math.pi / 2 * min(max(metres / height_m, 0.0), 1.0)
        rounding = rounding_bias(s.level_resolution_m, s.level_noise_m)
        return (
            Measured(metres)
            .with_part(tag(LEVEL_MM) + " floor", s.level_uncertainty_m * math.cos(angle))
            .with_part(tag(LEVEL_MM) + " rim", s.level_uncertainty_m * math.sin(angle))
            .with_noise(math.hypot(s.level_noise_m / math.sqrt(max(scans, 1)), rounding))
        )

    def unseen_litres(self, flow_m3_s, seconds) -> float:
        """Return the most that a flow meter may have missed [L].

        flow_m3_s: means of rows [m3/s] in which water may have flowed;
        seconds: their lengths [s].  Below its floor a meter reads low; what
        is missing lies between nothing and the difference to the floor.
        """
        known = np.isfinite(flow_m3_s)
        flow, length = flow_m3_s[known], seconds[known]
        low = flow < self.sensors.flow_floor_m3_s
        return float(((self.sensors.flow_floor_m3_s - flow) * length)[low].sum()) * L_PER_M3
