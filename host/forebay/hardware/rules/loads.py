"""Loads: what keeps a current that was broken from making volts, what keeps the clamp there."""

from collections.abc import Iterator

from forebay.hardware import cables, changing
from forebay.hardware.build import Build
from forebay.hardware.kinds import BREAKS
from forebay.hardware.netlist import BOX, GROUND, Netlist, Way, reached
from forebay.hardware.rules.finding import Finding
from forebay.hardware.rules.inputs import SUPPRESSORS
from forebay.hardware.rules.supplies import APART_ohm
from forebay.hardware.sizing import REFERENCE_V

LEAD_LEAST_m = 2.0  # what is shorter holds next to nothing
BASE_V = 0.7        # of a transistor that conducts; common practice
CAPACITORS = ("capacitor", "polarised capacitor")


def _closing(netlist: Netlist, opened: str) -> list[Way]:
    """Return where a load's current may go when a device opens: also back through a source."""
    gone = frozenset({opened})
    ways = netlist.ways(least_ohm=APART_ohm, without=gone)
    for part in netlist:
        if part.device in gone:
            continue
        ways += [Way(part.pins[one], part.pins[other], part) for one, other in part.is_a.fed_by
                 if one in part.pins and other in part.pins]
        if part.kind == "two-way tvs":
            ways += [Way(part.pins[one], part.pins[other], part)
                     for one, other in part.is_a.clamps]
    return ways


def paths(build: Build) -> Iterator[Finding]:
    """The current of every coil and motor has a way round whichever contact or switch opens."""
    netlist = build.netlist
    devices = dict.fromkeys(part.device for part in netlist if part.is_a.opens)
    for part in netlist:
        for one, other in part.is_a.inductive:
            if one not in part.pins or other not in part.pins:
                continue
            for device in devices:
                if part.pins[one] not in reached(part.pins[other], _closing(netlist, device)):
                    yield Finding("no way for a load's current", f"{part.id} when {device} opens",
                                  f"nothing leads from {part.pins[other]} back to"
                                  f" {part.pins[one]}")


def clamp(build: Build) -> Iterator[Finding]:
    """No part that fails open takes the clamp off the generator, and the lamps with it."""
    netlist = build.netlist
    clamps = [part for part in netlist if part.role == "clamp"]
    for rectifier in netlist.of_kind("rectifier"):
        plus = rectifier.pins["plus"]
        if not clamps:
            yield Finding("clamp lost", rectifier.id, "there is no clamp on it")
        for one in clamps:
            net = next(iter(one.pins.values()))
            if one.at != rectifier.at:
                yield Finding("clamp lost", one.id, f"a lead lies between it and {rectifier.id}")
            breaking = [part for part in netlist if part.kind in BREAKS or part.is_a.opens]
            for part in breaking:
                ways = netlist.ways(least_ohm=APART_ohm, without=frozenset({part.id}))
                if net not in reached(plus, ways):
                    yield Finding("clamp lost", part.id, f"open, it takes {one.id} off the"
                                  " generator, and the lamps with it")


def drive(build: Build) -> Iterator[Finding]:
    """The resistor before the clamp's base lets through what the runaway asks of it."""
    netlist, figures = build.netlist, build.figures
    for clamp_part in (part for part in netlist.of_kind("pnp") if part.role == "clamp"):
        base = clamp_part.pins["b"]
        for reference in netlist.of_kind("reference"):
            for part in netlist.between(base, reference.pins["k"], "resistor"):
                left_V = figures["generator_clamped_V"] - BASE_V - REFERENCE_V
                if left_V / part.ohm < figures["clamp_base_A"]:
                    yield Finding("clamp starved", part.id, "it lets"
                                  f" {1e3 * left_V / part.ohm:.3g} mA into {clamp_part.id}, which"
                                  f" asks for {1e3 * figures['clamp_base_A']:.3g} mA at runaway;"
                                  f" take {changing.what('clamp_base_A')}")


def switches(build: Build) -> Iterator[Finding]:
    """A switch at the end of a long lead has a diode or a suppressor for what the lead holds."""
    netlist = build.netlist
    for part in netlist.of_kind("n-mosfet"):
        net = part.pins["d"]
        if not any(map(is_far, netlist.places(net))):
            continue
        at_box = [one for one, pin in netlist.on(net) if one.at == BOX
                  and (one.kind == "diode" and pin == "a" or one.kind in SUPPRESSORS)]
        if not at_box:
            yield Finding("lead without a diode", part.id, f"what the lead on {net} holds goes"
                          " into it when it opens")


def is_far(place: str) -> bool:
    """Whether a place is at the end of a lead that holds something."""
    length = cables.places()[place].get("length", 0.0)
    return isinstance(length, str) or length > LEAD_LEAST_m


def leads(build: Build) -> Iterator[Finding]:
    """Where a long lead of the panel ends in the box, something takes its current."""
    netlist = build.netlist
    switches = frozenset(part.id for part in netlist if part.is_a.opens)
    ways = netlist.ways(least_ohm=APART_ohm)
    rigid = netlist.ways(least_ohm=APART_ohm, without=switches)
    two_way = [way for way in rigid if way.part.kind in ("shunt", "link")]
    for panel in netlist.of_kind("panel"):
        fed = [net for net in netlist.nets if net in reached(panel.pins["plus"], ways)
               and any(part.is_a.opens and "g" not in part.pins for part, _ in netlist.on(net))]
        for net in fed:
            group = reached(net, two_way)
            places = set().union(*(netlist.places(one) for one in group))
            if BOX not in places or not any(map(is_far, places)) or net == GROUND:
                continue
            if not any(netlist.between(one, GROUND, *CAPACITORS, *SUPPRESSORS) for one in group):
                yield Finding("lead without a capacitor", net, "the"
                              f" {build.figures['leads_mJ']:.2g} mJ of the leads go into whatever"
                              " opens")
