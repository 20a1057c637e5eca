"""Every wiring fault of three rigs, found with a noisy meter: how often rightly, how soon.

    python -m tests.bench.finding classes   # writes which faults no reading can tell apart
    python -m tests.bench.finding           # searches for each, scores by these classes

The classes are worked out of noise-free predictions in middling conditions and are committed
before a search is run.  In each search the meter is off by up to 0.5 % and two counts, the
conditions drift between readings, a bad joint has 1 to 10 ohm, and the sensors that the rig has
are read once.  Aim: in 95 % of the searches the likeliest fault is of the right class.
"""

import math
import pathlib
import random
import sys
import tomllib
from collections import Counter
from dataclasses import replace
from typing import NamedTuple

import numpy as np

from forebay.finding import symptoms
from forebay.finding.branches import Scene
from forebay.finding.cases import FINE, NOTHING, Cases
from forebay.finding.network import Layout
from forebay.finding.practice import shown_V
from forebay.finding.search import LEFT, Reading, Search
from forebay.finding.solving import Network
from forebay.finding.symptoms import SYMPTOMS
from forebay.hardware import tables
from forebay.hardware.build import Build
from forebay.rig import load
from keeper.channels import INVALID
from tests.hardware.tables import other

CLASSES = pathlib.Path(__file__).with_suffix(".toml")
AIM_FRAC = 0.95
SEED, TRIALS = 20, 2
DRIFT = 0.02            # of the conditions' whole line, between two readings
OHMS = (1.0, 10.0)


def rigs() -> dict[str, Build]:
    """The demo, the modest demo, and the demo on a lead battery."""
    return {"hillside": Build.of(load()), "orchard": Build.of(load(demo="orchard")),
            "lead": other("lead")}


def classes(cases: Cases) -> list[list[str]]:
    """Return which faults all readings and sensors together do not tell apart.

    In middling conditions and ohms, without noise; what lies between one tolerance and two,
    where noise decides, counts as alike.
    """
    cases = _middling(cases)
    alike = np.zeros((len(cases.faults), len(cases.faults)), dtype=bool)
    for fault in range(len(cases.faults)):
        readings = [Reading(mode, place, float(rows[fault][0, FINE // 2, place]))
                    for mode, rows in cases.reads.items() for place in range(len(cases.points))]
        alike[fault] = Search(cases, _sensed(cases, fault), readings, limit=2 * LEFT).fits
    alike |= alike.T
    found, seen = [], set()
    for place in range(len(cases.faults)):
        if place in seen:
            continue
        group, open_places = {place}, [place]
        while open_places:
            new = set(np.flatnonzero(alike[open_places.pop()]).tolist()) - group
            group |= new
            open_places += new
        seen |= group
        found.append([cases.faults[one].id for one in sorted(group)])
    return found


def _middling(cases: Cases) -> Cases:
    """Return cases in which a bad joint has its middle ohms alone."""
    def middle(rows):
        return [one[one.shape[0] // 2:one.shape[0] // 2 + 1] for one in rows]
    return replace(cases, reads={mode: middle(rows) for mode, rows in cases.reads.items()},
                   sensed={mode: {name: middle(rows) for name, rows in channels.items()}
                           for mode, channels in cases.sensed.items()})


def _sensed(cases: Cases, fault: int) -> dict[str, int]:
    """Return what the sensors read with a fault, in middling conditions."""
    middle = {name: rows[fault][0, FINE // 2]
              for name, rows in cases.sensed[cases.symptom.mode].items()}
    return {name: INVALID if np.isnan(value) else round(float(value))
            for name, value in middle.items()}


class Truth:
    """What the whole rig shows with each fault, solved apart from the search's own network."""

    def __init__(self, cases: Cases, rng: random.Random):
        layout = Layout(cases.build, tables.SHEETS)
        pairs = [symptoms.probes(layout, point) for point in cases.points]
        middle = rng.uniform(0.1, 0.9)
        self.along = np.array([middle - DRIFT, middle, middle + DRIFT])
        ops = []
        for fault in cases.faults:
            ohm = math.exp(rng.uniform(*map(math.log, OHMS)))
            ops.append({of: (what, ohm) for of, what in fault.ops.items()})
        self.solved, self.sensed = {}, {}
        for mode in cases.reads:
            scene = Scene(cases.build.values, cases.build.figures, mode, self.along)
            network = Network(layout.branches(scene), len(self.along), pairs)
            self.solved[mode] = network.solve(ops)
            self.sensed[mode] = symptoms.sensors(layout, self.solved[mode])

    def volts(self, fault: int, mode: str, place: int, rng: random.Random) -> float:
        """What the meter shows."""
        at = rng.randrange(len(self.along))
        return shown_V(float(self.solved[mode].meter[fault, at, place]), rng)

    def live(self, fault: int, mode: str) -> dict[str, int]:
        """What the sensors read."""
        return {name: INVALID if np.isnan(rows[fault, 1]) else round(float(rows[fault, 1]))
                for name, rows in self.sensed[mode].items()}


class Score(NamedTuple):
    """One search: was the right class first, is the fault left, how many readings it took."""

    fault: str
    how: str
    first: bool
    kept: bool
    asked: int
    halving: float     # log2 of how many classes the sensors leave
    left: int


def score(cases: Cases, groups: list[list[str]], seed: int) -> list[Score]:
    """Search for every fault of some cases once."""
    rng = random.Random(seed)
    of = {name: number for number, group in enumerate(groups) for name in group}
    truth = Truth(cases, rng)
    found = []
    for place, fault in enumerate(cases.faults):
        search = Search(cases, truth.live(place, cases.symptom.mode))
        left = {of[search.fault(one).id] for one in search.left}
        while (option := search.next()) is not None:
            search.read(Reading(option.mode, option.place, truth.volts(
                place, option.mode, option.place, rng)))
        ids = [search.fault(one).id for one in search.left]
        found.append(Score(fault.id, "-" if fault == NOTHING else fault.how,
                           bool(ids) and of[ids[0]] == of[fault.id], fault.id in ids,
                           len(search.readings), math.log2(max(1, len(left))), len(ids)))
    return found


def write_classes() -> None:
    """Write the classes of each rig and symptom."""
    lines = ["# Written by `python -m tests.bench.finding classes`, before any search was run:",
             "# which faults no reading tells apart. rig.symptom -> classes of faults."]
    for name, build in rigs().items():
        for symptom in SYMPTOMS:
            groups = classes(Cases.of(build, symptom))
            lines += ["", f"[{name}.{symptom}]", "classes = ["]
            lines += [f"    {group!r},".replace("'", '"') for group in groups] + ["]"]
            print(f"{name:10}{symptom:12}{sum(map(len, groups)):5} faults"
                  f"{len(groups):5} classes", flush=True)
    CLASSES.write_text("\n".join(lines) + "\n", encoding="utf-8")


def main() -> None:
    """Search for everything and print the table."""
    expected = tomllib.loads(CLASSES.read_text(encoding="utf-8"))
    every: list[Score] = []
    print(f"{'rig':10}{'symptom':12}{'faults':>7}{'classes':>8}{'right':>8}{'kept':>8}"
          f"{'asked':>7}{'most':>5}{'halving':>8}{'left':>6}")
    for number, (name, build) in enumerate(rigs().items()):
        for symptom in SYMPTOMS:
            cases = Cases.of(build, symptom)
            groups = expected[name][symptom]["classes"]
            found = [one for trial in range(TRIALS)
                     for one in score(cases, groups, SEED + 100 * number + trial)]
            every += found
            print(f"{name:10}{symptom:12}{len(cases.faults):7}{len(groups):8}" + _shown(found),
                  flush=True)
    print(f"{'all':37}" + _shown(every))
    for how in sorted({one.how for one in every}):
        print(f"{'':10}{how:27}" + _shown([one for one in every if one.how == how]))
    missed = Counter(one.fault for one in every if not one.first)
    print("missed:", ", ".join(f"{fault} {count}" for fault, count in missed.most_common(20)))
    right = sum(one.first for one in every) / len(every)
    print(f"right class first: {100 * right:.1f} % of {len(every)}; aim {100 * AIM_FRAC:.0f} %:"
          f" {'met' if right >= AIM_FRAC else 'MISSED'}")
    sys.exit(right < AIM_FRAC)


def _shown(found: list[Score]) -> str:
    def mean(name):
        return sum(getattr(one, name) for one in found) / len(found)
    return (f"{100 * mean('first'):7.1f}%{100 * mean('kept'):7.1f}%{mean('asked'):7.2f}"
            f"{max(one.asked for one in found):5}{mean('halving'):8.2f}{mean('left'):6.1f}")


if __name__ == "__main__":
    write_classes() if sys.argv[1:] == ["classes"] else main()
