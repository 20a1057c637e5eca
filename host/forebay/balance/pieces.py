"""Water that moved, piece by piece between the moments at which the tank's content is known.

Between two such moments in which only light was made, the tank lost what was let down;
in which only the pump ran, it gained what was pumped up.  Where both did, the light says
what was let down, and the rest was pumped up.  Before the first and behind the last the
tank held between nothing and what it holds when full.  Assumes that nothing leaked,
rained in or spilled.
"""

from dataclasses import dataclass, field

import numpy as np

from forebay.balance.light import Light
from forebay.balance.measured import Measured, alike

COVERAGE = 2.0  # standard uncertainties by which a bound is moved out


@dataclass
class Piece:
    """Rows between two moments at which the tank is known, or an edge of what is known.

    begun, ended: the content there [L], None where not known; fills, lit: whether the pump
    ran, and light was made, in any row; water: sums of `light.Light.waters`; maybe: those
    of rows of which only the next light tells whether the tank was empty.
    """

    begun: Measured | None
    water: np.ndarray
    maybe: np.ndarray
    ended: Measured | None = None
    fills: bool = False
    lit: bool = False


@dataclass
class Moved:
    """Sums over the pieces, volumes in [L].

    up: pumped up as far as it is known; up_more: (least, most) of what was pumped up
    besides; gained, gained_more: likewise of what the tank gained; by_light: whether a part
    of what was let down follows from the light.  stored, released: (litres [L], content
    before, content after) of what went up and down, the contents None where not known.
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


def moved(pieces: list[Piece], light: Light, share: float, most_L: Measured) -> Moved:
    """Return what was moved in all.

    share: of the energy of the light that the totals hold, over what the rows show; most_L:
    what the tank holds when full.
    """
    summing = _Summing(most_L.value + COVERAGE * most_L.u)
    for piece in pieces:
        summing.add(piece, *(light.measured(piece.water, share) if piece.lit
                             else (Measured(0.0), 0.0)))
    return summing.all()


class _Summing:
    """Adds pieces up.  most_L: what the tank holds at most [L]."""

    def __init__(self, most_L):
        self.most_L, self.found = most_L, Moved()
        self._sums = {name: [0.0, {}] for name in ("down", "up", "gained")}
        self._noise: list[tuple[float, float, float]] = []

    def all(self) -> Moved:
        """Return the sums."""
        more = alike(np.array(self._noise).T) if self._noise else [{}, {}, {}]
        for (name, (value, parts)), noise in zip(self._sums.items(), more, strict=True):
            setattr(self.found, name, Measured(value, {**parts, **noise}))
        return self.found

    def add(self, piece: Piece, water: Measured, noise_L: float) -> None:
        """Add a piece; water: what the light took [L], without its own noise [L]."""
        begun, ended, found = piece.begun, piece.ended, self.found
        more = ended - begun if begun and ended else None
        if piece.lit and not piece.fills and more:
            self._count(down=-more, gained=more)
            found.released.append((-more.value, begun, ended))
            return
        found.by_light |= piece.lit
        noise_of = [0.0, 0.0, 0.0]
        if piece.lit:
            self._count(down=water)
            noise_of[0] = noise_L
        if not piece.fills:
            if piece.lit:
                found.released.append((water.value, begun or (ended and ended + water),
                                       ended or (begun and begun - water)))
                noise_of[2] = -noise_L
            self._count(gained=-water)
        else:
            if piece.lit:
                found.released.append((water.value, None, None))
            if more:
                up = more + water
                self._count(up=up, gained=more)
                noise_of[1] = noise_L if piece.lit else 0.0
                found.stored.append((up.value, *((None, None) if piece.lit else (begun, ended))))
            else:
                self._open(begun, ended, water.with_noise(noise_L))
        if any(noise_of):
            self._noise.append((noise_of[0], noise_of[1], noise_of[2]))

    def _count(self, **litres):
        for name, one in litres.items():
            total = self._sums[name]
            total[0] += one.value
            for source, part in one.parts.items():
                total[1][source] = total[1].get(source, 0.0) + part

    def _open(self, begun, ended, water):
        """Add a piece in which the pump ran, of which one end at least is not known."""
        found = self.found
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
