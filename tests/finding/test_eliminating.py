"""Elimination in a sparing order gives what a general library gives of the whole matrix."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as some

from forebay.finding.eliminating import Elimination

GROUND_S = 1e-10


@some.composite
def networks(draw):
    """Ends of branches between up to twelve nodes and the reference, and three sets of siemens."""
    size = draw(some.integers(1, 12))
    node = some.integers(0, size)
    pairs = some.tuples(node, node).filter(lambda one: one[0] != one[1])
    ends = draw(some.lists(pairs, min_size=1, max_size=30))
    rng = np.random.default_rng(draw(some.integers(0, 10**6)))
    # From what insulation leaves to what a contact conducts, and branches that are not there.
    siemens = 10.0 ** rng.uniform(-7, 2, (3, len(ends))) * (rng.random((3, len(ends))) > 0.2)
    return size, *zip(*ends, strict=True), siemens, rng


def matrix(size, a, b, siemens):
    """Kirchhoff's current law at each node, stamped branch by branch."""
    whole = np.eye(size + 1) * GROUND_S
    for one, other, conducts in zip(a, b, siemens, strict=True):
        for at, to in ((one, other), (other, one)):
            whole[at, at] += conducts
            whole[at, to] -= conducts
    return whole[:size, :size]


@given(networks())
def test_volts_and_resistances_are_those_of_numpys_solution(drawn):
    size, a, b, siemens, rng = drawn
    right, probes = rng.uniform(-1, 1, (3, size)), rng.integers(-1, 2, (size, 4)).astype(float)
    one = Elimination(size, a, b)
    factors = one.factors(siemens, GROUND_S)
    volts, inner = one.solved(factors, right), one.inner_ohm(factors, probes)

    for number in range(3):
        theirs = matrix(size, a, b, siemens[number])
        # Its condition times the digits of a double is what either may be off.
        frac = 1e-15 * size * np.linalg.cond(theirs)
        solved = np.linalg.solve(theirs, right[number])
        assert volts[number] == pytest.approx(solved, rel=frac, abs=frac * np.abs(solved).max())
        through = np.einsum("np,np->p", probes, np.linalg.solve(theirs, probes))
        assert inner[number] == pytest.approx(through, rel=frac, abs=frac * np.abs(through).max())


def test_a_ladder_fills_nothing_in():
    # Of twenty nodes in a row, by hand: twenty on the diagonal and nineteen beside it.
    one = Elimination(20, range(19), range(1, 20))

    assert one.factors(np.ones((1, 19)), 1.0).shape == (39, 1)
