"""A balance span by span, and in whichever parts it is worked out: all of it adds up."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from functools import cache

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from forebay.balance import balance, balance_of, by
from forebay.balance.compute import balance_of_steps
from forebay.balance.measured import summed
from forebay.balance.spans import axis_of
from forebay.shelf import Clock, Shelf, ShelfError
from forebay.shelf.stepwise import TABLES, Step
from keeper import channels as ch
from keeper import modes
from tests.balance import rig as plant
from tests.balance.small import changed, happened, journal, kept, rows, totals
from tests.export.shelves import LONG_DAY, MADRID, SHORT_DAY, fill

BEGAN_S = 1.5e9
WHOLE_S = plant.FILL_S + 2 * plant.REST_S + plant.LIGHT_S
ENERGIES = ("panel", "pump", "supply_in", "supply_out", "generator", "lamps", "clamp")
VOLUMES = ("up", "down", "gained")
COUNTS = ("covered_s", "light_h", "pump_h", "rows", "trips", "gaps", "gap_s")
J_PER_COUNT, L_PER_COUNT = 1e-3, 1e-6


@cache
def plain(seed=2):
    return plant.journal_of(plant.Errors(seed))


def cut_out(one, first, end):
    """The journal without some rows [places], and without the totals of their time."""
    gone = np.zeros(len(one.rows), bool)
    gone[first:end] = True
    low, high = 100 * first, 100 * end
    stays = (one.totals["uptime_ds"] <= low) | (one.totals["uptime_ds"] >= high)
    return replace(one, rows=one.rows.take(~gone), totals=one.totals[stays])


def figures(found):
    return {**{key: found.energies[key] for key in ENERGIES},
            **{key: found.water[key] for key in VOLUMES}}


times = st.lists(st.floats(1.0, WHOLE_S - 1.0), min_size=1, max_size=4, unique=True).map(sorted)
gaps = st.tuples(st.integers(5, 1200), st.integers(1, 70))


@settings(max_examples=40, deadline=None)
@given(times, gaps)
def test_parts_of_a_period_add_up_to_the_whole_wherever_it_is_cut(cuts, gap):
    one = cut_out(plain(), gap[0], gap[0] + gap[1])
    whole = balance_of(one, plant.clock(), plant.DEMO)
    edges = [BEGAN_S - 1, *[BEGAN_S + at_s for at_s in cuts], BEGAN_S + WHOLE_S + 1]
    parts = [balance_of(one, plant.clock(), plant.DEMO, period=period)
             for period in zip(edges, edges[1:], strict=False)]
    for name in COUNTS:
        assert sum(getattr(part, name) for part in parts) == pytest.approx(
            getattr(whole, name), abs=1e-3), name
    rounding = {**dict.fromkeys(ENERGIES, J_PER_COUNT), **dict.fromkeys(VOLUMES, L_PER_COUNT)}
    for key, all_of_it in figures(whole).items():
        total = summed([figures(part)[key] for part in parts])
        assert total.value == pytest.approx(all_of_it.value, rel=1e-9,
                                            abs=len(parts) * rounding[key] + 1e-6), key
        adds_up(total, all_of_it, key)


def adds_up(total, whole, key):
    """Calibrations that parts share add linearly, noise in quadrature; cuts cancel."""
    def named(one):
        return {name: part for name, part in one.parts.items() if isinstance(name, str)
                and not name.endswith(("rounding", "from rows", "floor", "rim"))}

    def noise(one):
        return sum(part**2 for name, part in one.parts.items()
                   if isinstance(name, tuple) and name[0] == "noise")

    assert named(total) == pytest.approx(named(whole), rel=1e-6, abs=1e-9), key
    cuts = [part for name, part in total.parts.items() if name[0] == "cut"]
    assert cuts == pytest.approx([0.0] * len(cuts), abs=1e-9)
    if key in ENERGIES:
        assert noise(total) == pytest.approx(noise(whole), rel=1e-6, abs=1e-12)


def steps(one, places):
    """A journal in steps that end behind some rows [places]."""
    edges = [0, *places, len(one.rows)]
    found = []
    for first, end in zip(edges, edges[1:], strict=False):
        low = int(one.rows.uptime_ds[first - 1]) if first else -1
        high = int(one.rows.uptime_ds[end - 1]) if end < len(one.rows) else 1 << 40
        tables = {}
        for name in TABLES:
            table = getattr(one, name)
            tables[name] = table[(table["uptime_ds"] > low) & (table["uptime_ds"] <= high)]
        behind = one.events[one.events["uptime_ds"] > high][:1]
        is_last = end == len(one.rows)
        found.append(Step(replace(one, rows=one.rows.take(slice(first, end)), **tables,
                                  findings=replace(one.findings)), behind, is_last, is_last))
    return found


@settings(max_examples=40, deadline=None)
@given(st.lists(st.integers(1, 1200), min_size=1, max_size=6, unique=True).map(sorted), gaps,
       st.booleans())
def test_in_whatever_parts_the_journal_is_read_the_balance_is_the_same(places, gap, silent):
    one = cut_out(plain(), gap[0], gap[0] + gap[1])
    if silent:
        one.rows.stored[ch.FLOW_UP] = -32768
    places = [place for place in places if place < len(one.rows)]
    whole = balance_of(one, plant.clock(), plant.DEMO)
    parts = balance_of_steps(lambda: steps(one, places), axis_of(one), [], plant.clock(),
                             plant.DEMO)
    told, same = parts.as_json(), whole.as_json()
    for document in (told, same):
        # The bound is looked for among some of the rows.
        assert document.pop("largest_bound_s") == pytest.approx(0.7, abs=0.1)
    assert approximate(told) == approximate(same)


def approximate(document):
    if isinstance(document, dict):
        return {key: approximate(value) for key, value in document.items()}
    if isinstance(document, list):
        return [approximate(value) for value in document]
    return pytest.approx(document, rel=1e-5, abs=1e-6) if isinstance(document, float) else document


@pytest.mark.parametrize(("day", "hours"), [(SHORT_DAY, 23), (LONG_DAY, 25)])
def test_a_day_when_the_clocks_change_has_its_own_length(tmp_path, day, hours):
    begin = datetime.fromisoformat(day).replace(tzinfo=UTC) - timedelta(days=1, hours=12)
    with Shelf(fill(tmp_path / "s", begin, 4 * 1440)) as shelf:
        found = list(by.balances(shelf, lambda _: plant.DEMO, 7, MADRID, by.DAY))
        whole = balance(shelf, plant.DEMO, 7)
        spans = list(by.spans_of(shelf, lambda _: plant.DEMO, 7, MADRID, by.DAY))
    assert [(begin_s, end_s) for begin_s, end_s, _ in found] == spans
    lengths = [round(one.covered_s) / 3600 for _, _, one in found]
    assert hours in lengths
    assert [end_s - begin_s for begin_s, end_s in spans][lengths.index(hours)] == hours * 3600
    assert sum(lengths) == pytest.approx(4 * 24)
    assert sum(one.water["up"].value for *_, one in found) == pytest.approx(
        whole.water["up"].value)
    months = list(by.spans_of(shelf_again(tmp_path), lambda _: plant.DEMO, 7, MADRID, by.MONTH))
    assert len(months) == 1


def shelf_again(folder):
    return Shelf(folder / "s", create=False)


def two_days():
    """Two days of 20 h: 4 h of pumping in the sun, 1 h of rest, 8 h of light, 7 h dark."""
    lengths_h = [(modes.PUMPING, 4, 2400), (modes.STANDSTILL, 1, 1500), (modes.RUNNING, 8, 0),
                 (modes.STANDSTILL, 7, 0)] * 2
    made, said, sums, at_ds, before = [], [], [(1, 0, totals())], 0, modes.STANDSTILL
    for state, hours, volts in lengths_h:
        said.append(changed(1, at_ds, before, state, totals(pump_ms=at_ds)))
        for _ in range(hours * 60):
            at_ds += 600
            made.append((1, at_ds, 600, state, {ch.PANEL_MV: volts, ch.LEVEL_MM: 500}))
        before = state
        sums.append((1, at_ds, totals(pump_ms=at_ds)))
    return journal(rows(*made), happened(*said), kept(*sums))


def test_nights_go_from_dusk_to_dawn_and_cycles_from_filling_to_filling(tmp_path):
    with Shelf(tmp_path / "s") as shelf:
        plant.fill_shelf(shelf, two_days())

        def hours(kind, period=None):
            return [tuple(round((at_s - BEGAN_S) / 3600, 2) for at_s in span)
                    for span in by.spans_of(shelf, lambda _: plant.DEMO, 7, MADRID, kind, period)]

        assert hours(by.NIGHT) == [(5, 20), (25, 40)]
        assert hours(by.CYCLE) == [(0, 20), (20, 40)]
        inside = (BEGAN_S + 10 * 3600, BEGAN_S + 30 * 3600)
        assert hours(by.NIGHT, inside) == [(10, 20), (25, 30)]
        assert hours(by.CYCLE, inside) == [(10, 20), (20, 30)]
        nights = [one for *_, one in by.balances(shelf, lambda _: plant.DEMO, 7, MADRID, by.NIGHT)]
    assert [one.covered_s for one in nights] == [15 * 3600] * 2


def test_another_kind_of_span_is_refused_and_an_empty_shelf_has_none(tmp_path):
    with Shelf(tmp_path / "s") as shelf:
        shelf.add_rig(7)
        assert list(by.spans_of(shelf, lambda _: plant.DEMO, 7, MADRID, by.DAY)) == []
        with pytest.raises(ValueError, match="week is none of day, night, month, cycle"):
            list(by.spans_of(shelf, lambda _: plant.DEMO, 7, MADRID, "week"))


def test_times_that_nothing_bounds_belong_to_no_span():
    found = balance_of(plain(), Clock([]), plant.DEMO, period=(0, 4e9))
    assert (found.rows, found.covered_s, found.energies["panel"].value) == (0, 0, 0)


def test_a_shelf_that_breaks_on_the_way_is_no_span_without_rows(tmp_path):
    # It used to be passed over, and the spans behind it with it.
    begin = datetime.fromisoformat(SHORT_DAY).replace(tzinfo=UTC)
    with Shelf(fill(tmp_path / "s", begin, 8 * 1440)) as shelf:
        found = by.balances(shelf, lambda _: plant.DEMO, 7, MADRID, by.DAY)
        next(found)
        shelf.close()
        with pytest.raises(ShelfError, match="cannot read the shelf"):
            list(found)
