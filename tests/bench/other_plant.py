"""A plant of another structure than the project's physics, and days of it with its keeper.

What a plan leaves out must come from somewhere else: here are other laws of friction, of the
pump's head and torque and of the wheel, each through the same nameplate.  Runs under any
interpreter, without forebay but for its twin; `played` starts it.
"""

import math
from typing import Any

from forebay.twin.downhill import Downhill
from forebay.twin.uphill import Uphill
from keeper.operation import orders
from keeper.physics import of_rig
from keeper.physics.pipes import LEAST_FLOW_M3_S, Pipe
from keeper.protection.elements import E_ACTION, E_ID, ELEMENTS, TRIP
from tests.campaign.coarse import CoarseTwin, coarse_means

# Smooth pipes: H. Blasius (1913); turbulent from Re 2300 on: the usual critical number.
BLASIUS, BLASIUS_POWER, CRITICAL_RE = 0.3164, 0.25, 2300.0
# Hazen and Williams in SI units: h = 10.67 L Q^1.852 / (C^1.852 d^4.8704); from memory.
HAZEN, HAZEN_Q, HAZEN_D = 10.67, 1.852, 4.8704
FASTEST, TRIALS, SAME_A = 3.0, 60, 1e-9
MOST_RAISED = 100.0
BEST_RATIO = 0.46        # bucket over jet at which impulse wheels are best; common practice
LEAST_SHARE = 0.05       # of the wheel's hits that is left, however it turns
LIT_FRAC = 0.9           # of the light: the governor's 5 % and its meters' error lie above
ENDED_S = 900.0          # without light for so long, water or not, the evening is over
MOST_NIGHT_S = 86400.0
SAME_FRAC = 0.01         # of the litres: so near to another evening's this one is as that was
WAIT_S = 300.0           # from the last light of the day to the order


class BlasiusPipe(Pipe):
    """A smooth pipe, laminar or turbulent without anything between."""

    def resistance_s2_m5(self, flow_m3_s):
        """Head lost over the square of the flow [s2/m5]."""
        reynolds = self._reynolds_s_m3 * max(flow_m3_s, LEAST_FLOW_M3_S)
        factor = (64.0 / reynolds if reynolds < CRITICAL_RE
                  else BLASIUS / reynolds ** BLASIUS_POWER)
        return (factor * self._lengths + self.coefficient) * self._head_s2_m5

    def loss_m(self, flow_m3_s):
        """Head lost [m]."""
        return self.resistance_s2_m5(flow_m3_s) * flow_m3_s * flow_m3_s if flow_m3_s else 0.0


class HazenPipe(BlasiusPipe):
    """A pipe by the waterworks' rule, which knows no viscosity."""

    def take(self, length_m, diameter_m, smoothness):
        """Takes the rule's own figures."""
        self._rule = HAZEN * length_m / (smoothness ** HAZEN_Q * diameter_m ** HAZEN_D)

    def resistance_s2_m5(self, flow_m3_s):
        """Head lost over the square of the flow [s2/m5]."""
        flow = max(flow_m3_s, LEAST_FLOW_M3_S)
        return self._rule * flow ** (HAZEN_Q - 2.0) + self.coefficient * self._head_s2_m5


def pipe(rig, section, water, structure):
    """Returns the pipe of a section under the friction law of a structure; None = the same."""
    law = structure.get("friction")
    if not law:
        return None
    given = (rig[section + ".length_m"], rig[section + ".diameter_m"],
             rig[section + ".roughness_m"], rig[section + ".minor_loss"], water[1], water[2])
    if law == "blasius":
        return BlasiusPipe(*given)
    found = HazenPipe(*given)
    found.take(given[0], given[1], law)
    return found


class OtherUphill(Uphill):
    """H = H0 s^2 - b1 s Q - b2 Q^2 and T = t0 s^2 + t1 (a s Q + (1 - a) Q^2 / Qr).

    Both through the nameplate's two points; b1 = 0 and a = 1 are the project's own.
    """

    def __init__(self, rig, water, structure):
        """Takes the rig, its water's properties and the structure."""
        Uphill.__init__(self, rig, *water)
        share, self.bent = structure.get("linear", 0.0), structure.get("torque", 1.0)
        self.rated_m3_s = rig["pump.rated_flow_m3_s"]
        self.slip_s_m2 = share * self.inner_s2_m5 * self.rated_m3_s
        self.inner_s2_m5 *= 1.0 - share
        other = pipe(rig, "rising_main", water, structure)
        if other:
            self.pipe, self.pipe_s2_m5 = other, other.resistance_s2_m5(self.rated_m3_s)

    def _flow(self, ratio, lift_m):
        """Returns (flow [m3/s], its growth with the speed's ratio)."""
        spare = self.head_m * ratio * ratio - lift_m
        if spare <= 0.0:
            return 0.0, 0.0
        square, line = self.inner_s2_m5 + self.pipe_s2_m5, self.slip_s_m2 * ratio
        flow = 2.0 * spare / (line + math.sqrt(line * line + 4.0 * square * spare))
        slope = (2.0 * self.head_m * ratio - self.slip_s_m2 * flow) / (2.0 * square * flow + line)
        return flow, slope

    def _torque(self, ratio, flow):
        bent = self.bent * ratio * flow + (1.0 - self.bent) * flow * flow / self.rated_m3_s
        return self.torque_0 * ratio * ratio + self.torque_q * bent

    def run_m3_s(self, lift_m, beside_A, primed):
        """Finds speed and flow: Newton's rule between bounds."""
        ratio = self.ratio if self.ratio > 0.0 else 0.5
        low, high, back = 0.0, FASTEST, self.emf * self.rated_speed
        for _ in range(TRIALS):
            flow, slope_flow = self._flow(ratio, lift_m)
            amps = self.no_load_A + self._torque(ratio, flow) / self.emf
            volts = back * ratio + self.resistance * amps
            drawn = amps + beside_A
            junction = volts + drawn * self.series
            grown = self.dark * math.exp(min(junction / self.ideal, MOST_RAISED))
            excess = self.light - grown + self.dark - junction / self.shunt - drawn
            if -SAME_A < excess < SAME_A:
                break
            low, high = (ratio, high) if excess > 0.0 else (low, ratio)
            of_flow = self.bent * ratio + 2.0 * (1.0 - self.bent) * flow / self.rated_m3_s
            slope_A = (2.0 * self.torque_0 * ratio + self.torque_q * (
                self.bent * flow + of_flow * slope_flow)) / self.emf
            slope_V = back + (self.resistance + self.series) * slope_A
            ratio += excess / ((grown / self.ideal + 1.0 / self.shunt) * slope_V + slope_A)
            if not low < ratio < high:
                ratio = 0.5 * (low + high)
        if ratio < SAME_A:
            return self._stall(beside_A)
        self.ratio, self.flow = ratio, flow
        self.pump_A, self.panel_V, self.panel_A = amps, volts, drawn
        return flow

    def losses_W(self, primed):
        """Losses, that of the pump by its own curves [W]."""
        copper_W, no_load_W, _, pipe_W = Uphill.losses_W(self, primed)
        ratio, flow = self.ratio, self.flow
        given_m = (self.head_m * ratio * ratio - self.slip_s_m2 * ratio * flow
                   - self.inner_s2_m5 * flow * flow)
        shaft_W = self._torque(ratio, flow) * self.rated_speed * ratio
        return copper_W, no_load_W, shaft_W - self.weight * flow * given_m, pipe_W


class OtherDownhill(Downhill):
    """A wheel that meets less or more of the jet as it turns faster than its best."""

    def __init__(self, rig, water, structure):
        """Takes the rig, its water's properties and the structure."""
        Downhill.__init__(self, rig, *water)
        self.lean = structure.get("wheel", 0.0)
        self.push_at_best = self.push_kg_s_m2
        other = pipe(rig, "penstock", water, structure)
        if other:
            self.pipe, self.pipe_s2_m5 = other, other.resistance_s2_m5(1e-5)

    def _turn(self, dt_s, flow):
        if flow > 0.0 and self.lean:
            ratio = min(1.0, self.middle * self.wheel.radius_m * self.area / flow)
            share = max(LEAST_SHARE, 1.0 + self.lean * (ratio - BEST_RATIO))
            self.push_kg_s_m2 = self.push_at_best * share
        Downhill._turn(self, dt_s, flow)

    def brightest_W(self, head_m):
        """Returns the light of the open valve under a head, once all has settled [W]."""
        self._place(1.0)
        self.commanded = 1.0
        for _ in range(4000):
            self.step(0.1, head_m, True)
        return self.generator_V * self.lamp_A


class Blind:
    """Stands for a watch where nobody judges hazards."""

    step_s = 1.0

    def check(self):
        """Sees nothing."""


class Followed(CoarseTwin):
    """Keeps what acted."""

    watch: Any = None
    acted = 0     # bit i: element i + 1 has acted

    def step(self):
        """A step, and a look."""
        CoarseTwin.step(self)
        self.acted |= self.keeper.acting


def twin_of(job, day):
    """Returns a coarse twin of the other plant, its upper tank empty, the lower one full."""
    rig = {**job["rig"], **day.get("rig", {})}
    twin = Followed(rig, job["settings"], day["sun"], seed=job["seed"])
    setattr(twin, "watch", Blind())  # noqa: B010 - of another kind than the class's own
    water = of_rig.water(rig)
    if job["structure"]:
        twin.plant.up = OtherUphill(rig, water, job["structure"])
        twin.plant.down = OtherDownhill(rig, water, job["structure"])
    return twin


def lived(job):
    """Returns what came of each day of a job, by name [SI]."""
    lit: list = []     # (litres, what came of their evening)
    with coarse_means():
        found = [_lived(job, day, lit) for day in job["days"]]
    rig = job["rig"]
    head_m = rig["upper.base_height_m"] + of_rig.tank(rig, "upper.").level_m(
        rig["upper.empty_volume_m3"])
    water = of_rig.water(rig)
    return {"days": found,
            "brightest_W": OtherDownhill(rig, water, job["structure"]).brightest_W(head_m)}


def _lived(job, day, lit):
    twin = twin_of(job, day)
    try:
        came = _sunlit(twin, day["dusk_s"])
        litres = came["lifted_m3"]
        alike = [one for other, one in lit if abs(litres - other) <= SAME_FRAC * other]
        by_night = alike[0] if alike else _evening(twin, job["power_W"],
                                                   day.get("wished_s", MOST_NIGHT_S))
        if not alike:
            lit.append((litres, by_night))
        return {**came, **by_night, "is_alike": bool(alike), "trips": [
            row[E_ID] for place, row in enumerate(ELEMENTS)
            if twin.acted >> place & 1 and row[E_ACTION] >= TRIP]}
    finally:
        twin.close()


def _sunlit(twin, dusk_s):
    """Lives till dusk."""
    plant, ran_s, full_s = twin.plant, 0.0, None
    while plant.time_s < dusk_s + WAIT_S:
        before_s = plant.time_s
        twin.step()
        if plant.up.flow > 0.0:
            ran_s += plant.time_s - before_s
        if full_s is None and plant.full.up:
            full_s = ran_s
    return {"lifted_m3": plant.up.volume_m3, "ran_s": ran_s, "full_s": full_s}


def _evening(twin, power_W, most_s):
    """Lives from the order till there is no light any more, or for as long as it was to last."""
    plant = twin.plant
    twin.order(orders.LIGHT, round(1000 * power_W), orders.DAY_MIN)
    began_s = ended_s = plant.time_s
    lit_s, least_W = 0.0, LIT_FRAC * power_W
    while plant.time_s - began_s < MOST_NIGHT_S and plant.time_s - ended_s < ENDED_S:
        before_s = plant.time_s
        twin.step()
        if plant.down.generator_V * plant.down.lamp_A >= least_W:
            lit_s += plant.time_s - before_s
            ended_s = plant.time_s
            if lit_s > most_s:
                break
    return {"lit_s": lit_s, "let_down_m3": plant.down.volume_m3, "lamp_J": plant.down.lamp_J}
