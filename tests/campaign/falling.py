"""Hazards on the way down: penstock, valve, wheel, generator, lower tank."""

from keeper.physics import surge
from tests.campaign.limits import OPEN_FRAC, STIFF_WAVE_M_S, TURNING_A

SMALLEST_M_S = 1e-4      # velocities below it count as none
PA_PER_BAR = 1e5
L_PER_M3 = 1e3


def surge_Pa(limits, head_m, before_m3_s, after_m3_s, step_s):
    """Returns a bound of the pressure at the valve [Pa] for a change of flow [m3/s] in a step.

    Slow closing: 2 L dv / (g dt), at most the Joukowsky rise of all that flows.
    """
    rise_m = 0.0
    change = (before_m3_s - after_m3_s) / limits.area_m2
    velocity = before_m3_s / limits.area_m2
    if change > SMALLEST_M_S and velocity > SMALLEST_M_S:
        rise_m = surge.closing_surge_m(limits.length_m, velocity, STIFF_WAVE_M_S,
                                       velocity / change * step_s, limits.gravity)
    return limits.weight * (head_m + rise_m)


class Falling:
    """Follows the turbine of a watched twin."""

    def __init__(self, watch):
        """Takes the watch."""
        self.watch = watch
        self.plant = watch.twin.plant
        self.flow = 0.0
        self.volume_m3 = self.spilled_m3 = 0.0
        self.trips: list = []    # when the generator went over its trip voltage [s]
        self.tripped = False     # since the valve was last driven open

    def check(self):
        """Looks at the truth after a step."""
        plant = self.plant
        down = plant.down
        if plant.pump_commanded and self.watch.valve():
            self.watch.see("together", self.watch.step_s)
        if not (down.position or down.speed or self.flow or down.generator_V):
            self._rests()
            return
        passed_m3 = down.volume_m3 - self.volume_m3
        self.volume_m3 = down.volume_m3
        self._penstock()
        self._wheel()
        self._valve(passed_m3 * L_PER_M3)
        spilled_m3 = plant.lower.spilled_m3 - self.spilled_m3
        if spilled_m3 > 0.0 and not self.watch.drains():
            self.watch.grow("flood", min(spilled_m3, passed_m3) * L_PER_M3)
        self.spilled_m3 = plant.lower.spilled_m3

    def _rests(self):
        """Nothing moves: what was timed begins anew."""
        self.spilled_m3 = self.plant.lower.spilled_m3
        time = self.watch.time
        if time.get("open") or time.get("over-trip"):
            for name in ("open", "over-trip", "both", *REASONS):
                self.watch.lasts(name, False)

    def _penstock(self):
        watch, plant = self.watch, self.plant
        head_m = plant.upper.base_m + plant.upper.level_m
        most_Pa = surge_Pa(watch.limits, head_m, self.flow, plant.down.flow, watch.step_s)
        watch.see("surge", (most_Pa - watch.limits.penstock_Pa) / PA_PER_BAR)
        self.flow = plant.down.flow

    def _wheel(self):
        """Voltage and speed proper, whether the clamp is there or not."""
        watch, down, limits = self.watch, self.plant.down, self.watch.limits
        watch.see("clamp", down.generator_V * down.clamp_A - limits.clamp_W)
        watch.see("over-voltage", down.generator_V - limits.generator_V)
        watch.see("overspeed", down.speed - limits.wheel_rad_s)
        over = down.generator_V > limits.trip_V
        watch.over("over-trip", watch.lasts("over-trip", over), limits.over_trip_s)
        if over and not self.tripped and not watch.drains():
            self.tripped = True
            now_s = self.plant.time_s
            self.trips = [at for at in self.trips if now_s - at < limits.window_s] + [now_s]
            if len(self.trips) > limits.retries:
                watch.grow("again", 1.0)

    def _valve(self, passed_L):
        """An open valve wants a reason: light that is wanted and comes, or a drain."""
        watch, plant, limits = self.watch, self.plant, self.watch.limits
        is_open = plant.down.position > OPEN_FRAC
        watch.lasts("open", is_open)
        if not watch.twin.powered:
            if watch.lasts("unpowered", is_open) > limits.travel_s:
                watch.grow("unpowered", passed_L)
            return
        watch.lasts("unpowered", False)
        turns = plant.up.pump_A > TURNING_A and plant.up.ratio > 0.0
        watch.over("together", watch.lasts("both", is_open and turns), limits.both_s)
        late = False
        for name, must_shut, limit_s in self._reasons():
            held_s = watch.lasts(name, is_open and must_shut)
            late = late or held_s > limit_s + watch.stall_s
        if late:
            watch.grow("open", passed_L)

    def _reasons(self):
        """Yields what must shut the valve: (name, whether it is so, how long it may take [s])."""
        watch, plant, limits = self.watch, self.plant, self.watch.limits
        wishes, drains = watch.twin.wishes, watch.drains()
        wanted_W = wishes.light_W(plant.time_s)
        held = plant.stop_pressed or wishes.maintained
        return (
            ("held still", held, limits.full_s),
            ("not wanted", wanted_W == 0.0 and not drains, limits.unwanted_s),
            ("not driven", not watch.valve(), limits.travel_s),
            ("unlit", plant.down.lamp_A <= 0.0 and not drains, limits.unlit_s),
            ("upper dry", not plant.upper_wet.up and not drains, limits.empty_s),
            ("lower full", plant.lower_full.up and not drains, limits.full_s))


REASONS = ("held still", "not wanted", "not driven", "unlit", "upper dry", "lower full",
           "unpowered")
