"""What can be told apart at all, and in how few readings, by a circuit simulator's volts.

ngspice and the decks of tests/finding/simulated.py stand for the rig; of the search only its
test points and what it asks are taken.  The best possible is the optimal decision tree over
the classes that those volts make: by trying every reading at every set of classes that is left.
"""

import functools
import os
import shutil
import tomllib

import numpy as np
import pytest

from forebay.finding.network import circuits_of
from forebay.finding.search import (
    APART,
    SENSED_A_FRAC,
    Reading,
    Search,
    SENSED_mA,
    meter_sigma_V,
)
from tests.bench import finding as bench
from tests.finding.rigs import cases, volts
from tests.finding.simulated import Faulty
from tests.hardware.tables import build

MORE = 1.0  # readings that a search may ask beyond the best possible, in the mean: the aim
DEMOS = ("hillside", "orchard")


@pytest.fixture(scope="module", params=DEMOS)
def shown(request, tmp_path_factory):
    """Gives (demo, ids of faults, volts by fault and point, mA by fault and monitor).

    Of the generator's own points.
    """
    if shutil.which("ngspice") is None:
        if os.environ.get("CI"):
            raise FileNotFoundError("ngspice: apt install ngspice")
        pytest.skip("not run: ngspice is not installed")
    demo = request.param
    one, rig, own = cases(demo, "lamps"), build(demo), circuits_of(("generator",))
    points = [point for point in one.points
              if {part.circuit for part, _ in rig.netlist.on(point.net)} <= own]
    folder = tmp_path_factory.mktemp("simulated")
    ids = [fault.id for fault in one.faults]
    rows = [Faulty(rig, name).reads(folder, points) for name in ids]
    names = [point.id for point in points]
    monitors = [name for name in rows[0] if name not in names]
    return (demo, ids, np.array([[row[name] for name in names] for row in rows]),
            np.array([[row[name] for name in monitors] for row in rows]))


def sensed_sigma_mA(milliamps):
    """What a current may differ by in load and sun, one sigma."""
    return np.hypot(SENSED_A_FRAC * milliamps, SENSED_mA)


def outcomes(column, sigma=meter_sigma_V):
    """Which faults read alike at one point: a number each; a gap of APART sigma tells apart."""
    order = np.argsort(column)
    gaps = np.diff(column[order]) > APART * sigma(np.abs(column[order][:-1]))
    found = np.empty(len(column), dtype=int)
    found[order] = np.concatenate([[0], np.cumsum(gaps)])
    return found


def test_the_classes_of_the_bench_are_those_of_the_simulated_circuit(shown):
    demo, ids, table, currents = shown
    keys = [*(outcomes(column) for column in table.T),
            *(outcomes(column, sensed_sigma_mA) for column in currents.T)]
    alike: dict[tuple, set[str]] = {}
    for name, key in zip(ids, np.array(keys).T, strict=True):
        alike.setdefault(tuple(key), set()).add(name)
    kept = tomllib.loads(bench.CLASSES.read_text(encoding="utf-8"))[demo]["lamps"]["classes"]

    assert sorted(map(sorted, alike.values())) == sorted(map(sorted, kept))


def best(table):
    """The least mean number of readings after which none tells more, each fault as likely."""
    told = [outcomes(column).tolist() for column in table.T]

    @functools.cache
    def readings(left):
        least = None
        for one in told:
            parts: dict[int, list[int]] = {}
            for fault in left:
                parts.setdefault(one[fault], []).append(fault)
            if len(parts) > 1:
                cost = len(left) + sum(readings(tuple(part)) for part in parts.values())
                least = cost if least is None else min(least, cost)
        return least or 0

    return readings(tuple(range(len(table)))) / len(table)


def test_the_best_of_four_by_hand():
    # Three points along a lead of four pieces: two readings halve twice; at one that shows
    # all four apart a single one does.
    lead = np.array([[12.0, 12, 12], [0, 12, 12], [0, 0, 12], [0, 0, 0]])

    assert best(lead) == 2.0
    assert best(np.array([[0.0], [3], [6], [9]])) == 1.0
    assert best(np.zeros((3, 2))) == 0.0


def test_a_search_asks_hardly_more_than_the_best_possible(shown):
    demo, _, table, _ = shown
    one, asked = cases(demo, "lamps"), []
    for fault in one.faults:
        search = Search(one)
        reads = volts(demo, "lamps", fault, "turbine", 0.5, 3.0)
        while (option := search.next()) is not None:
            search.read(Reading(option.mode, option.place, float(reads[option.place])))
        asked.append(len(search.readings))
    least = best(table)

    assert least <= np.mean(asked) <= least + MORE, (demo, np.mean(asked), least)
