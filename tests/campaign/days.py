"""Random days: weather, loads, orders, presses, faults; each one from its seed alone.

A day passes if no hazard came true that its fault does not excuse, within the
bounds of that, if nothing acted that is neither true nor the fault's, in its
time, if litres and light reach nine tenths of an ideal keeper's until the
fault came, and if the books of water and energy close.
"""

from __future__ import annotations

import random
from contextlib import nullcontext
from typing import Any, NamedTuple

from keeper import settings as st
from keeper.protection.elements import E_ACTION, TRIP, number
from tests.campaign import expected, ideal, singles, waivers, weather
from tests.campaign.coarse import QUIET, CoarseTwin, coarse_means
from tests.campaign.people import DAY_S, Hand, Script
from tests.campaign.scene import Watched, demo, wishes_of
from tests.campaign.waiting import Waiting
from tests.campaign.wishes import PRESSED

FINE_SHARE = 40           # one day in so many runs at 10 Hz
LOOKS_S = 300             # how often the person looks at the rig
MASS_FRAC = 1e-9          # design: books of water close to it, at any step
ENERGY_FRAC = 1e-6        # and of energy at 10 Hz; the error goes with the step (tests/twin)


COLD_BIT = 1 << number("23-CLD") - 1


class Day(NamedTuple):
    """One random day, all of which follows from its seed."""

    seed: int
    stall_s: float = 0.0
    with_faults: bool = True
    kind: str | None = None
    disabled: tuple = ()
    spoil: Any = None         # makes the keeper worse, see scene.Watched

    @property
    def fine(self):
        """Whether it runs at the board's real 10 Hz."""
        return self.seed % FINE_SHARE == 0


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


def _rig(draw):
    upper = draw.uniform(0.02, 0.97)
    return {"upper.start_volume_m3": upper,
            "lower.start_volume_m3": min(1.27, draw.uniform(0.05, 1.31 - 0.5 * upper)),
            "lower.inflow_m3_s": draw.choice((0.0, 0.0, 0.0, 2e-5)),
            "supply.start_charge_frac": draw.uniform(0.15, 1.0)}


def run(day: Day) -> Result:
    """Lives one random day."""
    draw = random.Random(day.seed)
    rig, settings = demo(_rig(draw))
    settings[st.index("setpoint_mW")] = draw.choice((300, 600, 600, 1000))
    script = Script(draw, day.with_faults)
    mild = 14.0 if script.fault and script.fault != "frost" else None
    sun = weather.day(draw, day.kind, mild)
    kind, means = (Watched, nullcontext()) if day.fine else (CoarseTwin, coarse_means())
    with means:
        twin = kind(rig, settings, sun, disabled=day.disabled, stall_s=day.stall_s,
                    blind=expected.BLINDS.get(script.fault, ()), seed=day.seed, spoil=day.spoil)
        try:
            return _lived(day, twin, script, rig)
        finally:
            twin.close()


def _lived(day, twin, script, rig):
    log = singles.Log(twin, rig)
    life = Life(twin, rig, script.fault)
    hand = Hand(twin, script, life.fault_came)
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

    def __init__(self, twin, rig, fault):
        """Takes the twin, its rig and the day's fault, "" = none."""
        self.twin, self.rig = twin, rig
        self.waiting = Waiting(twin, rig)
        self.follows = expected.followers(fault) if fault else {}
        self.changed_s = None      # last start, end, fault, or element of the fault
        self.driven = (0, False)
        self.judged = 0            # of what acted against the truth
        self.wrong: list = []
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
            return
        after_s = now_s - self.changed_s
        if after_s > self.follows[one] and one not in self.came:
            self.wrong.append(f"{one} acted {after_s:.0f} s after the last change,"
                              f" expected within {self.follows[one]:.0f} s")
        self.changed_s = now_s
        self.came.add(one)   # as long as the fault stays it may let go and come again


def _judged(day, twin, script, log, life):
    plant = twin.plant
    failures = waivers.judged(twin.watch.found, script.fault) + life.wrong
    acted = tuple(dict.fromkeys(one for one, _ in log.acted))
    trips = sum(1 for one, _ in log.acted if singles.element(one, E_ACTION) >= TRIP)
    if abs(plant.mass_error()) > MASS_FRAC:
        failures.append(f"books of water open by {plant.mass_error():.1e}")
    if abs(plant.energy_error()) > ENERGY_FRAC * (1 if day.fine else QUIET):
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
                  plant.down.lamp_J / 3600, trips, life.locked, tuple(failures), until_s, could)


def frosty_seed():
    """Returns the first seed whose day, by its draws alone, has frost as its fault."""
    seed = 1
    while True:
        draw = random.Random(seed)
        _rig(draw)
        draw.choice((300, 600, 600, 1000))
        script = Script(draw, True)
        if script.fault == "frost" and script.steps[0][0] < DAY_S // 2:
            return seed
        seed += 1
