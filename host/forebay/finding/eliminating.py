"""Symmetric equations of one pattern, many of them at once, by elimination in a sparing order.

A circuit's nodes have few neighbours each: eliminated by least degree (Markowitz's rule;
George and Liu, Computer Solution of Large Sparse Positive Definite Systems, 1981), hardly
anything fills in.  The matrix of positive conductances is positive definite and dominated by
its diagonal, so no pivots are sought.  Owns numbers alone.
"""

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from scipy.sparse import csr_array


class _Step(NamedTuple):
    """One node: its later neighbours, rows of its off-diagonals, and what they change."""

    node: int
    later: np.ndarray
    rows: np.ndarray
    changed: np.ndarray
    one: np.ndarray
    other: np.ndarray


class Elimination:
    """The order in which the nodes of one network are eliminated, and what that fills in.

    Values of n networks stand in rows of n: first those of the diagonal, then the others.
    """

    def __init__(self, size: int, a: Sequence[int], b: Sequence[int]):
        """Take the branches' ends; `size` is the reference node, which has no equation."""
        self.size = size
        near: list[set[int]] = [set() for _ in range(size + 1)]
        for one, other in zip(a, b, strict=True):
            near[one].add(other)
            near[other].add(one)
        near = [some - {node, size} for node, some in enumerate(near[:size])]
        self._row: dict[tuple[int, int], int] = {}
        self._steps = self._ordered(near)
        self._stamp = self._stamps(a, b)

    def _place(self, one: int, other: int) -> int:
        """Return the row of a pair of nodes."""
        if one == other:
            return one
        pair = min(one, other), max(one, other)
        return self._row.setdefault(pair, self.size + len(self._row))

    def _ordered(self, near: list[set[int]]) -> list[_Step]:
        steps, left = [], set(range(self.size))
        while left:
            node = min(left, key=lambda one: (len(near[one]), one))
            left.remove(node)
            later = sorted(near[node])
            pairs = [(i, j) for i in range(len(later)) for j in range(i + 1)]
            steps.append(_Step(
                node, np.array(later, int),
                np.array([self._place(node, one) for one in later], int),
                np.array([self._place(later[i], later[j]) for i, j in pairs], int),
                np.array([i for i, _ in pairs], int), np.array([j for _, j in pairs], int)))
            for one in later:
                near[one] |= near[node]
                near[one] -= {one, node}
        return steps

    def _stamps(self, a, b) -> csr_array:
        """Return what a siemens of each branch adds to each row."""
        found = []
        for branch, (one, other) in enumerate(zip(a, b, strict=True)):
            if one != other:
                found += [(node, branch, 1.0) for node in (one, other) if node != self.size]
                if self.size not in (one, other):
                    found.append((self._place(one, other), branch, -1.0))
        rows, columns, values = zip(*found, strict=True) if found else ((), (), ())
        return csr_array((values, (rows, columns)),
                         shape=(self.size + len(self._row), len(a)))

    def factors(self, siemens: np.ndarray, ground_S: float) -> np.ndarray:
        """Return the factors of n networks; siemens: (n, branch); ground_S: of each node."""
        values = self._stamp @ siemens.T
        values[:self.size] += ground_S
        for step in self._steps:
            off = values[step.rows]
            share = off / values[step.node]
            values[step.changed] -= share[step.one] * off[step.other]
            values[step.rows] = share
        return values

    def solved(self, factors: np.ndarray, right: np.ndarray) -> np.ndarray:
        """Return the volts of n networks; right: (n, node), what is pushed into each node."""
        found = right.T.copy()
        for step in self._steps:
            found[step.later] -= factors[step.rows] * found[step.node]
        found /= factors[:self.size]
        for step in reversed(self._steps):
            found[step.node] -= (factors[step.rows] * found[step.later]).sum(axis=0)
        return found.T

    def inner_ohm(self, factors: np.ndarray, probes: np.ndarray) -> np.ndarray:
        """Return the resistance between pairs of probes: (n, pair).

        probes: (node, pair), 1 at the one and -1 at the other.
        """
        found = np.repeat(probes[:, None, :], factors.shape[1], axis=1)
        for step in self._steps:
            found[step.later] -= factors[step.rows][:, :, None] * found[step.node]
        return np.einsum("knp,kn->np", found**2, 1 / factors[:self.size])
