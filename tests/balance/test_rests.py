"""Runs of rows at rest: their sums are those of a line, wherever the rows are cut."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from forebay.balance.rests import RUNS, Rests


def noise_of(scans):
    return 0.005 / np.sqrt(scans)


def rows(at_rest, holes=(), keys=None, seed=1):
    """Rows of a minute with a level: which are at rest, behind which there is a hole."""
    count = len(at_rest)
    draw = np.random.default_rng(seed)
    late_s = np.concatenate([[0.0], np.cumsum(np.isin(np.arange(count - 1), holes) * 500.0)])
    begins_s = 60.0 * np.arange(count) + late_s
    return (0.5 + draw.normal(0, 0.01, count), draw.integers(1, 600, count), begins_s,
            begins_s + 60.0, np.zeros(count, int) if keys is None else np.array(keys),
            np.array(at_rest, bool))


def of(columns, part=slice(None)):
    level_m, scans, begins_s, ends_s, keys, at_rest = (one[part] for one in columns)
    return Rests.of(level_m, scans, begins_s, ends_s, keys, at_rest, noise_of)


def test_a_run_goes_on_while_rows_at_rest_follow_each_other():
    found = of(rows([1, 1, 0, 1, 1, 1, 1, 1], holes=[4], keys=[0, 0, 0, 0, 0, 0, 0, 1]))
    assert found.rows.tolist() == [2, 2, 2, 1]
    assert found.begin_s.tolist() == [30, 210, 830, 950]
    assert found.end_s.tolist() == [90, 270, 890, 950]
    assert found.long().rows.tolist() == [2, 2, 2]


def test_the_sums_are_those_of_a_line_through_the_levels():
    level_m, scans, begins_s, ends_s, *_ = columns = rows([1] * 50)
    found = of(columns)
    slope = (found.wty - found.wt * found.wy / found.w) / (found.wtt - found.wt**2 / found.w)
    fitted = np.polyfit((begins_s + ends_s) / 2, level_m, 1, w=1 / noise_of(scans))
    assert slope.tolist() == pytest.approx([fitted[0]])


@settings(max_examples=60, deadline=None)
@given(st.lists(st.booleans(), min_size=1, max_size=40), st.lists(st.integers(0, 39), max_size=3),
       st.lists(st.integers(0, 40), max_size=4).map(sorted), st.integers(0, 40))
def test_parts_put_together_are_the_whole(at_rest, holes, cuts, restart):
    keys = [int(place >= restart) for place in range(len(at_rest))]
    columns = rows(at_rest, holes, keys)
    whole = of(columns)
    edges = [0, *[min(cut, len(at_rest)) for cut in cuts], len(at_rest)]
    found = Rests.joined([of(columns, slice(a, b)) for a, b in zip(edges, edges[1:],
                                                                     strict=False)])
    assert (found.head, found.tail) == (whole.head, whole.tail)
    for name in RUNS:
        assert getattr(found, name) == pytest.approx(getattr(whole, name), rel=1e-9, abs=1e-6)


def test_nothing_is_no_run():
    assert len(Rests.joined([]).w) == len(Rests.none().w) == 0
    busy = of(rows([0, 0]))
    assert busy.head
    assert busy.tail
    assert (len(busy.w), busy.head[2], busy.tail[2]) == (0, False, False)
