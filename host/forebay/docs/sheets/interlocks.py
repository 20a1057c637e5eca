"""The page on the interlocks: what acts with the board removed, as a ladder, from the netlist."""

from forebay.docs.schematic import layout, symbols
from forebay.docs.sheets import text
from forebay.hardware.build import Build
from forebay.hardware.kinds import BREAKS
from forebay.hardware.netlist import GROUND, Netlist, Part, reached
from forebay.hardware.rules.supplies import APART_ohm

LADDER = "interlocks"
_BELOW = ("Left to right, without power and at rest: a blade on its stop is closed."
          " None of these asks the board.")
_HEAD = """\
# What acts with the board removed: {name}

{drawn}

{ladder}

Each rung works by itself: take the board out of its socket and all of it still
acts. Worked out from the circuit: a device stands here because the pump's motor
has no way to the panel's plus while it is open.
"""


def drawn(build: Build) -> list[layout.Sheet]:
    """Return what stands on each page of the ladder."""
    return layout.sheets(rungs(build.netlist), {point.net: point.id for point in build.points})


def names(build: Build) -> dict[str, int]:
    """Return the pages of the ladder by their files' names."""
    return {file: place for place, file in enumerate(text.pages(LADDER, len(drawn(build))))}


def svg(build: Build, place: int) -> str:
    """Return a page of the ladder as an SVG file."""
    pages = drawn(build)
    return symbols.svg(pages[place], f"Interlock ladder: {build.name}"
                       f"{text.of_pages(place, len(pages))}", _BELOW)


def rungs(netlist: Netlist) -> dict[str, list[Part]]:
    """Return the parts of each rung by its heading."""
    motor = netlist.of_kind("motor")[0]
    pump = [part for part in netlist if part.circuit.startswith(("panel", "pump"))
            and (part.kind in ("panel", "contact", "shunt", "link", "motor"))]
    drain = [part for part, pin in netlist.on(motor.pins["minus"]) if pin == "d"]
    heading = "The pump runs only while all contacts are closed, and the board wants it"
    found = {heading: pump + drain}
    clamp = [part for part in netlist if part.role == "clamp" or part.kind == "rectifier"
             or part.circuit in ("generator's monitor", "generator without a monitor")
             and part.kind in ("shunt", "link", "diode")]
    shunt = any(part.kind == "shunt" for part in clamp)
    found["The clamp holds the generator" + ("; the shunt may open" if shunt else "")] = clamp
    found["The lamps stay on the generator"] = [
        part for part in netlist if part.circuit.startswith("lamps")
        and part.kind in ("contact", "shunt", "link", "lamps")]
    found["The stop shuts the valve, or lets go of it"] = _stop_of_valve(netlist)
    found["A fuse stands between the battery and everything"] = netlist.of_kind("fuse", "battery")
    return {name: parts for name, parts in found.items() if parts}


def _stop_of_valve(netlist: Netlist) -> list[Part]:
    """Return the stop's poles in the valve's circuit, what they feed by themselves, the valve."""
    poles = [part for part in netlist if part.circuit.startswith("valve")
             and part.row == "local stop"]
    thrown = {part.pins["no"] for part in poles if "no" in part.pins}
    if not poles:
        return []
    return poles + [part for part in netlist if part.kind == "diode" and part.pins["a"] in thrown
                    or part.circuit == poles[0].circuit and part.row == "valve, motorised"
                    or part.kind == "high-side switch" and part.circuit == poles[0].circuit]


def pump_chain(netlist: Netlist) -> list[Part]:
    """Return the contacts of which each alone takes the panel's plus, or 0 V, off the motor."""
    panel, motor = netlist.of_kind("panel")[0], netlist.of_kind("motor")[0]

    def runs(without: str) -> bool:
        ways = netlist.ways(least_ohm=APART_ohm, without=frozenset({without}))
        ways = [way for way in ways if not way.part.is_a.forward]
        return (motor.pins["plus"] in reached(panel.pins["plus"], ways)
                and GROUND in reached(panel.pins["minus"], ways))

    found: dict[str, Part] = {}
    for part in netlist:
        if part.kind in ("contact", "change-over") and not runs(part.device):
            found.setdefault(part.device, part)
    return list(found.values())


def page(build: Build) -> str:
    """The page."""
    netlist = build.netlist
    rows = [(part.device, part.row, part.at, "takes the panel off the motor")
            for part in pump_chain(netlist)]
    rows += [(part.device, part.row, part.at, "shuts the valve, or lets go of it")
             for part in netlist if part.circuit.startswith("valve") and part.row == "local stop"
             and part.id.endswith("b")]
    rows += [(part.id, part.row, part.at, "carries the runaway for ever") for part in netlist
             if part.role == "clamp"]
    rows += [(part.id, part.value, part.at, "keeps clamp and lamps on when the shunt opens")
             for part in netlist if part.circuit == "generator's monitor" and part.kind in BREAKS
             and part.kind == "diode"]
    rows += [(part.id, part.row, part.at, "blows before the battery's leads burn")
             for part in netlist.of_kind("fuse")]
    rows += [("-", name, where, what) for name, where, what in (
        ("overflow pipe", "upper tank", "carries more than the pump lifts"),
        ("discharge over the top", "upper tank", "lets nothing siphon back"),
        ("hand valve", "penstock", "shuts the water off, lockable"))]
    ladder = "\n".join(f"![Interlock ladder]({file})" for file in names(build))
    return _HEAD.format(name=build.name, drawn=text.MADE, ladder=ladder) + "\n" + text.table(
        ("device", "is", "at", "what it does by itself"), rows)
