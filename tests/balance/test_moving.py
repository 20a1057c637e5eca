"""What a model of the rig needs of its rows is the same in whichever parts they come."""

from functools import cache

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from forebay.balance.covered import Rowed
from forebay.balance.measured import alike
from forebay.balance.moving import Moving
from forebay.balance.spans import axis_of
from forebay.rig import instruments
from forebay.shelf import Rows
from tests.balance.modest import ORCHARD, evening

FITTED = frozenset(instruments.fitted(ORCHARD.sensors))


@cache
def evenings():
    """Two evenings, one behind the other: one ends with the drum, one by an order."""
    parts = []
    for hours in (30.0, 1.0):
        journal, _ = evening(hours=hours)
        parts.append(journal.rows)
    late = parts[1].take(slice(None))
    late.uptime_ds[:] += parts[0].uptime_ds[-1]
    late.seq[:] += parts[0].seq[-1]
    journal, _ = evening()
    journal.rows = Rows.joined([parts[0], late])
    return Rowed.of(journal.rows, axis_of(journal))


def pieces(cuts):
    """Returns the pieces of these rows, parted at some places, and the energy they show [J]."""
    moving = Moving(ORCHARD, FITTED)
    edges = [0, *cuts, len(evenings())]
    for first, end in zip(edges, edges[1:], strict=False):
        moving.add(evenings().part(first, end))
    return moving.end(), moving.shown_J


def told(litres):
    return None if litres is None else litres.value


@settings(max_examples=40, deadline=None)
@given(st.lists(st.integers(1, 4000), max_size=6).map(sorted))
def test_it_does_not_matter_where_rows_are_parted(cuts):
    whole, shown_J = pieces([])
    parted, again_J = pieces([min(one, len(evenings())) for one in cuts])
    assert again_J == pytest.approx(shown_J, rel=1e-9)
    assert len(parted) == len(whole) > 2
    for one, other in zip(parted, whole, strict=True):
        assert (told(one.begun), told(one.ended), one.fills, one.lit) == (
            told(other.begun), told(other.ended), other.fills, other.lit)
        assert one.water == pytest.approx(other.water, rel=1e-9, abs=1e-9)


def test_the_drum_that_ran_dry_is_a_known_content():
    whole, _ = pieces([])
    assert any(one.lit and one.ended is not None for one in whole)


@settings(max_examples=60, deadline=None)
@given(st.integers(1, 5), st.integers(1, 40), st.integers(0, 2**32 - 1))
def test_fewer_sources_have_the_same_variances_and_covariances(figures, sources, seed):
    parts = np.random.default_rng(seed).normal(size=(figures, sources))
    fewer = alike(parts)
    names = sorted({name for one in fewer for name in one})
    assert len(names) <= min(figures, sources)
    again = np.array([[one.get(name, 0.0) for name in names] for one in fewer])
    assert again @ again.T == pytest.approx(parts @ parts.T, rel=1e-9, abs=1e-9)
