"""From rows to pieces between known contents of the tank, window by window.

Owns what must be known of the rows before: the piece that is begun, a light that has not
ended, and whether the last one ran dry, on which rows behind it count.  So no row needs to
be kept for a model of the rig.  Rows around a period belong to its pieces too: what the
tank held before it, and what it holds behind it, says what moved within.
"""

from collections.abc import Callable

import numpy as np

from forebay.balance.covered import Rowed
from forebay.balance.known import Mark, Marks
from forebay.balance.light import Light
from forebay.balance.pieces import BEFORE, BEHIND, PLACES, WITHIN, Piece
from forebay.balance.plant import Store
from forebay.balance.spans import FILL_STATES, HOLE_S, LIGHT_STATES, among
from forebay.balance.sums import FULL_FLOATS
from forebay.shelf import Rows
from keeper import channels as ch
from keeper.modes import RUNNING

# Rows that are looked at together, if no light is longer: a model of each of them takes room.
AT_ONCE = 16_384
LIT_FRAC = 0.5  # of the dimmest step: less is no light that anybody ordered; a guess


class Moving:
    """Takes rows in order.  light: how water follows from light; pieces: those of which any
    lies in the period, once `end` was called.

    Of the rows in the period: shown_J, the energy of the light that they show [J]; lifted_s, how
    long the pump ran [s] in rows at whose end a float of a full tank was lifted, by its name,
    and longest_s, at most before it fell again; spoke: names of those floats that moved there,
    or at the end of a filling that reaches into it.  is_known_before, is_known_behind: whether
    what lies on that side of the period is enough: no row further away would change anything.
    """

    def __init__(self, rig, fitted, shares: Callable[[Rowed], np.ndarray] | None = None):
        """Take the rig and the names of the instruments that are there.

        shares: returns which share of each row lies in which of PLACES [3, rows]; None = all
        rows are the period's.
        """
        values = rig.plant()
        self.light = Light(values, rig.sensors)
        self.pieces: list[Piece] = []
        self.shown_J = 0.0
        self.lifted_s = {name: 0.0 for name in FULL_FLOATS if name in fitted}
        self.longest_s, self._lifting_s = dict(self.lifted_s), dict(self.lifted_s)
        self.spoke: set[str] = set()
        self.is_known_before = self.is_known_behind = shares is None
        self._is_cut, self._shares = shares is not None, shares or _all_within
        self._least_W = LIT_FRAC * values["lamps.steps_W"][0]
        self._amps = ch.GENERATOR_MA if "lamp_meter" not in fitted else ch.LAMP_MA
        self._marks = Marks(values, Store(rig, None), fitted)
        # Most pieces have no light: they share this.
        self._nothing = np.zeros((len(PLACES), 2 + len(self.light.names)))
        self._held: Rowed | None = None
        self._last: Rowed | None = None  # the last row of those that are in pieces
        self._is_dry, self._waiting = False, []
        self._is_marked_behind = False
        self._has_shone = {BEFORE: False, BEHIND: False}  # a light that lies there as a whole
        self._open = self._piece(None)

    def add(self, part: Rowed) -> None:
        """Take the next rows."""
        for at in range(0, len(part), AT_ONCE):
            some = part.part(at, min(at + AT_ONCE, len(part)))
            held = some if self._held is None else joined(self._held, some)
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
        rows, shares = own.rows, self._shares(own)
        before = Rows.empty(0) if self._last is None else self._last.rows
        volts, amps = rows.si(ch.GENERATOR_MV), np.maximum(rows.si(self._amps), 0.0)
        watts = np.nan_to_num(volts * amps)
        self.shown_J += float((watts * own.seconds * shares[WITHIN]).sum())
        shone = watts > self._least_W
        running = np.flatnonzero(rows.state == RUNNING)
        if len(running):
            first = running[0]
            end = first + 1 + _light_that_goes_on(own.part(first, len(own)), first_only=True)
            self._settle(bool(shone[first:end].any()))
        marks, empty, since = self._marks.of(before, rows, shone, volts, self._is_dry)
        if self._is_cut:
            self._note_sides(own, shares, shone, marks)
        on = ~empty & among(rows.state, LIGHT_STATES) & np.isfinite(volts) & np.isfinite(amps)
        fills = among(rows.state, FILL_STATES)
        self._note_floats(own, shares, fills, marks)
        sums = _Sums(self.light.waters(rows.state[on], own.seconds[on], volts[on], amps[on]), on,
                     np.stack([fills * own.seconds, fills, (rows.state == RUNNING) & on]),
                     len(own) if since is None else since + 1,
                     shares if self._is_cut else None)
        ends = [(one.row + 1, 0, one) for one in marks]
        ends += [(edge, 1, None) for edge in self._edges(own)]
        begin = 0
        for end, _, mark in sorted(ends, key=lambda one: one[:2]):
            self._take(sums, begin, end)
            self._close(mark)
            begin = end
        self._take(sums, begin, len(own))
        self._is_dry = since is not None
        self._last = own.part(len(own) - 1, len(own))

    def _note_sides(self, own, shares, shone, marks):
        """Note whether enough is known on both sides of the period.

        Whether the tank stood dry, a light tells that was seen as a whole; what it holds, a
        mark behind that.
        """
        on = own.rows.state == RUNNING
        follows = np.diff(own.key) == 0
        begins = np.flatnonzero(on & ~np.append(self._last is None, on[:-1] & follows))
        begins = begins[begins > 0] if self._last is None else begins
        ends = np.flatnonzero(on & ~np.append(on[1:] & follows, False)) + 1
        lights = [(int(one), int(ends[np.searchsorted(ends, one, side="right")]))
                  for one in begins.tolist()]
        for side in (BEFORE, BEHIND):
            there = shares[side] >= 1.0
            firsts = [first for first, end in lights
                      if there[first] and shone[first:end].any()]
            since = 0 if self._has_shone[side] else min(firsts, default=len(own))
            self._has_shone[side] |= bool(firsts)
            found = [one.row for one in marks if there[one.row]]
            if side == BEFORE:
                self.is_known_before |= any(row >= since for row in found)
            else:
                self._is_marked_behind |= bool(found)
                self.is_known_behind |= self._is_marked_behind and self._has_shone[side]

    def _note_floats(self, own, shares, fills, marks):
        """Note which floats of a full tank moved in the period, and what was pumped beyond."""
        filled_s = shares[WITHIN] * own.seconds * fills
        for name in self.lifted_s:
            lifted = (own.rows.contacts >> (FULL_FLOATS[name] - ch.COLUMNS) & 1) == 0
            self.lifted_s[name] += float(filled_s[lifted].sum())
            # Of each time that it is lifted, the first goes on from the rows before.
            first = np.append(0, np.flatnonzero(np.diff(lifted)) + 1)
            sums = np.add.reduceat(filled_s * lifted, first)
            sums[0] += self._lifting_s[name] * lifted[0]
            self.longest_s[name] = max(self.longest_s[name], float(sums.max()))
            self._lifting_s[name] = float(sums[-1]) * bool(lifted[-1])
        self.spoke |= {one.name for one in marks
                       if one.name in FULL_FLOATS and shares[WITHIN, one.row] > 0}

    def _edges(self, own):
        """Return the places of rows in front of which something is not known, in order."""
        whole = own if self._last is None else joined(self._last, own)
        parted = np.diff(whole.key) != 0
        parted |= whole.ends_s[1:] - whole.seconds[1:] - whole.ends_s[:-1] > HOLE_S
        return (np.flatnonzero(parted) + 1 - (len(whole) - len(own))).tolist()

    def _take(self, sums, first, end):
        """Add rows to the piece that is begun."""
        piece = self._open
        fill_s, fills, lit, water, maybe = sums.of(first, end)
        piece.fill_s = piece.fill_s + fill_s
        piece.fill_rows = piece.fill_rows + fills
        piece.lit_rows = piece.lit_rows + lit
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

    def _close(self, mark: Mark | None):
        """End the piece that is begun, where a mark says what the tank holds, if any does."""
        piece = self._open
        piece.ended = mark and mark.litres
        if piece.fill_rows[WITHIN] or piece.lit_rows[WITHIN]:
            self.pieces.append(piece)
        if piece.fill_rows[WITHIN] and mark and mark.name in FULL_FLOATS:
            self.spoke.add(mark.name)
        self._open = self._piece(piece.ended)


class _Sums:
    """Sums over rows from one place to another, by PLACES."""

    def __init__(self, waters, on, by_row, sure, shares):
        self._waters = _done(waters, None if shares is None else shares[:, on])
        self._rows = _done(by_row, shares)
        self._before = np.concatenate([[0], np.cumsum(on)])
        self._sure = sure

    def of(self, first, end):
        """Return (time filled [s], rows that fill, rows that are lit, sums of the sure, sums of
        the others).
        """
        middle = min(max(self._sure, first), end)
        low, between, high = self._waters[self._before[[first, middle, end]]]
        return (*(self._rows[end] - self._rows[first]).T, between - low, high - between)


def _done(lines, shares):
    """Return of [lines, rows] the sums over the rows before each [rows + 1, PLACES, lines].

    shares: of each row by PLACES, None = all lies within.
    """
    found = np.zeros((lines.shape[1] + 1, len(PLACES), len(lines)))
    if shares is None:
        np.cumsum(lines.T, axis=0, out=found[1:, WITHIN])
        return found
    np.cumsum((shares[:, None] * lines).transpose(2, 0, 1), axis=0, out=found[1:])
    return found


def _all_within(own):
    shares = np.zeros((len(PLACES), len(own)))
    shares[WITHIN] = 1.0
    return shares


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


def joined(one: Rowed, other: Rowed) -> Rowed:
    """Return rows and those that follow them."""
    return Rowed(Rows.joined([one.rows, other.rows]), *[
        np.concatenate([getattr(one, name), getattr(other, name)])
        for name in ("ends_s", "seconds", "key", "begins_s", "middles_s")])
