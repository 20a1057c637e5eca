"""What every fault that may cause a symptom would show: meter readings and sensors.

Solved once for a rig and a symptom; read by the search.  A prediction lies along a line of
conditions (sun, battery, lamps' step), and along the ohms of a bad joint.
"""

from dataclasses import dataclass, field

import numpy as np

from forebay.finding import symptoms
from forebay.finding.branches import Scene
from forebay.finding.faults import OPENS, PART, Fault, catalogue
from forebay.finding.network import Layout
from forebay.finding.solving import Network, Solved
from forebay.finding.symptoms import SYMPTOMS, Symptom
from forebay.hardware.build import Build
from forebay.hardware.netlist import BOX, GROUND, RAIL
from forebay.hardware.readings import Point

ALONG = np.linspace(0.0, 1.0, 5)   # conditions that are solved
FINE, FINE_OHMS = 41, 13           # and between them in straight lines
NOTHING = Fault("nothing", "nothing: these are also the readings of a whole rig", OPENS, PART, BOX,
                "", {})


@dataclass
class Cases:
    """All that may cause a symptom at a rig.

    faults: NOTHING first.  points: test points whose nets count.  reads: mode -> for each fault
    (ohm, along, point) [V].  sensed: mode -> channel -> for each fault (ohm, along) [mV, mA].
    """

    build: Build
    symptom: Symptom
    faults: list[Fault]
    points: list[Point]
    places: list[str]
    reads: dict[str, list[np.ndarray]] = field(default_factory=dict)
    sensed: dict[str, dict[str, list[np.ndarray]]] = field(default_factory=dict)

    @classmethod
    def of(cls, build: Build, symptom: str) -> "Cases":
        """Return the cases of a symptom, by its name in SYMPTOMS."""
        found = SYMPTOMS[symptom]
        layout = Layout(build, found.sheets)
        points = [point for point in (*build.points, *build.away) if _counts(layout, point)]
        pairs = [symptoms.probes(layout, point) for point in points]
        one = cls(build, found, [NOTHING, *_causes(layout, found)], points,
                  [point.place or symptoms.place_of(point.net, build.netlist) for point in points])
        for mode in found.readings:
            scene = Scene(build.values, build.figures, mode, ALONG)
            network = Network(layout.branches(scene), len(ALONG), pairs)
            solved = network.solve([case for fault in one.faults for case in fault.cases()])
            one.reads[mode] = [_fine(rows, fault) for rows, fault in
                               one._by_fault(solved.meter)]
            one.sensed[mode] = one._sense(layout, solved)
        return one

    def _sense(self, layout: Layout, solved: Solved) -> dict[str, list[np.ndarray]]:
        return {channel: [_fine(rows, fault) for rows, fault in self._by_fault(values)]
                for channel, values in symptoms.sensors(layout, solved).items()}

    def _by_fault(self, values: np.ndarray) -> list[tuple[np.ndarray, Fault]]:
        found, start = [], 0
        for fault in self.faults:
            found.append((values[start:start + len(fault.ohms)], fault))
            start += len(fault.ohms)
        return found


# Nets that all circuits share: what hangs on them beside those that count changes nothing.
_RAILS = frozenset({GROUND, RAIL, "5 V", "supply node"})


def _counts(layout: Layout, point: Point) -> bool:
    """Whether the circuits that count say what stands at a test point."""
    every, place = layout.build.netlist, point.place or symptoms.place_of(
        point.net, layout.build.netlist)
    whole = all(net in _RAILS or len(layout.netlist.on(net)) == len(every.on(net))
                for net in (point.net, point.against))
    return whole and place in layout.netlist.places(point.net)


def _causes(layout: Layout, symptom: Symptom) -> list[Fault]:
    """Return the faults that move a symptom's quantity."""
    every = catalogue(layout)
    scene = Scene(layout.build.values, layout.build.figures, symptom.mode, np.array([0.5]))
    network = Network(layout.branches(scene), 1)
    solved = network.solve([{}, *(case for fault in every for case in fault.cases())])
    found = symptom.of(layout, solved)
    seen = symptoms.moved(found[:1], found[1:], symptom.least)
    if symptom.sound:
        sound = symptom.sound(layout, solved)
        seen &= ~symptoms.moved(sound[:1], sound[1:], symptoms.SEEN_A)
    causes, start = [], 0
    for fault in every:
        if seen[start:start + len(fault.ohms)].any():
            causes.append(fault)
        start += len(fault.ohms)
    return causes


def _fine(values: np.ndarray, fault: Fault) -> np.ndarray:
    """Return predictions between those solved: (ohm, along, ...), in straight lines."""
    along = _between(values, ALONG, np.linspace(ALONG[0], ALONG[-1], FINE), 1)
    if len(fault.ohms) < 2:
        return along
    scale = np.log(fault.ohms)
    return _between(along, scale, np.linspace(scale[0], scale[-1], FINE_OHMS), 0)


def _between(values: np.ndarray, at: np.ndarray, wanted: np.ndarray, axis: int) -> np.ndarray:
    place = np.clip(np.searchsorted(at, wanted, side="right") - 1, 0, len(at) - 2)
    share = (wanted - at[place]) / (at[place + 1] - at[place])
    shape = [1] * values.ndim
    shape[axis] = len(wanted)
    share = share.reshape(shape)
    low, high = np.take(values, place, axis), np.take(values, place + 1, axis)
    return low * (1 - share) + high * share
