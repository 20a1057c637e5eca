"""What the board's instruments read of the plant: errors, noise, steps, low-flow stall.

Each instrument has one calibration error for its life, drawn within its
standard uncertainty from a seed (the level has a curve of them over the height
of its tank), and noise in every reading.  The draws come from a generator of
our own, so that both interpreters see the same readings.
Monitors that `keeper.channels.MONITORS` has read in turn are read in turn.
"""

import math

from keeper import channels as ch
from keeper.channels import (
    CHANNELS, FLOW_DOWN, FLOW_UP, GENERATOR_MA, GENERATOR_MV, LAMP_MA, LEVEL_MM, MOTOR_MDEGC,
    PANEL_MA, PANEL_MV, PULSES_DOWN, PULSES_UP, PUMP_MA, SUPPLY_MA, SUPPLY_MV, VALVE_PERMILLE,
    WATER_MDEGC)
from keeper.clock import PERIOD_S
from keeper.instruments.monitors import arranged

NOISE_TABLE = 4093        # a prime, so that channels do not repeat together
# Wichmann and Hill, "An efficient and portable pseudo-random number generator",
# Applied Statistics 31 (1982), AS 183: three short generators, whose fractions are
# added; from memory.  No intermediate needs more than 23 bits.
_GENERATORS = ((171, 30269), (172, 30307), (170, 30323))
(_A, _M), (_B, _N), (_C, _O) = _GENERATORS
LIMIT = math.sqrt(3.0)    # a uniform error of deviation 1 lies within so much
_SUMMED = 12              # twelve uniform draws make one nearly normal one
SLOW_SCANS = 10           # the temperatures are read once a second
MILLI = 1000.0
SIXTEENTH_NUM, SIXTEENTH_DEN = 125, 2  # 1/16 K in thousandths
VALVE_NOISE_PERMILLE = 1.0  # of the position's reading: a few steps of the converter; a guess
LEAST_LEVEL_M = 1e-3      # below it the level's error shrinks: the tank is empty
LOW_FLOW_READS = 0.7      # a meter just above its stall reads this share of the flow; a guess


def mixed(number):
    """Return 32 bits [-] of a whole number, each of which depends on all of its 32.

    The finalizer of MurmurHash3 (A. Appleby, public domain; from memory): one to one.
    """
    number &= 0xFFFFFFFF
    number = (number ^ number >> 16) * 0x85EBCA6B & 0xFFFFFFFF
    number = (number ^ number >> 13) * 0xC2B2AE35 & 0xFFFFFFFF
    return number ^ number >> 16


class Draws:
    """Pseudo-random numbers, equal on every interpreter."""

    def __init__(self, seed):
        """Start from `seed` [-], a whole number: neighbours have nothing in common."""
        begin = len(_GENERATORS) * seed
        self.a, self.b, self.c = [mixed(begin + place) % (modulus - 1) + 1
                                  for place, (_, modulus) in enumerate(_GENERATORS)]

    def uniform(self):
        """Return a draw [-], 0 to 1."""
        self.a = self.a * _A % _M
        self.b = self.b * _B % _N
        self.c = self.c * _C % _O
        return (self.a / _M + self.b / _N + self.c / _O) % 1.0

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
        return (2.0 * self.uniform() - 1.0) * LIMIT

    def curve(self):
        """Return (size [-], phase [rad]) of a calibration error that follows an angle.

        It is size x cos(phase - angle) standard uncertainties.  The two are those of a
        point on a sphere: its share along any axis is uniform, as `calibration` is, and
        shares along axes at right angles are uncorrelated.
        """
        along = 2.0 * self.uniform() - 1.0
        return LIMIT * math.sqrt(1.0 - along * along), 2.0 * math.pi * self.uniform()


# Added before a number is cut to a whole one and taken away after: rounds to
# nearest for either sign.
LIFT = 20000
HALF = 0.5
PULSES_A_LITRE = 1000.0
RANGES = ("panel", "pump", "generator", "lamp", "supply")   # in the order of ch.MONITORS
CLIPPED = ch.INVALID + ch.CLIPPED
NOT_YET = ch.INVALID + ch.NO_ANSWER  # of a monitor whose turn has not come


class Sensors:
    """All instruments of one rig.  `read` fills the keeper's list of values.

    What is not read in a scan is left in that list as it stands there; `hold`
    writes it anew.  A reading is int(true * scale + blur) * step: scale holds the calibration
    error and the step, blur the noise of that scan, the offset and the
    rounding, both made ready for each channel.  The level's error moves with
    the level, so slowly that its scale is made anew once a second.
    """

    def __init__(self, rig, plant, seed, fitted=ch.ALL_FITTED):
        """Take the rig as a dict "section.key_unit", the plant, a seed [-] and what is fitted."""
        self.plant = plant
        draws = Draws(seed)
        noise = [draws.normal() for _ in range(NOISE_TABLE)]
        self.at = 0
        self.gain = [1.0] * ch.COLUMNS
        scale = [0.0] * ch.COLUMNS
        steps: list = [1] * ch.COLUMNS
        blur: list = [[]] * ch.COLUMNS
        for index, row in enumerate(CHANNELS):
            gain, offset, sigma, step = _instrument(row, rig, draws.calibration())
            place = NOISE_TABLE * index // ch.COLUMNS
            own = noise[place:] + noise[:place]
            self.gain[index] = gain
            scale[index] = gain * MILLI / step
            steps[index] = step
            blur[index] = [(offset + sigma * one) / step + LIFT + HALF for one in own]
        for place in (FLOW_UP, FLOW_DOWN):
            if not fitted >> place & 1:
                self.gain[place] = 0.0   # no meter, no pulses
        self.scale = scale
        self.step = tuple(steps)
        self._take_level(rig, draws)
        self.blur = list(zip(*blur))
        # What the quick monitors of each side read while nothing is there to be read.
        self.dark = [(int(row[PUMP_MA]) - LIFT) * steps[PUMP_MA] for row in self.blur]
        self.idle = [tuple([(int(row[i]) - LIFT) * steps[i]
                            for i in (GENERATOR_MV, GENERATOR_MA, VALVE_PERMILLE)])
                     for row in self.blur]
        self.pulses_m3 = _pulses_m3(rig)
        self.floor = rig["sensors.flow_floor_m3_s"]
        self.stall = rig["sensors.flow_stall_m3_s"]
        self.part_up = self.part_down = 0.0   # part of a pulse that is still due
        self.period_s = PERIOD_S
        self.in_hand = {}         # place of a thermometer that somebody holds -> [degC]
        # A monitor at the end of its range says so instead of reading on.
        self.most_A = [rig["sensors." + name + "_range_A"] for name in RANGES]
        self._take_turns(arranged(fitted))
        self.polls = 1            # how many of them a step reads
        self.countdown = 0
        self.held = [0] * ch.COLUMNS   # last reading of what is not read in every scan
        self.start()

    def _take_turns(self, found):
        """Set which monitors [rows as `arranged` gives them] are read in turn."""
        readers = {PANEL_MA: self._read_panel, LAMP_MA: self._read_lamp,
                   SUPPLY_MA: self._read_supply}
        slow = [readers[row[1]] for row in found if not row[3]] or [self._read_none]
        # Each with the place of the one after it.
        self.polled = [(reader, (place + 1) % len(slow)) for place, reader in enumerate(slow)]
        # What a board knows nothing of before its turn has come.
        self.in_turn = tuple([place for row in found if not row[3]
                              for place in row[1:3] if place != ch.NOWHERE])
        self.kept = self.in_turn + (MOTOR_MDEGC, WATER_MDEGC)
        # Without a monitor of its own the panel's voltage is read by the pump's.
        self.panel_is_quick = any(row[1] == PUMP_MA and row[2] == PANEL_MV for row in found)
        self.lamp_is_quick = any(row[1] == LAMP_MA and row[3] for row in found)

    def _take_level(self, rig, draws):
        """Set the level's error: from floor to rim as the balance takes it to be."""
        size, self.level_phase = draws.curve()
        u_mm = rig["sensors.level_uncertainty_m"] * MILLI
        self.level_off = size * u_mm / self.step[LEVEL_MM]
        self.level_turn = 0.5 * math.pi / rig["upper.height_m"]
        self.level_scale = self.scale[LEVEL_MM]   # without an error

    def start(self):
        """Begin anew with a board that has read no monitor yet."""
        self.due = 0              # which of the monitors in turn is read next
        self.clips = False        # a value that is held says that it cannot be read
        for place in self.in_turn:
            self.held[place] = NOT_YET

    def read(self, values):
        """Fill `values` in the order of `keeper.channels`, as the board's drivers would."""
        plant = self.plant
        at = self.at + 1
        if at >= NOISE_TABLE:
            at = 0
        self.at = at
        scale, step, blur = self.scale, self.step, self.blur[at]
        self.countdown -= 1
        if self.countdown < 0:
            self.countdown = SLOW_SCANS - 1
            self._read_slowly(values, plant)
        # One line a channel instead of a loop: this is a good part of a scan's cost.
        values[LEVEL_MM] = (
            int(plant.upper.level_m * scale[LEVEL_MM] + blur[LEVEL_MM]) - LIFT) * step[LEVEL_MM]
        values[PULSES_UP] = values[PULSES_DOWN] = 0
        up = plant.up
        if up.pump_A or up.flow or self.part_up >= 1.0:
            self._read_pump(values, up, scale, step, blur)
        else:
            values[PUMP_MA] = self.dark[at]
        down = plant.down
        if down.generator_V or down.flow or down.position or self.part_down >= 1.0:
            self._read_generator(values, down, scale, step, blur)
        else:
            values[GENERATOR_MV], values[GENERATOR_MA], values[VALVE_PERMILLE] = self.idle[at]
        if self.panel_is_quick:
            values[PANEL_MV] = (
                int(up.panel_V * scale[PANEL_MV] + blur[PANEL_MV]) - LIFT) * step[PANEL_MV]
        if self.lamp_is_quick:
            self._read_lamp(values, scale, step, blur)
        reader, self.due = self.polled[self.due]
        reader(values, scale, step, blur)
        if self.polls > 1:
            self._read_more(values, scale, step, blur)
        if self.clips:
            self.hold(values)  # the keeper has taken the reason out of its list

    def hold(self, values):
        """Put what was not read in this scan where a list does not hold it any more."""
        held = self.held
        for place in self.kept:
            values[place] = held[place]

    def _read_slowly(self, values, plant):
        """Read the temperatures, and find the level's error at this level."""
        values[MOTOR_MDEGC] = self.held[MOTOR_MDEGC] = (
            self._temperature(MOTOR_MDEGC, self.in_hand.get(MOTOR_MDEGC, plant.motor.felt_degC)))
        values[WATER_MDEGC] = self.held[WATER_MDEGC] = (
            self._temperature(WATER_MDEGC, self.in_hand.get(WATER_MDEGC, plant.frost.degC)))
        level_m = max(LEAST_LEVEL_M, plant.upper.level_m)
        self.scale[LEVEL_MM] = self.level_scale + self.level_off / level_m * math.cos(
            self.level_phase - self.level_turn * level_m)

    def _read_more(self, values, scale, step, blur):
        """Read what comes after the first in a step that stands for many scans."""
        for _ in range(self.polls - 1):
            reader, self.due = self.polled[self.due]
            reader(values, scale, step, blur)

    def _read_none(self, values, scale, step, blur):
        """Read no monitor in turn: this rig has none."""

    def _read_panel(self, values, scale, step, blur):
        up, held = self.plant.up, self.held
        amps = up.panel_A
        values[PANEL_MV] = held[PANEL_MV] = (
            int(up.panel_V * scale[PANEL_MV] + blur[PANEL_MV]) - LIFT) * step[PANEL_MV]
        values[PANEL_MA] = held[PANEL_MA] = (
            int(amps * scale[PANEL_MA] + blur[PANEL_MA]) - LIFT) * step[PANEL_MA]
        if amps > self.most_A[0]:
            values[PANEL_MA] = held[PANEL_MA] = CLIPPED
            self.clips = True

    def _read_lamp(self, values, scale, step, blur):
        amps, held = self.plant.down.lamp_A, self.held
        values[LAMP_MA] = held[LAMP_MA] = (
            int(amps * scale[LAMP_MA] + blur[LAMP_MA]) - LIFT) * step[LAMP_MA]
        if amps > self.most_A[3]:
            values[LAMP_MA] = held[LAMP_MA] = CLIPPED
            self.clips = True

    def _read_supply(self, values, scale, step, blur):
        battery, held = self.plant.battery, self.held
        amps = battery.amps
        values[SUPPLY_MV] = held[SUPPLY_MV] = (
            int(battery.volts * scale[SUPPLY_MV] + blur[SUPPLY_MV]) - LIFT) * step[SUPPLY_MV]
        values[SUPPLY_MA] = held[SUPPLY_MA] = (
            int(amps * scale[SUPPLY_MA] + blur[SUPPLY_MA]) - LIFT) * step[SUPPLY_MA]
        if amps > self.most_A[4]:
            values[SUPPLY_MA] = held[SUPPLY_MA] = CLIPPED
            self.clips = True

    def _read_pump(self, values, up, scale, step, blur):
        """Read the pump's monitor and meter."""
        amps = up.pump_A
        values[PUMP_MA] = (int(amps * scale[PUMP_MA] + blur[PUMP_MA]) - LIFT) * step[PUMP_MA]
        if amps > self.most_A[1]:
            values[PUMP_MA] = CLIPPED
        part = self.part_up
        if up.flow > 0.0:
            part += self._metered(up.flow, FLOW_UP)
        if part >= 1.0:
            values[PULSES_UP] = count = int(part)
            part -= count
        self.part_up = part

    def _read_generator(self, values, down, scale, step, blur):
        """Read the generator's monitor, the turbine's meter and the valve."""
        amps = down.generator_A
        volts = int(down.generator_V * scale[GENERATOR_MV] + blur[GENERATOR_MV]) - LIFT
        values[GENERATOR_MV] = volts * step[GENERATOR_MV]
        values[GENERATOR_MA] = (
            int(amps * scale[GENERATOR_MA] + blur[GENERATOR_MA]) - LIFT) * step[GENERATOR_MA]
        if amps > self.most_A[2]:
            values[GENERATOR_MA] = CLIPPED
        values[VALVE_PERMILLE] = int(
            down.position * scale[VALVE_PERMILLE] + blur[VALVE_PERMILLE]) - LIFT
        part = self.part_down
        if down.flow > 0.0:
            part += self._metered(down.flow, FLOW_DOWN)
        if part >= 1.0:
            values[PULSES_DOWN] = count = int(part)
            part -= count
        self.part_down = part

    def count(self):
        """Let the meters count on through a scan that is missed."""
        up, down = self.plant.up, self.plant.down
        if up.flow > 0.0:
            self.part_up += self._metered(up.flow, FLOW_UP)
        if down.flow > 0.0:
            self.part_down += self._metered(down.flow, FLOW_DOWN)

    def _temperature(self, index, degC):
        """Return a reading [mdegC] in steps of 1/16 K, as the usual digital sensor gives."""
        sixteenths = int(degC * self.scale[index] + self.blur[self.at][index]) - LIFT
        return sixteenths * SIXTEENTH_NUM // SIXTEENTH_DEN

    def _metered(self, flow_m3_s, index):
        """Return the pulses [-] that a flow makes in one scan; the meter is lazy when slow."""
        if flow_m3_s >= self.floor:
            return flow_m3_s * self.pulses_m3[index] * self.gain[index] * self.period_s
        if flow_m3_s <= self.stall:
            return 0.0
        along = (flow_m3_s - self.stall) / (self.floor - self.stall)
        reads = LOW_FLOW_READS + (1.0 - LOW_FLOW_READS) * along
        return flow_m3_s * self.pulses_m3[index] * self.gain[index] * reads * self.period_s


def _instrument(row, rig, error):
    """Return (gain [-], offset, sigma, step [the channel's unit]) of one channel.

    error: its calibration error in standard uncertainties [-].
    """
    unit, name = row[ch.CH_UNIT], row[ch.CH_NAME]
    if unit == "mV":
        # What a reading must be multiplied by to be right, it is too low by.
        factor = rig.get("sensors." + name.split("_")[0] + "_voltage_factor", 1.0)
        return ((1.0 + error * rig["sensors.voltage_frac"]) / factor, 0.0,
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
        return (1.0, 0.0, rig["sensors.level_noise_m"] * MILLI,
                _whole(rig["sensors.level_resolution_m"]))
    if unit == "mdegC":
        return (1.0, error * rig["sensors.temperature_uncertainty_K"] * MILLI,
                rig["sensors.temperature_noise_K"] * MILLI, SIXTEENTH_NUM / SIXTEENTH_DEN)
    # A position: off by as much at either end.
    return 1.0, error * rig["sensors.valve_frac"] * MILLI, VALVE_NOISE_PERMILLE, 1


def _pulses_m3(rig):
    """Return the pulses [1/m3] of each flow meter; one that was calibrated has its own figure."""
    both = rig["sensors.pulses_per_litre"]
    return {place: rig.get("sensors.pulses_" + side, both) * PULSES_A_LITRE
            for place, side in ((FLOW_UP, "up"), (FLOW_DOWN, "down"))}


def _whole(resolution):
    """Return a resolution [V, A, m] in whole thousandths, at least 1."""
    return max(1, int(resolution * MILLI + HALF))
