"""Supplies: none is fed by another, each has what keeps it from harm."""

from collections.abc import Iterator

from forebay.hardware.build import Build
from forebay.hardware.netlist import GROUND, Netlist, Part, Way, reached
from forebay.hardware.rules.connections import lines_of
from forebay.hardware.rules.finding import Finding

# What a resistor must have to keep two supplies apart; below it is a wire. A guess.
APART_ohm = 5.0
RAIL_ROOM_V = 0.3  # of a pin over its rail; data sheets, from memory


def _sources(netlist: Netlist) -> list[tuple[Part, str]]:
    """Return (part, net) of everything that feeds; a board fed by USB feeds its VSYS too."""
    found = [(part, part.pins[pin]) for part in netlist for pin in part.is_a.sources
             if pin in part.pins]
    return found + [(board, board.pins["VSYS"]) for board in netlist.of_kind("board")
                    if "VSYS" in board.pins and "VBUS" in board.open]


def joined(build: Build) -> Iterator[Finding]:
    """No supply feeds back into another: a diode, a switch or a converter is between."""
    netlist = build.netlist
    # What comes back through 0 V has been through a load.
    ways = [way for way in netlist.ways(least_ohm=APART_ohm) if way.start != GROUND]
    sources = _sources(netlist)
    for part, net in sources:
        fed = reached(net, ways)
        for other, its in sources:
            # A board's VSYS may be fed: its own diode keeps that from the USB socket.
            if other is not part and its in fed and its != other.pins.get("VSYS"):
                yield Finding("supplies joined", f"{part.id} and {other.id}",
                              f"{net} feeds back into {its}")
    for board in netlist.of_kind("board"):
        if "VSYS" not in board.pins:
            yield Finding("supplies joined", board.id, "which pin the 5 V feeds is not said: at"
                          " VBUS it meets the laptop's 5 V")


def fuses(build: Build) -> Iterator[Finding]:
    """A battery leads to its fuse and to nothing else, and the fuse sits at it."""
    for battery in build.netlist.of_kind("battery"):
        beside = [part for part, _ in build.netlist.on(battery.pins["plus"])
                  if part is not battery]
        if [part.kind for part in beside] != ["fuse"] or beside[0].at != battery.at:
            yield Finding("no fuse at the battery", battery.id, "its plus leads to "
                          + (", ".join(f"{part.id} at {part.at}" for part in beside) or "nothing"))


def coils(build: Build) -> Iterator[Finding]:
    """No coil hangs on the panel, which sags and rises: its contact would chatter."""
    netlist = build.netlist
    ways = netlist.ways(least_ohm=APART_ohm)
    for panel in netlist.of_kind("panel"):
        fed = reached(panel.pins["plus"], ways)
        for coil in netlist.of_kind("coil"):
            if fed & set(coil.pins.values()) - {GROUND}:
                yield Finding("coil on the panel", coil.id, "it chatters on a panel that sags:"
                              " feed it from the battery's side")


def _conducting(netlist: Netlist) -> list[Way]:
    """Return the ways that conduct whatever is switched: no transistor, button or float."""
    switches = {part.id for part in netlist.of_kind("n-mosfet", "high-side switch", "button")}
    return netlist.ways(least_ohm=APART_ohm, without=frozenset(switches))


def shorts(build: Build) -> Iterator[Finding]:
    """No source is shorted to 0 V through diodes: one of them is the wrong way round."""
    netlist = build.netlist
    ways = _conducting(netlist)
    for part, net in _sources(netlist):
        if part.kind == "generator" or GROUND not in reached(net, ways):
            continue
        guilty = [one.id for one in netlist.of_kind("diode", "tvs")
                  if GROUND not in reached(net, [way for way in ways if way.part is not one])]
        yield Finding("short", ", ".join(guilty) or part.id,
                      f"{net} is shorted to 0 V through it: it is the wrong way round")


def rails(build: Build) -> Iterator[Finding]:
    """No resistor brings a pin of the board above its rail."""
    netlist, figures = build.netlist, build.figures
    rail_V = figures["rail_V"] + RAIL_ROOM_V
    for board in netlist.of_kind("board"):
        for net in [net for pin, net in board.pins.items() if pin.startswith("GP")]:
            down = sum(1.0 / part.ohm for part in netlist.between(net, GROUND, "resistor"))
            for part, other in lines_of(netlist, net):
                volts = max(_pulled_V(build, other), _own_V(build, other))
                at_pin = volts / (1.0 + part.ohm * down)
                if at_pin > rail_V:
                    yield Finding("pin above its rail", net, f"{part.id} brings up to"
                                  f" {at_pin:.2g} V from {other}")
            if _pulled_V(build, net) > rail_V:
                yield Finding("pin above its rail", net, "a resistor pulls it above its rail")


def _own_V(build: Build, net: str) -> float:
    return build.figures[build.netlist.most[net]] if net in build.netlist.most else 0.0


def _pulled_V(build: Build, net: str) -> float:
    """Return the volts of the highest supply to which a resistor pulls a net."""
    supplies = {its for _, its in _sources(build.netlist)}
    return max([0.0, *(_own_V(build, other) for part, _ in build.netlist.on(net)
                       if part.kind == "resistor" and (other := part.across(net)) in supplies)])
