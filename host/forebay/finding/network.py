"""A rig's circuit as a network for direct current: nodes at places, leads, joints, parts.

A net is one node at each place where it has parts; a core of a cable is a branch between two
of them.  A pin of a part with more than two has a joint of its own to its net.  Owns this
layout; what a part is to current is `branches`', volts are `solving`'s.
"""

import functools
import itertools
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

import numpy as np

from forebay.finding.branches import (
    STAR,
    Branch,
    CLOSED_ohm,
    Node,
    Scene,
    of_part,
    relay_contact,
)
from forebay.hardware import tables
from forebay.hardware.build import Build
from forebay.hardware.cables import Cable
from forebay.hardware.netlist import BOX, GROUND, Netlist, Part
from keeper.physics import electrical

COLD_degC = 20.0
_m2_PER_mm2 = 1e-6
# Kinds of more than two pins each of which hangs on its net by a joint of its own.
JOINTED = frozenset({"shunt", "rectifier", "motor", "lamps", "charger", "buck", "board",
                     "n-mosfet", "monitor", "bridge", "direction bridge", "high-side switch",
                     "change-over", "valve motor", "gate driver"})


@dataclass(frozen=True)
class Lead:
    """One core of a cable: its nodes at both ends, and its place in the cable from 1."""

    cable: Cable
    number: int
    far: Node
    near: Node

    @property
    def id(self) -> str:
        """Its name, as "W03.1"."""
        return f"{self.cable.id}.{self.number}"

    @property
    def net(self) -> str:
        """Its net."""
        return self.cable.cores[self.number - 1].net


class Layout:
    """Where the ends of a rig's circuit lie.

    Attributes: build; netlist, of the circuits that count; leads of their nets; pins: part ->
    pin -> node on which it hangs; joints: (part, pin) -> node of its net.
    """

    def __init__(self, build: Build, sheets: Iterable[str]):
        """Take a rig's hardware, and the names of the sheets whose circuits count."""
        self.build = build
        names = circuits_of(sheets)
        self.netlist = Netlist([part for part in build.netlist if part.circuit in names],
                               build.netlist.most)
        self.leads = [lead for cable in build.cables for lead in self._leads(cable)
                      if self._serves(lead.net, cable.place)]
        self.pins: dict[str, dict[str, Node]] = {}
        self.joints: dict[tuple[str, str], Node] = {}
        for part in self.netlist:
            self.pins[part.id] = {pin: self._pin(part, pin) for pin in part.pins}

    def own(self, sheet: str) -> set[str]:
        """Return the names of the circuits that stand on a sheet."""
        return circuits_of((sheet,))

    def _leads(self, cable: Cable) -> list[Lead]:
        return [Lead(cable, number, self._end(core.net, cable.place, cable),
                     self.node(core.net, cable.towards))
                for number, core in enumerate(cable.cores, start=1)]

    def _serves(self, net: str, place: str) -> bool:
        """Whether a net has parts that count at a place, or beyond it."""
        at = {part.at for part, _ in self.netlist.on(net)}
        return place in at or any(self._serves(net, cable.place) for cable in self.build.cables
                                  if cable.towards == place)

    def _end(self, net: str, place: str, cable: Cable) -> Node:
        return Node(net, place, cable.id if len(self._reaching(net, place)) > 1 else "")

    def _reaching(self, net: str, place: str) -> list[Cable]:
        return [cable for cable in self.build.cables
                if cable.place == place and any(core.net == net for core in cable.cores)]

    def node(self, net: str, place: str, beside: Iterable[str] = ()) -> Node:
        """Return the node of a net at a place.

        beside: nets of the same part, by which its cable is known where two bring the net.
        """
        reaching = self._reaching(net, place)
        if len(reaching) < 2:
            return Node(net, place)
        beside = set(beside) - {net}
        best = max(reaching, key=lambda cable: len(beside & {core.net for core in cable.cores}))
        return Node(net, place, best.id)

    def _pin(self, part: Part, pin: str) -> Node:
        net = part.pins[pin]
        node = self.node(net, part.at, part.pins.values())
        if part.kind in JOINTED and not self._only(part, pin):
            self.joints[part.id, pin] = node
            return Node(net, part.at, f"{part.id} {pin}")
        return node

    def _only(self, part: Part, pin: str) -> bool:
        """Whether a pin is all that its net has at a place away from the box: the core's joint."""
        here = [one for one, _ in self.build.netlist.on(part.pins[pin]) if one.at == part.at]
        return part.at != BOX and len(here) == 1

    @functools.cached_property
    def known(self) -> frozenset[str]:
        """The names that its branches have, in any scene."""
        scene = Scene(self.build.values, self.build.figures, "pump", np.array([1.0]))
        return frozenset(branch.of for branch in self.branches(scene))

    def branches(self, scene: Scene) -> list[Branch]:
        """Return all branches of the network in a scene."""
        found = [self._lead(lead) for lead in self.leads]
        found += [Branch(f"{part} {pin}", self.pins[part][pin], node, 1 / CLOSED_ohm)
                  for (part, pin), node in self.joints.items()]
        for part in self.netlist:
            found += self._of_part(part, scene)
        return found + self._crossed() + self._crushed()

    def _of_part(self, part: Part, scene: Scene) -> list[Branch]:
        found = of_part(part, self.pins[part.id], scene)
        coil = next((one for one in self.netlist.of_kind("coil")
                     if one.device == part.device and part.kind == "contact"), None)
        return [relay_contact(one, self.pins[coil.id]) for one in found] if coil else found

    def _lead(self, lead: Lead) -> Branch:
        cable = lead.cable
        ohm = 2 * CLOSED_ohm + electrical.conductor_ohm(
            cable.length_m, cable.section_mm2 * _m2_PER_mm2, COLD_degC)
        return Branch(lead.id, lead.far, lead.near, 1 / ohm)

    def crossings(self) -> list[tuple[Lead, Lead]]:
        """Return pairs of cores beside each other of which each may sit in the other's place."""
        return [(one, other) for one, other in zip(self.leads, self.leads[1:], strict=False)
                if one.cable is other.cable and GROUND not in (one.net, other.net)
                and other.number == one.number + 1]

    def crushes(self) -> list[tuple[Lead, Lead]]:
        """Return pairs of cores that may be crushed onto each other: neighbours, and 0 V."""
        return [(one, other) for one, other in itertools.combinations(self.leads, 2)
                if one.cable is other.cable and one.net != other.net
                and (other.number == one.number + 1 or GROUND in (one.net, other.net))]

    def _crushed(self) -> list[Branch]:
        """Return what is there only when two cores touch.

        From the near end of one to the far end of the other, whichever feeds them: as far as
        volts go that is the middle of both.
        """
        return [Branch(f"{one.id} | {other.id}", one.near, other.far, 1 / CLOSED_ohm,
                       dormant=True) for one, other in self.crushes()]

    def _crossed(self) -> list[Branch]:
        """Return what is there only when two cores are crossed."""
        found = []
        for one, other in self.crossings():
            of = f"{one.id} x {other.id}"
            straight = self._lead(one)
            found += [replace(straight, of=of, b=other.near, dormant=True),
                      replace(self._lead(other), of=of, b=one.near, dormant=True)]
        return found


def circuits_of(sheets: Iterable[str]) -> set[str]:
    """Return the names of the circuits that stand on some sheets."""
    every: Mapping[str, Mapping] = tables.sheets()
    return {block["name"] for sheet in sheets for block in every[sheet]["circuit"]}


def nodes_of(branches: Iterable[Branch]) -> list[Node]:
    """Return the nodes of some branches without the star point, each once."""
    found: dict[Node, None] = {}
    for branch in branches:
        for node in (branch.a, branch.b, *(one for when in branch.when
                                          for one in (when.plus, when.minus))):
            found[node] = None
    found.pop(STAR, None)
    return list(found)
