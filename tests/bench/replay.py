"""Whether a replay gives a record again: python -m tests.bench.replay [--modes] [NAME ...].

Days, written by the keeper on the twin at 10 Hz and replayed under unchanged
settings: `faults`, short days of the demo's rig, each with one fault of the catalogue; `lived`,
on which somebody ordered, pressed or took the power away (`tests.replay.lived`); `fewest`, of the
rig with the fewest instruments; `lost`, whose rows or begin are missing.
Counted are events that come again (kind, element, order), those that the record does not decide,
those that do not come again though their cause lasted two rows, and those that never were.

`limits`: of every element whose pickup or delay a key of rig.toml sets, the least and the most
sensitive value that the rig's checks let pass are tried on a day with the fault that it is for.
What would really have come is known: the twin plays the same day so.  Each element must act if
it does there, first within two rows of then; how often is printed beside.

The aim: none that does not come again, none that never was, no limit astray.  Ends with 1 if it
is missed.

NAME: a fault, a day, an element or a kind; without: all kinds but `limits`.
--modes: each fault in standstill, pump and turbine mode, instead of the catalogue's own.
"""

import argparse
import functools
import time

from forebay.replay.comparing import Fidelity, events_of, fidelity, replayed_events
from forebay.replay.jobs import Span, heat_at_begin, job_of, ran, retained_before
from forebay.replay.timeline import DS_PER_S
from forebay.replay.trying import with_set
from forebay.rig import DEMOS, load
from forebay.twin.faults import ANY_MODE, F_MODE, NAMES, row_of
from keeper import events as ev
from keeper import modes
from keeper.protection import elements as el
from tests.replay import lived
from tests.replay.limits import Limit, fault_of, limits
from tests.replay.lost import LOST
from tests.replay.played import LIT_S, PUMPING_S, STANDING_S, span

AT_S = {modes.STANDSTILL_MODE: STANDING_S, modes.PUMP_MODE: PUMPING_S,
        modes.TURBINE_MODE: LIT_S, ANY_MODE: PUMPING_S}
SHOWN = {modes.STANDSTILL_MODE: "standing", modes.PUMP_MODE: "pumping",
         modes.TURBINE_MODE: "lit"}
KINDS = ("faults", "lived", "fewest", "lost", "limits")
COUNTED = ("recorded", "again", "undecidable", "not again", "never was", "swapped")
SAME_TICKS = 20 * DS_PER_S       # two rows of a rig that runs


class Sums:
    """Counts cases, and shows those that are not perfect."""

    def __init__(self):
        """Begin with nothing."""
        self.cases = self.limits_astray = self.limits = 0
        self.total = dict.fromkeys(COUNTED, 0)

    def replay(self, name: str, days: Span) -> None:
        """Replays a day under its own settings, and counts."""
        values, knows_heat = retained_before(days)
        came = ran(job_of(days, days.settings, retained=values,
                          heat=None if knows_heat else heat_at_begin(days)))
        self.take(name, fidelity(days, came, knows_heat)[0], came.told["parted"])

    def take(self, name: str, found: Fidelity, parted: list) -> None:
        """Counts a case, and prints it if anything in it did not come again."""
        here = dict(zip(COUNTED, map(len, (
            [None] * found.recorded, found.reproduced, found.undecidable, found.gone, found.new,
            found.swapped)), strict=True))
        self.cases += 1
        for key, value in here.items():
            self.total[key] += value
        if here["again"] == here["recorded"] and not sum(list(here.values())[2:]) and not parted:
            return
        print(f"{name:34}", ", ".join(f"{value} {key}" for key, value in here.items()),
              flush=True)
        for event, why in found.undecidable:
            print(f"    undecidable: {_shown(event)}: {why}")
        for event in found.gone:
            print(f"    not again: {_shown(event)}, lasted {event.lasts / DS_PER_S:.1f} s")
        for event in found.new:
            print(f"    never was: {_shown(event)}, lasted {event.lasts / DS_PER_S:.1f} s")
        for first, second in found.swapped:
            print(f"    swapped: {first.words} and {second.words}")
        for one in parted:
            print(f"    parted at {one['tick'] / DS_PER_S:.1f} s in state {one['state']}, meant"
                  f" {one['meant']}, cause {one['cause']}", flush=True)

    def limit(self, one: Limit) -> None:
        """Tries a limit, and tells where the replay is not as the twin under it."""
        days, base = _again(_faults_of(one))
        wanted = span(_faults_of(one), sets=(one.pair,))
        settings = with_set(days.rig, (one.pair,)).settings()
        deeds = sorted([*days.ordered.after(days.begin).deeds, *map(tuple, base.told["found"])])
        came = ran(job_of(days, settings, finds_wishes=False, loose=False, deeds=deeds,
                          setpoints=base.told["setpoints"]))
        was, now, true = ([event.tick for event in events if event.element == one.number
                           and event.key[0] == ev.ACTED] for events in (
            replayed_events(days, base, days.settings), replayed_events(days, came, settings),
            events_of(wanted.journal, wanted.time.event, wanted.time, settings,
                      wanted.begin + 1, wanted.end)))
        is_right = bool(now) == bool(true) and (not now or abs(now[0] - true[0]) <= SAME_TICKS)
        self.limits += 1
        self.limits_astray += not is_right
        said = ", ".join(f"{word} {len(ticks)} times" + (
            f" from {ticks[0] / DS_PER_S:.1f} s on" if ticks else "") for word, ticks in (
                ("acted", was), ("tried", now), ("true", true)))
        print(f"{'' if is_right else 'ASTRAY '}{one.words}: {said}", flush=True)


def _shown(event):
    return f"{event.words} at {event.tick / DS_PER_S:.1f} s"


def _faults_of(one):
    name = fault_of(one.number)
    return ((AT_S[int(row_of(name)[F_MODE])], name),) if name else ()


@functools.cache
def _again(faults):
    """Returns a day with faults, and its replay under its own settings."""
    days = span(faults)
    return days, ran(job_of(days, days.settings))


def fault_cases(names: list[str], is_all: bool) -> list[tuple[str, int]]:
    """Returns (fault, mode) of what is to be played."""
    found = []
    for name in names:
        own = int(row_of(name)[F_MODE])
        chosen = list(SHOWN) if is_all or own == ANY_MODE else [own]
        found += [(name, mode) for mode in chosen]
    return found


def main() -> int:
    """Prints a line for each case that is not perfect, and the sums; returns 1 if any is wrong."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n", 1)[0])
    parser.add_argument("names", nargs="*", default=[], help="of faults, days, elements, kinds")
    parser.add_argument("--modes", action="store_true")
    given = parser.parse_args()
    names = given.names or list(KINDS[:-1])
    began_s, sums = time.monotonic(), Sums()

    def chosen(kind, all_names):
        return [one for one in all_names if kind in names or one in names]

    for name, mode in fault_cases(chosen("faults", map(str, NAMES)), given.modes):
        sums.replay(f"{name}, {SHOWN[mode]}", span(((AT_S[mode], name),)))
    for name in chosen("lived", lived.DAYS):
        sums.replay(name, lived.span(lived.DAYS[name]))
    for name in chosen("fewest", lived.FEWEST):
        sums.replay(f"{DEMOS[1]}, {name}", lived.span(lived.FEWEST[name], DEMOS[1]))
    for name in chosen("lost", LOST):
        sums.replay(name, LOST[name]())
    elements = tuple(row[el.E_ID] for row in el.ELEMENTS if row[el.E_ID] in names)
    if elements or "limits" in names:
        for one in limits(load(), () if "limits" in names else elements):
            sums.limit(one)
    print(f"{sums.cases} days in {time.monotonic() - began_s:.0f} s: ", ", ".join(
        f"{value} {key}" for key, value in sums.total.items()),
        f"; {sums.limits} limits, {sums.limits_astray} astray")
    return 1 if sums.limits_astray or any(sums.total[key] for key in COUNTED[3:]) else 0


if __name__ == "__main__":
    raise SystemExit(main())
