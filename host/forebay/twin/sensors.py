"""What the board's instruments read of the plant: errors, noise, steps, low-flow stall.

Each instrument has one calibration error for its life, drawn within its
standard uncertainty from a seed, and noise in every scan.  The draws come from
a generator of our own, so that both interpreters see the same readings.
"""

import math

from keeper import channels as ch
from keeper.channels import CHANNELS

NOISE_TABLE = 4093        # a prime, so that channels do not repeat together
MOST_OFFSET = 4000
_MULTIPLIER, _INCREMENT, _MODULUS = 1103, 12345, 1 << 20
_WARM_UP = 16
_SUMMED = 12              # twelve uniform draws make one nearly normal one
SLOW_SCANS = 10           # the temperatures are read once a second
LOW_FLOW_READS = 0.7      # a meter just above its stall reads this share of the flow; a guess


class Draws:
    """Pseudo-random numbers, equal on every interpreter."""

    def __init__(self, seed):
        """Start from `seed` [-], a whole number."""
        self.state = (seed * 7919 + 1) % _MODULUS
        for _ in range(_WARM_UP):
            self.uniform()

    def uniform(self):
        """Return a draw [-], 0 to 1."""
        self.state = (self.state * _MULTIPLIER + _INCREMENT) % _MODULUS
        return self.state / _MODULUS

    def normal(self):
        """Return a draw [-] of mean 0 and deviation 1: the sum of twelve uniform ones."""
        total = 0.0
        for _ in range(_SUMMED):
            total += self.uniform()
        return total - _SUMMED / 2

    def calibration(self):
        """Return a calibration error in standard uncertainties [-], within +-1.7.

        Uniform with deviation 1: a calibrated instrument lies within its limits.
        """
        return (2.0 * self.uniform() - 1.0) * math.sqrt(3.0)


class Sensors:
    """All instruments of one rig.  `read` fills the keeper's list of values."""

    def __init__(self, rig, plant, seed):
        """Take the rig as a dict "section.key_unit", the plant and a seed [-]."""
        self.plant = plant
        draws = Draws(seed)
        table = [draws.normal() for _ in range(NOISE_TABLE)]
        self.noise = table + table[:MOST_OFFSET]
        self.at = 0
        self.gain = [1.0] * ch.COLUMNS
        self.sigma = [0.0] * ch.COLUMNS
        self.offset = [0.0] * ch.COLUMNS
        self.place = [MOST_OFFSET * i // ch.COLUMNS for i in range(ch.COLUMNS)]
        for index, row in enumerate(CHANNELS):
            self._calibrate(index, row, rig, draws)
        self.pulses_m3 = rig["sensors.pulses_per_litre"] * 1000.0
        self.floor = rig["sensors.flow_floor_m3_s"]
        self.stall = rig["sensors.flow_stall_m3_s"]
        self.part_up = self.part_down = 0.0   # part of a pulse that is still due
        self.countdown = 0
        self.motor_mdegC = self.water_mdegC = 0
        self.step_mV = max(1, int(rig["sensors.voltage_resolution_V"] * 1000.0 + 0.5))
        self.step_mA = max(1, int(rig["sensors.current_resolution_A"] * 1000.0 + 0.5))
        self.step_mm = max(1, int(rig["sensors.level_resolution_m"] * 1000.0 + 0.5))

    def _calibrate(self, index, row, rig, draws):
        """Draw the calibration of one channel and note its noise."""
        unit, name = row[ch.CH_UNIT], row[ch.CH_NAME]
        error = draws.calibration()
        if unit == "mV":
            self.gain[index] += error * rig["sensors.voltage_frac"]
            self.sigma[index] = rig["sensors.voltage_noise_V"] * 1000.0
        elif unit == "mA":
            self.gain[index] += error * rig["sensors.current_frac"]
            full = rig["sensors." + name.split("_")[0] + "_range_A"]
            self.sigma[index] = full * rig["sensors.current_noise_frac"] * 1000.0
        elif unit == "uL/s":
            self.gain[index] += error * rig["sensors.flow_frac"]
        elif unit == "mm":
            self.offset[index] = error * rig["sensors.level_uncertainty_m"] * 1000.0
            self.sigma[index] = rig["sensors.level_noise_m"] * 1000.0
        elif unit == "mdegC":
            self.offset[index] = error * rig["sensors.temperature_uncertainty_K"] * 1000.0
            self.sigma[index] = rig["sensors.temperature_noise_K"] * 1000.0
        else:
            self.gain[index] += error * rig["sensors.valve_frac"]

    def read(self, values):
        """Fill `values` in the order of `keeper.channels`, as the board's drivers would."""
        plant = self.plant
        up, down = plant.up, plant.down
        at = self.at + 1
        if at >= NOISE_TABLE:
            at = 0
        self.at = at
        self._volts(values, 0, up.panel_V, at)
        self._amps(values, 1, up.panel_A, at)
        self._amps(values, 2, up.pump_A, at)
        self._volts(values, 3, down.generator_V, at)
        self._amps(values, 4, down.generator_A, at)
        self._amps(values, 5, down.lamp_A, at)
        self._volts(values, 6, plant.battery.volts, at)
        self._amps(values, 7, plant.battery.amps, at)
        mm = (plant.upper.level_m * 1000.0 + self.offset[10]
              + self.sigma[10] * self.noise[at + self.place[10]])
        step = self.step_mm
        values[10] = int(mm / step + 1000.5) * step - 1000 * step
        values[13] = int(down.position * 1000.0 * self.gain[13] + 0.5)
        self.countdown -= 1
        if self.countdown < 0:
            self.countdown = SLOW_SCANS - 1
            self.motor_mdegC = self._temperature(11, plant.felt_degC, at)
            self.water_mdegC = self._temperature(12, plant.water_degC, at)
        values[11] = self.motor_mdegC
        values[12] = self.water_mdegC
        values[ch.PULSES_UP] = values[ch.PULSES_DOWN] = 0
        if up.flow > 0.0:
            self.part_up += self._metered(up.flow, 8)
            values[ch.PULSES_UP] = count = int(self.part_up)
            self.part_up -= count
        if down.flow > 0.0:
            self.part_down += self._metered(down.flow, 9)
            values[ch.PULSES_DOWN] = count = int(self.part_down)
            self.part_down -= count

    def _volts(self, values, index, volts, at):
        step = self.step_mV
        mV = volts * 1000.0 * self.gain[index] + self.sigma[index] * self.noise[
            at + self.place[index]]
        # Rounds to nearest for either sign: 1000 steps are added and taken away.
        values[index] = int(mV / step + 1000.5) * step - 1000 * step

    def _amps(self, values, index, amps, at):
        step = self.step_mA
        mA = amps * 1000.0 * self.gain[index] + self.sigma[index] * self.noise[
            at + self.place[index]]
        values[index] = int(mA / step + 10000.5) * step - 10000 * step

    def _temperature(self, index, degC, at):
        """Return a reading in steps of 1/16 K [mdegC], as the usual digital sensor gives."""
        sixteenths = (degC * 1000.0 + self.offset[index]
                      + self.sigma[index] * self.noise[at + self.place[index]]) / 62.5
        return (int(sixteenths + 16000.5) - 16000) * 125 // 2

    def _metered(self, flow_m3_s, index):
        """Return the pulses [-] that a flow makes in one scan; the meter is lazy when slow."""
        if flow_m3_s >= self.floor:
            reads = 1.0
        elif flow_m3_s <= self.stall:
            return 0.0
        else:
            along = (flow_m3_s - self.stall) / (self.floor - self.stall)
            reads = LOW_FLOW_READS + (1.0 - LOW_FLOW_READS) * along
        return flow_m3_s * self.pulses_m3 * self.gain[index] * reads * 0.1
