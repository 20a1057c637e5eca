"""Every pin hangs on something, every net is driven, nothing is the wrong way round."""

from collections.abc import Iterator

from forebay.hardware.build import Build
from forebay.hardware.netlist import GROUND, RAIL, Netlist, Part, reached
from forebay.hardware.rules.finding import Finding

# A series resistor behind which a pull-up still counts; more would divide with it.
SERIES_MOST_ohm = 1000.0
PULL_UP_KINDS = ("in", "pulse", "i2c", "one_wire")


def pins(build: Build) -> Iterator[Finding]:
    """Every pin of every part is connected, or said to be open."""
    for part in build.netlist:
        known = set(part.is_a.pins) | {pin for pin in (*part.pins, *part.open)
                                       if part.kind == "board" and pin.startswith("GP")}
        for pin in part.is_a.pins:
            if pin not in part.pins and pin not in part.open:
                yield Finding("open pin", f"{part.id} {pin}", "hangs on no net, and nothing says"
                              " that it may")
        for pin in part.pins:
            if pin not in known:
                yield Finding("unknown pin", f"{part.id} {pin}",
                              f"a {part.kind} has {', '.join(part.is_a.pins)}")


def nets(build: Build) -> Iterator[Finding]:
    """No net ends at a single pin."""
    for net, on in build.netlist.nets.items():
        if len(on) == 1:
            part, pin = on[0]
            yield Finding("loose end", net, f"only {part.id} {pin} hangs on it")


def drivers(build: Build) -> Iterator[Finding]:
    """Every net gets its level from somewhere: a source, an output, or through parts from one."""
    netlist = build.netlist
    driven: set[str] = {GROUND}
    for part in netlist:
        outputs = (*part.is_a.sources, *part.is_a.outputs, *part.is_a.open_outputs)
        driven |= {part.pins[pin] for pin in outputs if pin in part.pins}
    driven |= {f"GP{gpio}" for gpio, kind in _kinds().items() if kind in ("out", "pwm", "uart")}
    ways = netlist.ways(clamps=True, thrown=True)
    found = set().union(*(reached(net, ways) for net in driven))
    for net in netlist.nets:
        if net not in found:
            yield Finding("no driver", net, "nothing gives it a level")


def _kinds() -> dict[int, str]:
    """Return the kind of each GPIO, by the table of pins."""
    from forebay.hardware import tables

    return {row["gpio"]: row["kind"] for row in tables.load("pins")["pin"]}


def lines_of(netlist: Netlist, net: str) -> list[tuple[Part, str]]:
    """Return (series resistor, the net behind it) of a pin's net; 0 V and rails are none."""
    return [(part, other) for part, _ in netlist.on(net) if part.kind == "resistor"
            and (other := part.across(net)) not in (GROUND, RAIL)]


def pull_ups(build: Build) -> Iterator[Finding]:
    """What only pulls low, or only opens and closes, has a resistor that pulls it up."""
    netlist = build.netlist
    for gpio, kind in _kinds().items():
        net = f"GP{gpio}"
        if kind not in PULL_UP_KINDS or net not in netlist.nets:
            continue
        near = [net, *(other for part, other in lines_of(netlist, net)
                       if part.ohm <= SERIES_MOST_ohm)]
        if not any(netlist.between(one, RAIL, "resistor") for one in near):
            yield Finding("pull-up missing", net, f"no resistor to {RAIL} on {' or '.join(near)}")


def turned(build: Build) -> Iterator[Finding]:
    """Parts with a plus have it above their minus."""
    for part in build.netlist.of_kind("polarised capacitor", "battery"):
        if part.pins.get("plus") == GROUND or part.pins.get("minus") not in (None, GROUND):
            yield Finding("turned round", part.id, f"its minus is on {part.pins.get('minus')}")
    yield from _across_loads(build.netlist)


def _across_loads(netlist: Netlist) -> Iterator[Finding]:
    """A diode across a coil or motor leads from its minus to its plus, also through contacts."""
    switches = frozenset(part.id for part in netlist.of_kind("n-mosfet"))
    joined = [way for way in netlist.ways(least_ohm=1.0, without=switches)
              if not way.part.is_a.forward]
    for load in netlist:
        for one, other in load.is_a.inductive:
            if one not in load.pins or other not in load.pins:
                continue
            plus, minus = reached(load.pins[one], joined), reached(load.pins[other], joined)
            for part in netlist.of_kind("diode"):
                if part.pins["a"] in plus and part.pins["k"] in minus:
                    yield Finding("turned round", part.id, f"it shorts {load.id} instead of taking"
                                  " its current")
