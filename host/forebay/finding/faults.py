"""What may be wrong in a rig's wiring: each joint, lead and part, drawn from its circuit.

A fault says in plain words what is open, loose, shorted or crossed and where, and what it does
to the branches of the network.  It must not know how it shows.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from forebay.finding.branches import MAKERS, OUTPUTS
from forebay.finding.network import Layout, Lead
from forebay.finding.solving import CLOSE, OPEN, SERIES
from forebay.hardware.cables import POWER, far_ends, near_ends
from forebay.hardware.netlist import BOX, Part

# A joint that is loose or corroded [ohm]: 1 to 10, in steps a search can tell; common practice.
BAD_ohm = (1.0, 3.0, 10.0)
OPENS, LOOSE, SHORT, CROSSED, WRONG = "open", "bad joint", "short", "crossed", "wrong output"
JOINT, LEAD, PART = "joint", "lead", "part"
# Kinds whose failing to conduct is no loss of current, or is never the fault of wiring.
_NO_OPEN = frozenset({"tvs", "two-way tvs", "monitor", "bridge", "direction bridge", "pnp",
                      "potentiometer", "thermometer", "flow meter", "level sensor"})
_WEAR = frozenset({"contact", "change-over", "fuse"})  # what may burn, and conduct badly then
_CARRIES = frozenset({"shunt", "motor", "lamps"})      # whose own joints carry the current

# Pins that carry what the search looks at, of kinds with more of them.
_PINS = {"monitor": ("high", "low", "bus", "supply", "0V"), "board": ("VSYS", "3V3", *OUTPUTS)}


@dataclass(frozen=True)
class Fault:
    """One thing that may be wrong.

    how: one of OPENS, LOOSE, SHORT, CROSSED, WRONG.  what: JOINT, LEAD or PART.  mend: what
    is opened or changed.  ohms: of a bad joint, each of which is tried; else one 0.
    """

    id: str
    words: str
    how: str
    what: str
    place: str
    mend: str
    ops: Mapping[str, str]
    ohms: tuple[float, ...] = (0.0,)

    def cases(self) -> list[dict[str, tuple[str, float]]]:
        """Return what it does to the network, a case for each of its ohms."""
        return [{of: (what, ohm) for of, what in self.ops.items()} for ohm in self.ohms]


def catalogue(layout: Layout) -> list[Fault]:
    """Return every fault of a layout, each once; the order is that of the circuit."""
    found = [*(fault for lead in layout.leads for fault in _of_lead(layout, lead)),
             *(fault for part in layout.netlist if part.kind in MAKERS
               for fault in _of_part(layout, part)),
             *_crossed(layout), *_crushed(layout)]
    return [fault for fault in found if set(fault.ops) <= layout.known]


def _of_lead(layout: Layout, lead: Lead) -> Iterator[Fault]:
    cable, net = lead.cable, lead.net
    every = (layout.build.netlist, layout.build.cables)
    core = f"core {lead.number} of cable {cable.id}"
    ends = {"far": (cable.place, far_ends(cable, lead.number, *every)),
            "near": (cable.towards, near_ends(cable, lead.number, *every))}
    for end, (place, at) in ends.items():
        joint = f"{core}, its joint at {' and '.join(at[:2])} ({place})"
        yield Fault(f"{lead.id}-{end}-open", f"{joint}: open", OPENS, JOINT, place,
                    f"joint at {at[0]}", {lead.id: OPEN})
        if cable.group == POWER:
            yield Fault(f"{lead.id}-{end}-bad", f"{joint}: loose or corroded", LOOSE, JOINT, place,
                        f"joint at {at[0]}", {lead.id: SERIES}, BAD_ohm)
    yield Fault(f"{lead.id}-open", f"{core} itself ({net}, {cable.place} to {cable.towards}):"
                " broken", OPENS, LEAD, cable.place, f"core {lead.id}", {lead.id: OPEN})


def _of_part(layout: Layout, part: Part) -> Iterator[Fault]:
    name = called(layout, part)
    if part.kind not in _NO_OPEN:
        # Lifted, pressed, too warm, switched off: a person looks at that first.
        stands = ", or in its open position" if part.kind in _WEAR else ""
        yield Fault(f"{part.id}-open", f"{name}: open or dead{stands}", OPENS, PART, part.at,
                    part.id, {part.id: OPEN})
    if part.kind in _WEAR:
        yield Fault(f"{part.id}-bad", f"{name}: conducts badly", LOOSE, PART, part.at, part.id,
                    {part.id: SERIES}, BAD_ohm)
    if part.kind in ("n-mosfet", "tvs"):
        yield Fault(f"{part.id}-short", f"{name}: shorted", SHORT, PART, part.at, part.id,
                    {f"{part.id} short": CLOSE})
    for pin in part.pins:
        if (part.id, pin) in layout.joints:
            yield from _of_joint(part, pin, name)
    if part.kind == "shunt":
        yield Fault(f"{part.id}-sense-crossed", f"{name}: its two sense leads crossed", CROSSED,
                    LEAD, part.at, f"{part.id}'s sense leads",
                    {f"{part.id} tap in": OPEN, f"{part.id} tap out": OPEN,
                     f"{part.id} sense x": CLOSE})
    if part.kind == "motor":
        yield Fault(f"{part.id}-crossed", f"{name}: its two leads each in the other's place, it"
                    " turns backwards", CROSSED, JOINT, part.at, f"{part.id}'s two leads",
                    {part.id: OPEN, f"{part.id} x": CLOSE})
    if part.kind == "battery":
        yield Fault(f"{part.id}-crossed", f"{name}: its two leads each in the other's place",
                    CROSSED, JOINT, part.at, f"{part.id}'s two leads",
                    {part.id: OPEN, f"{part.id} x": CLOSE})
    if part.kind in ("buck", "charger"):
        yield Fault(f"{part.id}-low", f"{name}: gives too few volts", WRONG, PART, part.at,
                    part.id, {part.id: OPEN, f"{part.id} low": CLOSE})
    if part.kind == "buck":
        yield Fault(f"{part.id}-through", f"{name}: lets its input through", WRONG, PART, part.at,
                    part.id, {part.id: OPEN, f"{part.id} through": CLOSE})


def _of_joint(part: Part, pin: str, name: str) -> Iterator[Fault]:
    if pin not in _PINS.get(part.kind, part.pins):
        return
    of, joint = f"{part.id} {pin}", f"{name}, its joint at {pin.replace('_', ' ')}"
    yield Fault(f"{part.id}-{pin}-open", f"{joint}: open", OPENS, JOINT, part.at,
                f"joint at {of}", {of: OPEN})
    if part.kind in _CARRIES and "sense" not in pin:
        yield Fault(f"{part.id}-{pin}-bad", f"{joint}: loose or corroded", LOOSE, JOINT, part.at,
                    f"joint at {of}", {of: SERIES}, BAD_ohm)


def _crossed(layout: Layout) -> Iterator[Fault]:
    for one, other in layout.crossings():
        if one.cable.group == POWER:
            cable = one.cable
            yield Fault(f"{one.id}-{other.id}-crossed", f"cores {one.number} and {other.number}"
                        f" of cable {cable.id} ({one.net}; {other.net}): each in the"
                        " other's place", CROSSED, LEAD, cable.towards,
                        f"cores {one.id}, {other.id}",
                        {one.id: OPEN, other.id: OPEN, f"{one.id} x {other.id}": CLOSE})


def _crushed(layout: Layout) -> Iterator[Fault]:
    for one, other in layout.crushes():
        cable = one.cable
        yield Fault(f"{one.id}-{other.id}-crushed", f"cores {one.number} and {other.number} of"
                    f" cable {cable.id} ({one.net}; {other.net}): crushed onto each other", SHORT,
                    LEAD, cable.towards, f"cable {cable.id}",
                    {f"{one.id} | {other.id}": CLOSE})


def called(layout: Layout, part: Part) -> str:
    """Return a part's name as a person calls it, with its id and place."""
    alike = {one.device for one in layout.build.netlist if one.row == part.row}
    name = part.row if part.row and len(alike) == 1 else part.kind
    shown = f"the {name}" if part.id in name else f"the {name} {part.id}"
    return shown if part.at == BOX else f"{shown} ({part.at})"
