"""Every figure of a balance by the first way of `ways.WAYS` that leads to it.

Owns which sum stands behind which way; the sums lie in `electric`, `water` and `modelled`.
"""

from collections.abc import Callable

from forebay.balance import electric
from forebay.balance.boardload import stated_W
from forebay.balance.measured import Measured, maybe_ratio
from forebay.balance.modelled import Modelled
from forebay.balance.parts import no_part
from forebay.balance.water import Water
from forebay.balance.ways import (
    BOUNDS,
    BY_FIGURE,
    MEASURED,
    MODEL,
    TANGLED,
    UNKNOWN,
    WAYS,
    Told,
    Way,
    allows,
    lacking,
)

ROUND_TRIP = "round_trip"
STEPS = ("panel_to_pump", "wire_to_water", "water_to_wire", "generator_to_lamps", ROUND_TRIP)


class Figures:
    """Finds figures.  values: [J], [L] or [-], Measured or None; told: how each is known."""

    def __init__(self, part: electric.Electric, flow: Water, fitted, notes: list[str]):
        """Take what sums up, the names of the instruments that are there, and the notes."""
        self.part, self.flow, self.fitted = part, flow, fitted
        self.values: dict[str, Measured | None] = {}
        self.told: dict[str, Told] = {}
        self.metered = part.energies(notes)
        self.metered |= flow.volumes() | flow.energies()
        self.metered |= electric.nodes(self.metered)
        self._find("lamps")
        self.modelled = Modelled(part.rig, flow.store, fitted, part.moving,
                                 self.values["lamps"])
        for figure in BY_FIGURE:
            self._find(figure)

    def __getitem__(self, figure: str) -> Measured:
        """Return a figure that is known."""
        found = self.values[figure]
        assert found is not None
        return found

    def of(self, table) -> dict[str, Measured | None]:
        """Return the figures of a table of `model`."""
        return {key: self.values[key] for key, _ in table}

    def _find(self, figure):
        """Take the first way to a figure that can be gone."""
        if figure in self.told:
            return
        # So while its own ways are looked at: none may lead through the figure itself.
        self.told[figure] = Told(UNKNOWN, "")
        self.values[figure] = None
        for way in BY_FIGURE[figure]:
            if not allows(way, self.fitted):
                continue
            for used in way.uses:
                self._find(used)
            if all(self.told[used].is_known for used in way.uses) and self._go(way):
                return
        known = all(self.told[used].is_known for used in BY_FIGURE[figure][0].uses)
        why = TANGLED if figure in STEPS and known else no_part(lacking(figure, self.fitted))
        self.told[figure] = Told(UNKNOWN, why)

    def _go(self, way: Way) -> bool:
        """Try a way; return whether it led to its figure."""
        if way.figure in STEPS:
            return self._take_step(way)
        if way.kind == BOUNDS:
            low, high = WITHIN[way.figure](self)
            if low is not None and low <= 0 and high is None:
                return False  # no bound: it is never less than nothing
            self.told[way.figure] = Told(BOUNDS, way.name, low, high)
            return True
        if way.kind == MEASURED:
            found = self.metered[way.figure]
            if way.figure == "board_load" and not self.part.is_load_seen:
                return False
        else:
            found = HOW[way](self)
        if found is None:
            return False
        self.values[way.figure] = found
        self.told[way.figure] = Told(way.kind, way.name)
        return True

    def _take_step(self, way):
        """Take a step efficiency, unless its two figures rest on one another."""
        one, other = way.uses
        if way.figure != ROUND_TRIP and self.rests(one) & self.rests(other):
            return False
        both = {self.told[one].kind, self.told[other].kind}
        self.values[way.figure] = maybe_step(way, self.values)
        self.told[way.figure] = Told(MEASURED if both == {MEASURED} else MODEL, way.name)
        return True

    def rests(self, figure) -> set[str]:
        """Return the figures that a figure rests on by the way it was come by, with itself."""
        found = {figure}
        for way in BY_FIGURE[figure]:
            if way.name == self.told[figure].by:
                for used in way.uses:
                    found |= self.rests(used)
        return found


def maybe_step(way: Way, values) -> Measured | None:
    """Return a step efficiency [-] of two figures; None where the divisor may be 0."""
    above, below = (values[used] for used in way.uses)
    if way.figure != ROUND_TRIP:
        return maybe_ratio(above, below, electric.LEAST_ENERGY_J)
    # By steps, so that a day that ends fuller than it began is not called a loss.
    return None if above is None or below is None else above * below


Taken = Callable[[Figures], Measured | None]
# How the figures of the ways by a model are worked out, in the order of WAYS.
_BY_MODEL: tuple[tuple[str, tuple[Taken, ...]], ...] = (
    ("lamps", (lambda of: of["generator"] - of["clamp"],)),
    ("clamp", (lambda of: of.metered["clamp"],)),
    ("generator", (lambda of: of["lamps"] + of["clamp"],)),
    ("board_load", (lambda of: stated_W(of.part.rig) * of.part.spans.seconds,)),
    ("charge", (lambda of: of["panel"] - of["pump"],)),
    ("panel", (lambda of: of["pump"] + of["charge"],)),
    ("pump", (lambda of: of.part.maybe_idle_pump(),
              lambda of: of["panel"] - of["charge"])),
    ("down", (lambda of: -of.flow.gained()["discharge"],
              lambda of: of.modelled.down_by_floats(),
              lambda of: of.modelled.moved.down)),
    ("up", (lambda of: of.part.maybe_idle_pump(),
            lambda of: of.flow.gained()["fill"],
            lambda of: of.modelled.up_by_floats())),
    ("gained", (lambda of: of["up"] - of["down"],
                lambda of: of.modelled.gained_by_floats())),
    ("stored", (lambda of: of.modelled.stored_J(of["up"]),)),
    ("released", (lambda of: of.modelled.released_J(of["down"]),)),
)
HOW: dict[Way, Taken] = {}
for _figure, _taken in _BY_MODEL:
    _ways = [one for one in WAYS if one.figure == _figure and one.kind == MODEL]
    HOW |= dict(zip(_ways, _taken, strict=True))
WITHIN: dict[str, Callable[[Figures], tuple[float | None, float | None]]] = {
    "up": lambda of: of.modelled.moved.up_bounds(),
    "gained": lambda of: of.modelled.moved.gained_bounds(),
    "stored": lambda of: of.modelled.stored_bounds_J(),
    "pump": lambda of: of.modelled.least_pump_J(of["up"]),
}
