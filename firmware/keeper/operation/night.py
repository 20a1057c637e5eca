"""The night budget: how long the water lasts, and the light that it lasts for.

Specific output is the lamp energy from a litre [mJ/L] as a function of the
setpoint, eight points from 1/8 to the full one, learned from the rig's own
nights: with a fixed nozzle, jet power goes with the cube of flow, so half the
flow gives a quarter of the energy a litre.  Works in the slack between scans.
"""

from keeper.settings import index as at
from keeper.channels import LEVEL_MM

UNKNOWN = -1             # of the water: neither known nor reckoned
POINTS = 8
MINUTE_S = 60
ML_PER_L = 1000
# A quarter hour counts for a quarter of what was known before; a guess.
LEARN_DIVISOR = 4
LEAST_ML = 5000          # less water than this in a quarter hour teaches nothing
TRIES = 32               # setpoints tried between the wanted and the least useful one
STEP_MIN = 1             # the plan counts in whole minutes
# So many quarters have taught the curve what it could be wrong by: a tenth is left of it.
LESSONS = 8
MOST_SCALE = 2           # of the curve as it was compiled, by an evening's water; a guess


class Night:
    """What the rig's own nights have taught, and the plan made from it."""

    def __init__(self, settings, volumes):
        """Take the settings [list in table order] and the tank's `Volumes`."""
        self.full_mW = settings[at("night_full_mW")]
        self.useful_mW = settings[at("useful_mW")]
        self.volumes = volumes
        self.reserve_mm = settings[at("level_reserve_mm")]
        self.until_dawn = settings[at("until_dawn")]
        first = at("specific_1_mJ_L")
        self.settings = settings
        self.curve = list(settings[first:first + POINTS])
        # Without a level the whole curve is told as learned: a quarter moves all of it.
        self.learns_whole = not settings[at("fitted")] >> LEVEL_MM & 1
        self.lessons = 0         # quarters that taught it, up to LESSONS; an evening is as many

    def specific_mJ_L(self, power_mW):
        """Return the specific output [mJ/L] at a lamp power [mW]."""
        place = power_mW * POINTS
        point = min(POINTS - 1, place // self.full_mW)
        along = min(self.full_mW, place - point * self.full_mW)
        low = self.curve[point - 1] if point else 0
        return max(1, low + (self.curve[point] - low) * along // self.full_mW)

    def water_mL(self, level_mm):
        """Return the water that is surely above the low float [mL] at a reading [mm]."""
        return self.volumes.water_mL(level_mm - self.reserve_mm)

    def most_mL(self, level_mm):
        """Return the water above the low float [mL] if a reading [mm] is right."""
        return self.volumes.water_mL(level_mm)

    def lasts_min(self, power_mW, water_mL):
        """Return how long `water_mL` [mL] gives a lamp power [mW] [min]."""
        return water_mL * self.specific_mJ_L(power_mW) // (ML_PER_L * MINUTE_S * power_mW)

    def plan(self, wanted_mW, water_mL, most_mL, minutes):
        """Return (lamp power [mW], True if it lasts): the most up to `wanted_mW` that lasts.

        water_mL, most_mL: the water that is surely there, and that may be.  Never below the
        useful minimum: dimming a fixed nozzle buys few hours.  At last, when what may be there
        is all that is left, the least useful one may live on it.  Where nothing lasts, the
        wanted power stays, and the light is timed.
        """
        minutes += STEP_MIN
        least_mW = min(wanted_mW, self.useful_mW)
        for one in range(TRIES + 1):
            power_mW = wanted_mW - (wanted_mW - least_mW) * one // TRIES
            if self.lasts_min(power_mW, water_mL) >= minutes:
                return power_mW, True
        if self.lasts_min(least_mW, most_mL) >= minutes:
            return least_mW, True
        return wanted_mW, False

    def learn(self, seconds, energy_mJ, water_mL):
        """Take a quarter hour of steady light: its time [s], lamp energy [mJ], water [mL]."""
        if water_mL < LEAST_ML or energy_mJ <= 0 or seconds <= 0:
            return
        self.lessons = min(LESSONS, self.lessons + 1)
        power_mW = energy_mJ // seconds
        measured = energy_mJ * ML_PER_L // water_mL
        known = self.specific_mJ_L(power_mW)
        place = min(POINTS * self.full_mW, power_mW * POINTS)
        below = place // self.full_mW           # the point at or below, counted from 1
        along = place - below * self.full_mW
        weights = [(below, self.full_mW - along), (below + 1, along)]
        if self.learns_whole:
            weights = [(point, self.full_mW) for point in range(1, POINTS + 1)]
        for point, weight in weights:
            if 1 <= point <= POINTS and weight > 0:
                value = self.curve[point - 1]
                change = value * (measured - known) // known * weight
                self.curve[point - 1] = max(1, value + change // (LEARN_DIVISOR * self.full_mW))

    def scale(self, reckoned_mL, true_mL):
        """Take an evening: the water [mL] that the whole curve reckoned, and what it was.

        The first counts whole, a later one half.
        """
        first = at("specific_1_mJ_L")
        parts = 1 if self.lessons < LESSONS else 2
        self.lessons = LESSONS
        for point in range(POINTS):
            value, told = self.curve[point], self.settings[first + point]
            value += value * (reckoned_mL - true_mL) // (true_mL * parts)
            self.curve[point] = max(1, told // MOST_SCALE, min(told * MOST_SCALE, value))
