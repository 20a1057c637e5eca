"""The rigs that the search is tried at, and what a meter shows at them."""

import functools

import numpy as np

from forebay.finding import symptoms
from forebay.finding.branches import Scene
from forebay.finding.cases import Cases
from forebay.finding.network import Layout
from forebay.finding.practice import meter_reading
from forebay.finding.solving import Network
from forebay.hardware import tables
from tests.hardware.tables import build


@functools.cache
def cases(demo, symptom):
    """What may cause a symptom at a packaged rig."""
    return Cases.of(build(demo), symptom)


@functools.cache
def layout(demo):
    """The whole circuit of a packaged rig."""
    return Layout(build(demo), tables.SHEETS)


def volts(demo, symptom, fault, mode, along, ohm):
    """What a meter without error shows at each point of some cases [V]."""
    whole, points = layout(demo), cases(demo, symptom).points
    scene = Scene(build(demo).values, build(demo).figures, mode, np.array([along]))
    network = Network(whole.branches(scene), 1,
                      [symptoms.probes(whole, point) for point in points])
    return network.solve([{of: (what, ohm) for of, what in fault.ops.items()}]).meter[0, 0]


class Meter:
    """Answers that a person with a hand meter would give; asked: names of the questions."""

    unused = ()

    def __init__(self, rig, fault, rng, instead=None):
        """instead: point -> an answer given in place of its reading."""
        self.rig, self.fault, self.rng, self.instead = rig, fault, rng, instead or {}
        self.asked = []

    def to(self, question):
        """Return the reading that a question asks for."""
        self.asked.append(question.name)
        point, _, mode = question.name.partition("-")
        if point in self.instead:
            answer = self.instead[point]
            if isinstance(answer, type) and issubclass(answer, Exception):
                raise answer
            return answer
        return meter_reading(self.rig, self.fault, mode, point, self.rng)
