"""What comes in from outside the box: series resistor, RC and a suppressor on each line."""

from collections.abc import Iterator

from forebay.hardware import tables
from forebay.hardware.build import Build
from forebay.hardware.netlist import BOX, GROUND, RAIL, Netlist, Part
from forebay.hardware.rules.connections import lines_of
from forebay.hardware.rules.finding import Finding

INPUTS = ("in", "pulse", "adc", "one_wire")
BOTH_WAYS = ("one_wire",)  # no capacitor: the line is talked on both ways
SERIES_LEAST_ohm = 100.0
# What a pin's own diodes bear for the microseconds of a surge; no data sheet says, a guess.
PIN_MOST_A = 0.02
DIODE_V = 0.6
SUPPRESSORS = ("tvs", "two-way tvs")
RISES = 5.0        # time constants of a level that is reached
HALVES = 2.0       # a pulse is high for half of its time
SCAN_S = 0.1


def comes_in(netlist: Netlist, net: str) -> bool:
    """Whether a net leads out of the box, or to a button that a hand touches."""
    return netlist.places(net) != {BOX} or any(part.kind == "button"
                                               for part, _ in netlist.on(net))


def lines(build: Build) -> Iterator[Finding]:
    """Each line has a series resistor before its pin, a capacitor at it, a suppressor outside."""
    netlist = build.netlist
    for row in tables.load("pins")["pin"]:
        net = f"GP{row['gpio']}"
        if row["kind"] not in INPUTS or net not in netlist.nets:
            continue
        if comes_in(netlist, net):
            yield Finding("no series resistor", net, "the line from outside is the pin itself")
            yield from _suppressed(build, net, None)
        for part, line in lines_of(netlist, net):
            if not comes_in(netlist, line):
                continue
            if part.ohm < SERIES_LEAST_ohm:
                yield Finding("no series resistor", net, f"{part.id} has {part.value}, less than"
                              f" {SERIES_LEAST_ohm:g} ohm")
            yield from _suppressed(build, line, part)
        if row["kind"] not in BOTH_WAYS and not netlist.between(net, GROUND, "capacitor"):
            yield Finding("no capacitor", net, "nothing at the pin takes what a lead catches")
    yield from _line_drivers(build)
    yield from _monitors(build)


def _suppressed(build: Build, line: str, series: Part | None) -> Iterator[Finding]:
    found = build.netlist.between(line, GROUND, *SUPPRESSORS)
    if not found:
        yield Finding("no suppressor", line, "a line from outside has nothing that takes a surge")
    for part in found:
        amperes = (part.rated["clamps"] - build.figures["rail_V"] - DIODE_V) / series.ohm \
            if series and "clamps" in part.rated else 0.0
        if amperes > PIN_MOST_A:
            yield Finding("too little series resistor", line, f"{part.id} lets"
                          f" {amperes * 1e3:.0f} mA into the pin, {PIN_MOST_A * 1e3:.0f} are the"
                          " most")


def _line_drivers(build: Build) -> Iterator[Finding]:
    netlist = build.netlist
    for driver in netlist.of_kind("line driver"):
        for net in (driver.pins["a"], driver.pins["b"]):
            if comes_in(netlist, net):
                yield Finding("no series resistor", net, f"{driver.id} is on the line itself")
                yield from _suppressed(build, net, None)
            for _, line in lines_of(netlist, net):
                yield from _suppressed(build, line, None)


def _monitors(build: Build) -> Iterator[Finding]:
    netlist = build.netlist
    for monitor in netlist.of_kind("monitor"):
        nets = [monitor.pins[pin] for pin in ("high", "low") if pin in monitor.pins]
        if len(nets) == 2 and not netlist.between(*nets, "capacitor"):
            yield Finding("no capacitor", monitor.id, "between its two sense leads")
        for net in nets:
            if any(part.kind == "shunt" for part, _ in netlist.on(net)):
                yield Finding("no series resistor", net, f"{monitor.id} is on the shunt itself")


def contacts(build: Build) -> Iterator[Finding]:
    """A contact in a power lead is no pin's input: two contacts, or an isolated one."""
    netlist, figures = build.netlist, build.figures
    rail_V = figures["rail_V"]
    for row in tables.load("pins")["pin"]:
        net = f"GP{row['gpio']}"
        for _, line in lines_of(netlist, net):
            for part, _ in netlist.on(line):
                if part.is_a.opens and any(figures[netlist.most[one]] > rail_V for one in
                                           part.pins.values() if one in netlist.most):
                    yield Finding("power contact read", part.id,
                                  f"it breaks a power lead and is {net}'s input")


def meters(build: Build) -> Iterator[Finding]:
    """No filter is slower than what it lets through: a meter's pulse, a scan of a contact."""
    netlist, values = build.netlist, build.values
    fastest_Hz = values["sensors.pulses_per_litre"] * build.figures["pump_most_mL_s"] / 1000.0
    for row in tables.load("pins")["pin"]:
        net = f"GP{row['gpio']}"
        most_s = {"pulse": 1.0 / fastest_Hz / HALVES, "in": SCAN_S}.get(row["kind"])
        if most_s is None:
            continue
        farad = sum(part.farad for part in netlist.between(net, GROUND, "capacitor"))
        for part, line in lines_of(netlist, net):
            up = netlist.between(line, RAIL, "resistor")
            ohm = part.ohm + sum(one.ohm for one in up)
            if RISES * ohm * farad > most_s:
                rises_s = RISES * ohm * farad
                yield Finding("filter too slow", net, f"it rises in {rises_s:.2g} s and has"
                              f" {most_s:.2g} s")
