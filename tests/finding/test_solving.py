"""Volts and currents of small circuits are those worked out by hand, and ngspice's."""

import random
import shutil

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as some
from spicelib import RawRead
from spicelib.simulators.ngspice_simulator import NGspiceSimulator

from forebay.finding.branches import STAR, Branch, Condition, Node
from forebay.finding.solving import CLOSE, OPEN, SERIES, METER_ohm, Network

A, B, C = Node("a"), Node("b"), Node("c")
SOURCE = Branch("source", A, STAR, 1 / 0.1, 12.0)


def solved(branches, probes=(), ops=None, along=1):
    """The solution of a circuit with something done to it."""
    return Network(branches, along, probes).solve([ops or {}])


def test_a_divider_is_ohms_law():
    found = solved([SOURCE, Branch("upper", A, B, 1 / 99.9), Branch("lower", B, STAR, 1 / 20.0)])

    # 12 V over 0.1 + 99.9 + 20 ohm.
    assert found.through("upper")[0, 0] == pytest.approx(0.1, rel=1e-6)
    assert found.at(B)[0, 0] == pytest.approx(2.0, rel=1e-6)


def test_a_meter_loads_what_it_measures():
    # Behind 10 Mohm a meter of 10 Mohm shows half.
    found = solved([SOURCE, Branch("upper", A, B, 1 / METER_ohm)], [(B, STAR), (A, B)])

    assert found.meter[0, 0] == pytest.approx([6.0, 0.0], abs=0.02)


def test_a_net_that_hangs_on_nothing_reads_no_volts():
    found = solved([SOURCE, Branch("upper", A, B, 1.0), Branch("far", B, C, 1.0)],
                   [(C, STAR), (C, A)], {"upper": (OPEN, 0.0)})

    assert found.meter[0, 0] == pytest.approx([0.0, 0.0], abs=0.03)


def test_a_bad_joint_adds_its_ohms():
    found = solved([SOURCE, Branch("lead", A, B, 1 / 0.9), Branch("load", B, STAR, 1 / 20.0)],
                   ops={"lead": (SERIES, 3.0)})

    assert found.through("load")[0, 0] == pytest.approx(12.0 / 24.0, rel=1e-6)


def test_a_diode_passes_one_way_above_its_drop():
    def current(a, b):
        return solved([SOURCE, Branch("diode", a, b, 1 / 0.1, 0.7, one_way=True),
                       Branch("load", B, STAR, 1 / 11.1)]).through("load")[0, 0]

    # (12 - 0.7) V over 0.1 + 0.1 + 11.1 ohm; the other way its leak of 1 nS.
    assert current(A, B) == pytest.approx(1.0, rel=1e-6)
    assert current(B, A) == pytest.approx(0.0, abs=1e-6)


def test_a_relay_lets_go_of_its_contact_when_its_coil_has_volts():
    contact = Branch("contact", A, B, 100.0, when=(Condition(A, STAR, 3.5, above=False),))
    load = Branch("load", B, STAR, 1 / 10.0)

    assert solved([SOURCE, contact, load]).at(B)[0, 0] == pytest.approx(0.0, abs=1e-3)
    assert solved([SOURCE, contact, load], ops={"source": (OPEN, 0.0)}).at(B)[0, 0] == \
        pytest.approx(0.0, abs=1e-9)


def test_what_is_there_by_a_fault_alone_is_there_by_it_alone():
    branches = [SOURCE, Branch("load", A, STAR, 1 / 11.9),
                Branch("short", A, STAR, 1 / 0.1, dormant=True)]

    assert solved(branches).at(A)[0, 0] == pytest.approx(12.0 * 11.9 / 12.0, rel=1e-6)
    shorted = solved(branches, ops={"short": (CLOSE, 0.0)})
    assert shorted.at(A)[0, 0] == pytest.approx(6.0, rel=0.01)


def test_a_fuse_that_carries_too_much_melts_and_the_rest_goes_on():
    fuse = Branch("fuse", A, B, 1 / 0.05, bears_A=4.0)
    ops = [{}, {"short": (CLOSE, 0.0)}]
    branches = [SOURCE, fuse, Branch("load", B, STAR, 1 / 10.0), Branch("beside", A, STAR, 0.1),
                Branch("short", B, STAR, 100.0, dormant=True)]
    found = Network(branches, 1, [(A, STAR), (B, STAR)]).solve(ops)

    # By hand: 10.05 and 10 ohm side by side behind 0.1; with the fuse gone 12 V over 10.1 ohm.
    assert found.through("fuse")[0, 0] == pytest.approx(
        12.0 / (0.1 + 1 / (1 / 10.05 + 1 / 10.0)) * 10.0 / 20.05, rel=1e-6)
    assert found.through("fuse")[1, 0] == 0.0
    assert found.meter[1, 0] == pytest.approx([12.0 * 10.0 / 10.1, 0.0], abs=1e-3)


def test_of_two_fuses_in_a_row_the_weaker_one_melts_alone():
    branches = [SOURCE, Branch("strong", A, B, 20.0, bears_A=4.0),
                Branch("weak", B, C, 1.0, bears_A=0.2), Branch("load", B, STAR, 0.1),
                Branch("short", C, STAR, 100.0, dormant=True)]
    found = solved(branches, ops={"short": (CLOSE, 0.0)})

    assert found.through("weak")[0, 0] == 0.0
    assert found.through("load")[0, 0] == pytest.approx(12.0 / 10.15, rel=1e-6)


def test_cases_and_conditions_do_not_touch_each_other():
    branches = [Branch("source", A, STAR, 10.0, np.array([6.0, 12.0])),
                Branch("lead", A, B, 10.0), Branch("load", B, STAR, 0.1)]
    ops = [{}, {"lead": (OPEN, 0.0)}, {"lead": (SERIES, 5.0)}]
    together = Network(branches, 2).solve(ops)

    for number, one in enumerate(ops):
        alone = Network(branches, 2).solve([one])
        np.testing.assert_allclose(together.volts[number], alone.volts[0], rtol=1e-9)


def drawn(seed):
    """A network of resistors and sources at random, in which every node hangs on the star."""
    rng = random.Random(seed)
    nodes = [Node(f"n{place}") for place in range(6)]
    branches = [Branch(f"s{place}", node, STAR, 1 / rng.uniform(0.5, 50), rng.uniform(-10, 20))
                for place, node in enumerate(nodes)]
    for place in range(9):
        one, other = rng.sample(nodes, 2)
        branches.append(Branch(f"r{place}", one, other, 1 / rng.uniform(0.01, 1000)))
    return nodes, branches


@given(some.integers(0, 10**6))
def test_current_that_comes_to_a_node_leaves_it(seed):
    nodes, branches = drawn(seed)
    found = solved(branches)

    for node in nodes:
        into = sum(found.through(one.of)[0, 0] * ((one.b == node) - (one.a == node))
                   for one in branches)
        assert into == pytest.approx(0.0, abs=1e-6)


@pytest.mark.skipif(shutil.which("ngspice") is None, reason="not run: ngspice is not installed")
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_volts_are_those_of_a_circuit_simulator(seed, tmp_path):
    # ngspice (Debian's package), driven by spicelib: neither is ours.
    nodes, branches = drawn(seed)
    name = {STAR: "0", **{node: node.net for node in nodes}}
    lines = ["* resistors and sources at random"]
    for one in branches:
        lines += [f"R{one.of} {name[one.a]} m{one.of} {1 / one.siemens!r}",
                  f"V{one.of} m{one.of} {name[one.b]} {one.from_V!r}"]
    deck = tmp_path / "drawn.net"
    deck.write_text("\n".join([*lines, ".op", ".end", ""]), encoding="utf-8")
    assert NGspiceSimulator.run(deck, timeout=60) == 0
    raw = RawRead(str(deck.with_suffix(".raw")), dialect="ngspice", verbose=False)
    found = solved(branches)

    for node in nodes:
        theirs = raw.get_trace(f"v({node.net})").get_wave()[0].real
        assert found.at(node)[0, 0] == pytest.approx(theirs, abs=1e-4)
