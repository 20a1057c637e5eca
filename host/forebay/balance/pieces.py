"""Water that moved, piece by piece between the moments at which the tank's content is known.

Between two such moments in which only light was made, the tank lost what was let down;
in which only the pump ran, it gained what was pumped up.  Where both did, the light says
what was let down, and the rest was pumped up.  Before the first and behind the last the
tank held between nothing and what it holds when full.  Assumes that nothing leaked,
rained in or spilled.
"""

from dataclasses import dataclass, field

import numpy as np

from forebay.balance.known import Mark
from forebay.balance.light import Light
from forebay.balance.measured import Measured
from forebay.balance.spans import FILL_STATES, HOLE_S, keys_of
from keeper.modes import RUNNING

COVERAGE = 2.0  # standard uncertainties by which a bound is moved out


@dataclass
class Moved:
    """Sums over the pieces, volumes in [L].

    up: pumped up as far as it is known; up_more: (least, most) of what was pumped up
    besides; gained, gained_more: likewise of what the tank gained; by_light: whether a part
    of what was let down follows from the light.  stored, released: (litres, content before,
    content after) of what went up and down, the contents None where not known.
    """

    down: Measured = field(default_factory=lambda: Measured(0.0))
    up: Measured = field(default_factory=lambda: Measured(0.0))
    gained: Measured = field(default_factory=lambda: Measured(0.0))
    by_light: bool = False
    is_up_known: bool = True
    up_more: tuple[float, float] = (0.0, 0.0)
    gained_more: tuple[float, float] = (0.0, 0.0)
    stored: list = field(default_factory=list)
    released: list = field(default_factory=list)

    def up_bounds(self) -> tuple[float, float]:
        """Return between what volumes [L] lies what was pumped up."""
        low, high = _bounds(self.up, self.up_more)
        return max(0.0, low), high

    def gained_bounds(self) -> tuple[float, float]:
        """Return between what volumes [L] lies what the tank gained."""
        low, high = _bounds(self.gained, self.gained_more)
        least_up, most_up = self.up_bounds()
        spread = COVERAGE * self.down.u
        return (max(low, least_up - self.down.value - spread),
                min(high, most_up - self.down.value + spread))


def _bounds(known, more):
    spread = COVERAGE * known.u
    return known.value - spread + more[0], known.value + spread + more[1]


class Pieces:
    """The pieces of a journal's rows."""

    def __init__(self, rows, ends_s, seconds, marks: list[Mark], light: Light, most_L: Measured):
        """Take rows, their ends on the axis and lengths [s], marks in order, the light.

        most_L: what the tank holds when full.
        """
        self.light, self.marks = light, marks
        self.most_L = most_L.value + COVERAGE * most_L.u
        self.fills = np.isin(rows.state, FILL_STATES)
        self.lit = (rows.state == RUNNING) & light.on
        parted = np.diff(keys_of(rows)) != 0
        parted |= ends_s[1:] - seconds[1:] - ends_s[:-1] > HOLE_S
        edges = (np.flatnonzero(parted) + 1).tolist()
        self.runs = list(zip([0, *edges], [*edges, len(rows)], strict=True))

    def moved(self) -> Moved:
        """Return what was moved in all."""
        found = Moved()
        for first, end in self.runs:
            marks = [one for one in self.marks if first <= one.row < end]
            before = None
            for mark in marks:
                begin = first if before is None else before.row + 1
                self._piece(begin, mark.row + 1, before, mark, found)
                before = mark
            self._piece(first if before is None else before.row + 1, end, before, None, found)
        return found

    def _piece(self, first, end, before, after, found):
        """Add the rows from `first` to before `end`, between two marks or none [Mark]."""
        part = slice(first, end)
        fills, lit = self.fills[part].any(), self.lit[part].any()
        begun = before.litres if before else None
        ended = after.litres if after else None
        more = ended - begun if begun and ended else None
        if lit and not fills and more:
            self._went(-more, begun, ended, found)
            found.gained += more
            return
        water = self.light.of(first, end) if lit else Measured(0.0)
        found.by_light |= bool(lit)
        if not fills:
            if lit:
                self._went(water, begun or (ended and ended + water),
                           ended or (begun and begun - water), found)
            found.gained -= water
            return
        if lit:
            self._went(water, None, None, found)
        if more:
            up = more + water
            found.up += up
            found.gained += more
            found.stored.append((up, *((None, None) if lit else (begun, ended))))
            return
        self._open(begun, ended, water, found)

    def _went(self, litres, begun, ended, found):
        found.down += litres
        found.released.append((litres, begun, ended))

    def _open(self, begun, ended, water, found):
        """Add a piece in which the pump ran, of which one end at least is not known."""
        found.is_up_known = False
        low, high = -self.most_L, self.most_L
        for litres, sign in ((begun, -1), (ended, 1)):
            if litres is not None:
                spread = COVERAGE * litres.u
                # The other end holds between nothing and all that it can.
                ends = (litres.value - spread - self.most_L, litres.value + spread)
                low, high = ends if sign > 0 else (-ends[1], -ends[0])
        found.gained_more = (found.gained_more[0] + low, found.gained_more[1] + high)
        spread = COVERAGE * water.u
        least = max(0.0, low + water.value - spread)
        found.up_more = (found.up_more[0] + least,
                         found.up_more[1] + max(0.0, high + water.value + spread))
