"""How much water the light took: what a wheel needs to give the volts and amps that were read.

A fixed nozzle leaves no choice: the voltage gives the speed, the current the torque, and
Euler's turbine equation the flow; the head takes no part in it.  Machines differ from
their description by errors that are the rig's own, the same in every row.
"""

from collections.abc import Mapping
from typing import Any

import numpy as np

from forebay.balance.instruments import HALF_WIDTH, L_PER_M3, rounding_bias, tag
from forebay.balance.measured import Measured
from forebay.balance.spans import LIGHT_STATES
from forebay.rig.governing import turbine_set
from forebay.rig.known import SCALED
from forebay.shelf import Rows
from keeper import channels as ch
from keeper.modes import RUNNING

STEP = -0.01  # of a figure of the machine, for the slope by it; down, as shares end at 1
CLOSING_SURE = 0.5  # of the flow while the valve shuts: half of it, either way


class Light:
    """The flow to the turbine in every row of a journal that has light, by the light.

    on: mask of the rows that count; share: of the energy that the totals hold, over what
    the rows show.
    """

    def __init__(self, values: Mapping[str, Any], sensors, rows: Rows, seconds: np.ndarray,
                 volts: np.ndarray, amps: np.ndarray, dry: np.ndarray):
        """Take the description by "section.key_unit", its section sensors, rows, their length [s].

        volts, amps: of the generator's wires [V], [A], the lamps' where nothing else is read;
        dry: mask of rows in which the tank was empty.
        """
        self.on = ~dry & np.isin(rows.state, LIGHT_STATES) & np.isfinite(volts) & np.isfinite(amps)
        self.share = 1.0
        # How many of the rows that count are in front of each: of the others nothing is kept.
        self._before = np.concatenate([[0], np.cumsum(self.on)])
        self._seconds, self._volts, self._amps = seconds[self.on], volts[self.on], amps[self.on]
        machine = turbine_set(values)
        # While the valve shuts, or the wheel has yet to begin, less may flow.
        unsure = (rows.state[self.on] != RUNNING) | (self._volts <= 0.1 * machine.lamp_V)
        self._part = np.where(unsure, CLOSING_SURE, 1.0)
        litres = self._litres(machine)
        self._litres_done = _running(litres)
        self._unsure_done = _running(np.where(unsure, litres, 0.0))
        # What one standard uncertainty of each source changes in it [L].
        self._slopes_done = {name: _running(slope)
                             for name, slope in self._slopes(values, sensors, machine, litres)}

    def _slopes(self, values, sensors, machine, litres):
        for key, name in SCALED.items():
            other = turbine_set({**values, name: values[name] * (1.0 + STEP)})
            yield name, (self._litres(other) - litres) / STEP * values[key]
        amps_noise_A = sensors.current_noise_frac * sensors.lamp_range_A
        for channel, frac, step, noise in (
                (ch.GENERATOR_MV, sensors.voltage_frac, sensors.voltage_resolution_V,
                 sensors.voltage_noise_V),
                (ch.LAMP_MA, sensors.current_frac, sensors.current_resolution_A, amps_noise_A)):
            is_volts = channel == ch.GENERATOR_MV
            times = (1.0 + STEP, 1.0) if is_volts else (1.0, 1.0 + STEP)
            yield tag(channel), (self._litres(machine, times) - litres) / STEP * frac
            bias = rounding_bias(step, noise)
            more = (bias, 0.0) if is_volts else (0.0, bias)
            yield tag(channel) + " rounding", self._litres(machine, more=more) - litres

    def _litres(self, machine, times=(1.0, 1.0), more=(0.0, 0.0)):
        """Return the water of each row [L] by a machine, its volts and amps taken otherwise."""
        lit = self._amps > 0
        volts, amps = (np.where(lit, one * by + plus, one) for one, by, plus in zip(
            (self._volts, self._amps), times, more, strict=True))
        return flow_m3_s(machine, volts, amps) * self._part * self._seconds * L_PER_M3

    def of(self, first: int, end: int) -> Measured:
        """Return the water [L] of rows from `first` to before `end`."""
        low, high = self._before[first], self._before[end]

        def grown(done):
            return self.share * float(done[high] - done[low])

        parts = {source: grown(done) for source, done in self._slopes_done.items()}
        litres = Measured(grown(self._litres_done), parts)
        return litres.with_noise(grown(self._unsure_done) * HALF_WIDTH)


def _running(values):
    """Return the sums of the first none, one, two ... values."""
    return np.concatenate([[0.0], np.cumsum(values)])


def flow_m3_s(machine, volts: np.ndarray, amps: np.ndarray) -> np.ndarray:
    """Return the flow [m3/s] at which a machine gives volts [V] and amps [A], steadily.

    machine: a keeper.physics.generation.TurbineSet.  With the voltage behind the
    rectifier V and its current I: w = (V + drop + I R) / k, T = k I + friction, and from
    Euler's equation Q = A/2 (u + sqrt(u^2 + 4 T / (p A))), p the push by flow and speed, as
    `TurbineSet.flow_for_lamps_m3_s` has it for lamps of a stated characteristic.
    """
    clamp_A = np.maximum(volts - machine.clamp_V, 0.0) * machine.clamp_S
    total_A = amps + clamp_A
    bucket_m_s = ((volts + machine.drop_V + total_A * machine.winding) / machine.emf
                  * machine.wheel.radius_m)
    torque_Nm = machine.emf * total_A + machine.wheel.friction_Nm
    root = np.sqrt(bucket_m_s ** 2 + 4.0 * torque_Nm / machine.push_kg_s_m2 / machine.area)
    return 0.5 * machine.area * (bucket_m_s + root)
