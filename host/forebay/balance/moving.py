"""From rows to pieces between known contents of the tank, window by window.

Owns what must be known of the rows before: the piece that is begun, a light that has not
ended, and whether the last one ran dry, on which rows behind it count.  So no row needs to
be kept for a model of the rig.
"""

import numpy as np

from forebay.balance.covered import Rowed
from forebay.balance.known import Marks
from forebay.balance.light import Light
from forebay.balance.pieces import Piece
from forebay.balance.plant import Store
from forebay.balance.spans import FILL_STATES, HOLE_S, LIGHT_STATES, among
from forebay.shelf import Rows
from keeper import channels as ch
from keeper.modes import RUNNING

# Rows that are looked at together, if no light is longer: a model of each of them takes room.
AT_ONCE = 16_384
LIT_FRAC = 0.5  # of the dimmest step: less is no light that anybody ordered; a guess


class Moving:
    """Takes rows in order.  light: how water follows from light; shown_J: the energy of the
    light that rows show [J]; pieces: those that hold anything, once `end` was called.
    """

    def __init__(self, rig, fitted):
        """Take the rig and the names of the instruments that are there."""
        values = rig.plant()
        self.light = Light(values, rig.sensors)
        self.shown_J, self.pieces = 0.0, []
        self._least_W = LIT_FRAC * values["lamps.steps_W"][0]
        self._amps = ch.GENERATOR_MA if "lamp_meter" not in fitted else ch.LAMP_MA
        self._marks = Marks(values, Store(rig, None), fitted)
        # Most pieces have no light: they share this.
        self._nothing = np.zeros(2 + len(self.light.names))
        self._held: Rowed | None = None
        self._last: Rowed | None = None  # the last row of those that are in pieces
        self._is_dry, self._waiting = False, []
        self._open = self._piece(None)

    def add(self, part: Rowed) -> None:
        """Take the next rows."""
        for at in range(0, len(part), AT_ONCE):
            some = part.part(at, min(at + AT_ONCE, len(part)))
            held = some if self._held is None else _joined(self._held, some)
            end = _light_that_goes_on(held)
            self._block(held.part(0, end))
            self._held = held.part(end, len(held))

    def end(self) -> list[Piece]:
        """Return the pieces: nothing follows."""
        if self._held is not None:
            self._block(self._held)
            self._held = None
        self._settle(True)
        self._close(None)
        return self.pieces

    def _piece(self, begun):
        return Piece(begun, self._nothing, self._nothing)

    def _block(self, own):
        """Take rows behind which no light goes on."""
        if not len(own):
            return
        rows = own.rows
        before = Rows.empty(0) if self._last is None else self._last.rows
        volts, amps = rows.si(ch.GENERATOR_MV), np.maximum(rows.si(self._amps), 0.0)
        watts = np.nan_to_num(volts * amps)
        self.shown_J += float((watts * own.seconds).sum())
        shone = watts > self._least_W
        running = np.flatnonzero(rows.state == RUNNING)
        if len(running):
            first = running[0]
            end = first + 1 + _light_that_goes_on(own.part(first, len(own)), first_only=True)
            self._settle(bool(shone[first:end].any()))
        marks, empty, since = self._marks.of(before, rows, shone, volts, self._is_dry)
        on = ~empty & among(rows.state, LIGHT_STATES) & np.isfinite(volts) & np.isfinite(amps)
        sums = _Sums(self.light.waters(rows.state[on], own.seconds[on], volts[on], amps[on]), on,
                     among(rows.state, FILL_STATES), (rows.state == RUNNING) & on,
                     len(own) if since is None else since + 1)
        ends = [(one.row + 1, 0, one.litres) for one in marks]
        ends += [(edge, 1, None) for edge in self._edges(own)]
        begin = 0
        for end, _, litres in sorted(ends, key=lambda one: one[:2]):
            self._take(sums, begin, end)
            self._close(litres)
            begin = end
        self._take(sums, begin, len(own))
        self._is_dry = since is not None
        self._last = own.part(len(own) - 1, len(own))

    def _edges(self, own):
        """Return the places of rows in front of which something is not known, in order."""
        whole = own if self._last is None else _joined(self._last, own)
        parted = np.diff(whole.key) != 0
        parted |= whole.ends_s[1:] - whole.seconds[1:] - whole.ends_s[:-1] > HOLE_S
        return (np.flatnonzero(parted) + 1 - (len(whole) - len(own))).tolist()

    def _take(self, sums, first, end):
        """Add rows to the piece that is begun."""
        piece = self._open
        fills, lit, water, maybe = sums.of(first, end)
        piece.fills |= fills
        piece.lit |= lit
        if water.any():
            piece.water = piece.water + water
        if maybe.any():
            piece.maybe = piece.maybe + maybe
            if not self._waiting or self._waiting[-1] is not piece:
                self._waiting.append(piece)

    def _settle(self, counts):
        """Count what waits for the next light, or let it go: it ran dry as the last one did."""
        for piece in self._waiting:
            piece.water = piece.water + piece.maybe * counts
            piece.maybe = self._nothing
        self._waiting = []

    def _close(self, litres):
        """End the piece that is begun, where the tank holds so much [L], None = not known."""
        piece = self._open
        piece.ended = litres
        if piece.fills or piece.lit:
            self.pieces.append(piece)
        self._open = self._piece(litres)


class _Sums:
    """Sums over rows from one place to another."""

    def __init__(self, waters, on, fills, lit, sure):
        self._done = np.concatenate([np.zeros((len(waters), 1)), np.cumsum(waters, axis=1)], 1)
        self._before, self._fills, self._lit = (
            np.concatenate([[0], np.cumsum(one)]) for one in (on, fills, lit))
        self._sure = sure

    def of(self, first, end):
        """Return (whether any fills, any is lit, sums of the sure, sums of the others)."""
        middle = min(max(self._sure, first), end)
        low, between, high = self._done.T[self._before[[first, middle, end]]]
        return (bool(self._fills[end] > self._fills[first]),
                bool(self._lit[end] > self._lit[first]), between - low, high - between)


def _light_that_goes_on(own, first_only=False):
    """Return the place of the first row of the light that the last row is in, else their end.

    first_only: how many rows behind the first one are of the same light instead.
    """
    on = own.rows.state == RUNNING
    parted = np.flatnonzero(~(on[1:] & on[:-1] & (np.diff(own.key) == 0)))
    if first_only:
        return int(parted[0]) if len(parted) else len(own) - 1
    if not on[-1]:
        return len(own)
    return int(parted[-1]) + 1 if len(parted) else 0


def _joined(one, other):
    return Rowed(Rows.joined([one.rows, other.rows]), *[
        np.concatenate([getattr(one, name), getattr(other, name)])
        for name in ("ends_s", "seconds", "key", "begins_s", "middles_s")])
