"""The board's load: what the battery gave without sun, and what the same board took by day.

The board takes as much by day as at rest in the dark.  The valve's motor takes from the
battery too, but only while it turns: each of its moves costs what the way needs, by day as
in the dark, so that by day it is told by the way that the valve's reading shows.  Moves too
small for that come with a light: as many by day as in the dark.
"""

from typing import NamedTuple

import numpy as np

from forebay.balance.dark import AFTER, DARK_KINDS, PLACES, RESTING, UNREAD_MOVE
from forebay.balance.instruments import HALF_WIDTH
from forebay.balance.measured import Measured
from forebay.balance.spans import TOUCHING_S, Spans
from forebay.balance.sums import METERED, OF_SUPPLY, Flowed
from keeper.modes import CLOSING, RUNNING

# So long the board must have been at rest in the dark for its load there to be told alone (a
# guess: four of the longest rows).
LEAST_REST_S = 240.0
STATED = "stated board load"
MOTOR = "what the valve's motor is said to take"
WAY = "way of the valve, which nothing reads"
# How far its motor is from what is stated for it: anything from none to twice that (a guess;
# a geared motor's current follows its load and the cold).
MOTOR_HALF = 1.0
SMALL = "moves of the valve too small to be read"
# So many times an hour a governor at rest in its band moves the valve at most (its aim), by
# no more than its least pulse and its play.
MOVES_H = 30
S_PER_H = 3600.0
# Without light; a closing is whole only with what follows it, where the valve is pressed on.
SHUT = (RESTING, AFTER, CLOSING)
BY_DAY = "The board's load by day is taken as the one seen in the dark."
UNSEEN = "No dark hour was seen: the board's load is the one stated for the rig."


class Load(NamedTuple):
    """at_rest_W: of the board at rest [W]; taken_J: what it took in all [J]; is_seen."""

    at_rest_W: Measured
    taken_J: Measured
    is_seen: bool


def stated_W(rig) -> Measured:
    """Return what the description says that the board uses [W]."""
    watt = rig.supply.board_load_W
    return Measured(watt).with_part(STATED, watt * rig.model.board_load_frac)


def load_of(part, notes: list[str]) -> Load:
    """Return the board's load; part: of a period [electric.Electric]; says what was assumed."""
    dark_s = sum(part.dark[kind].seconds for kind in DARK_KINDS)
    if "supply_meter" not in part.fitted or not dark_s:
        if "supply_meter" in part.fitted:
            notes.append(UNSEEN)
        watts = stated_W(part.rig)
        return Load(watts, watts * part.spans.seconds, False)
    notes.append(BY_DAY)
    seen = _Seen(part)
    watts = seen.at_rest_W()
    by_day_J = watts * (part.spans.seconds - dark_s) + seen.motor_by_day_J(watts)
    return Load(watts, seen.taken_J(DARK_KINDS) + by_day_J, True)


class _Seen:
    """What was seen without sun."""

    def __init__(self, part):
        self.part = part
        valve = part.rig.valve
        watt_s = valve.motor_power_W * valve.travel_s
        self.motor_J = Measured(watt_s).with_part(MOTOR, HALF_WIDTH * MOTOR_HALF * watt_s)

    def seconds(self, kinds):
        """Return how long spans of some kinds were [s]."""
        return sum(self.part.dark[kind].seconds for kind in kinds)

    def taken_J(self, kinds):
        """Return what the board took in spans of some kinds [J]."""
        part = self.part
        spans = Spans.all_of([part.dark[kind] for kind in kinds]).whole()
        flowed = [sum((part.sums.dark[kind][side] for kind in kinds), Flowed())
                  for side in range(len(OF_SUPPLY))]
        gone = {METERED[place][0]: part.metered(spans, one, *METERED[place][1:])
                for place, one in zip(OF_SUPPLY, flowed, strict=True)}
        return gone["supply_out"] - gone["supply_in"]

    def travel(self, kinds):
        """Return how far the valve's motor turned it in rows of some kinds [of its travel]."""
        places = np.isin(PLACES, kinds)
        way, pressed = self.part.sums.travel[:, places].sum(axis=1).tolist()
        found = Measured(way + self.part.rig.valve.press * pressed)
        if "valve_position" in self.part.fitted:
            return found
        # Each of these moves is of none to all of its travel.
        return found.with_part(WAY, HALF_WIDTH * way * (1 - UNREAD_MOVE) / UNREAD_MOVE)

    def at_rest_W(self):
        """Return the load at rest [W].

        Where it rested too briefly, with the end of each light, less the valve's last moves,
        or in all of the dark, less all moves that are read: by the surer of the two.
        """
        still_s = self.seconds((RESTING,))
        if still_s >= LEAST_REST_S:
            return self.taken_J((RESTING,)) / still_s
        whole_J = self.less_moves_J(DARK_KINDS).with_part(
            SMALL, HALF_WIDTH * self.holding_W() * self.seconds((RUNNING,)))
        found, shut_s = whole_J / self.seconds(DARK_KINDS), self.seconds(SHUT)
        if shut_s < LEAST_REST_S:
            return found
        return min(found, self.less_moves_J(SHUT) / shut_s, key=lambda one: one.u)

    def less_moves_J(self, kinds):
        """Return what the board took in some kinds without the moves that are read [J]."""
        return self.taken_J(kinds) - self.travel(kinds) * self.motor_J

    def holding_W(self):
        """Return what the motor may take to hold a light [W]: its moves too small to be read."""
        valve = self.part.rig.valve
        move_s = valve.least_pulse_s + valve.backlash * valve.travel_s
        return valve.motor_power_W * move_s * MOVES_H / S_PER_H

    def motor_by_day_J(self, watts):
        """Return what the valve's motor took in spans with sun [J]; watts: load at rest [W].

        Moves that are read, and, while there is light, those too small to be: as many as in
        the dark, within as much again.
        """
        lit_s, dark_s = (one.seconds for one in (self.part.spans.of((RUNNING,)),
                                                 self.part.dark[RUNNING]))
        small_J = Measured(0.0)
        if lit_s - dark_s > TOUCHING_S and dark_s >= LEAST_REST_S:
            dark_J = self.less_moves_J((RUNNING,)) - watts * dark_s
            small_J = dark_J * (lit_s / dark_s - 1)
            small_J = small_J.with_noise(small_J.value * HALF_WIDTH)
        elif lit_s - dark_s > TOUCHING_S:
            small_J = small_J.with_part(SMALL, HALF_WIDTH * self.holding_W() * (lit_s - dark_s))
        return self.travel((0,)) * self.motor_J + small_J
