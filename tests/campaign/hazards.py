"""What must never be true of a rig: predicates over the twin's true state, declared once.

Each is a sentence and a function of a `Watch`; the watch keeps how long the
conditions have held.  They know the plant and what the board drives, never
what the keeper believes, but for lockouts and the state that it claims.
"""

from keeper import modes
from keeper.physics import gravity, surge, water
from tests.campaign.given import given

MOTOR_MARGIN_K = 3.0       # 26-MOT's limit is passed by the sensor's lag, no further
DRY_MARGIN_S = 3.0         # two seconds of the flow's window, and a second
TOGETHER_MARGIN_S = 4.0    # 3-SW's or 33-VLV's delay, and a second
PERMISSIVE_S = 1.5         # a float's delay and a second
OPEN_FRAC = 0.05           # a valve that is not shut
TURNING_A = 0.05
STIFF_WAVE_M_S = 1400.0    # in a pipe that gives nowhere: the worst
SMALLEST_M = 1e-4          # velocities [m/s] and times [s] below it count as none


class Limits:
    """The rig's own figures that the predicates compare with."""

    def __init__(self, rig):
        """Takes the rig as a dict "section.key_unit"."""
        self.motor_degC = rig["motor.trip_temperature_degC"] + MOTOR_MARGIN_K
        self.clamp_W = rig["generator.clamp_power_W"]
        self.dry_s = rig["limits.dry_delay_s"] + DRY_MARGIN_S
        self.weak_dry_s = rig["limits.trial_s"] + DRY_MARGIN_S
        self.judge_V = 0.5 * rig["pump.rated_voltage_V"]   # below it 37-PMP does not judge
        self.travel_s = rig["valve.travel_s"] + 2.0        # and 48-VLV's reserve
        self.rating_Pa = given()["rating_Pa"]
        self.length_m = rig["penstock.length_m"]
        self.area_m2 = 0.7853981633974483 * rig["penstock.diameter_m"] ** 2
        self.gravity = gravity.normal_m_s2(rig["site.latitude_deg"], rig["site.height_m"])
        self.weight = self.gravity * water.density_kg_m3(rig["site.water_temperature_degC"])
        self.heat_K = rig["motor.trip_temperature_degC"]


class Watch:
    """Judges a twin after each of its steps.  `found`: hazard -> time [s] when it came."""

    def __init__(self, twin, rig=None, stall_s=0.0, blind=(), step_s=0.1):
        """Takes the twin, its rig, the longest stall [s], and permissives that a fault blinds."""
        self.twin = twin
        self.limits = Limits(rig or given()["rig"])
        self.stall_s = stall_s
        self.blind = frozenset(blind)
        self.step_s = step_s
        self.held: dict[str, float] = dict.fromkeys((*PUMP_NEEDS, *LIGHT_NEEDS), 0.0)
        self.found = {}
        self.pump_before = False
        self.flow_before = 0.0
        self.lit_before = False

    def lasts(self, name, condition):
        """Returns how long a condition has been true without a break [s]."""
        self.held[name] = self.held.get(name, 0.0) + self.step_s if condition else 0.0
        return self.held[name]

    def check(self):
        """Looks at the truth after a step; keeps when each hazard first came."""
        self._permissives()
        for name, _, is_true in HAZARDS:
            if is_true(self) and name not in self.found:
                self.found[name] = self.twin.plant.time_s
        plant = self.twin.plant
        self.pump_before = bool(plant.pump_wanted)
        self.flow_before = plant.down.flow
        self.lit_before = self._lit()

    def _lit(self):
        return self.twin.powered and self.twin.keeper.state == modes.RUNNING

    def _permissives(self):
        """Follows for how long each permissive has been false in truth."""
        plant, held, step_s = self.twin.plant, self.held, self.step_s
        for name, false in (
                ("over-full", plant.over_full.up),
                ("lower dry", not plant.lower_wet.up),
                ("motor hot", plant.felt_degC > self.limits.heat_K + 1.0),
                ("stopped", plant.stop_pressed),
                ("valve open", plant.down.position > OPEN_FRAC),
                ("upper dry", not plant.upper_wet.up),
                ("lower full", plant.lower_full.up)):
            held[name] = held[name] + step_s if false else 0.0

    def missing(self, names):
        """Returns whether one of these permissives has been false for longer than a delay."""
        return any(self.held[name] > PERMISSIVE_S + self.stall_s for name in names
                   if name not in self.blind)


PUMP_NEEDS = ("over-full", "lower dry", "motor hot", "stopped", "valve open")
LIGHT_NEEDS = ("upper dry", "lower full", "stopped")


def _turns(plant):
    """The pump is on the panel and turns."""
    return plant.up.pump_A > TURNING_A and plant.up.ratio > 0.0


def _overflow(watch):
    return watch.twin.plant.upper.spilled_m3 > 0.0


def _dry(watch):
    plant, limits = watch.twin.plant, watch.limits
    dry = plant.air_in_pump or plant.lower.volume_m3 <= 1e-4
    strong = watch.lasts("runs dry", dry and _turns(plant) and plant.up.panel_V > limits.judge_V)
    weak = watch.lasts("runs dry, weakly", dry and _turns(plant))
    return strong > limits.dry_s + watch.stall_s or weak > limits.weak_dry_s + watch.stall_s


def _hot(watch):
    return watch.twin.plant.motor_degC > watch.limits.motor_degC


def _clamp(watch):
    down = watch.twin.plant.down
    return down.generator_V * down.clamp_A > watch.limits.clamp_W


def _open(watch):
    twin = watch.twin
    told = twin.powered and (twin.keeper.lockouts or twin.keeper.state in (
        modes.CLOSING, modes.MAINTENANCE)) and twin.keeper.state != modes.DRAINING
    held = watch.lasts("open", told and twin.plant.down.position > OPEN_FRAC)
    return held > watch.limits.travel_s + watch.stall_s


def surge_Pa(limits, head_m, before_m3_s, after_m3_s, step_s):
    """Returns a bound of the pressure at the valve [Pa] for a change of flow [m3/s] in a step.

    Slow closing: 2 L dv / (g dt), at most the Joukowsky rise of all that flows.
    """
    rise_m = 0.0
    change = (before_m3_s - after_m3_s) / limits.area_m2
    velocity = before_m3_s / limits.area_m2
    if change > SMALLEST_M and velocity > SMALLEST_M:
        rise_m = surge.closing_surge_m(limits.length_m, velocity, STIFF_WAVE_M_S,
                                       velocity / change * step_s, limits.gravity)
    return limits.weight * (head_m + rise_m)


def _surge(watch):
    plant = watch.twin.plant
    head_m = plant.upper.base_m + plant.upper.level_m
    return surge_Pa(watch.limits, head_m, watch.flow_before, plant.down.flow,
                    watch.step_s) > watch.limits.rating_Pa


def _together(watch):
    plant = watch.twin.plant
    if watch.twin.powered and plant.pump_wanted and plant.down.wanted and (
            plant.valve_forced is None):
        return True
    both = watch.lasts("both", _turns(plant) and plant.down.position > OPEN_FRAC)
    return both > TOGETHER_MARGIN_S + watch.limits.travel_s + watch.stall_s


def _start(watch):
    twin = watch.twin
    if twin.plant.pump_wanted and not watch.pump_before:
        return bool(twin.keeper.lockouts) or watch.missing(PUMP_NEEDS)
    if watch._lit() and not watch.lit_before:
        return bool(twin.keeper.lockouts) or watch.missing(LIGHT_NEEDS)
    return False


def _frozen(watch):
    return watch.twin.plant.frost.is_harmed()


def _headless(watch):
    return not watch.twin.powered and bool(watch.twin.plant.pump_wanted)


HAZARDS = (
    ("overflow", "water runs over past the pipe's inlet while the pump lifts", _overflow),
    ("dry", "the pump turns without water for longer than its delay", _dry),
    ("hot", "the motor is hotter than its limit and 3 K", _hot),
    ("clamp", "the clamp carries more than it stands", _clamp),
    ("open", "the valve stands open longer than its travel though it must shut", _open),
    ("surge", "the penstock's pressure passes its rating", _surge),
    ("together", "pump and turbine run together", _together),
    ("start", "something starts while a permissive is false", _start),
    ("frozen", "a full pipe freezes", _frozen),
    ("headless", "the pump is driven without a board", _headless),
)
NAMES = tuple(name for name, _, _ in HAZARDS)
