"""What the board's instruments read of the plant: errors, noise, steps, low-flow stall.

Each instrument has one calibration error for its life, drawn within its
standard uncertainty from a seed, and noise in every scan.  The draws come from
a generator of our own, so that both interpreters see the same readings.
"""

import math

from keeper import channels as ch
from keeper.channels import CHANNELS
from keeper.clock import PERIOD_S

NOISE_TABLE = 4093        # a prime, so that channels do not repeat together
_MULTIPLIER, _INCREMENT, _MODULUS = 1103, 12345, 1 << 20
_WARM_UP = 16
_SUMMED = 12              # twelve uniform draws make one nearly normal one
SLOW_SCANS = 10           # the temperatures are read once a second
MILLI = 1000.0
SIXTEENTH_NUM, SIXTEENTH_DEN = 125, 2  # 1/16 K in thousandths
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


# Added before a number is cut to a whole one and taken away after: rounds to
# nearest for either sign.
LIFT = 20000
HALF = 0.5
PULSES_A_LITRE = 1000.0


class Sensors:
    """All instruments of one rig.  `read` fills the keeper's list of values.

    A reading is int(true * scale + blur) * step: scale holds the calibration
    error and the step, blur the noise of that scan, the offset and the
    rounding, both made ready for each channel.
    """

    def __init__(self, rig, plant, seed):
        """Take the rig as a dict "section.key_unit", the plant and a seed [-]."""
        self.plant = plant
        draws = Draws(seed)
        noise = [draws.normal() for _ in range(NOISE_TABLE)]
        self.at = 0
        self.gain = [1.0] * ch.COLUMNS
        self.scale = [0.0] * ch.COLUMNS
        self.step: list = [1] * ch.COLUMNS
        self.blur: list = [[]] * ch.COLUMNS
        for index, row in enumerate(CHANNELS):
            gain, offset, sigma, step = _instrument(row, rig, draws.calibration())
            place = NOISE_TABLE * index // ch.COLUMNS
            own = noise[place:] + noise[:place]
            self.gain[index] = gain
            self.scale[index] = gain * MILLI / step
            self.step[index] = step
            self.blur[index] = [(offset + sigma * one) / step + LIFT + HALF for one in own]
        self.pulses_m3 = rig["sensors.pulses_per_litre"] * PULSES_A_LITRE
        self.floor = rig["sensors.flow_floor_m3_s"]
        self.stall = rig["sensors.flow_stall_m3_s"]
        self.part_up = self.part_down = 0.0   # part of a pulse that is still due
        self.period_s = PERIOD_S
        # A monitor at the end of its range says so instead of reading on.
        self.most_A = [rig["sensors." + name + "_range_A"]
                       for name in ("panel", "pump", "generator", "lamp", "supply")]
        self.countdown = 0
        self.motor_mdegC = self.water_mdegC = 0

    def read(self, values):
        """Fill `values` in the order of `keeper.channels`, as the board's drivers would."""
        plant = self.plant
        up, down, battery = plant.up, plant.down, plant.battery
        scale, step, blur = self.scale, self.step, self.blur
        at = self.at + 1
        if at >= NOISE_TABLE:
            at = 0
        self.at = at
        # One line a channel instead of a loop: this is half of a scan's cost in the twin.
        values[0] = (int(up.panel_V * scale[0] + blur[0][at]) - LIFT) * step[0]
        values[1] = (int(up.panel_A * scale[1] + blur[1][at]) - LIFT) * step[1]
        values[2] = (int(up.pump_A * scale[2] + blur[2][at]) - LIFT) * step[2]
        values[3] = (int(down.generator_V * scale[3] + blur[3][at]) - LIFT) * step[3]
        values[4] = (int(down.generator_A * scale[4] + blur[4][at]) - LIFT) * step[4]
        values[5] = (int(down.lamp_A * scale[5] + blur[5][at]) - LIFT) * step[5]
        values[6] = (int(battery.volts * scale[6] + blur[6][at]) - LIFT) * step[6]
        values[7] = (int(battery.amps * scale[7] + blur[7][at]) - LIFT) * step[7]
        values[10] = (int(plant.upper.level_m * scale[10] + blur[10][at]) - LIFT) * step[10]
        values[13] = int(down.position * scale[13] + HALF)
        self.countdown -= 1
        if self.countdown < 0:
            self.countdown = SLOW_SCANS - 1
            self.motor_mdegC = self._temperature(11, plant.felt_degC, at)
            self.water_mdegC = self._temperature(12, plant.frost.degC, at)
        values[11] = self.motor_mdegC
        values[12] = self.water_mdegC
        panel_A, pump_A, generator_A, lamp_A, supply_A = self.most_A
        if (up.panel_A > panel_A or up.pump_A > pump_A or down.generator_A > generator_A
                or down.lamp_A > lamp_A or battery.amps > supply_A):
            self._clip(values)
        if up.flow > 0.0:
            self.part_up += self._metered(up.flow, 8)
        if down.flow > 0.0:
            self.part_down += self._metered(down.flow, 9)
        values[ch.PULSES_UP] = values[ch.PULSES_DOWN] = 0
        if self.part_up >= 1.0:
            values[ch.PULSES_UP] = count = int(self.part_up)
            self.part_up -= count
        if self.part_down >= 1.0:
            values[ch.PULSES_DOWN] = count = int(self.part_down)
            self.part_down -= count

    def _clip(self, values):
        """Say of each current beyond its monitor's range that it cannot be read."""
        up, down = self.plant.up, self.plant.down
        true_A = (up.panel_A, up.pump_A, down.generator_A, down.lamp_A, self.plant.battery.amps)
        for place, index in enumerate((ch.PANEL_MA, ch.PUMP_MA, ch.GENERATOR_MA, ch.LAMP_MA,
                                       ch.SUPPLY_MA)):
            if true_A[place] > self.most_A[place]:
                values[index] = ch.INVALID + ch.CLIPPED

    def count(self):
        """Let the meters count on through a scan that is missed."""
        up, down = self.plant.up, self.plant.down
        if up.flow > 0.0:
            self.part_up += self._metered(up.flow, 8)
        if down.flow > 0.0:
            self.part_down += self._metered(down.flow, 9)

    def _temperature(self, index, degC, at):
        """Return a reading [mdegC] in steps of 1/16 K, as the usual digital sensor gives."""
        sixteenths = int(degC * self.scale[index] + self.blur[index][at]) - LIFT
        return sixteenths * SIXTEENTH_NUM // SIXTEENTH_DEN

    def _metered(self, flow_m3_s, index):
        """Return the pulses [-] that a flow makes in one scan; the meter is lazy when slow."""
        if flow_m3_s >= self.floor:
            reads = 1.0
        elif flow_m3_s <= self.stall:
            return 0.0
        else:
            along = (flow_m3_s - self.stall) / (self.floor - self.stall)
            reads = LOW_FLOW_READS + (1.0 - LOW_FLOW_READS) * along
        return flow_m3_s * self.pulses_m3 * self.gain[index] * reads * self.period_s


def _instrument(row, rig, error):
    """Return (gain [-], offset, sigma, step [the channel's unit]) of one channel.

    error: its calibration error in standard uncertainties [-].
    """
    unit, name = row[ch.CH_UNIT], row[ch.CH_NAME]
    if unit == "mV":
        return (1.0 + error * rig["sensors.voltage_frac"], 0.0,
                rig["sensors.voltage_noise_V"] * MILLI,
                _whole(rig["sensors.voltage_resolution_V"]))
    if unit == "mA":
        full = rig["sensors." + name.split("_")[0] + "_range_A"]
        return (1.0 + error * rig["sensors.current_frac"], 0.0,
                full * rig["sensors.current_noise_frac"] * MILLI,
                _whole(rig["sensors.current_resolution_A"]))
    if unit == "uL/s":
        return 1.0 + error * rig["sensors.flow_frac"], 0.0, 0.0, 1
    if unit == "mm":
        return (1.0, error * rig["sensors.level_uncertainty_m"] * MILLI,
                rig["sensors.level_noise_m"] * MILLI, _whole(rig["sensors.level_resolution_m"]))
    if unit == "mdegC":
        return (1.0, error * rig["sensors.temperature_uncertainty_K"] * MILLI,
                rig["sensors.temperature_noise_K"] * MILLI, SIXTEENTH_NUM / SIXTEENTH_DEN)
    return 1.0 + error * rig["sensors.valve_frac"], 0.0, 0.0, 1


def _whole(resolution):
    """Return a resolution [V, A, m] in whole thousandths, at least 1."""
    return max(1, int(resolution * MILLI + HALF))
