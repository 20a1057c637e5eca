"""What a model of the rig needs of its rows is the same in whichever parts they come."""

from functools import cache

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from forebay.balance.covered import Rowed
from forebay.balance.measured import alike
from forebay.balance.moving import Moving
from forebay.balance.spans import Axis, keys_of
from forebay.rig import instruments
from keeper import channels as ch
from keeper.modes import CLOSING, PUMPING, RUNNING, STANDSTILL
from tests.balance.modest import ORCHARD, evening

FITTED = frozenset(instruments.fitted(ORCHARD.sensors))


STATES = (STANDSTILL, PUMPING, RUNNING, CLOSING)


@cache
def shining():
    """A row of light of the smallest rig."""
    rows = evening()[0].rows
    return rows.take(np.flatnonzero((rows.state == RUNNING) & (rows.stored[ch.LAMP_MA] > 0))[:1])


def made(drawn):
    """Rows in any order of states, lit or dark, with floats that move; some are missing."""
    lit, count = shining(), len(drawn)
    rows = lit.take(np.zeros(count, int))
    state, shines, contacts, gap = (np.array(one) for one in zip(*drawn, strict=True))
    rows.state[:] = np.array(STATES)[state]
    for place in (ch.GENERATOR_MV, ch.LAMP_MA):
        rows.stored[place] *= shines
    rows.contacts[:] = contacts
    rows.seq[:] = np.arange(count) + np.cumsum(gap)
    rows.uptime_ds[:] = lit.scans[0] * (1 + rows.seq)
    key = keys_of(rows)
    return Rowed.of(rows, Axis.of_ends({(int(key[0]) >> 16, int(key[0]) & 0xFFFF): 1e6}))


def pieces(rowed, edges):
    """Returns the pieces of rows that come in parts, and the energy they show [J]."""
    moving = Moving(ORCHARD, FITTED)
    for first, end in zip([0, *edges], [*edges, len(rowed)], strict=True):
        moving.add(rowed.part(first, end))
    return moving.end(), moving.shown_J


def told(litres):
    return None if litres is None else litres.value


row = st.tuples(st.integers(0, 3), st.booleans(), st.integers(0, 127), st.integers(0, 9).map(
    lambda one: one // 9))


@settings(max_examples=100, deadline=None)
@given(st.lists(row, min_size=2, max_size=40), st.data())
def test_it_does_not_matter_where_rows_are_parted(drawn, data):
    rowed = made(drawn)
    edges = sorted(data.draw(st.lists(st.integers(0, len(rowed)), max_size=6)))
    whole, shown_J = pieces(rowed, [])
    parted, again_J = pieces(rowed, edges)
    assert again_J == pytest.approx(shown_J, rel=1e-9)
    assert len(parted) == len(whole)
    for one, other in zip(parted, whole, strict=True):
        assert (told(one.begun), told(one.ended), one.fills, one.lit) == (
            told(other.begun), told(other.ended), other.fills, other.lit)
        assert one.water == pytest.approx(other.water, rel=1e-9, abs=1e-9)


@settings(max_examples=60, deadline=None)
@given(st.integers(1, 5), st.integers(1, 40), st.integers(0, 2**32 - 1))
def test_fewer_sources_have_the_same_variances_and_covariances(figures, sources, seed):
    parts = np.random.default_rng(seed).normal(size=(figures, sources))
    fewer = alike(parts)
    names = sorted({name for one in fewer for name in one})
    assert len(names) <= min(figures, sources)
    again = np.array([[one.get(name, 0.0) for name in names] for one in fewer])
    assert again @ again.T == pytest.approx(parts @ parts.T, rel=1e-9, abs=1e-9)


def test_a_light_that_goes_out_and_comes_again_is_one_wherever_it_is_parted():
    lit, dark = (2, True, 0, 0), (2, False, 0, 0)
    rowed = made([(0, False, 0, 0), lit, dark, lit, (0, False, 0, 0)])
    (whole,), _ = pieces(rowed, [])
    for edge in range(1, 5):
        (parted,), _ = pieces(rowed, [edge])
        assert whole.ended is parted.ended is None
        assert parted.water == pytest.approx(whole.water)
