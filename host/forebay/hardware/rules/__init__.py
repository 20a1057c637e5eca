"""Machine checks of a rig's circuit: small rules, each with a name, that say what is wrong.

A rule takes a Build and yields findings; it knows kinds of parts and ways of current,
and no part by its own name.
"""

from collections.abc import Callable, Iterator

from forebay.hardware.build import Build
from forebay.hardware.rules import buses, connections, inputs, levels, loads, ratings, supplies
from forebay.hardware.rules.finding import Finding

__all__ = ["RULES", "Finding", "check"]

RULES: tuple[Callable[[Build], Iterator[Finding]], ...] = (
    connections.pins, connections.nets, connections.drivers, connections.pull_ups,
    connections.turned,
    supplies.joined, supplies.fuses, supplies.coils, supplies.shorts, supplies.rails,
    inputs.lines, inputs.contacts, inputs.meters,
    loads.paths, loads.clamp, loads.drive, loads.leads, loads.switches,
    levels.pull_downs, levels.gates,
    buses.rise, buses.sense, buses.addresses,
    ratings.margins, ratings.cables, ratings.panel, ratings.capacitors,
)


def check(build: Build) -> list[Finding]:
    """Return everything that is wrong with a rig's circuit, rule by rule."""
    return [found for rule in RULES for found in rule(build)]
