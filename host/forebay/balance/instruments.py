"""What the meters' errors do to sums: one place for every uncertainty of the balance.

A calibration error is the same at every scan: it grows with the sum.  Noise
is new at every scan: it grows with the square root of their number.  Each
meter's calibration is one source, so that two sums of one meter share it.
"""

import math
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np

from forebay.balance.measured import Measured
from forebay.rig.instruments import BY_NAME
from forebay.si import step, unit_of
from forebay.words import measured
from keeper.channels import (
    CH_NAME,
    CHANNELS,
    FLOW_UP,
    GENERATOR_MA,
    LAMP_MA,
    LEVEL_MM,
    PANEL_MA,
    PUMP_MA,
    SUPPLY_MA,
)
from keeper.clock import PERIOD_S
from keeper.instruments.monitors import arranged

L_PER_M3 = 1000.0
ALL = frozenset(BY_NAME)
# Standard deviation of a rectangular distribution over its half-width (GUM 4.3.7).
HALF_WIDTH = 1 / math.sqrt(3)
# ... over its full width, as for the last digit of a display (GUM F.2.2.1).
FULL_WIDTH = 1 / math.sqrt(12)
COVERAGE = 2.0  # standard uncertainties by which a bound is moved out
# Of the mean of a rounded reading: beyond these the rest is less than a part in a hundred.
HARMONICS = 60


def tag(channel: int) -> str:
    """Return the instrument's tag of a channel, the name of its calibration error."""
    return measured.CHANNELS[CHANNELS[channel][CH_NAME]].tag


@lru_cache(maxsize=1024)
def rounding_bias(resolution: float, noise: float) -> float:
    """Standard uncertainty of a long mean from rounding to `resolution`, under `noise`.

    resolution, noise (standard deviation): in one unit, which is also the
    result's.  The mean of a rounded Gaussian reading leaves it by the harmonics
    (q / pi k) exp(-2 (pi k s / q)^2) sin, whose root mean square over an unknown
    phase is taken (Widrow and Kollar, "Quantization Noise", from memory);
    without noise that is the full width of the last digit.
    """
    if resolution <= 0:
        return 0.0
    if noise <= 0:
        return resolution * FULL_WIDTH
    spread = noise / resolution
    squares = sum(
        math.exp(-((2 * math.pi * order * spread) ** 2)) / order**2
        for order in range(1, HARMONICS + 1)
    )
    return resolution / math.pi * math.sqrt(squares / 2)


def stored_step(channel: int) -> float:
    """Return the step in which the journal stores a channel's means [SI unit]."""
    return step(channel) * unit_of(str(CHANNELS[channel][CH_NAME])).factor


@lru_cache(maxsize=1024)
def scans_a_reading(channel: int, fitted=ALL) -> int:
    """Return for how many scans one reading of a channel stands [-].

    Monitors that are not needed in every scan are read in turn, so that one
    draw of their noise counts more than once.  fitted: names of the instruments that
    are there.
    """
    bits = 0
    for name in fitted:
        for place in BY_NAME[name].reads:
            bits |= 1 << place
    in_turn = [places for _, *places, is_quick in arranged(bits) if not is_quick]
    return len(in_turn) if any(channel in places for places in in_turn) else 1


@dataclass
class Meters:
    """The rig's instruments as its description states them (section sensors, SI).

    fitted: names of those that are there.
    """

    sensors: Any
    fitted: frozenset = ALL

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

        joules, amps: negative for what flows against the meter's sense.
        volts [V], amps [A]: root mean squares while it flowed; seconds [s]:
        for how long.
        """
        s = self.sensors
        amps_noise = s.current_noise_frac * self.current_range_A(amps_channel)
        volts_rounding = rounding_bias(s.voltage_resolution_V, s.voltage_noise_V)
        amps_rounding = rounding_bias(s.current_resolution_A, amps_noise)
        noise_W = math.hypot(
            volts * amps_noise * math.sqrt(scans_a_reading(amps_channel, self.fitted)),
            amps * s.voltage_noise_V * math.sqrt(scans_a_reading(volts_channel, self.fitted)),
        )
        return Measured(joules, {
            tag(volts_channel): s.voltage_frac * joules,
            tag(amps_channel): s.current_frac * joules,
            tag(volts_channel) + " rounding": volts_rounding * amps * seconds,
            tag(amps_channel) + " rounding": amps_rounding * volts * seconds,
        }).with_noise(noise_W * math.sqrt(PERIOD_S * seconds))

    def volume(self, litres, channel, runs, unseen_litres=0.0) -> Measured:
        """Return a metered volume [L] with its uncertainty.

        channel: FLOW_UP or FLOW_DOWN; runs: how often flow began and ended
        [-], each of which may hide a pulse; unseen_litres: half-width of what
        a meter may have missed below its floor [L].
        """
        s = self.sensors
        own = getattr(s, "pulses_up" if channel == FLOW_UP else "pulses_down", None)
        pulse_l = 1 / (own or s.pulses_per_litre)
        return (
            Measured(litres)
            .with_part(tag(channel), s.flow_frac * litres)
            .with_part(tag(channel) + " floor", unseen_litres * HALF_WIDTH)
            .with_noise(pulse_l * FULL_WIDTH * math.sqrt(2 * runs))
        )

    def level(self, metres, height_m) -> Measured:
        """Return a level [m] with its calibration error, in a tank of `height_m` [m].

        The calibration error is taken as a smooth curve over the height:
        levels close together share it, so that it cancels in their difference,
        floor and rim do not.  Two independent errors e0, e1 of one size make
        such a curve of even size: e = e0 cos(pi x / 2) + e1 sin(pi x / 2), x =
        level / height.
        """
        return Measured(metres, {source: float(part) for source, part in self.levels(
            np.array(metres), height_m).items()})

    def levels(self, metres: np.ndarray, height_m: float) -> dict[str, np.ndarray]:
        """Return what the calibration does to levels [m] by source, as `level` has it."""
        angle = math.pi / 2 * np.clip(metres / height_m, 0.0, 1.0)
        return {tag(LEVEL_MM) + end: self.sensors.level_uncertainty_m * share(angle)
                for end, share in ((" floor", np.cos), (" rim", np.sin))}

    def level_noise_m(self, scans) -> np.ndarray:
        """Return what is new in each row's mean level [m], of `scans` [-] readings each.

        Noise falls with the root of the readings.  What rounding leaves does not: that of
        the readings or, under noise, that of their mean to the journal's step; a mean of
        readings that are all rounded alike is not rounded again.
        """
        s = self.sensors
        rounding_m = max(rounding_bias(s.level_resolution_m, s.level_noise_m),
                         stored_step(LEVEL_MM) * FULL_WIDTH)
        return np.hypot(s.level_noise_m / np.sqrt(np.maximum(scans, 1)), rounding_m)

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
