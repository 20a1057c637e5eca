"""What a hand meter shows at a rig with a wiring fault: for practice, and to try the search.

The other side of the search, from the same network: it must not know what the search asks.
"""

import functools
import random
from collections.abc import Iterator, Mapping

import numpy as np

from forebay.errors import InputError
from forebay.finding import symptoms
from forebay.finding.branches import Scene
from forebay.finding.faults import Fault, catalogue
from forebay.finding.network import Layout
from forebay.finding.search import METER_FRAC, METER_V
from forebay.finding.solving import Network, Solved
from forebay.hardware import tables
from forebay.hardware.build import Build
from forebay.hardware.readings import MODES, Point
from forebay.rig import Rig
from forebay.twin import miswired
from keeper import channels as ch

MONITORS = ("panel", "pump", "generator", "lamp", "supply")
# What is wrong at a simulated rig as a fault of its wiring: a net whose core is broken, a kind of
# part that is dead, a monitor without its supply, a shunt with crossed sense leads, or a fault by
# its id.
CORE, PART, MONITOR, SHUNT, ID = range(5)
OF_CATALOGUE: Mapping[str, tuple[int, str]] = {
    "pump-lead-open": (CORE, "pump plus"),
    "panel-lead-open": (CORE, "panel plus, switched"),
    "load-lost": (CORE, "lamps plus"),
    "generator-lead-open": (CORE, "generator 1"),
    "charger-dead": (PART, "charger"),
    "pump-switch-welded": (ID, "Q1-short"),
    "upper-float-cut": (CORE, "LSH-UP"), "over-full-cut": (CORE, "LSHH-UP, plain"),
    "low-float-cut": (CORE, "LSL-UP"), "lower-float-cut": (CORE, "LSL-LO"),
    "lower-full-cut": (CORE, "LSH-LO"),
    **{f"{name}-monitor-lost": (MONITOR, name) for name in MONITORS},
    **{f"{name}-shunt-reversed": (SHUNT, name) for name in MONITORS},
}
# Mistakes after which a meter shows the volts of a whole rig, floats hanging as they should:
# what is swapped stands at the same volts, a shunt of other ohms drops millivolts.
UNSEEN = frozenset({name for name in miswired.NAMES if name not in OF_CATALOGUE})
MIDDLE = 0.6          # fair sun, a battery that is fairly full; ours
COUNT_V = 0.01        # of the meter's display


class NoSuchFault(InputError):
    """A fault, mode or test point that a rig's wiring has not: which, and what there is."""


def wiring_fault(layout: Layout, name: str | None) -> Fault | None:
    """Return a fault by its id, or by its name among the twin's faults and mistakes.

    None for a whole rig, and for a mistake that no meter sees.
    """
    if name is None or name in UNSEEN:
        return None
    every = {fault.id: fault for fault in catalogue(layout)}
    if name in OF_CATALOGUE:
        name = next(_ids(layout, *OF_CATALOGUE[name]), "")
        if not name:  # of a part that this rig has not
            return None
    if name not in every:
        raise NoSuchFault(f"{name}: no wiring fault of {layout.build.name}; there are"
                          f" {len(every)}, such as {', '.join(list(every)[:3])}, and"
                          f" names of the rehearsal's faults such as {next(iter(OF_CATALOGUE))}")
    return every[name]


def _ids(layout: Layout, what: int, which: str) -> Iterator[str]:
    """Return the ids of the faults of the wiring that something of the catalogue is."""
    parts = layout.netlist
    if what == ID:
        yield which
    elif what == CORE:
        yield from (f"{lead.id}-open" for lead in layout.leads if lead.net == which)
    elif what == PART:
        yield from (f"{part.id}-open" for part in parts.of_kind(which))
    elif what == MONITOR:
        yield from (f"{part.id}-supply-open" for part in parts.of_kind("monitor")
                    if part.monitors == which)
    else:
        yield from (f"{part.id}-sense-crossed" for part in parts.of_kind("shunt")
                    if part.sized == f"{which}_shunt")


def is_known(name: str) -> bool:
    """Return whether a meter's readings are known with a fault or mistake of the twin's."""
    return name in OF_CATALOGUE or name in UNSEEN


def meter_reading(rig: Rig, fault: str | None, mode: str, point_id: str, rng: random.Random, *,
                  along: float = MIDDLE, ohm: float = 0.0) -> float:
    """Return what a hand meter shows at a test point [V].

    fault: id of a wiring fault, or name of a fault or mistake of the twin's; None: the rig is
    whole.  mode: of
    forebay.hardware.readings.MODES.  along: conditions, from 0 (weak sun, low battery) to 1.
    ohm: of a bad joint; 0 takes the middle of those that are tried.  Raises NoSuchFault.
    """
    places = {point.id: place for place, point in enumerate(_points(_layout(rig)))}
    if point_id not in places:
        first, *_, last = places
        raise NoSuchFault(f"{point_id or 'nothing'}: no test point of {_layout(rig).build.name};"
                          f" its wiring sheet lists them, from {first} to {last}")
    solved = _solved(rig, fault, mode, along, ohm)
    return shown_V(float(solved.meter[0, 0, places[point_id]]), rng)


def sensed(rig: Rig, fault: str | None, mode: str, *, along: float = MIDDLE,
           ohm: float = 0.0) -> dict[str, int]:
    """Return what the rig's monitors read, by channel [mV, mA].  Raises NoSuchFault."""
    solved = _solved(rig, fault, mode, along, ohm)
    return {channel: ch.INVALID if np.isnan(value[0, 0]) else round(float(value[0, 0]))
            for channel, value in symptoms.sensors(_layout(rig), solved).items()}


def shown_V(volts: float, rng: random.Random) -> float:
    """Return what the display shows of some volts: off by 0.5 % and two counts at most."""
    off = volts * (1 + rng.uniform(-METER_FRAC, METER_FRAC)) + rng.uniform(-METER_V, METER_V)
    return round(off / COUNT_V) * COUNT_V


@functools.lru_cache(maxsize=4)
def _layout(rig: Rig) -> Layout:
    return Layout(Build.of(rig), tables.SHEETS)


def _points(layout: Layout) -> list[Point]:
    return [*layout.build.points, *layout.build.away]


# A person reads one point after the other at the same rig: solved once.
@functools.lru_cache(maxsize=16)
def _solved(rig: Rig, name: str | None, mode: str, along: float, ohm: float) -> Solved:
    if mode not in MODES:
        raise NoSuchFault(f"mode {mode!r} is none of {', '.join(MODES)}")
    layout = _layout(rig)
    fault = wiring_fault(layout, name)
    scene = Scene(layout.build.values, layout.build.figures, mode, np.array([along]))
    network = Network(layout.branches(scene), 1,
                      [symptoms.probes(layout, point) for point in _points(layout)])
    ohm = ohm or (fault.ohms[len(fault.ohms) // 2] if fault else 0.0)
    return network.solve([{of: (what, ohm) for of, what in fault.ops.items()} if fault else {}])
