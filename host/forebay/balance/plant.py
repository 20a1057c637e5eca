"""What the balance needs to know of the rig's plant: tank, head, clamp."""

from forebay.balance.instruments import L_PER_M3
from forebay.balance.measured import Measured
from keeper.physics import energy, gravity, of_rig, water

# Without a trusted thermometer: the densest and a warm day's water differ by 0.5 %.
ASSUMED_WATER_DEGC = 12.0
SLOPE_M = 0.005  # to either side of a level at which a slope is taken


class Store:
    """The upper tank as a store of energy above the nozzle."""

    def __init__(self, rig, water_degC: float | None):
        """Take the rig and the mean temperature of its water [degC], None if unknown."""
        self.tank = of_rig.tank(vars(rig.upper), "")
        self.base_m = rig.upper.base_height_m
        degC = ASSUMED_WATER_DEGC if water_degC is None else min(max(water_degC, 0.0), 60.0)
        self.density_kg_m3 = water.density_kg_m3(degC)
        self.gravity_m_s2 = gravity.normal_m_s2(rig.site.latitude_deg, rig.site.height_m)

    def litres(self, level: Measured) -> Measured:
        """Return the water below a level [m] in [L]."""
        return _through(level, *self.litres_of(level.value))

    def joules(self, level: Measured) -> Measured:
        """Return the energy [J] of the water below a level [m], above the nozzle."""
        return _through(level, *self.joules_of(level.value))

    def litres_of(self, level_m: float) -> tuple[float, float]:
        """Return the water below a level [m] in [L], and its slope [L/m]."""
        at_m = self._within(level_m)
        low_m, high_m = max(0.0, at_m - SLOPE_M), min(self.tank.height_m, at_m + SLOPE_M)
        low, at, high = (self.tank.volume_m3(one) * L_PER_M3 for one in (low_m, at_m, high_m))
        return at, (high - low) / (high_m - low_m)

    def joules_of(self, level_m: float, slope_L_m: float | None = None) -> tuple[float, float]:
        """Return its energy above the nozzle [J], and its slope [J/m].

        slope_L_m: of the litres, where it is at hand.  dE/dz = rho g A (b + z), A = dV/dz.
        """
        slope = self.litres_of(level_m)[1] if slope_L_m is None else slope_L_m
        at_m = self._within(level_m)
        found = energy.energy_J(self.tank, at_m, self.base_m, self.density_kg_m3,
                                self.gravity_m_s2)
        return found, (self.density_kg_m3 * self.gravity_m_s2 * slope / L_PER_M3
                       * (self.base_m + at_m))

    def level(self, litres: Measured) -> Measured:
        """Return the level [m] of so much water [L]."""
        at_m = self.tank.level_m(min(max(litres.value / L_PER_M3, 0.0), self.tank.capacity_m3))
        _, slope = self.litres_of(at_m)
        return _through(litres, at_m, 1 / slope)

    def lifted_J(self, litres: Measured, height_m: Measured) -> Measured:
        """Return the energy [J] of water [L] at a height [m] over where it came from."""
        return litres * height_m * (self.density_kg_m3 * self.gravity_m_s2 / L_PER_M3)

    def _within(self, level_m):
        """Return a level in the tank: noise may carry a reading past the rim or the floor."""
        return min(max(level_m, 0.0), self.tank.height_m)


def _through(quantity, value, slope):
    """Return f(quantity) from its value and its slope there."""
    return Measured(value, {source: slope * part for source, part in quantity.parts.items()})
