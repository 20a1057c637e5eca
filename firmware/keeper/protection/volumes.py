"""How much water the upper tank holds at a level: a table of the rig's tank, straight between.

Integers only.
"""

from array import array

from keeper.settings import index as at

# A hectare: what 50 mm of it hold has 31 bits.  A rig's description refuses a larger tank.
MOST_ML_MM = 10000000
STEPS = 16  # equal steps of level from the low float to the full one


class Volumes:
    """The upper tank above its low float."""

    def __init__(self, settings):
        """Take the settings [list in table order]."""
        self.empty_mm = settings[at("level_empty_mm")]
        self.span_mm = settings[at("level_full_mm")] - self.empty_mm
        first = at("volume_1_mL")
        self.above_mL = array("i", [0] + settings[first:first + STEPS])
        # Surface of each step: what a millimetre holds [mL].
        self.surface_mL_mm = array("i", [
            max(1, min(MOST_ML_MM, (self.above_mL[step + 1] - self.above_mL[step]) * STEPS
                       // self.span_mm)) for step in range(STEPS)])

    def mL_per_mm(self, level_mm):
        """Return what a millimetre of level holds [mL] at a level [mm]; allocates nothing."""
        return self.surface_mL_mm[self._step(level_mm)]

    def water_mL(self, level_mm):
        """Return the water above the low float [mL] at a level [mm]; 0 below it.

        For the work between two scans: the product passes 31 bits.
        """
        if level_mm <= self.empty_mm:
            return 0
        step = self._step(level_mm)
        low_mL = self.above_mL[step]
        along = (level_mm - self.empty_mm) * STEPS - step * self.span_mm
        return low_mL + (self.above_mL[step + 1] - low_mL) * along // self.span_mm

    def _step(self, level_mm):
        step = (level_mm - self.empty_mm) * STEPS // self.span_mm
        return max(0, min(STEPS - 1, step))
