"""When the battery alone fed the board, and how far the valve went meanwhile.

Owns what counts as without sun, row by row and span by span, and the valve's travel by
these kinds: its motor takes from the battery too, a little in every move and none between.
Knows nothing of energies.
"""

import numpy as np

from forebay.balance.covered import either
from forebay.balance.instruments import stored_step
from forebay.balance.spans import LIGHT_STATES
from forebay.si import are_trusted
from keeper import channels as ch
from keeper.modes import CLOSING, RUNNING

# Spans without sun by what the board did: at rest, at rest just after a light (of the
# valve's last move a part may be told there), and with light.
RESTING, AFTER = -1, -2
DARK_KINDS = (RESTING, AFTER, *LIGHT_STATES)
# What is known of the panel's light in a row, as bits: either, or none if it is not read.
SUN, DARK, UNREAD = 16, 32, 64
# A panel in the dark gives no voltage, in dusk some volts; a guess between both.
DARK_V = 2.0
# A row that a span only touches does not say what the span was like: rows and events of one
# moment may differ by some scans.
TOUCHED_S = 0.5
# A position that stands still is read so many steps apart at most (a guess).
STILL_STEPS = 3
# Of a valve whose position is not read: a move is of half its travel, half of it either way.
UNREAD_MOVE = 0.5
PLACES = (0, *DARK_KINDS)  # of the sums below: by day, and of each kind
# By whether a row is lit (1), and read (2).
_BITS = np.array([UNREAD, UNREAD, DARK, SUN], np.uint8)


def sunlit(rows, fitted, least_mA: int) -> np.ndarray:
    """Return of each row SUN, DARK, or UNREAD.

    fitted: names of the instruments that are there; least_mA: so much the panel's current
    may read while there is none [its step].  A charger passes nothing below the battery's
    voltage, so that above it there is sun even if its current is too small to be told.
    Between the two, next to a row with sun, is a row in which it came or went.
    """
    volts, amps = rows.stored[ch.PANEL_MV], rows.stored[ch.PANEL_MA]
    supply = rows.stored[ch.SUPPLY_MV]
    dim = volts > DARK_V / stored_step(ch.PANEL_MV)
    # What is not trusted is the least value that there is: above it is everything.
    lit, is_told = volts > supply, are_trusted(supply)
    read = are_trusted(volts)
    lit &= is_told
    if "panel_meter" in fitted:
        lit |= dim & (amps > least_mA)
        read &= are_trusted(amps)
    else:
        read &= is_told
    beside = np.zeros(len(lit), bool)
    beside[1:] |= lit[:-1]
    beside[:-1] |= lit[1:]
    lit |= dim & beside
    return _BITS[lit.view(np.uint8) + 2 * read.view(np.uint8)]


def dark_of(sun, own, spans, lit_until_s: float = -np.inf, press_s: float = 0.0):
    """Return (of each span its kind, of each row that of its span), 0 where not without sun.

    sun: as of `sunlit`; own: the rows [covered.Rowed]; lit_until_s: when the last light
    before ended, on the axis [s]; press_s: how long the valve is pressed on at its end [s].
    Without sun is a span that lies in rows without.
    """
    seen = either(sun, *_reached(own, spans))
    is_dark = ((seen & DARK) > 0) & ((seen & (SUN | UNREAD)) == 0)
    lit = np.isin(spans.state, LIGHT_STATES)
    until_s = lit_until(spans, lit_until_s)
    after = np.append(lit_until_s, until_s[:-1])[: len(lit)] + press_s >= spans.begin_s
    kinds = np.where(is_dark, np.where(lit, spans.state, np.where(after, AFTER, RESTING)), 0)
    kinds = kinds.astype(np.int8)
    first, end = own.within(spans)
    rows = np.repeat(kinds, np.maximum(end - first, 0))
    return kinds, np.concatenate([rows, np.zeros(len(own) - len(rows), kinds.dtype)])


def lit_until(spans, before_s: float) -> np.ndarray:
    """Return of each span when the last light up to its end ended [s]; before_s: before all."""
    ends_s = np.where(np.isin(spans.state, LIGHT_STATES), spans.end_s, before_s)
    return np.maximum.accumulate(ends_s) if len(ends_s) else ends_s


def _reached(own, spans):
    """Return (first, end) places of the rows that each span reaches into, one at least."""
    middle_s = (spans.begin_s + spans.end_s) / 2
    low_s = np.minimum(spans.begin_s + TOUCHED_S, middle_s)
    high_s = np.maximum(spans.end_s - TOUCHED_S, middle_s)
    return (np.searchsorted(own.ends_s, low_s, side="right"),
            np.searchsorted(own.begins_s, high_s, side="left"))


def travels(rows, key, fitted) -> np.ndarray:
    """Return of each row (how far the valve went in it [of its travel], times it was pressed on).

    What cannot be told from standing still is none: a keeper that holds a light moves the
    valve now and then by less.  At the end of closing, and so at each start of the board,
    the valve is pressed on.  key: of the rows' boots.
    """
    same = key[1:] == key[:-1]
    was, now = rows.state[:-1], rows.state[1:]
    way, pressed = found = np.zeros((2, len(rows)))
    # A closing that begins a boot may have no row of its own.
    shut = np.flatnonzero(((was == CLOSING) | ~same) & (now != CLOSING))
    pressed[shut + 1] = _follows(rows, same, shut) | ~same[shut]
    pressed[:1] = (rows.uptime_ds[:1] == rows.scans[:1]) & (rows.state[:1] != CLOSING)
    if "valve_position" in fitted:
        steps = rows.stored[ch.VALVE_PERMILLE].astype(np.int32)
        moved = np.abs(np.diff(steps))
        some = np.flatnonzero(moved > STILL_STEPS)
        told = are_trusted(steps[some]) & are_trusted(steps[some + 1])
        way[some + 1] = moved[some] * stored_step(ch.VALVE_PERMILLE) * (
            told & _follows(rows, same, some))
    else:
        some = np.flatnonzero((was != now) & ((now == RUNNING) | (now == CLOSING)))
        way[some + 1] = UNREAD_MOVE * _follows(rows, same, some)
    return found


def _follows(rows, same, places):
    """Return whether the row behind each place follows it in one boot."""
    return same[places] & (rows.seq[places + 1].astype(np.int64) - rows.seq[places] == 1)


def by_kind(values: np.ndarray, kinds: np.ndarray) -> np.ndarray:
    """Return the sums of rows' values (of each line) by their kinds in the order of PLACES."""
    some = np.flatnonzero(values.any(axis=0))  # a valve mostly stands still
    values, kinds = values[:, some], kinds[some]
    return np.stack([values[:, kinds == kind].sum(axis=-1) for kind in PLACES], -1)


# So that stored volts can be compared as they are.
assert stored_step(ch.PANEL_MV) == stored_step(ch.SUPPLY_MV)
