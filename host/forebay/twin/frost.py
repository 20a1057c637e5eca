"""The coldest pipe: its temperature, the ice in it, and whether there is water in it at all.

First order in time: towards the water that flows through it, else towards the
air; at 0 degC it waits until all its water is ice.  Owns nothing but the pipe.
"""

COOLING_S = 1800.0      # time constant of a pipe of an inch in still air; a guess
FLOWING_S = 60.0         # and of one with water running through it; a guess
# Freezing water takes its latent heat over the heat of one kelvin; IAPWS-95 at
# 0 degC: 333.4 kJ/kg and 4.22 kJ/(kg K), from memory.
LATENT_K = 333.4 / 4.22
DAMAGING_FRAC = 0.1      # ice that shuts the pipe somewhere and bursts it; a guess
EMPTYING_S = 300.0       # pump, filter and pipes run empty in this time; a guess


class Frost:
    """One pipe.  `degC` its temperature, `ice` the frozen share, `full` whether it holds water."""

    def __init__(self, water_degC):
        """Begin full of water at a temperature [degC]."""
        self.degC = water_degC
        self.ice = 0.0
        self.full = True
        self.emptied_s = 0.0    # how long it has been running empty

    def step(self, dt_s, air_degC, water_degC, flows, opened):
        """Advance by `dt_s` [s].

        flows: water of `water_degC` runs through it; opened: it is open below
        and nothing comes from above, so that it runs empty.
        """
        if flows:
            self.full = True
            self.emptied_s = self.ice = 0.0
            self.degC += (water_degC - self.degC) * min(1.0, dt_s / FLOWING_S)
            return
        if opened and self.full:
            self.emptied_s += dt_s
            self.full = self.emptied_s < EMPTYING_S
        part = min(1.0, dt_s / COOLING_S)
        after = self.degC + (air_degC - self.degC) * part
        if not self.full:
            self.ice = 0.0
        elif after < 0.0 and self.ice < 1.0 or after > 0.0 and self.ice > 0.0:
            self.ice = min(1.0, max(0.0, self.ice - air_degC * part / LATENT_K))
            after = 0.0
        self.degC = after

    def is_harmed(self):
        """Return whether ice stands in a full pipe [bool]."""
        return self.full and self.ice >= DAMAGING_FRAC
