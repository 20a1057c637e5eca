"""Single faults, in every state, at several onsets, with and without flash stalls.

A case passes if no hazard came true, the first element was the catalogue's,
it acted in time, and what must follow followed.
"""

from __future__ import annotations

from typing import NamedTuple

from forebay.rehearse import lesser as catalogue
from forebay.twin import faults
from forebay.twin.effects import apply
from keeper import modes
from keeper import settings as st
from keeper.operation import orders
from keeper.protection.elements import E_ACTION, E_ARMED, E_DELAY_MS, E_ID, ELEMENTS, TRIP, number
from tests.campaign import expected, lesser, waivers
from tests.campaign.given import given
from tests.campaign.ordinary import Ordinary
from tests.campaign.scene import staged

STALLS_S = (0.0, 0.14, 1.2)
ONSETS = (0, 73, 617)         # scans after the state has settled
STATES = tuple(range(len(modes.STATES)))
SCAN_S = 0.1
BETWEEN_WRITES_S = 15.0       # no more writes than one in this time: a change of state writes
QUIET_S = 120.0               # how long one waits for a fault in a state that it does not need


def element(element_id, column) -> int:
    """Returns a number of an element's row."""
    return int(ELEMENTS[number(element_id) - 1][column])


class Case(NamedTuple):
    """One fault, the state in which it comes, when, and how long flash stalls the board."""

    fault: str
    state: int
    onset: int = 0
    stall_s: float = 0.0
    disabled: tuple = ()
    seed: int = 1
    rig: str = ""          # of `lesser`

    @property
    def wanted(self):
        """What acts first, and when [Expected of the twin's catalogue]."""
        told = lesser.told(self.rig)
        return catalogue.expected(self.fault, told["rig"], told["settings"])

    @property
    def needed(self):
        """Whether this is a state in which the catalogue promises the first element."""
        if faults.row_of(self.fault)[faults.F_MODE] != faults.ANY_MODE:
            return self.state == expected.state_of(self.fault)
        first = expected.first_of(self.fault)
        return not first or bool(element(first, E_ARMED) >> self.state & 1)


class Outcome(NamedTuple):
    """What came of a case; `failures`: sentences, none if all is as declared."""

    case: Case
    first: str
    after_s: float | None
    acted: tuple
    failures: tuple


class Log:
    """Elements in the order in which they act."""

    def __init__(self, twin, rig=None):
        self.twin = twin
        self.ordinary = Ordinary(twin, rig or given()["rig"])
        self.unsaid: list = []      # ids that acted though the truth does not say so
        self.before = list(twin.keeper.core.protection.acting)
        self.acted: list = []       # (id, period)

    def follow(self):
        """Takes what began to act in the last step; in one scan by its place in the table."""
        self.ordinary.follow()
        now = self.twin.keeper.core.protection.acting
        if now == self.before:
            return
        for index, row in enumerate(ELEMENTS):
            if now[index] and not self.before[index]:
                self.acted.append((row[E_ID], self.twin.periods))
                if not self.ordinary.is_true(row[E_ID]):
                    self.unsaid.append(row[E_ID])
        self.before = list(now)


class Person:
    """Who looks after the rig: empties the pipes when they are cold."""

    def __init__(self, twin, log):
        self.twin = twin
        self.log = log
        self.done = False

    def look(self):
        """Acts on the alarm of cold pipes, as its sentence says."""
        if not self.done and any(one == "23-CLD" for one, _ in self.log.acted):
            self.done = True
            self.twin.tank(False)
            self.twin.order(orders.DRAIN_DOWN, 1, 30)


def bring_on(twin, name):
    """Brings a fault on in a running twin."""
    twin.watch.works = twin.watch.works and name in expected.GOES_ON
    if name == "power-cut":
        twin.cut()
    else:
        apply(name, twin.plant, twin.leads, twin.board.fitted)


def run(case: Case) -> Outcome:
    """Runs one case and judges it."""
    scene = expected.SCENES.get(case.fault, expected.Scene())
    rig = lesser.told(case.rig)["rig"]
    if case.rig:
        scene = lesser.scaled(scene, rig, lesser.told("")["rig"])
    changes, sun_W_m2 = (scene.changes, scene.sun_W_m2) if case.needed else ({}, None)
    twin = staged(case.state, changes, sun_W_m2, case.onset, disabled=case.disabled,
                  stall_s=case.stall_s, blind=expected.BLINDS.get(case.fault, ()), seed=case.seed,
                  name=case.rig)
    try:
        return _played(case, scene, twin, rig)
    finally:
        twin.close()


def _played(case, scene, twin, rig):
    log = Log(twin, rig)
    bring_on(twin, case.fault)
    orders_after = scene.after if case.needed else ()
    for order in orders_after:
        twin.order(*order)
    person = Person(twin, log)
    begin = twin.periods
    since = None
    condition = expected.SINCE.get(case.fault)
    within_s = case.wanted.within_s
    # Delays count scans: a long one may be stretched by more than one write, and what a
    # person orders is written at once, beside them.
    writes = 1 + within_s // BETWEEN_WRITES_S + len(orders_after)
    within_s += case.stall_s * writes + SCAN_S
    expects = case.needed and "" not in case.wanted.firsts
    longest = begin + int((_longest_s(case, within_s) if expects else QUIET_S) / SCAN_S)
    last = longest + int(scene.watch_s / SCAN_S) if case.needed else longest
    while twin.periods < last:
        if since is None and (condition is None or condition(twin)):
            since = twin.periods
        twin.step()
        log.follow()
        person.look()
        if expects and log.acted and last > twin.periods + scene.watch_s / SCAN_S:
            last = twin.periods + int(scene.watch_s / SCAN_S)
    return _judged(case, scene, twin, log, begin, since, within_s)


def _longest_s(case, within_s):
    """How long a case waits for its first element."""
    return within_s + (7200.0 if case.fault in expected.SINCE else 0.0)


def _judged(case, scene, twin, log, begin, since, within_s):
    wanted = case.wanted.firsts
    failures = waivers.judged(twin.watch.found, case.fault, lesser.told(case.rig)["rig"],
                              lesser.told(case.rig).get("left", {}) if case.rig else {})
    if not lesser.told(case.rig).get("is_timed", True):   # another rig's first and times
        first = log.acted[0][0] if log.acted else ""
        return Outcome(case, first, None, tuple(one for one, _ in log.acted), tuple(failures))
    declared = {*expected.followers(case.fault), *wanted}
    failures += [f"{one} acted, which is not expected"
                 for one in dict.fromkeys(log.unsaid) if one not in declared]
    first, at = log.acted[0] if log.acted else ("", None)
    after_s = None if at is None or since is None else (at - since) * SCAN_S
    if case.needed:
        failures += _first(wanted, first, log)
        if first and first in wanted and since_counts(case, first):
            failures += _timely(first, at, begin, after_s, within_s, twin)
        acted = {one for one, _ in log.acted}
        failures += [f"{one} did not follow" for one in scene.then
                     if one not in acted and catalogue.is_there(one, twin.board.fitted)]
    elif first and first not in (*wanted, *expected.ELSEWHERE.get(case.fault, ())):
        failures.append(f"first {first}, which is not expected here")
    return Outcome(case, first, after_s, tuple(one for one, _ in log.acted), tuple(failures))


def _first(wanted, first, log):
    if wanted != ("",):
        return [] if first in wanted else [
            f"first {first or 'none'}, expected {' or '.join(wanted) or 'none'}"]
    harsh = [one for one, _ in log.acted if element(one, E_ACTION) >= TRIP]
    return [f"{one} tripped, expected none" for one in harsh]


def since_counts(case, first):
    """Whether the time to act of a first element counts from where the case says."""
    return first == expected.first_of(case.fault) or case.fault not in expected.SINCE


def _timely(first, at, begin, after_s, within_s, twin):
    if after_s is None:
        return [f"{first} acted before its condition"]
    found = []
    if after_s > within_s + 1e-6:
        found.append(f"{first} acted after {after_s:.1f} s, at most {within_s:.1f} s")
    delay = ELEMENTS[number(first) - 1][E_DELAY_MS]
    delay_s = (twin.settings[st.index(delay)] if isinstance(delay, str) else delay) / 1000
    if (at - begin) * SCAN_S < delay_s - SCAN_S:
        found.append(f"{first} acted before its delay of {delay_s:g} s")
    return found
