"""For how long the design lets a rig wait after a start or run that lifted too little.

Weak sun is no fault: such a start ends without a trip and is held off, each
time twice as long (design 4), until a run was longer than the wait that would
follow it.  The design does not say which wait a run is measured by; the one before
it would be half as long, and a run between the two is then waited for up to 32 min
in full sun (days 96 and 171 of the long form), which is for the design to decide.
Worked out from the true flow and the rig's waits, apart from the firmware: a
pump that is stopped although it lifted enough earns no wait.
"""

from tests.campaign.limits import COVERAGE, FLOW_WINDOW_S, SCAN_S

PER_LITRE_M3 = 1e-3


class Waiting:
    """Follows the pump of a twin.  `spans`: each wait that the truth explains, (from, to) [s]."""

    def __init__(self, twin, rig):
        """Takes the twin and its rig."""
        self.twin = twin
        # A meter may read so much less, and a pulse may just be missed by its window.
        self.sure_m3_s = (rig["limits.useful_flow_m3_s"]
                          * (1.0 + COVERAGE * rig["sensors.flow_frac"])
                          + PER_LITRE_M3 / rig["sensors.pulses_per_litre"] / FLOW_WINDOW_S)
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
