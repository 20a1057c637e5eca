"""The circuit as parts and nets: read from its tables, and what a question about it begins with.

Owns parts, pins, nets and the ways that current has between them. What a rig has of
it is `fitting`'s, values and duties are `sizing`'s and `duty`'s, judgement is the rules'.
"""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from typing import Any, NamedTuple

from forebay.errors import InputError
from forebay.hardware.kinds import KINDS, Kind

GROUND = "0 V"
RAIL = "3.3 V"
BOX = "box"
UNUSED = "not used by this rig"
_PREFIX = {"k": 1e3, "m": 1e-3, "u": 1e-6, "n": 1e-9, "M": 1e6}
_PART_KEYS = frozenset({"kind", "at", "pins", "open", "value", "row", "rated", "carries", "sized",
                        "role", "monitors"})


class CircuitError(InputError):
    """A table of circuits that cannot be read: which part, and what must stand there."""


@dataclass(frozen=True)
class Part:
    """One part: what it is, where it stands, which net hangs on which of its pins."""

    id: str
    kind: str
    pins: Mapping[str, str]
    at: str = BOX
    open: Mapping[str, str] = field(default_factory=dict)  # pin without a net -> why
    value: str = ""
    row: str = ""        # of parts.toml
    rated: Mapping[str, float] = field(default_factory=dict)
    carries: str = ""    # figure of its worst current
    sized: str = ""      # how its value follows from the rig
    role: str = ""
    monitors: str = ""   # which of the rig's monitors it is
    circuit: str = ""

    @property
    def is_a(self) -> Kind:
        """What its kind has in common."""
        return KINDS[self.kind]

    @property
    def device(self) -> str:
        """The thing that a person buys: the poles of one switch are one."""
        return self.id.rstrip("abcd") if self.is_a.opens or self.kind == "coil" else self.id

    @property
    def ohm(self) -> float:
        """Its resistance [ohm], of a part whose value is one."""
        return quantity(self.value)

    @property
    def farad(self) -> float:
        """Its capacitance [F], of a part whose value is one."""
        return quantity(self.value)

    def across(self, net: str) -> str:
        """Return the net on the other pin of a part with two."""
        one, other = self.pins.values()
        return other if net == one else one


class Way(NamedTuple):
    """One way for current, from net to net through a part."""

    start: str
    end: str
    part: Part


class Netlist:
    """Parts by id, and the nets between them."""

    def __init__(self, parts: Iterable[Part], most: Mapping[str, str],
                 texts: Mapping[str, str] | None = None, joins: Mapping[str, str] | None = None):
        """Take parts, the figure of each net's highest volts, each circuit's text.

        joins: circuit -> the one with which it is drawn.
        """
        self.joins = dict(joins or {})
        self.parts = {part.id: part for part in parts}
        self.most = dict(most)
        self.texts = dict(texts or {})
        self.nets: dict[str, list[tuple[Part, str]]] = {}
        for part in self.parts.values():
            for pin, net in part.pins.items():
                self.nets.setdefault(net, []).append((part, pin))

    def __iter__(self) -> Iterator[Part]:
        return iter(self.parts.values())

    def __getitem__(self, name: str) -> Part:
        return self.parts[name]

    def on(self, net: str) -> list[tuple[Part, str]]:
        """Return what hangs on a net: (part, pin)."""
        return self.nets.get(net, [])

    def of_kind(self, *kinds: str) -> list[Part]:
        """Return the parts of some kinds."""
        return [part for part in self if part.kind in kinds]

    def between(self, one: str, other: str, *kinds: str) -> list[Part]:
        """Return parts of some kinds with two pins that lie between two nets."""
        return [part for part, _ in self.on(one) if part.kind in kinds
                and set(part.pins.values()) == {one, other}]

    def places(self, net: str) -> set[str]:
        """Return the places at which a net has parts."""
        return {part.at for part, _ in self.on(net)}

    def changed(self, parts: Mapping[str, Part | None]) -> "Netlist":
        """Return a netlist in which some parts are others; None leaves one out."""
        kept = {**self.parts, **parts}
        return Netlist([part for part in kept.values() if part], self.most, self.texts, self.joins)

    def circuits(self) -> dict[str, list[Part]]:
        """Return the parts of each circuit, in the order of the tables."""
        found: dict[str, list[Part]] = {}
        for part in self:
            found.setdefault(part.circuit, []).append(part)
        return found

    def drawn(self) -> dict[str, list[Part]]:
        """Return the parts of each circuit with those that are drawn with it."""
        found: dict[str, list[Part]] = {}
        for name, parts in self.circuits().items():
            found.setdefault(self.joins.get(name, name), []).extend(parts)
        return found

    def ways(self, *, least_ohm: float = 0.0, clamps: bool = False, thrown: bool = False,
             without: frozenset[str] = frozenset()) -> list[Way]:
        """Return the ways for current.

        least_ohm: resistors from this on pass none; 0 = all pass. clamps: whether
        clamps count. thrown: whether change-overs pass both ways. without: devices that are
        open.
        """
        found = []
        for part in self:
            if part.device in without or part.id in without:
                continue
            kind = part.is_a
            if not (kind.signal and least_ohm and _blocks(part, least_ohm)):
                pairs = kind.passes + (kind.thrown if thrown else ())
                found += [way for one, other in pairs for way in _both(part, one, other)]
            one_way = kind.forward + (kind.clamps if clamps else ())
            found += [Way(part.pins[one], part.pins[other], part) for one, other in one_way
                      if one in part.pins and other in part.pins]
        return found


def _blocks(part: Part, least_ohm: float) -> bool:
    return part.kind != "resistor" or part.ohm >= least_ohm


def _both(part: Part, one: str, other: str) -> list[Way]:
    if one not in part.pins or other not in part.pins:
        return []
    return [Way(part.pins[one], part.pins[other], part), Way(part.pins[other], part.pins[one],
                                                             part)]


def reached(start: str, ways: Iterable[Way]) -> set[str]:
    """Return the nets to which current comes from a net, itself among them."""
    ends: dict[str, list[str]] = {}
    for way in ways:
        ends.setdefault(way.start, []).append(way.end)
    found, open_nets = {start}, [start]
    while open_nets:
        for end in ends.get(open_nets.pop(), ()):
            if end not in found:
                found.add(end)
                open_nets.append(end)
    return found


def quantity(text: str) -> float:
    """Return the number of a value such as "4.7 kohm" in its unit without prefix."""
    try:
        value, unit = text.split()[:2]
        scale = _PREFIX.get(unit[0], 1.0) if len(unit) > 1 else 1.0
        return float(value) * scale
    except ValueError:
        raise CircuitError(f"{text!r} is no value with a unit, such as 4.7 kohm") from None


def read_part(name: str, row: Mapping[str, Any], circuit: str) -> Part:
    """Return a part of a table; CircuitError names what it cannot be."""
    wrong = set(row) - _PART_KEYS
    if wrong:
        raise CircuitError(f"part {name} of {circuit}: {', '.join(sorted(wrong))}: no such key;"
                           f" {', '.join(sorted(_PART_KEYS))} are")
    if row.get("kind") not in KINDS:
        raise CircuitError(f"part {name} of {circuit}: kind {row.get('kind')!r} is none of"
                           f" {', '.join(KINDS)}")
    return Part(name, circuit=circuit, **row)


def with_pins_of(board: Part, pins: Mapping[str, Any], used: set[str]) -> Part:
    """Return the board with its GPIOs: each on the net of its name, or said to be unused."""
    names = [f"GP{row['gpio']}" for row in pins["pin"]]
    return replace(board, pins={**board.pins, **{n: n for n in names if n in used}},
                   open={**board.open, **{n: UNUSED for n in names if n not in used},
                         **{f"GP{row['gpio']}": row["text"] for row in pins["free"]}})
