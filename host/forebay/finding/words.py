"""The search in words: where the probes go, in which state the rig is, what to be careful of."""

from collections.abc import Iterable, Mapping
from textwrap import wrap

from forebay.finding.cases import NOTHING
from forebay.finding.faults import CROSSED, JOINT, Fault
from forebay.finding.search import CLIMBED, EFFORT
from forebay.finding.symptoms import place_of
from forebay.hardware.build import Build
from forebay.hardware.netlist import BOX, GROUND
from forebay.hardware.readings import Point

WIDTH = 79
STATES: Mapping[str, str] = {
    "standstill": "steady sun, isolator closed, pump not wanted, stop not pressed",
    "pump": "steady sun, the pump wanted: read while the board tries it; it tries again",
    "turbine": "dark, the lamps wanted, water coming down",
}
UNFED = "dark, or the isolator open: the board lives on the battery alone"


def cautions(build: Build, symptom: str) -> list[str]:
    """Return what must be known before a probe is held anywhere."""
    found = [
        "Direct volts, meter on 10 Mohm, one hand, dry. Leads of a panel are live in the sun,"
        f" isolator open or not: up to {build.figures['panel_open_cold_V']:.0f} V here. Loosen"
        " none of them before the isolator is open, none of the battery before its fuse is out;"
        " an arc of direct current does not go out by itself.",
        "Read in steady sun: a cloud between two readings looks like a bad joint."
        if symptom not in ("lamps", "lit-meters", "supply") else
        "Hands off the turbine: it starts by itself. Light where you stand, no water on the box.",
        "Local codes and licensed practice come first. Leave a point out rather than reach for"
        " it: skip REASON.",
    ]
    return [line for text in found for line in hung(text, "")]


def waiting(point: Point, mode: str) -> str:
    """Return for how long to wait before a reading of the pump's circuit; "" elsewhere."""
    if mode != "standstill" or not point.net.startswith(("panel plus", "pump", "motor plus")):
        return ""
    return ("Wait a second after a contact was opened and a minute after the isolator was:"
            " so long R9 takes to empty C2, and C1; if R9 itself is open it takes minutes.")


def climbing(place: str) -> str:
    """Return the caution for a point that is up a ladder; "" elsewhere."""
    if place not in CLIMBED:
        return ""
    return ("Up there: a ladder tied and held by a second person, both hands for climbing, no"
            " wet boards, no ice, no wind. Not now? skip REASON.")


def state(symptom: str, mode: str) -> str:
    """Return in which state the rig must be for a reading."""
    return UNFED if symptom == "supply" else STATES[mode]


def probes_at(build: Build, point: Point) -> str:
    """Return where the two probes of a test point go."""
    place = point.place or place_of(point.net, build.netlist)
    black = "TP0"
    if point.against != GROUND or place != BOX:
        black = _end(build, point.against, place)
    return f"red on {_end(build, point.net, place)}, black on {black}"


def _end(build: Build, net: str, place: str) -> str:
    """Return a terminal of the box, else a pin at a place, else a long lead to the star point."""
    terminals = [core.terminal for cable in build.cables for core in cable.cores
                 if core.net == net and core.terminal]
    if place == BOX and terminals:
        return terminals[0]
    pins = [f"{part.id} {pin}" for part, pin in build.netlist.on(net) if part.at == place]
    return pins[0] if pins else f"{net} (TP0, by a long lead)"


def alternating(build: Build, left: Iterable[Fault]) -> str:
    """Return how alternating volts tell a rectifier from what feeds it; "" where not both are
    left.
    """
    for part in build.netlist.of_kind("rectifier"):
        ids = {fault.id for fault in left if fault != NOTHING}
        own = {one for one in ids if one.startswith(f"{part.id}-")}
        if own and ids - own:
            return (f"Before a joint is opened, hand valve open and water coming, meter on"
                    f" alternating volts between {part.id} ac1 and {part.id} ac2: volts there,"
                    f" and it is {part.id} or a joint of its output; none, and it is before that:"
                    " core, joint or generator.")
    return ""


def mend(left: list[Fault]) -> list[str]:
    """Return what to do about the faults that are left, the nearest joint first."""
    joints = sorted((fault for fault in left if fault.what == JOINT),
                    key=lambda fault: EFFORT.get(fault.place, 0))
    safe = ("Isolator open and fuse F1 out first; at the generator the hand valve shut and the"
            " turbine at rest.")
    crossed = [fault for fault in left if fault.how == CROSSED]
    if len(left) == len(crossed):
        return hung(f"{safe} Then change over {' or '.join(one.mend for one in crossed)}.", "")
    if not joints:
        return hung(f"{safe} Then take it out and measure it by itself, or change it.", "")
    others = list(dict.fromkeys(one.mend for one in [*joints, *left]
                                if one.mend != joints[0].mend))
    more = f", and measure again. If nothing has changed: {', '.join(others)}" if others else ""
    return hung(f"{safe} Then open the {joints[0].mend}, clean it, tighten it{more}.", "")


def hung(text: str, indent: str) -> list[str]:
    """Return a text in lines of a terminal, the later ones set in."""
    return wrap(text, WIDTH, initial_indent=indent, subsequent_indent=f"{indent}  ",
                break_long_words=False, break_on_hyphens=False)
