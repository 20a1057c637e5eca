"""Random days: rig, weather, loads, orders, presses, faults; each one from its seed alone.

Each is lived at the board's 10 Hz, on a rig of its own or on the demo's.

A day passes if no hazard came true that its fault does not excuse, within the
bounds of that, if nothing acted that is neither true nor the fault's, in its
time, if litres and light reach nine tenths of an ideal keeper's until the
fault came, and if the books of water and energy close.
"""

from __future__ import annotations

import random
from contextlib import nullcontext
from typing import Any, NamedTuple

from forebay.rehearse import lesser as catalogue
from keeper import settings as st
from keeper.clock import PERIOD_S
from keeper.physics import of_rig
from keeper.protection.elements import E_ACTION, TRIP, number
from tests.campaign import expected, ideal, lesser, singles, waivers, weather
from tests.campaign.coarse import QUIET, CoarseTwin, coarse_means
from tests.campaign.given import drawn
from tests.campaign.people import DAY_S, Hand, Script
from tests.campaign.scene import Watched, wishes_of
from tests.campaign.waiting import Waiting
from tests.campaign.wishes import PRESSED

DEMO_SHARE = 3            # one day in so many is the demo rig's
INFLOW_PER_S = 2e-5       # of the upper tank's volume: it is full in a night
MILD_DEGC, FROSTLESS_DEGC = 14.0, 4.0      # air of days on which no pipe freezes
LOOKS_S = 300             # how often the person looks at the rig
MASS_FRAC = 1e-9          # design: books of water close to it, at any step
ENERGY_FRAC = 1e-6        # and of energy at 10 Hz; the error goes with the step (tests/twin)
EVENING_S = (17 * 3600, 21 * 3600)
SHORT_S = 0.5             # a press that asks for light; one of a second may reset
SLICES = 10               # of a tank's height, in which its area is looked at

COLD_BIT = 1 << number("23-CLD") - 1


class Day(NamedTuple):
    """One random day, all of which follows from its seed."""

    seed: int
    stall_s: float = 0.0
    with_faults: bool = True
    kind: str | None = None
    disabled: tuple = ()
    spoil: Any = None         # makes the keeper worse, see scene.Watched
    coarse: bool = False      # at 1 Hz: for those who test the judges, see coarse
    demo: bool = False        # on the demo's rig, whatever the seed
    rig: str = ""             # on a rig with less, see lesser

    @property
    def is_drawn(self):
        """Whether its rig is drawn, too."""
        return not self.demo and not self.rig and self.seed % DEMO_SHARE != 0

    def __str__(self):
        return f"day {self.seed}, stall {self.stall_s:g} s" + (f", {self.rig}" if self.rig else "")


class Result(NamedTuple):
    """What came of a day; `failures`: sentences, none if all is as declared."""

    day: Day
    fault: str
    acted: tuple
    lifted_L: float
    let_down_L: float
    lamp_Wh: float
    trips: int
    lockouts: int
    failures: tuple
    judged_s: float = 0.0     # until when litres and light are judged
    could: Any = None         # and what an ideal keeper would have given by then
    unexpected: str = ""      # the first element that nobody expected
    is_cut: bool = False      # somebody pressed a stop that the board does not read

    @property
    def is_healthy(self):
        """Whether nothing came about that is a fault to this board."""
        return not self.fault and not self.is_cut


def _begins(draw, rig):
    """How a day begins: water in both tanks, what flows in, charge of the battery."""
    upper_m3 = rig["upper.overflow_volume_m3"]
    brim_m3 = of_rig.tank(rig, "lower.").capacity_m3
    upper = draw.uniform(0.02, 0.97)
    # Mostly there is room below for what is above.
    lower = min(0.977, draw.uniform(0.04, 1.0 - 0.5 * upper * upper_m3 / brim_m3))
    return {"upper.start_volume_m3": upper * upper_m3, "lower.start_volume_m3": lower * brim_m3,
            "lower.inflow_m3_s": draw.choice((0.0, 0.0, 0.0, INFLOW_PER_S * upper_m3)),
            "supply.start_charge_frac": draw.uniform(0.15, 1.0)}


def _drawn(day):
    """Returns what a day's seed makes of it: (rig, settings, script, draws left)."""
    draw = random.Random(day.seed)
    told = drawn(day.seed) if day.is_drawn else lesser.told(day.rig)
    rig = {**told["rig"], **_begins(draw, told["rig"])}
    settings = list(told["settings"])
    steps_mW = [round(1000 * power_W) for power_W in rig["lamps.steps_W"]]
    settings[st.index("setpoint_mW")] = draw.choice((*steps_mW, steps_mW[len(steps_mW) // 2]))
    names = lesser.names_of(settings) if day.rig else expected.of_rig(rig)
    script = Script(draw, day.with_faults, steps_mW, names)
    if not day.with_faults and not _reads_stop(rig):
        script.spare_stop()
    if not settings[st.index("at_dusk")]:   # somebody wants light in the evening
        script.steps.append((draw.randrange(*EVENING_S), "press", (SHORT_S,)))
        script.steps.sort()
    return rig, settings, script, draw


def _reads_stop(rig):
    """Returns whether the board of a rig reads the local stop."""
    return rig["sensors.local_stop"] == "fitted"


def run(day: Day) -> Result:
    """Lives one random day."""
    rig, settings, script, draw = _drawn(day)
    mild = MILD_DEGC if script.fault and script.fault != "frost" else None
    # Who has no sensor on the coldest pipe must drain it before the winter: nobody sees frost.
    coldest_degC = weather.COLDEST_DEGC
    if rig["sensors.water_temperature"] == "absent":
        coldest_degC = FROSTLESS_DEGC
    sun = weather.day(draw, day.kind, mild, coldest_degC, rig["site.hottest_air_degC"])
    kind, means = (CoarseTwin, coarse_means()) if day.coarse else (Watched, nullcontext())
    with means:
        twin = kind(rig, settings, sun, disabled=day.disabled, stall_s=day.stall_s,
                    blind=expected.BLINDS.get(script.fault, ()), seed=day.seed, spoil=day.spoil)
        try:
            return _lived(day, twin, script, rig)
        finally:
            twin.close()


def _lived(day, twin, script, rig):
    log = singles.Log(twin, rig)
    life = Life(twin, rig, script.fault, day.rig)
    hand = Hand(twin, script, life.fault_came, _reads_stop(rig))
    next_look_s = 0
    while twin.plant.time_s < DAY_S:
        now_s = twin.plant.time_s
        if hand.todo and hand.todo[0][0] <= now_s:
            hand.act(now_s)
        twin.step()
        log.follow()
        life.follow(log)
        if now_s >= next_look_s:
            next_look_s = now_s + LOOKS_S
            if twin.powered:
                hand.look(bool(twin.keeper.acting & COLD_BIT))
    life.stand()
    return _judged(day, twin, script, log, life)


class Life:
    """What a day's judge must keep while it passes."""

    def __init__(self, twin, rig, fault, name=""):
        """Takes the twin, its rig, the day's fault, "" = none, and the name of a rig with less."""
        self.twin, self.rig = twin, rig
        self.waiting = Waiting(twin, rig)
        self.follows = expected.followers(fault) if fault else {}
        if fault and name:
            wanted = catalogue.expected(fault, rig, twin.settings).firsts
            self.follows.update(dict.fromkeys(wanted, expected.DAYLIGHT_S + expected.NIGHT_S))
        self.changed_s = None      # last start, end, fault, or element of the fault
        self.driven = (0, False)
        self.judged = 0            # of what acted against the truth
        self.wrong: list = []
        self.unexpected = ""
        self.came: set = set()     # elements that the fault has brought
        self.locked = 0
        self.was_locked = False
        self.stood = None          # (time, litres, lamp energy) until which the day is judged

    def follow(self, log):
        """After each step."""
        twin = self.twin
        self.waiting.follow()
        driven = (twin.plant.pump_commanded, bool(twin.watch.valve()))
        if driven != self.driven:
            self.driven = driven
            if self.changed_s is not None:
                self.changed_s = twin.plant.time_s
        for one in log.unsaid[self.judged:]:
            self._acts(one)
        self.judged = len(log.unsaid)
        is_locked = twin.powered and bool(twin.keeper.lockouts)
        self.locked += is_locked and not self.was_locked
        self.was_locked = is_locked
        if self.stood is None and twin.wishes.told and twin.wishes.told[-1].code == PRESSED:
            self.stand()

    def fault_came(self):
        """From now on the fault's own elements may act, and the day gives what it gives."""
        self.changed_s = self.twin.plant.time_s
        self.stand()

    def stand(self):
        """Keeps what the day gave until now, once."""
        plant = self.twin.plant
        if self.stood is None:
            self.stood = (plant.time_s, plant.up.volume_m3 * 1e3, plant.down.lamp_J)

    def _acts(self, one):
        now_s = self.twin.plant.time_s
        if self.changed_s is None or one not in self.follows:
            self.wrong.append(f"{one} acted at {now_s:.0f} s, which is not expected")
            self.unexpected = self.unexpected or one
            return
        after_s = now_s - self.changed_s
        if after_s > self.follows[one] and one not in self.came:
            self.wrong.append(f"{one} acted {after_s:.0f} s after the last change,"
                              f" expected within {self.follows[one]:.0f} s")
        self.changed_s = now_s
        self.came.add(one)   # as long as the fault stays it may let go and come again


def _energy_frac(rig):
    """Returns how far the books of energy may stand open [-].

    What comes down in a step is taken at the level before it: half of that step's fall of
    the level is the error, as a share of the head; of a tall rig with a wide tank nothing.
    """
    shape = of_rig.tank(rig, "upper.")
    slice_m = shape.height_m / SLICES
    area_m2 = min(shape.volume_m3((place + 1) * slice_m) - shape.volume_m3(place * slice_m)
                  for place in range(SLICES)) / slice_m
    flow_m3_s = waivers.figures(rig)["flow_L_s"] / waivers.L_PER_M3
    fall_m = flow_m3_s * PERIOD_S / area_m2
    return max(ENERGY_FRAC, 0.5 * fall_m / rig["upper.base_height_m"])


def _judged(day, twin, script, log, life):
    plant = twin.plant
    left = lesser.told(day.rig)["left"] if day.rig else ()
    failures = waivers.judged(twin.watch.found, script.fault, life.rig, left) + life.wrong
    acted = tuple(dict.fromkeys(one for one, _ in log.acted))
    trips = sum(1 for one, _ in log.acted if singles.element(one, E_ACTION) >= TRIP)
    if abs(plant.mass_error()) > MASS_FRAC:
        failures.append(f"books of water open by {plant.mass_error():.1e}")
    if abs(plant.energy_error()) > _energy_frac(life.rig) * (QUIET if day.coarse else 1):
        failures.append(f"books of energy open by {plant.energy_error():.1e}")
    until_s, lifted_L, lamp_J = life.stood
    sun = plant.poa, plant.cell, plant.air
    told = [one for one in twin.wishes.told if one.at_s < until_s]
    gave = lifted_L, lamp_J, twin.wishes.ordinary_W

    def lacks(given):
        return ideal.falls_short(life.rig, given, *gave)

    could = ideal.could_give(life.rig, sun, lambda: wishes_of(life.rig, twin.settings), told,
                             life.waiting.spans, until_s, lambda given: not lacks(given))
    failures += lacks(could)
    return Result(day, script.fault, acted, plant.up.volume_m3 * 1e3, plant.down.volume_m3 * 1e3,
                  plant.down.lamp_J / 3600, trips, life.locked, tuple(failures), until_s, could,
                  life.unexpected, script.presses_stop() and not _reads_stop(life.rig))


def frosty_seed():
    """Returns the first seed of a day of the demo's rig that, by its draws alone, has frost."""
    seed = DEMO_SHARE
    while True:
        script = _drawn(Day(seed))[2]
        if script.fault == "frost" and script.steps[0][0] < DAY_S // 2:
            return seed
        seed += DEMO_SHARE
