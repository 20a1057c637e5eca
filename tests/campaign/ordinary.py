"""What acts on a day without a fault: only where the truth itself says so.

For each such element the condition on the true state at which it may act; an
element that acts without it is as wrong as one that no day should see.
"""

import math

from keeper import settings as st
from tests.campaign.limits import COVERAGE, NOISE, Limits

MEAN_SCANS = 16.0          # of the level's mean, in the coarsest twin
HOUR_S = 3600.0
EMPTY_M3 = 1e-3            # of the lower tank: a pump draws air from less
# A local stop that the board does not read cuts pump and valve, as a fault would. The pump
# runs again as it is let go; the valve has all its way before it then.
CUT_BY_HAND = ("37-PMP", "37-LED", "71L-PMP", "80-PMP", "48-PMP")
SHUT_BY_HAND = ("71L-LMP", "80-VLV", "37-GEN", "48-VLV")
SPENT_M3 = 1e-3            # less than a litre does not hold a light
# What ends a light where no low float does: a tank that gives nothing.
SPENT = ("80-VLV", "37-GEN")


class Ordinary:
    """Judges what acts by the truth of one twin."""

    def __init__(self, twin, rig):
        """Takes the twin and its rig."""
        self.twin = twin
        self.level_mm = 1e3 * (
            COVERAGE * rig["sensors.level_uncertainty_m"] + rig["sensors.level_resolution_m"]
            + NOISE * rig["sensors.level_noise_m"] / MEAN_SCANS ** 0.5)
        self.heat_K = (COVERAGE * rig["sensors.temperature_uncertainty_K"]
                       + NOISE * rig["sensors.temperature_noise_K"])
        self.volt_frac = COVERAGE * rig["sensors.voltage_frac"]
        self.volt_V = NOISE * rig["sensors.voltage_noise_V"]
        self.sees_stop = rig["sensors.local_stop"] == "fitted"
        self.sees_low = rig["sensors.empty_float"] == "fitted"
        self.unlit_s = Limits(rig).unlit_s
        self.stopped_s = -math.inf # when the stop was last seen pressed
        self.starts_per_hour = rig["limits.starts_per_hour"]
        self.starts: list = []     # of the pump, in the last hour [s]
        self.before = False

    def follow(self):
        """Counts the pump's starts; sees the local stop."""
        plant = self.twin.plant
        if plant.stop_pressed:
            self.stopped_s = plant.time_s
        if plant.pump_commanded and not self.before:
            self.starts = [at for at in self.starts if plant.time_s - at < HOUR_S]
            self.starts.append(plant.time_s)
        self.before = plant.pump_commanded

    def _setting(self, name):
        return self.twin.settings[st.index(name)]

    def is_true(self, element):
        """Returns whether the truth says that this element may act now."""
        plant = self.twin.plant
        if not self.sees_stop and (
                plant.stop_pressed and element in CUT_BY_HAND
                or element in SHUT_BY_HAND and plant.time_s - self.stopped_s <= self.unlit_s):
            return True
        if element in SPENT and not self.sees_low and plant.upper.volume_m3 <= SPENT_M3:
            return True
        judge = TRUTHS.get(element)
        return bool(judge and judge(self, plant))


TRUTHS = {
    "71H-UP": lambda _, plant: plant.full.up,
    "71L-UP": lambda _, plant: not plant.upper_wet.up,
    "71L-LO": lambda _, plant: not plant.lower_wet.up,
    "71H-LO": lambda _, plant: plant.lower_full.up,
    "71H-LVL": lambda one, plant: (
        plant.upper.level_m * 1e3 > one._setting("level_high_mm") - one.level_mm),
    "71L-LVL": lambda one, plant: (
        plant.upper.level_m * 1e3 < one._setting("level_low_mm") + one.level_mm),
    "5-STP": lambda _, plant: plant.stop_pressed,
    "3-BTN": lambda one, _: one.twin.board.button,
    "27-SUP": lambda one, plant: (
        plant.battery.volts < one._setting("supply_low_mV") / 1e3 * (1.0 + one.volt_frac)
        + one.volt_V),
    "23-CLD": lambda one, plant: (
        plant.frost.degC < one._setting("cold_mdegC") / 1e3 + one.heat_K),
    "23-WTR": lambda one, plant: (
        plant.frost.degC < one._setting("freeze_mdegC") / 1e3 + one.heat_K),
    # What stands in on rigs with less: a tank that gives nothing, a pump that lifts nothing.
    "71L-LMP": lambda _, plant: plant.upper.volume_m3 <= SPENT_M3,
    "26-PMP": lambda _, plant: plant.up.flow <= 0.0,
    "71L-PMP": lambda _, plant: plant.lower.volume_m3 <= EMPTY_M3,
    "48-LOK": lambda _, plant: not plant.full.up,
    "66-PMP": lambda one, _: len(one.starts) >= one.starts_per_hour - 1,
}
