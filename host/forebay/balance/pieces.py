"""Water that moved, piece by piece between the moments at which the tank's content is known.

Between two such moments in which only light was made, the tank lost what was let down;
in which only the pump ran, it gained what was pumped up.  Where both did, the light says
what was let down, and the rest was pumped up.  Before the first and behind the last the
tank held between nothing and what it holds when full.  Assumes that nothing leaked,
rained in or spilled.

Of a piece that a period cuts, the light says how much of what was let down lies within;
of what was pumped up nothing does: it is between nothing and all of it.
"""

from dataclasses import dataclass, field

import numpy as np

from forebay.balance.instruments import COVERAGE, L_PER_M3
from forebay.balance.light import Light
from forebay.balance.measured import Measured, alike

# Where a row lies to a period.
PLACES = BEFORE, WITHIN, BEHIND = range(3)
_NONE = np.zeros(len(PLACES))
_NONE.flags.writeable = False


@dataclass
class Piece:
    """Rows between two moments at which the tank is known, or an edge of what is known.

    begun, ended: the content there [L], None where not known; water: sums of
    `light.Light.waters` by PLACES; maybe: those of rows of which only the next light tells
    whether the tank was empty; fill_s, fill_rows, lit_rows: how long the pump ran [s], in how
    many rows it did, and in how many light was made, by PLACES.
    """

    begun: Measured | None
    water: np.ndarray
    maybe: np.ndarray
    ended: Measured | None = None
    fill_s: np.ndarray = field(default_factory=lambda: _NONE)
    fill_rows: np.ndarray = field(default_factory=lambda: _NONE)
    lit_rows: np.ndarray = field(default_factory=lambda: _NONE)

    @property
    def fills(self) -> bool:
        """Whether the pump ran in any row of it, within the period or not."""
        return bool(self.fill_rows.any())

    @property
    def lit(self) -> bool:
        """Whether light was made in any row of it, within the period or not."""
        return bool(self.lit_rows.any())

    @property
    def is_filled_within(self) -> bool:
        """Whether all that was pumped up in it was so within the period."""
        return bool(self.fill_rows[WITHIN]) and not self.fill_rows[[BEFORE, BEHIND]].any()

    @property
    def more(self) -> Measured | None:
        """What the tank gained from its begin to its end [L], None where not known."""
        return self.ended - self.begun if self.begun and self.ended else None


@dataclass
class Moved:
    """Sums over the pieces, volumes in [L].

    up: pumped up as far as it is known; up_more: (least, most) of what was pumped up
    besides; gained, gained_more: likewise of what the tank gained; most_L: what it holds at
    most; by_light: whether a part of what was let down follows from the light.  stored,
    released: (litres [L], content before, content after) of what went up and down, the
    contents None where not known.
    """

    most_L: float

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
        # Nor can it gain or lose more than it holds, however often it was filled and emptied.
        return (max(low, least_up - self.down.value - spread, -self.most_L),
                min(high, most_up - self.down.value + spread, self.most_L))


def _bounds(known, more):
    spread = COVERAGE * known.u
    return known.value - spread + more[0], known.value + spread + more[1]


def moved(pieces: list[Piece], light: Light, share: float, most_L: Measured,
          most_up_m3_s: float, may_spill: bool) -> Moved:
    """Return what was moved in all.

    share: of the energy of the light that the totals hold, over what the rows show; most_L:
    what the tank holds when full; most_up_m3_s: what the pump lifts at most; may_spill:
    whether more may have come up than the tank has room for.
    """
    summing = _Summing(light, share, most_L.value + COVERAGE * most_L.u,
                       most_up_m3_s * L_PER_M3, may_spill)
    for piece in pieces:
        summing.add(piece)
    return summing.all()


class _Summing:
    """Adds pieces up.  most_L: what the tank holds at most [L]; other arguments: of `moved`."""

    def __init__(self, light, share, most_L, most_up_L_s, may_spill):
        self.light, self.share, self.most_L = light, share, most_L
        self.most_up_L_s, self.may_spill = most_up_L_s, may_spill
        self.found = Moved(most_L)
        self._sums = {name: [0.0, {}] for name in ("down", "up", "gained")}
        self._noise: list[tuple[float, float, float]] = []

    def all(self) -> Moved:
        """Return the sums."""
        more = alike(np.array(self._noise).T) if self._noise else [{}, {}, {}]
        for (name, (value, parts)), noise in zip(self._sums.items(), more, strict=True):
            setattr(self.found, name, Measured(value, {**parts, **noise}))
        return self.found

    def add(self, piece: Piece) -> None:
        """Add a piece."""
        if piece.lit and not piece.fills and piece.more:
            self._lit(piece, piece.more)
            return
        water, noise_L = Measured(0.0), 0.0
        if piece.lit_rows[WITHIN]:
            water, noise_L = self._water(piece, WITHIN)
            self.found.by_light = True
            self._count(down=water)
            self.found.released.append((water.value, *self._contents(piece, water)))
        if not piece.fill_rows[WITHIN]:
            self._count(gained=-water)
            self._add_noise(down=noise_L, gained=-noise_L)
        elif piece.more and piece.is_filled_within:
            self._filled(piece, piece.more, water, noise_L)
        else:
            self._add_noise(down=noise_L)
            self._open(piece, water.with_noise(noise_L))

    def _water(self, piece, *places):
        """Return (what the light took in some places [L], its own noise [L])."""
        if not piece.lit:
            return Measured(0.0), 0.0
        return self.light.measured(piece.water[list(places)].sum(axis=0), self.share)

    def _lit(self, piece, more):
        """Add a piece of light alone between known contents: those say what was let down."""
        begun, ended = piece.begun, piece.ended
        if piece.water[[BEFORE, BEHIND]].any():
            whole = self._water(piece, *PLACES)[0]
            if not piece.lit_rows[WITHIN] or not whole.value:
                return
            before, within = (self._water(piece, place) for place in (BEFORE, WITHIN))
            begun = begun + more * (before[0] / whole)
            more = more * (within[0] / whole).with_noise(within[1] / whole.value)
            ended = begun + more
        self._count(down=-more, gained=more)
        self.found.released.append((-more.value, begun, ended))

    def _contents(self, piece, water):
        """Return (content before, behind) of light in a piece [L], None where not known."""
        if piece.fills:
            return None, None
        begun, ended = piece.begun, piece.ended
        if begun:
            begun = begun - self._water(piece, BEFORE)[0]
            return begun, begun - water
        if ended:
            ended = ended + self._water(piece, BEHIND)[0]
            return ended + water, ended
        return None, None

    def _filled(self, piece, more, water, noise_L):
        """Add what was pumped up in a piece between known contents, all of it in the period."""
        outside, outside_L = self._water(piece, BEFORE, BEHIND)
        gained = (more + outside).with_noise(outside_L)
        up = gained + water
        self._count(up=up, gained=gained)
        self._add_noise(down=noise_L, up=noise_L)
        contents = (None, None) if piece.lit else (piece.begun, piece.ended)
        self.found.stored.append((up.value, *contents))

    def _add_noise(self, down=0.0, up=0.0, gained=0.0):
        if down or up or gained:
            self._noise.append((down, up, gained))

    def _count(self, **litres):
        for name, one in litres.items():
            total = self._sums[name]
            total[0] += one.value
            for source, part in one.parts.items():
                total[1][source] = total[1].get(source, 0.0) + part

    def _open(self, piece, water):
        """Add what was pumped up in a piece of which an end at least is not known, or which the
        period cuts while the pump ran; water: what was let down of it within [L].
        """
        found = self.found
        found.is_up_known = False
        low, high = self._more_bounds(piece)
        whole, noise_L = self._water(piece, *PLACES)
        spread = COVERAGE * whole.with_noise(noise_L).u
        least, most = (max(0.0, low + whole.value - spread), max(0.0, high + whole.value + spread))
        by_pump = self.most_up_L_s * float(piece.fill_s[WITHIN])
        most = by_pump if self.may_spill else min(most, by_pump)
        least = min(least, most) if piece.is_filled_within else 0.0
        found.up_more = (found.up_more[0] + least, found.up_more[1] + most)
        spread = COVERAGE * water.u
        taken = water.value - spread, water.value + spread
        low, high = (low, high) if piece.is_filled_within and not piece.water[
            [BEFORE, BEHIND]].any() else (-self.most_L, self.most_L)
        found.gained_more = (found.gained_more[0] + max(low, least - taken[1]),
                             found.gained_more[1] + min(high, most - taken[0]))

    def _more_bounds(self, piece):
        """Return between what volumes [L] lies what the tank gained in a whole piece."""
        if piece.more:
            return _bounds(piece.more, (0.0, 0.0))
        for litres, sign in ((piece.begun, -1), (piece.ended, 1)):
            if litres is not None:
                spread = COVERAGE * litres.u
                # The other end holds between nothing and all that it can.
                ends = (litres.value - spread - self.most_L, litres.value + spread)
                return ends if sign > 0 else (-ends[1], -ends[0])
        return -self.most_L, self.most_L
