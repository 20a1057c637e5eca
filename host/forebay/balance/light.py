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
from forebay.rig.governing import turbine_set
from forebay.rig.known import SCALED
from keeper import channels as ch
from keeper.modes import RUNNING

STEP = -0.01  # of a figure of the machine, for the slope by it; down, as shares end at 1
CLOSING_SURE = 0.5  # of the flow while the valve shuts: half of it, either way


class Light:
    """The flow to the turbine in rows that have light, by the light.

    names: what each column of `waters` behind the first two is.
    """

    def __init__(self, values: Mapping[str, Any], sensors):
        """Take the description by "section.key_unit" and its section sensors."""
        self._machine = turbine_set(values)
        amps_noise_A = sensors.current_noise_frac * sensors.lamp_range_A
        # Of each source: the machine, what volts and amps are multiplied by, what is added to
        # them, and what one standard uncertainty is of what that changes.
        self._others = [
            (key, turbine_set({**values, name: values[name] * (1.0 + STEP)}), (1.0, 1.0),
             (0.0, 0.0), values[key] / STEP) for key, name in SCALED.items()]
        for channel, frac, step, noise in (
                (ch.GENERATOR_MV, sensors.voltage_frac, sensors.voltage_resolution_V,
                 sensors.voltage_noise_V),
                (ch.LAMP_MA, sensors.current_frac, sensors.current_resolution_A, amps_noise_A)):
            is_volts = channel == ch.GENERATOR_MV
            times = (1.0 + STEP, 1.0) if is_volts else (1.0, 1.0 + STEP)
            bias = rounding_bias(step, noise)
            more = (bias, 0.0) if is_volts else (0.0, bias)
            self._others += [(tag(channel), self._machine, times, (0.0, 0.0), frac / STEP),
                             (tag(channel) + " rounding", self._machine, (1.0, 1.0), more, 1.0)]
        self.names = [name for name, *_ in self._others]

    def waters(self, state: np.ndarray, seconds: np.ndarray, volts: np.ndarray, amps: np.ndarray
               ) -> np.ndarray:
        """Return of each row [lines]: its water [L]; that of which half is unsure [L]; and what
        one standard uncertainty of each source changes in it [L], in the order of `names`.

        seconds: lengths [s]; volts, amps: of the generator's wires [V], [A], the lamps' where
        nothing else is read.
        """
        # While the valve shuts, or the wheel has yet to begin, less may flow.
        unsure = (state != RUNNING) | (volts <= 0.1 * self._machine.lamp_V)
        share_s = np.where(unsure, CLOSING_SURE, 1.0) * seconds * L_PER_M3
        litres = flow_m3_s(self._machine, volts, amps) * share_s
        lit = amps > 0
        found = [litres, np.where(unsure, litres, 0.0)]
        for _, machine, times, more, scale in self._others:
            read = (np.where(lit, one * by + plus, one)
                    for one, by, plus in zip((volts, amps), times, more, strict=True))
            found.append((flow_m3_s(machine, *read) * share_s - litres) * scale)
        return np.stack(found)

    def measured(self, sums: np.ndarray, share: float) -> tuple[Measured, float]:
        """Return (the water of some rows [L] by their sums of `waters`, its own noise [L]).

        share: of the energy that the totals hold, over what the rows show.
        """
        litres, unsure, *slopes = (share * sums).tolist()
        return Measured(litres, dict(zip(self.names, slopes, strict=True))), unsure * HALF_WIDTH


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
