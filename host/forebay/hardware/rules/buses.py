"""The monitors and their bus: it rises in time, each reads its own shunt, the right way round."""

from collections.abc import Iterator

from forebay.hardware import cables
from forebay.hardware.build import Build
from forebay.hardware.netlist import BOX, RAIL, Netlist, Part
from forebay.hardware.rules.finding import Finding

# Fast mode, 400 kHz; 0.3 to 0.7 of the rail is 0.847 R C; UM10204, from memory.
RISE_MOST_s = 300e-9
RISE_FACTOR = 0.8473
DEVICE_F = 10e-12
SINK_MOST_A, SINK_V = 3e-3, 0.4
# Wire in the box, all of a bus together, and what a metre of it has; common practice.
BOX_m, WIRE_F_m = 0.5, 100e-12
SENSE_MOST_ohm = 100.0
# Address pins by what they are tied to; data sheets, from memory.
FIRST_ADDRESS = 0x40
STRAPS = {"0V": 0, "supply": 1, "sda": 2, "scl": 3}


def rise(build: Build) -> Iterator[Finding]:
    """Data and clock rise in time with all devices and all wire on them."""
    netlist = build.netlist
    nets = dict.fromkeys(part.pins[pin] for part in netlist.of_kind("monitor")
                         for pin in ("sda", "scl") if pin in part.pins)
    for net in nets:
        ups = [part.ohm for part in netlist.between(net, RAIL, "resistor")]
        if not ups:
            continue  # told as a pull-up that is missing
        ohm = 1.0 / sum(1.0 / one for one in ups)
        devices = {part.id for part, pin in netlist.on(net) if pin not in ("a0", "a1")
                   and part.kind != "resistor"}
        length_m = BOX_m + sum(_length_m(place) for place in netlist.places(net) - {BOX})
        farad = DEVICE_F * len(devices) + WIRE_F_m * length_m
        if RISE_FACTOR * ohm * farad > RISE_MOST_s:
            yield Finding("bus too slow", net, f"{ohm:g} ohm and {farad * 1e12:.0f} pF rise in"
                          f" {RISE_FACTOR * ohm * farad * 1e9:.0f} ns, {RISE_MOST_s * 1e9:.0f} are"
                          " the most")
        if (build.figures["rail_V"] - SINK_V) / ohm > SINK_MOST_A:
            yield Finding("pull-up too strong", net, f"{ohm:g} ohm are more than a device sinks")


def _length_m(place: str) -> float:
    length = cables.places()[place]["length"]
    return length if not isinstance(length, str) else 1.0


def sense(build: Build) -> Iterator[Finding]:
    """Each monitor has the leads of its own shunt, in its sense, and stands beside it."""
    netlist = build.netlist
    for monitor in netlist.of_kind("monitor"):
        ends = [_shunt_of(netlist, monitor, pin) for pin in ("high", "low")]
        if None in ends:
            yield Finding("sense leads missing", monitor.id, "no resistor leads to a shunt")
            continue
        (high, high_pin, high_part), (low, low_pin, low_part) = (end for end in ends if end)
        if high is not low or high.sized != f"{monitor.monitors}_shunt":
            yield Finding("sense leads of another shunt", monitor.id,
                          f"{high.id} and {low.id} are not the {monitor.monitors}'s")
        if (high_pin, low_pin) == ("sense_out", "sense_in"):
            yield Finding("sense leads swapped", monitor.id, "it reads the current the other way")
        if monitor.at != high.at and {high_part.at, low_part.at} != {high.at}:
            yield Finding("monitor apart from its shunt", monitor.id,
                          f"it is at {monitor.at}, {high.id} at {high.at}, and no resistor there"
                          " guards the leads")
    yield from _apart(netlist)


def _apart(netlist: Netlist) -> Iterator[Finding]:
    """A shunt without any lead to a monitor at another place than the monitors."""
    monitors = {part.at for part in netlist.of_kind("monitor")}
    for shunt in netlist.of_kind("shunt"):
        if "sense_in" not in shunt.pins and monitors and shunt.at not in monitors:
            yield Finding("monitor apart from its shunt", shunt.id,
                          f"it is at {shunt.at}, the monitors are at {', '.join(monitors)}")


def _shunt_of(netlist: Netlist, monitor: Part, pin: str) -> tuple[Part, str, Part] | None:
    """Return (shunt, its pin, the resistor between) that a sense pin leads to."""
    net = monitor.pins.get(pin, "")
    for part, _ in netlist.on(net):
        if part.kind != "resistor" or part.ohm > SENSE_MOST_ohm:
            continue
        for shunt, its in netlist.on(part.across(net)):
            if shunt.kind == "shunt" and its.startswith("sense"):
                return shunt, its, part
    return None


def addresses(build: Build) -> Iterator[Finding]:
    """Each monitor's address pins give the address that the board asks."""
    for monitor in build.netlist.of_kind("monitor"):
        if not monitor.monitors:
            continue
        low, high = (_code(monitor, strap) for strap in ("a0", "a1"))
        wanted = build.values[f"board.{monitor.monitors}_monitor"]
        if low is None or high is None or FIRST_ADDRESS + len(STRAPS) * high + low != wanted:
            yield Finding("wrong address", monitor.id, f"a1 and a0 do not give 0x{wanted:02x}")


def _code(monitor: Part, strap: str) -> int | None:
    """Return what an address pin counts for by the net that it is tied to."""
    return next((code for pin, code in STRAPS.items()
                 if strap in monitor.pins and monitor.pins.get(pin) == monitor.pins[strap]), None)
