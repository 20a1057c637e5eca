"""The cables between places: which nets need a core in which, how long, how thick.

Places form a tree that ends in the box (hardware/places.toml): a net with parts on both
sides of a link needs a core in its cable. Owns that, and copper: the smallest section
that keeps the drop and carries the current.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, NamedTuple

from forebay.docs.sheets import worst
from forebay.hardware import tables
from forebay.hardware.netlist import BOX, GROUND, CircuitError, Netlist, Part
from keeper.physics import electrical

# IEC 60228, nominal sections [mm2], and what each carries in a bundle outdoors: half of what
# IEC 60364-5-52 gives for two loaded cores in free air; from memory.
SECTIONS_mm2 = {0.5: 2.0, 0.75: 3.0, 1.0: 4.5, 1.5: 7.0, 2.5: 10.0, 4.0: 14.0, 6.0: 18.0,
                10.0: 25.0, 16.0: 34.0}
SIGNAL, POWER = "signal", "power"
SMALL = ("rail_V", "five_V", "line_V")  # figures of the most that a net of signals has
_mm2 = 1e-6
SENSED = "sensed_A"  # the figure of a cable of signals: what its sensors draw


class Core(NamedTuple):
    """One core of a cable: its net, and its terminal in the box or None."""

    net: str
    terminal: str | None


@dataclass(frozen=True)
class Cable:
    """One cable: from a place towards the box."""

    id: str
    place: str
    towards: str
    group: str
    length_m: float
    section_mm2: float
    cores: tuple[Core, ...]
    carries_A: float
    lost_V: float
    allowed_V: float
    most_A: float
    by: str  # name of the figure that flows in it

    @property
    def holds(self) -> bool:
        """Whether it loses no more than it may, and carries what flows."""
        return self.lost_V <= self.allowed_V and max(
            self.carries_A, self.most_A) <= SECTIONS_mm2[self.section_mm2]


def far_ends(cable: Cable, place: int, netlist: Netlist, every: list[Cable]) -> list[str]:
    """Return where a core ends away from the box: pins of parts there, cores that lead on.

    place: of the core in its cable, from 1. every: all cables of the rig.
    """
    net = cable.cores[place - 1].net
    return _pins(cable, net, cable.place, netlist, every) + _led_on(net, cable.place, every,
                                                                    cable)


def near_ends(cable: Cable, place: int, netlist: Netlist, every: list[Cable]) -> list[str]:
    """Return where a core ends towards the box: its terminal, else as `far_ends`."""
    core = cable.cores[place - 1]
    if core.terminal:
        return [core.terminal]
    pins = _pins(cable, core.net, cable.towards, netlist, every)
    on = [f"{one.id} core {number}" for one in every if one.place == cable.towards
          for number, other in enumerate(one.cores, start=1) if other.net == core.net]
    return pins + on


def _pins(cable: Cable, net: str, place: str, netlist: Netlist, every: list[Cable]) -> list[str]:
    """Return the pins of a net at a place that hang on a cable's core.

    Where power and signals each have a core of 0 V, each takes its own: what a motor
    draws lifts no sensor.
    """
    there = [(part, pin) for part, pin in netlist.on(net) if part.at == place]
    groups = {one.group for one in every if one.place == cable.place
              and any(core.net == net for core in one.cores)}
    if net == GROUND and len(groups) > 1:
        there = [(part, pin) for part, pin in there if group_of(part, netlist) == cable.group]
    return [f"{part.id} {pin}" for part, pin in there]


def _led_on(net: str, place: str, every: list[Cable], own: Cable) -> list[str]:
    return [f"{one.id} core {number}" for one in every if one.towards == place and one is not own
            for number, core in enumerate(one.cores, start=1) if core.net == net]


def places(at: Mapping[str, Any] | None = None) -> dict[str, Mapping[str, Any]]:
    """Return the rows of places.toml by name."""
    return {row["name"]: row for row in (at or tables.load("places"))["place"]}


def _inside(rows: Mapping[str, Mapping[str, Any]], place: str) -> set[str]:
    """Return a place and all that are led to it."""
    found = {place}
    while more := {name for name, row in rows.items() if row.get("towards") in found} - found:
        found |= more
    return found


def cables(netlist: Netlist, values: Mapping[str, Any],
           figures: Mapping[str, float]) -> list[Cable]:
    """Return every cable of a rig, in the order of the places; terminals are counted through."""
    rows, parts = places(), tables.load("parts")
    unknown = {part.at for part in netlist} - set(rows)
    if unknown:
        raise CircuitError(f"no such place in places.toml: {', '.join(sorted(unknown))}")
    found: list[Cable] = []
    terminals = 0
    for place, row in rows.items():
        if place == BOX:
            continue
        inside = _inside(rows, place)
        nets = [net for net in netlist.nets
                if (at := netlist.places(net)) & inside and at - inside]
        for group, members in _grouped(nets, netlist, inside).items():
            cores = []
            for net in members:
                terminals += row["towards"] == BOX
                cores.append(Core(net, f"X{terminals}" if row["towards"] == BOX else None))
            found.append(_sized(f"W{len(found) + 1:02d}", place, row, group, tuple(cores), values,
                                {**figures, SENSED: _sensed_A(netlist, inside, members, figures,
                                                              parts)}, parts))
    return found


def _grouped(nets: list[str], netlist: Netlist, inside: set[str]) -> dict[str, list[str]]:
    """Return the nets of each sheath; 0 V goes with those whose parts there hang on it."""
    found = {group: [net for net in nets if net != GROUND
                     and carries_power(net, netlist) == (group == POWER)]
             for group in (POWER, SIGNAL)}
    if GROUND in nets:
        there = [set(part.pins.values()) for part, _ in netlist.on(GROUND) if part.at in inside]
        wants = [group for group, members in found.items()
                 if any(on & set(members) for on in there)] or [POWER]
        for group in wants:
            found[group].append(GROUND)
    return {group: members for group, members in found.items() if members}


_POWER_KINDS = frozenset({"panel", "motor", "battery", "generator", "rectifier", "lamps", "fuse",
                          "valve motor", "reversed motor", "spring valve", "servo",
                          "change-over"})


def carries_power(net: str, netlist: Netlist) -> bool:
    """Whether a net belongs to a circuit of power: it goes with its kind in a sheath."""
    on = netlist.on(net)
    if any(part.kind in _POWER_KINDS for part, _ in on):
        return True
    # A shunt's sense pins and a gate carry none.
    return netlist.most.get(net, "") not in SMALL and any(
        (part.is_a.opens and pin != "g") or part.kind == "link"
        or (part.kind == "shunt" and pin in ("in", "out")) for part, pin in on)


def group_of(part: Part, netlist: Netlist) -> str:
    """Return whether a part's 0 V carries power or signals; a monitor only looks at power."""
    power = part.kind != "monitor" and any(
        carries_power(net, netlist) for net in part.pins.values() if net != GROUND)
    return POWER if power else SIGNAL


def _sensed_A(netlist: Netlist, inside: set[str], nets: list[str], figures, parts) -> float:
    """Return the most [A] that a core of signals brings back: its sensors' and its contacts'.

    nets: of the cable. A contact, a data line or a meter's output sinks its pull-up's.
    """
    ends = [part for part in netlist if part.at in inside]
    draws_A = sum(parts["draws_A"].get(part.kind, 0.0) for part in ends
                  if set(part.pins.values()) & set(nets))
    sinks = {net for net in nets if any(
        part.at in inside and (part.is_a.opens or pin in part.is_a.open_outputs)
        for part, pin in netlist.on(net) if net != GROUND)}
    return draws_A + figures["contact_A"] * max(1 if not draws_A else 0, len(sinks))


def _sized(name, place, row, group, cores, values, figures, parts) -> Cable:
    length_m = row["length"]
    if isinstance(length_m, str):
        length_m = worst.run_m(values, parts, length_m)
    wire = next((one for one in parts["wire"] if one["place"] == place and one["group"] == group),
                None)
    least_mm2 = wire["least_mm2"] if wire else min(SECTIONS_mm2)
    carries_A = figures[wire["worst"] if wire else SENSED]
    # A panel's short circuit blows no fuse: what it feeds bears that current for ever.
    most_A = max(carries_A, figures[wire["most"]] if wire and "most" in wire else 0.0)
    allowed_V = wire["drop"] * figures[wire["of"]] if wire else 0.01 * figures["rail_V"]
    stated = values.get(wire["section"]) if wire and "section" in wire else None
    fixed = [stated * 1e6] if stated else [one for one in SECTIONS_mm2 if one >= least_mm2]
    for section in fixed:
        near = max((one for one in SECTIONS_mm2 if one <= section + 1e-9), default=min(
            SECTIONS_mm2))
        lost_V = electrical.voltage_drop_V(carries_A, length_m, section * _mm2,
                                           parts["assumed"]["conductor_hottest_degC"])
        found = Cable(name, place, row["towards"], group, length_m, near, cores, carries_A, lost_V,
                      allowed_V, most_A, wire["worst"] if wire else SENSED)
        if found.holds:
            return found
    return found
