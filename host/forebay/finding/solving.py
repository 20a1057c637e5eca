"""Volts of a network by nodal analysis, many cases of it at once.

Kirchhoff's current law at each node, linear in pieces: which piece each one-way branch is on,
and whether each condition holds, is found in turns until nothing changes (handbook method;
checked against hand-worked circuits and a circuit simulator in tests/finding).  Owns numbers
alone: what an open lead means is `faults`'.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from scipy.sparse import csr_array

from forebay.finding.branches import STAR, Branch, Node
from forebay.finding.eliminating import Elimination
from forebay.finding.network import nodes_of

# What insulation leaves [S]: a node that hangs on nothing is at 0 V, a diode that blocks leaks.
INSULATED_S, BLOCKED_S = 1e-10, 1e-9
METER_ohm = 1e7          # of a hand meter on volts; common practice
TAKES_A, MATTERS_V = 5e-6, 0.005  # by such a meter at 50 V; half a count of its display
TURNS, ONE_BY_ONE = 80, 25
_AT_A_TIME = 400         # cases in one go: some 20 MB

Ops = Mapping[str, tuple[str, float]]  # `of` of branches -> (what is done to them, ohm)
OPEN, SERIES, CLOSE = "open", "series", "close"


@dataclass(frozen=True)
class Solved:
    """Volts, what a meter reads, and currents, by case and condition along the scene.

    volts: (case, along, node); meter: (case, along, pair of probes); flows: (case, along,
    branch), from a to b.
    """

    nodes: Mapping[Node, int]
    of: Mapping[str, Sequence[int]]
    volts: np.ndarray
    meter: np.ndarray
    flows: np.ndarray

    def through(self, of: str) -> np.ndarray:
        """Return the current of a part with one branch, lead or joint [A]: (case, along)."""
        return self.flows[:, :, self.of[of]].sum(axis=2)

    def at(self, node: Node) -> np.ndarray:
        """Return the volts of a node against the star point [V]: (case, along)."""
        if node == STAR or node not in self.nodes:
            return np.zeros(self.volts.shape[:2])
        return self.volts[:, :, self.nodes[node]]


class Network:
    """Branches as arrays, ready to be solved."""

    def __init__(self, branches: Sequence[Branch], points: int,
                 probes: Sequence[tuple[Node, Node]] = ()):
        """Take branches, how many conditions lie along the scene, pairs of (red, black) probes."""
        meters = [Branch(f"meter {place}", red, black, 1 / METER_ohm, dormant=True)
                  for place, (red, black) in enumerate(probes)]
        there = {STAR, *nodes_of(branches)}
        branches = [*branches, *(one for one in meters if {one.a, one.b} <= there)]
        self.along = points
        self.nodes = {node: place for place, node in enumerate(nodes_of(branches))}
        size = len(self.nodes)
        self._a = np.array([self.nodes.get(one.a, size) for one in branches])
        self._b = np.array([self.nodes.get(one.b, size) for one in branches])
        self._equations = Elimination(size, self._a.tolist(), self._b.tolist())
        self._ends = _ends(size, self._a, self._b)
        self._siemens = self._spread([one.siemens for one in branches])
        self._from_V = self._spread([one.from_V for one in branches])
        self._gives_A = self._spread([one.gives_A for one in branches])
        self._one_way = np.array([one.one_way for one in branches])
        self._bears_A = np.array([one.bears_A for one in branches])
        self._dormant = np.array([one.dormant for one in branches])
        self._of: dict[str, list[int]] = {}
        for place, one in enumerate(branches):
            self._of.setdefault(one.of, []).append(place)
        rows = [(place, when) for place, one in enumerate(branches) for when in one.when]
        self._when = np.array([place for place, _ in rows], dtype=int)
        self._plus = np.array([self.nodes.get(when.plus, size) for _, when in rows], dtype=int)
        self._minus = np.array([self.nodes.get(when.minus, size) for _, when in rows], dtype=int)
        self._limit_V = np.array([when.volts for _, when in rows])
        self._above = np.array([when.above for _, when in rows], dtype=bool)
        self._probes = np.zeros((size + 1, len(probes)))
        for place, (red, black) in enumerate(probes):
            self._probes[self.nodes.get(red, size), place] += 1.0
            self._probes[self.nodes.get(black, size), place] -= 1.0
        self._probes = self._probes[:size]
        self._start: tuple[np.ndarray, np.ndarray] | None = None
        self._meters = np.array([self._of.get(one.of, [-1])[0] for one in meters], dtype=int)
        self._missing = np.array([red not in self.nodes and red != STAR for red, _ in probes],
                                 dtype=bool)

    def _spread(self, values) -> np.ndarray:
        return np.array([np.broadcast_to(np.asarray(one, float), (self.along,))
                         for one in values]).T

    def solve(self, cases: Sequence[Ops]) -> Solved:
        """Return volts and readings of some cases; a case: what is done to which branches."""
        step = max(1, _AT_A_TIME // self.along)
        found = []
        for start in range(0, len(cases), step):
            some = cases[start:start + step]
            found.append([one.reshape(len(some), self.along, -1) for one in self._solve(some)])
        return Solved(self.nodes, self._of, *(np.concatenate(one) for one in zip(
            *found, strict=True)))

    def _solve(self, cases: Sequence[Ops]) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        siemens = np.tile(self._siemens, (len(cases), 1))
        gives = np.tile(self._gives_A, (len(cases), 1))
        from_V = np.tile(self._from_V, (len(cases), 1))
        siemens[:, self._dormant] = 0.0
        for number, ops in enumerate(cases):
            rows = slice(number * self.along, (number + 1) * self.along)
            for of, (what, ohm) in ops.items():
                for place in self._of[of]:
                    _change(siemens[rows, place], gives[rows, place], what, ohm,
                            self._siemens[:, place])
        return self._settle(siemens, from_V, gives)

    def _settle(self, siemens, from_V, gives):
        """Find the piece that each branch is on, then what melts; in turns."""
        on, held = (np.tile(one, (len(siemens) // self.along, 1)) for one in self._whole())
        volts = np.zeros((len(siemens), len(self.nodes)))
        rows = np.arange(len(siemens))
        while len(rows):
            self._turned(rows, volts, siemens, from_V, gives, on, held)
            flows = self._flows(np.pad(volts, ((0, 0), (0, 1))), siemens * held, from_V,
                                gives * held, on)
            rows = self._melt(flows, siemens)
        if not self._probes.size:
            return volts, np.zeros((len(volts), 0)), flows
        return volts, self._read(volts, flows, siemens, from_V, gives, on, held), flows

    def _turned(self, open_rows, volts, siemens, from_V, gives, on, held):
        """Find the piece that each branch of some rows is on, from the one that it was on."""
        for turn in range(TURNS):
            rows = open_rows
            found = self._turn(siemens[rows], from_V[rows], gives[rows], on[rows], held[rows],
                               turn > ONE_BY_ONE)
            volts[rows], new_on, new_held = found
            changed = (new_on != on[rows]).any(axis=1) | (new_held != held[rows]).any(axis=1)
            on[rows], held[rows] = new_on, new_held
            open_rows = rows[changed]
            if not len(open_rows):
                break

    def _melt(self, flows, siemens):
        """Open in each row the fuse that is furthest over what it bears; return those rows."""
        over = np.abs(flows) / self._bears_A
        rows = np.flatnonzero((over > 1.0).any(axis=1))
        siemens[rows, over[rows].argmax(axis=1)] = 0.0
        return rows

    def _read(self, volts, flows, siemens, from_V, gives, on, held):
        """Return what a meter shows, by its own resistance and that behind its probes.

        A one-way branch that passes less than the meter takes may give way to it, or not: where
        that matters the meter is put into the network.
        """
        sure = on & (~self._one_way | (np.abs(flows) > TAKES_A))
        reads, soft = (self._shown(volts, self._stamped(siemens * held, from_V, gives * held,
                                                        one)[0]) for one in (on, sure))
        rows, pairs = np.nonzero((np.abs(reads - soft) > MATTERS_V) & (self._meters >= 0))
        loaded = siemens[rows]
        loaded[np.arange(len(rows)), self._meters[pairs]] = 1 / METER_ohm
        at = np.zeros((len(rows), len(self.nodes)))
        self._turned(np.arange(len(rows)), at, loaded, from_V[rows], gives[rows], on[rows],
                     held[rows])
        reads[rows, pairs] = np.einsum("rn,nr->r", at, self._probes[:, pairs])
        return reads

    def _shown(self, volts, factors):
        """Return what a meter shows where no branch gives way to it."""
        inner_ohm = self._equations.inner_ohm(factors, self._probes)
        reads = volts @ self._probes * METER_ohm / (METER_ohm + inner_ohm)
        reads[:, self._missing] = 0.0
        return reads

    def _turn(self, siemens, from_V, gives, on, held, one_by_one):
        volts = self._equations.solved(*self._stamped(siemens * held, from_V, gives * held, on))
        padded = np.pad(volts, ((0, 0), (0, 1)))
        excess = padded[:, self._a] - padded[:, self._b] - from_V
        new_on = ~self._one_way | (excess > 0)
        if one_by_one:  # the branch that is furthest on the wrong side goes first
            flips = new_on != on
            first = np.argmax(np.where(flips, np.abs(excess), -1.0), axis=1)
            rows = np.arange(len(on))
            new_on = on.copy()
            new_on[rows, first] ^= flips[rows, first]
        return volts, new_on, self._holding(padded)

    def _whole(self):
        """Return which branches conduct and are there where nothing is wrong."""
        if self._start is None:
            shape = (self.along, len(self._one_way))
            on, held = np.ones(shape, dtype=bool), np.ones(shape, dtype=bool)
            siemens = np.where(self._dormant, 0.0, self._siemens)
            for turn in range(TURNS):
                _, new_on, new_held = self._turn(siemens, self._from_V, self._gives_A, on, held,
                                                 turn > ONE_BY_ONE)
                if (new_on == on).all() and (new_held == held).all():
                    break
                on, held = new_on, new_held
            self._start = on, held
        return self._start

    def _flows(self, padded, siemens, from_V, gives, on):
        across = padded[:, self._a] - padded[:, self._b]
        return np.where(on, siemens * (across - from_V),
                        np.minimum(siemens, BLOCKED_S) * across) - gives

    def _holding(self, padded):
        held = np.ones((len(padded), len(self._one_way)), dtype=bool)
        stands = padded[:, self._plus] - padded[:, self._minus] > self._limit_V
        for place, ok in zip(self._when, (stands == self._above).T, strict=True):
            held[:, place] &= ok
        return held

    def _stamped(self, siemens, from_V, gives, on):
        """Return factors and right side of Kirchhoff's current law at each node."""
        conducts = np.where(on, siemens, np.minimum(siemens, BLOCKED_S))
        pushed = np.where(on, conducts * from_V, 0.0) + gives
        right = (self._ends @ pushed.T).T
        return self._equations.factors(conducts, INSULATED_S), right


def _ends(size, a, b):
    """Return into which nodes a current of each branch is pushed, +1, and out of which, -1."""
    every = np.arange(len(a))
    whole = csr_array((np.repeat([1.0, -1.0], len(a)), (np.concatenate([a, b]),
                                                        np.concatenate([every, every]))),
                      shape=(size + 1, len(a)))
    return whole[:size]


def _change(siemens, gives, what, ohm, whole_S):
    if what == OPEN:
        siemens[:] = 0.0
        gives[:] = 0.0
    elif what == SERIES:
        siemens[:] = siemens / (1 + siemens * ohm)
    else:
        siemens[:] = whole_S
