"""What must never be true of a rig: declared once, judged on the true state alone.

A watch knows the plant, what the board's outputs drive, whether the board has
power, and what people have asked for (`wishes`); never what the keeper
believes.  It keeps of each hazard when it first came, in which modes, how
long it lasted and how large it grew.  The conditions are in `lifting` (pump),
`falling` (turbine) and `looking` (what is slow); the limits in `limits`.
"""

from __future__ import annotations

from keeper.channels import OUT_VALVE
from tests.campaign.falling import Falling
from tests.campaign.given import given
from tests.campaign.lifting import Lifting
from tests.campaign.limits import LIGHT_NEEDS, OPEN_FRAC, PUMP_NEEDS, Limits
from tests.campaign.looking import Looking

HOUR_S = 3600.0
PERMISSIVE_S = 1.5         # a float's delay and a second
REST, PUMP, LIGHT, DRAIN = "rest", "pump", "light", "drain"
MODES = (REST, PUMP, LIGHT, DRAIN)

# name, sentence, unit of its size, where its limit comes from
HAZARDS = (
    ("overflow", "water runs over past the pipe's inlet", "L",
     "design 3: overflow is the last layer, never the first"),
    ("flood", "the turbine's water runs over the lower tank", "L", "hazards.toml H19"),
    ("dry", "the pump turns without water for longer than its delay", "s",
     "rig: dry_delay, in weak sun trial and pump_least_on"),
    ("dead-head", "the pump works against a shut pipe for longer than its delay", "s",
     "rig: trial until water was seen, then no_flow_delay; weak sun as above"),
    ("hot", "the motor is hotter than its limit", "K",
     "rig: trip_temperature; parts.toml: passes_trip_K"),
    ("slam", "the rising main's pressure passes its rating", "bar",
     "parts.toml PN 6; Joukowsky at once, and the pump's head"),
    ("again", "the same standing cause is tried more often than retries allow", "times",
     "rig: trip_retries in trip_window, by each of the two elements that see it; a board that"
     " begins anew tries no oftener"),
    ("surge", "the penstock's pressure passes its rating", "bar",
     "rig: penstock.pressure_rating; Joukowsky, Michaud"),
    ("clamp", "the clamp carries more than it stands", "W", "rig: clamp_power"),
    ("over-voltage", "the generator's voltage is higher than its clamp lets through", "V",
     "sheet of worst cases: generator_clamped_V, by which all on it is chosen"),
    ("over-trip", "the generator stays over its trip voltage", "s",
     "rig: trip_voltage, generator_delay, travel, and the wheel's coasting"),
    ("overspeed", "the wheel is faster than it runs away with its clamp", "rad/s",
     "sheet of worst cases: runaway with a full tank and no loss in the pipe"),
    ("open", "the valve stands open for longer than its travel though it must be shut", "L",
     "rig: travel and the delay of what must shut it"),
    ("unpowered", "the valve stands open without a board", "L",
     "design 3; hazards.toml H16: 27-SUP shuts before the supply is gone"),
    ("together", "pump and turbine run together", "s", "design 4: never"),
    ("start", "something starts while a permissive is false", "times", "design 2, 3, 4"),
    ("held", "the pump is driven while a person holds the rig still", "s",
     "design 3: local stop; orders: in maintenance all stands"),
    ("headless", "the pump is driven without a board", "s", "design 3: pull-downs"),
    ("frozen", "a full pipe freezes", "ice", "twin/frost: the share that bursts it"),
    ("flat", "the board's battery is flat", "s", "design 4: 27-SUP before a brown-out"),
    ("overcharged", "the battery is charged past full, or over its voltage", "frac",
     "full is 1; sheet of worst cases: supply_most_V"),
    ("dark", "there is no light, or more than a tenth of the time none, though it is wanted and"
     " water is there", "s", "rig: light_least_off, travel and the delay of a start; after a true"
     " end the rest that grows with each"),
    ("fitful", "the light starts again and again unasked", "times",
     "limits: so many an hour; a guess"),
    ("idle", "a rig that can pump rests in the sun, or starts and lifts nothing", "s",
     "rig: holdoff_longest, start_wait, pump_least_off and trial: half an hour and a little"),
)
NAMES = tuple(row[0] for row in HAZARDS)
UNITS = {row[0]: row[2] for row in HAZARDS}


class Found:
    """One hazard: when it first came [s], how long it lasted [s], its size, the modes."""

    def __init__(self, first_s):
        self.first_s = first_s
        self.lasted_s = 0.0
        self.size = 0.0
        self.modes: set = set()

    def __str__(self):
        return (f"at {self.first_s:.1f} s, for {self.lasted_s:.1f} s, size {self.size:.3g},"
                f" in {'/'.join(sorted(self.modes))}")


class Watch:
    """Judges a twin after each of its steps.  `found`: hazard -> Found."""

    def __init__(self, twin, rig=None, stall_s=0.0, blind=(), step_s=0.1):
        """Takes the twin, its rig, the longest stall [s], and permissives that a fault blinds."""
        self.twin = twin
        rig = rig or given()["rig"]
        self.limits = Limits(rig)
        self.stall_s = stall_s
        self.blind = frozenset(blind)
        self.step_s = step_s
        self.works = True            # False: a fault has taken what `dark` and `idle` ask for
        self.found: dict[str, Found] = {}
        self.time: dict[str, float] = {}   # how long conditions have been true [s]
        self.false_s = dict.fromkeys({*PUMP_NEEDS, *LIGHT_NEEDS}, 0.0)
        self.freed_s = None          # when the local stop was last let go
        self.stop_before = False
        self.pump_before = False
        self.valve_before = 0
        self.lights: list = []       # when the light started, in the last hour [s]
        self.lifting, self.falling = Lifting(self), Falling(self)
        self.looking = Looking(self, rig)

    def valve(self):
        """Returns what the board drives the valve to [permille]."""
        return self.twin.keeper.outputs[OUT_VALVE] if self.twin.powered else 0

    def drains(self):
        """Returns whether a person has ordered a drain, or the valve still shuts after one."""
        wishes, now_s = self.twin.wishes, self.twin.plant.time_s
        return wishes.drains(now_s) or now_s - wishes.drained_s < (
            self.limits.full_s + self.stall_s + self.step_s)

    def mode(self):
        """Returns in which mode the outputs and the wishes say that the rig is."""
        if self.valve():
            return DRAIN if self.drains() else LIGHT
        return PUMP if self.twin.plant.pump_commanded else REST

    def see(self, name, size):
        """Takes how large a hazard is now, 0 for none."""
        if size <= 0.0:
            return
        found = self.found.get(name)
        if found is None:
            found = self.found[name] = Found(self.twin.plant.time_s)
        found.lasted_s += self.step_s
        found.size = max(found.size, size)
        found.modes.add(self.mode())

    def grow(self, name, amount):
        """Takes by how much a hazard grew that is a quantity."""
        if amount > 0.0:
            found = self.found.get(name)
            self.see(name, amount + (found.size if found else 0.0))

    def lasts(self, name, condition):
        """Returns how long a condition has been true without a break [s]."""
        self.time[name] = held = self.time.get(name, 0.0) + self.step_s if condition else 0.0
        return held

    def over(self, name, held_s, limit_s):
        """Sees a hazard that is a time, beyond its limit and a stall [s]."""
        self.see(name, held_s - limit_s - self.stall_s)

    def check(self):
        """Looks at the truth after a step."""
        self._permissives()
        self._starts()
        self.lifting.check()
        self.falling.check()
        self.looking.check()

    def _permissives(self):
        """Follows for how long each permissive has been false in truth."""
        plant, held, step_s, limits = self.twin.plant, self.false_s, self.step_s, self.limits
        for name, false in (
                ("over-full", plant.over_full.up),
                ("lower dry", not plant.lower_wet.up),
                ("motor hot", plant.motor.felt_degC > limits.heat_degC),
                ("stopped", plant.stop_pressed),
                ("maintained", self.twin.wishes.maintained),
                ("valve open", plant.down.position > OPEN_FRAC),
                ("upper dry", not plant.upper_wet.up),
                ("lower full", plant.lower_full.up),
                ("freezing", plant.frost.degC < limits.freeze_degC),
                ("supply low", plant.battery.volts < limits.low_V)):
            held[name] = held[name] + step_s if false else 0.0
        if self.stop_before and not plant.stop_pressed:
            self.freed_s = plant.time_s
        self.stop_before = plant.stop_pressed

    def missing(self, names):
        """Returns whether one of these permissives has been false for longer than its delay."""
        slow = {"freezing": self.looking.cold_s, "supply low": self.limits.low_s}
        return any(self.false_s[name] > PERMISSIVE_S + self.stall_s + slow.get(name, 0.0)
                   for name in names if self.false_s[name] and name not in self.blind)

    def waits(self):
        """Returns whether the local stop was let go less than its wait ago.

        A board that does not read it has tripped meanwhile: it waits as long from there on.
        """
        return self.freed_s is not None and (
            self.twin.plant.time_s - self.freed_s < self.limits.trip_wait_s - self.step_s)

    def stop_shows(self):
        """Returns whether lamps may be dark by the local stop: pressed, or let go just now.

        It shuts the valve; what the board drives then takes as long as after a start.
        """
        return self.stop_before or self.freed_s is not None and (
            self.twin.plant.time_s - self.freed_s < self.limits.unlit_s + self.stall_s)

    def must_wait(self):
        """Returns whether nothing may start yet since the local stop was let go."""
        return "stopped" not in self.blind and self.waits()

    def _lights(self, now_s):
        """Counts the starts of light in an hour; each thing that was asked for allows one."""
        self.lights = [at for at in self.lights if now_s - at < HOUR_S] + [now_s]
        asked = sum(now_s - told.at_s < HOUR_S for told in self.twin.wishes.told)
        if len(self.lights) > self.limits.lights_an_hour + asked:
            self.grow("fitful", 1.0)

    def reset(self):
        """A person has reset what was locked: starts are counted anew."""
        self.lifting.bads, self.falling.trips = [], []

    def _starts(self):
        """Nothing starts while a permissive is false, or soon after a person's hand was there."""
        plant, valve = self.twin.plant, self.valve()
        begins_pump = plant.pump_commanded and not self.pump_before
        begins_light = valve and not self.valve_before and not self.drains()
        if begins_light:
            self.falling.tripped = False
            self._lights(plant.time_s)
        if begins_pump and (self.missing(PUMP_NEEDS) or self.must_wait()) or begins_light and (
                self.missing(LIGHT_NEEDS) or self.must_wait()):
            self.grow("start", 1.0)
        self.pump_before, self.valve_before = bool(plant.pump_commanded), valve
