"""For how long the design lets a rig wait after a start or run that lifted too little.

Weak sun is no fault: such a start ends without a trip and is held off, each
time twice as long (design 4), until a run was longer than the wait that would
follow it.  The design does not say which wait a run is measured by; the one before
it would be half as long, and a run between the two is then waited for up to 32 min
in full sun (days 96 and 171 of the long form), which is for the design to decide.
Worked out from the true flow and the rig's waits, apart from the firmware: a
pump that is stopped although it lifted enough earns no wait.  A rig without a flow meter
sees the pump's power alone: see `sure_m3_s`.
"""

from keeper.physics import of_rig
from keeper.physics.solar_pump import SolarPump
from keeper.physics.solve import rising_root
from tests.campaign.limits import COVERAGE, FLOW_WINDOW_S, SCAN_S

PER_LITRE_M3 = 1e-3
MOST_FLOWS = 10.0          # useful flows: no pump of a rig lifts more of them


def sure_m3_s(rig):
    """Returns the flow [m3/s] from which on a rig must not take a start or run for too weak.

    By a meter, which may read so much less, and a pulse may just be missed by its window.
    Without one by the pump's power, where that is read: the board cannot know how high the
    water below stands, so it asks for what lifts the useful flow from an empty lower tank;
    that power, and by how much less it may read, lifts more from a full one.
    """
    useful_m3_s = rig["limits.useful_flow_m3_s"]
    if rig["sensors.flow_up"] == "fitted":
        return (useful_m3_s * (1.0 + COVERAGE * rig["sensors.flow_frac"])
                + PER_LITRE_M3 / rig["sensors.pulses_per_litre"] / FLOW_WINDOW_S)
    if rig["sensors.pump_meter"] != "fitted":
        return useful_m3_s
    pump = SolarPump(*of_rig.solar_pump(rig, *of_rig.water(rig)))
    longest_m = rig["upper.inlet_height_m"] - rig["lower.base_height_m"]
    shortest_m = max(0.0, longest_m - rig["lower.height_m"])
    reads_less = COVERAGE * (rig["sensors.voltage_frac"] + rig["sensors.current_frac"])

    def power_W(lift_m, flow_m3_s):
        volts, amps = pump.lifting(lift_m, flow_m3_s)
        return volts * amps

    asked_W = power_W(longest_m, useful_m3_s) * (1.0 + reads_less)
    return rising_root(lambda flow_m3_s: power_W(shortest_m, flow_m3_s) - asked_W,
                       useful_m3_s, MOST_FLOWS * useful_m3_s)


class Waiting:
    """Follows the pump of a twin.  `spans`: each wait that the truth explains, (from, to) [s]."""

    def __init__(self, twin, rig):
        """Takes the twin and its rig."""
        self.twin = twin
        self.sure_m3_s = sure_m3_s(rig)
        self.trial_s = rig["limits.trial_s"]
        self.first_s, self.longest_s = rig["limits.holdoff_s"], rig["limits.holdoff_longest_s"]
        self.wait_s = self.first_s     # the next wait
        self.began_s = self.strong_s = None
        self.spans: list = []

    def follow(self):
        """After each step."""
        plant = self.twin.plant
        now_s = plant.time_s
        if plant.pump_commanded:
            if self.began_s is None:
                self.began_s = self.strong_s = now_s
            if plant.up.flow > self.sure_m3_s:
                self.strong_s = now_s
        elif self.began_s is not None:
            self._ended(now_s)
            self.began_s = None

    def _ended(self, now_s):
        """A run is over: was it too weak in truth?"""
        weak_s = now_s - self.strong_s
        if weak_s < self.trial_s - FLOW_WINDOW_S - SCAN_S:
            return
        ran_s = now_s - self.began_s
        if ran_s > self.trial_s + SCAN_S and ran_s > self.wait_s:
            self.wait_s = self.first_s
        self.spans.append((now_s, now_s + self.wait_s))
        self.wait_s = min(2.0 * self.wait_s, self.longest_s)
