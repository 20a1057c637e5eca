"""Hazards on the way up: the pump, its motor, the rising main, the upper tank."""

from keeper.physics import surge
from tests.campaign.limits import STIFF_WAVE_M_S, SURE_HEAD, TURNING_A

EMPTY_M3 = 1e-4          # less water than this does not reach the pump
PA_PER_BAR = 1e5
L_PER_M3 = 1e3
STANDS_A = 2.0           # no-load currents that a standing motor takes and is not hurt by


class Lifting:
    """Follows the pump of a watched twin."""

    def __init__(self, watch):
        """Takes the watch."""
        self.watch = watch
        self.plant = watch.twin.plant
        self.spilled_m3 = 0.0
        self.flow = 0.0
        self.seen = False        # water has gone up in this run
        self.bad = False         # what is wrong now has been counted
        self.bads: list = []     # when a start met a standing cause [s]

    def check(self):
        """Looks at the truth after a step."""
        watch, plant = self.watch, self.plant
        if plant.upper.spilled_m3 > self.spilled_m3:
            watch.grow("overflow", (plant.upper.spilled_m3 - self.spilled_m3) * L_PER_M3)
            self.spilled_m3 = plant.upper.spilled_m3
        watch.see("hot", plant.motor.degC - watch.limits.motor_degC)
        if plant.pump_commanded:
            watch.see("headless", 0.0 if watch.twin.powered else watch.step_s)
            self._held()
        elif watch.time.get("held"):
            watch.lasts("held", False)
        if plant.up.pump_A > TURNING_A or self.flow:
            self._runs()
        elif self.seen or self.bad or watch.time.get("runs"):
            self._rests()

    def _held(self):
        """Whether it is driven although a person holds the rig still."""
        watch = self.watch
        held = watch.lasts("held", self.plant.stop_pressed or watch.twin.wishes.maintained)
        watch.over("held", held, 1.0)   # a scan of a second, where the twin is coarse

    def _rests(self):
        self.seen = self.bad = False
        for name in ("runs", "useful", "stands", "dry", "dry weakly", "dead", "dead weakly"):
            self.watch.lasts(name, False)

    def _runs(self):
        """The pump has current."""
        watch, plant, limits = self.watch, self.plant, self.watch.limits
        up = plant.up
        watch.lasts("runs", True)
        if watch.lasts("useful", up.flow >= limits.useful_m3_s) > limits.seen_s:
            self.seen = True
        self._main()
        turns = up.ratio > 0.0
        water = plant.lower.volume_m3 > EMPTY_M3 and not plant.air_in_pump
        dry = turns and not water
        strong = watch.lasts("dry", dry and up.panel_V > limits.judge_V)
        weak = watch.lasts("dry weakly", dry)
        watch.over("dry", strong, limits.dry_s)
        watch.over("dry", weak, limits.weak_s)
        shut = turns and water and up.flow <= 0.0
        lift_m = plant.inlet_m - plant.lower.base_m - plant.lower.level_m
        head_m = up.head_m * up.ratio * up.ratio
        useful_m = lift_m + (up.inner_s2_m5 + up.pipe_s2_m5) * limits.useful_m3_s ** 2
        dead = watch.lasts("dead", shut and head_m > SURE_HEAD * useful_m)
        dead_weak = watch.lasts("dead weakly", shut and head_m > lift_m)
        watch.over("dead-head", dead, limits.no_flow_s if self.seen else limits.trial_s)
        watch.over("dead-head", dead_weak, limits.weak_s)
        stands = up.ratio <= 0.0 and up.pump_A > STANDS_A * up.no_load_A
        self._again(strong > watch.step_s or dead > watch.step_s
                    or watch.lasts("stands", stands) > watch.step_s)

    def _main(self):
        """Pressure in the rising main: the pump's head, or its column stopped at once."""
        watch, plant, limits = self.watch, self.plant, self.watch.limits
        up = plant.up
        lift_m = plant.inlet_m - plant.lower.base_m
        stopped_m_s = max(0.0, self.flow - up.flow) / limits.main_m2
        at_once_m = surge.joukowsky_m(STIFF_WAVE_M_S, stopped_m_s, limits.gravity)
        most_m = max(lift_m + at_once_m, up.head_m * up.ratio * up.ratio)
        watch.see("slam", (limits.weight * most_m - limits.main_Pa) / PA_PER_BAR)
        self.flow = up.flow

    def _again(self, bad):
        """Counts runs that met a standing cause, as far back as the trips' window."""
        watch, limits, now_s = self.watch, self.watch.limits, self.plant.time_s
        if bad and not self.bad and self.plant.pump_commanded:
            self.bad = True
            self.bads = [at for at in self.bads if now_s - at < limits.window_s] + [now_s]
            is_dry = self.plant.lower.volume_m3 <= EMPTY_M3
            if len(self.bads) > (limits.dry_starts if is_dry else limits.retries):
                watch.grow("again", 1.0)
