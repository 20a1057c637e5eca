"""A second set of books for a plant, kept from outside, step by step.

Knows the demo rig's figures and the laws of the trade, none of the twin's own
formulas: what a tank holds by its plan, what a resistor turns into heat by its
current, what a valve takes by its Kv.  After every step each of the twin's
books must have grown by what its law gives for the state of that step, and all
of them together must place every drop and every joule.

The twin takes a tank's surface as it was when the step began, while the water
of the step lowers or raises it: of V m3 moved, weight V^2 / 2 A stays unplaced.
That is the only error allowed, and it is worked out here.
"""

import math

from forebay.rig import load
from forebay.twin.plant import Plant
from keeper.boards import wiring
from keeper.physics import gravity, water

RIG = load().plant()
STEP_S = 0.1
UPPER_M2, LOWER_M2 = 1.0 * 1.0, 1.3 * 1.0
UPPER_BASE_M, LOWER_BASE_M = 9.0, -1.7
PIPE_M3 = math.pi / 4 * 0.025**2 * 20.0
PIPE_MIDDLE_M = 4.5       # a straight pipe from 9 m down to the nozzle
FINEST_J = 1e-8           # doubles of 1e5 J keep 1e-11; a few hundred are added
ROUNDED_J = 1e-7          # and the wheel's mean speed is known to 1e-9 rad/s
SIDES = {"up": ("panel_J", "pump_J", "node_charge_J", "copper_J", "no_load_J", "pump_loss_J",
                "pipe_loss_J", "lift_J", "volume_m3"),
         "down": ("released_J", "pipe_loss_J", "valve_loss_J", "nozzle_loss_J", "bucket_loss_J",
                  "splash_loss_J", "drag_loss_J", "winding_loss_J", "rectifier_loss_J",
                  "generator_J", "lamp_J", "clamp_J", "dump_J", "volume_m3"),
         "battery": ("board_J", "stored_J", "loss_J", "charged_J"),
         "upper": ("spilled_J", "spilled_m3", "removed_J", "removed_m3"),
         "lower": ("spilled_J", "spilled_m3", "removed_J", "removed_m3"),
         "penstock": ("drop_J",), "": ("drop_J", "charger_loss_J", "inflow_J", "inflow_m3")}
# All other books only grow: no loss gives energy back.  The lower tank lies below 0 J.
MAY_FALL = {"battery.stored_J", "lower.removed_J", "lower.spilled_J", "inflow_J"}


def plant(sun, changes=()):
    """Returns a plant of the demo rig under a sun, whose valve goes where it is told."""
    return Plant({**RIG, "board.valve_kind": wiring.SERVO, **dict(changes)}, sun)


def books_of(one):
    """Returns {"part.book": value}."""
    found = {}
    for part, names in SIDES.items():
        place = getattr(one, part) if part else one
        found.update({f"{part}.{name}" if part else name: getattr(place, name)
                      for name in names})
    return found


def weight_N_m3():
    density = water.density_kg_m3(RIG["site.water_temperature_degC"])
    return density * gravity.normal_m_s2(RIG["site.latitude_deg"], RIG["site.height_m"])


def same(name, found, expected, rel, least):
    """Asserts that two numbers agree; plain, because it is asked fifty times a step."""
    assert abs(found - expected) <= max(rel * abs(expected), least), (name, found, expected)


class Ledger:
    """The second books of one plant; `step` advances it by one step and compares."""

    def __init__(self, one):
        self.plant = one
        self.weight = weight_N_m3()
        self.density = water.density_kg_m3(RIG["site.water_temperature_degC"])
        self.start_J, self.start_m3 = self.held_J(), self.held_m3()
        self.unplaced_J = 0.0
        self.before = books_of(one)
        self.held = self.held_J(), self.held_m3()
        self.steps = 0

    def held_m3(self):
        one = self.plant
        return one.upper.volume_m3 + one.lower.volume_m3 + one.penstock.volume_m3

    def held_J(self):
        """Water in both tanks and the penstock, above the nozzle; the turning wheel."""
        one = self.plant
        up, low = one.upper.volume_m3, one.lower.volume_m3
        return (self.weight * (up * (UPPER_BASE_M + up / UPPER_M2 / 2)
                               + low * (LOWER_BASE_M + low / LOWER_M2 / 2)
                               + one.penstock.volume_m3 * PIPE_MIDDLE_M)
                + 0.5 * 1e-4 * one.down.speed**2)

    def step(self, dt_s=STEP_S):
        """Advances the plant; returns {book: what it grew by}."""
        one = self.plant
        held_J, held_m3 = self.held   # as the step before left it, before a person acted
        surface_m = LOWER_BASE_M + one.lower.volume_m3 / LOWER_M2
        speed = one.down.speed
        one.step(dt_s)
        after = books_of(one)
        grown = {name: after[name] - self.before[name] for name in after}
        self.before, self.held = after, (self.held_J(), self.held_m3())
        self.steps += 1
        for name, more in grown.items():
            assert more >= -FINEST_J or name in MAY_FALL, (name, more)
        self._water(grown, held_m3, dt_s)
        self._energy(grown, held_J)
        self._uphill(grown, surface_m, dt_s)
        # The turbine takes last: it finds what it takes and what it leaves.
        head_m = UPPER_BASE_M + (one.upper.volume_m3 + grown["down.volume_m3"]) / UPPER_M2
        self._downhill(grown, head_m, speed, dt_s)
        return grown

    def _water(self, grown, held_m3, dt_s):
        one = self.plant
        gone = sum(grown[f"{tank}.{kind}_m3"] for tank in ("upper", "lower")
                   for kind in ("spilled", "removed"))
        run_in = one.inflow_m3_s * dt_s
        same("water", self.held_m3() + gone - held_m3, run_in, 0.0, 1e-14)
        same("inflow", grown["inflow_m3"], run_in, 0.0, 1e-15)
        assert abs(one.mass_error()) < 1e-12, one.mass_error()

    def _energy(self, grown, held_J):
        one = self.plant
        spent = sum(more for name, more in grown.items() if name in SPENT)
        unplaced = grown["up.panel_J"] + grown["inflow_J"] - spent - (self.held_J() - held_J)
        same("energy", unplaced, -self._of_the_step(grown), 0.0, FINEST_J)
        self.unplaced_J += unplaced
        moved = sum(abs(self.before[name]) for name in ("up.panel_J", "inflow_J", "up.lift_J",
                                                        "down.released_J"))
        if moved:
            same("energy_error", one.energy_error() * moved, self.unplaced_J, 3e-4, 1e-7)

    def _of_the_step(self, grown):
        """What a step leaves unplaced because surfaces move while it lasts [J]."""
        both = 1 / UPPER_M2 + 1 / LOWER_M2
        moved = (grown["up.volume_m3"], grown["down.volume_m3"])
        left = sum(volume**2 / 2 * both for volume in moved)
        # What runs in from outside comes last, and at the surface as it rises.
        for area, volume, over in (
                (UPPER_M2, moved[0], grown["upper.spilled_m3"]),
                (LOWER_M2, moved[1], grown["lower.spilled_m3"] - grown["inflow_m3"])):
            if over > 0.0:  # the rest rose to the overflow, and what spilled rose with it
                left += ((volume - over) ** 2 / 2 + over * (volume - over) - volume**2 / 2) / area
        return self.weight * left

    def _uphill(self, grown, surface_m, dt_s):
        """Panel, charger, motor, pump, main: each by its own law."""
        up, battery = self.plant.up, self.plant.battery
        volts, amps, charge = up.panel_V, up.pump_A, up.charge_A
        same("panel's node", up.panel_A, amps + charge, 0.0, 1e-9)
        speed = up.ratio * RIG["pump.rated_speed_rad_s"]
        ke = (24.0 - 3.0 * 0.75) / RIG["pump.rated_speed_rad_s"]
        idle_W = ke * speed * up.no_load_A
        head_m = 17.0 * up.ratio**2 - (17.0 - 11.3) / 55e-6**2 * up.flow**2
        lift_m = RIG["upper.inlet_height_m"] - surface_m
        water_W = self.weight * up.flow * head_m
        laws = {
            "panel_J": volts * up.panel_A, "pump_J": volts * amps, "node_charge_J": volts * charge,
            "copper_J": 3.0 * amps**2, "no_load_J": idle_W,
            "pump_loss_J": (volts - 3.0 * amps) * amps - idle_W - water_W,
            "pipe_loss_J": self.weight * up.flow * (head_m - lift_m) if up.flow else 0.0,
            "lift_J": self.weight * up.flow * lift_m, "volume_m3": up.flow,
        }
        for name, watts in laws.items():
            same(name, grown["up." + name], watts * dt_s, 1e-6, FINEST_J)
        if charge:
            lost_W = (volts - battery.volts) * charge
            same("charger", grown["charger_loss_J"], lost_W * dt_s, 0.0, FINEST_J)
            same("charged", grown["battery.charged_J"], battery.volts * charge * dt_s, 0.0,
                 FINEST_J)

    def _downhill(self, grown, head_m, speed_before, dt_s):
        """Penstock to lamps: each by its own law."""
        down = self.plant.down
        flow, volts = down.flow, down.generator_V
        speed = 0.5 * (speed_before + down.speed)
        jet = flow / (math.pi / 4 * 0.0021**2)
        stream_W = 0.5 * self.density * flow * jet**2
        lamp_A = max(0.0, volts - 9.0) / 24.0 if self.lit() else 0.0
        clamp_A = max(0.0, volts - down.clamp_V) / 2.0
        dump_A = volts / RIG["generator.dump_resistance_ohm"] if down.dump_on else 0.0
        amps = lamp_A + clamp_A + dump_A
        # Euler: the buckets give back k of what hits them, turned by 165 degrees.
        push_W = (0.6 * self.density * flow * max(0.0, jet - speed * 0.025) * speed * 0.025
                  * (1 + 0.9 * math.cos(math.radians(15))))
        stored_W = 0.5 * 1e-4 * (down.speed**2 - speed_before**2) / dt_s
        released_W = self.weight * flow * head_m
        valve_W, nozzle_W = self.valve_W(flow), stream_W * (1 / 0.97**2 - 1)
        laws = {
            "released_J": released_W, "volume_m3": flow, "nozzle_loss_J": nozzle_W,
            "valve_loss_J": valve_W, "pipe_loss_J": released_W - stream_W - valve_W - nozzle_W,
            "winding_loss_J": 10.0 * amps**2, "rectifier_loss_J": 0.7 * amps,
            "generator_J": volts * amps, "lamp_J": volts * lamp_A, "clamp_J": volts * clamp_A,
            "dump_J": volts * dump_A,
        }
        if down.speed:
            laws["drag_loss_J"] = 0.93e-3 * speed
        if (jet - speed_before * 0.025) * (jet - down.speed * 0.025) >= 0.0:
            # Not in a step in which the jet begins to reach the buckets.
            same("buckets", grown["down.bucket_loss_J"] + grown["down.splash_loss_J"],
                 (stream_W - push_W) * dt_s, 1e-6, ROUNDED_J)
            same("wheel", grown["down.drag_loss_J"],
                 (push_W - down.emf * speed * amps - stored_W) * dt_s, 1e-6, ROUNDED_J)
        for name, watts in laws.items():
            same(name, grown["down." + name], watts * dt_s, 1e-6, ROUNDED_J)

    def lit(self):
        """Whether the lamps hang on the generator."""
        return self.plant.down.lamps_connected and not self.plant.down.lamps_off

    def valve_W(self, flow):
        """What a valve of Kvs 1.2 m3/h, equal percentage 50:1, takes: Kv = m3/h at 1 bar."""
        at = self.plant.down.position
        if not flow or self.plant.down.seat_s2_m5 and at <= 0.0:
            return self.plant.down.seat_s2_m5 * flow**3 * self.weight
        kv = 1.2 * 50.0 ** (at - 1) * min(1.0, at / 0.02)
        # A Kv is that of water of 1000 kg/m3; of ours as much head is taken as of that.
        return (flow * 3600 / kv) ** 2 * 1e5 * flow * self.density / 1000.0


SPENT = {"up.copper_J", "up.no_load_J", "up.pump_loss_J", "up.pipe_loss_J", "charger_loss_J",
         "battery.stored_J", "battery.loss_J", "battery.board_J", "drop_J", "penstock.drop_J",
         "down.pipe_loss_J", "down.valve_loss_J", "down.nozzle_loss_J", "down.bucket_loss_J",
         "down.splash_loss_J", "down.drag_loss_J", "down.winding_loss_J",
         "down.rectifier_loss_J", "down.lamp_J", "down.clamp_J", "down.dump_J",
         "upper.spilled_J", "lower.spilled_J", "upper.removed_J", "lower.removed_J"}
