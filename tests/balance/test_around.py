"""Parts of a rig without meters of its water: what lies around a part tells what moved in it."""

from dataclasses import replace
from functools import cache
from itertools import pairwise
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from forebay.balance import Measured, around, balance, balance_of
from forebay.balance.pieces import Moved
from forebay.balance.spill import SPILL
from forebay.balance.ways import BOUNDS, IDLE, MODEL
from forebay.shelf import Shelf
from keeper import channels as ch
from keeper.modes import PUMPING, RUNNING, STANDSTILL
from tests.balance import modest
from tests.balance import rig as plant
from tests.balance.modest import ORCHARD, evening
from tests.balance.test_ways import balanced

BEGAN_S = 1.5e9
# As described: 0.58 m across and 0.85 m high; what it holds up to its overflow.
OVERFLOW_L = 212.0
MORE_ROWS = 40
REST_ROWS = 800


@cache
def night(tries=True):
    """An evening of a full drum; behind it, in the dark, the pump's switch and tries of light."""
    journal, true = evening(hours=8.0)
    if tries:
        journal.rows.state[-20:-10] = PUMPING
        journal.rows.state[-10:] = RUNNING
    return journal, true


def states(journal):
    """(begin, end) of each state of its rows [s since 1970 UTC]."""
    rows = journal.rows
    edges = [0, *(np.flatnonzero(np.diff(rows.state.astype(int))) + 1).tolist(), len(rows)]
    return [(int(rows.state[first]), BEGAN_S + 10 * first, BEGAN_S + 10 * end)
            for first, end in pairwise(edges)]


def spilled(found: Any):
    """(how it is known, the value) of what went over the rim."""
    return found.derived.told[SPILL], found.derived.spill[SPILL]


def bounds(found: Any, key) -> Any:
    """How a figure is known that has bounds."""
    return found.told[key]


def part(journal, begin_s, end_s):
    return balance_of(journal, plant.clock(), ORCHARD, period=(begin_s, end_s))


def length_s(journal):
    return 10.0 * len(journal.rows)


@settings(max_examples=30, deadline=None)
@given(st.lists(st.floats(1.0, 30000.0), min_size=1, max_size=4, unique=True).map(sorted))
def test_parts_add_up_to_the_whole_wherever_a_night_is_cut(cuts):
    journal, _ = night()
    whole = balanced(journal)
    edges = [BEGAN_S - 1, *[BEGAN_S + one for one in cuts if one < length_s(journal)],
             BEGAN_S + length_s(journal) + 1]
    parts = [part(journal, *both) for both in pairwise(edges)]
    for table, key in (("water", "down"), ("energies", "released"), ("energies", "generator")):
        # What a total has no step for: a millijoule or a microlitre at each cut.
        assert sum(getattr(one, table)[key].value for one in parts) == pytest.approx(
            getattr(whole, table)[key].value, rel=1e-6), key
    for one in parts:
        assert one.told["down"].by == "between moves of the floats"
        told = bounds(one, "gained")
        if told.kind == BOUNDS:
            room_L = OVERFLOW_L * (1 + 2 * ORCHARD.model.tank_frac)
            assert -room_L <= told.low <= told.high <= room_L


def test_what_a_tank_gained_is_within_what_it_holds_however_often_it_was_filled():
    journal, _ = night()
    told = bounds(balanced(journal), "gained")
    full_L = 196 * (1 + 2 * ORCHARD.model.tank_frac) + 2 * 264 * ORCHARD.model.float_place_m
    assert told.kind == BOUNDS
    # 0.264 m2 of surface; the floats' places, and the area on the full drum, twice.
    assert -full_L <= told.low <= told.high <= full_L


@pytest.mark.parametrize(("down", "low", "high"), [(194.0, -194.0, 200.0), (300.0, -200.0, 100.0)])
def test_what_a_tank_gained_is_no_more_than_it_holds(down, low, high):
    """Two fillings of unknown begin or end, once "-210 to 230" of a drum of 212 L."""
    found = Moved(200.0, down=Measured(down), gained=Measured(-down), is_up_known=False,
                  up_more=(0.0, 400.0), gained_more=(0.0, 420.0))
    assert found.gained_bounds() == (low, high)


def test_a_part_that_holds_the_whole_light_knows_the_turbine_as_the_whole_does():
    journal, _ = night()
    whole = balanced(journal)
    (light_s, dark_s), = [(begin_s, end_s) for state, begin_s, end_s in states(journal)
                          if state == RUNNING and end_s - begin_s > 3600]
    one = part(journal, light_s - 60, dark_s + 60)
    assert one.told["water_to_wire"].kind == MODEL
    for got, all_of_it in ((one.steps, whole.steps), (one.energies, whole.energies)):
        key = "water_to_wire" if got is one.steps else "released"
        assert got[key].value == pytest.approx(all_of_it[key].value, rel=1e-9)
        assert got[key].u == pytest.approx(all_of_it[key].u, rel=1e-6)


@pytest.mark.parametrize("share", [0.2, 0.5, 0.9])
def test_a_light_cut_in_its_middle_let_down_its_share_and_knows_it_as_well(share):
    journal, true = night(tries=False)
    (light_s, dark_s), = [(begin_s, end_s) for state, begin_s, end_s in states(journal)
                          if state == RUNNING]
    lit_s = dark_s - light_s
    found = part(journal, BEGAN_S - 1, light_s + share * lit_s).water["down"]
    # A steady light, till the drum is empty a little before its end.
    assert found.value == pytest.approx(true["down"] * share, rel=0.03)
    by_light = balanced(evening(hours=3.0)[0]).water["down"]
    assert found.u / found.value < by_light.u / by_light.value


def tried(journal):
    """The time of the tries behind a night, with a minute before."""
    return BEGAN_S + length_s(journal) - 260, BEGAN_S + length_s(journal) + 1


def within_light(journal):
    """A time in the middle of its light."""
    (light_s, _), = [(begin_s, end_s) for state, begin_s, end_s in states(journal)
                     if state == RUNNING and end_s - begin_s > 3600]
    return light_s + 12000, light_s + 13000


@pytest.mark.parametrize("period_of", [tried, within_light])
def test_on_a_shelf_as_much_is_looked_at_as_tells(tmp_path, monkeypatch, period_of):
    # Of the tries, the light that tells them is further away than is read beside a period.
    monkeypatch.setattr(modest, "REST_ROWS", REST_ROWS)
    journal, _ = night.__wrapped__()
    period = period_of(journal)
    monkeypatch.setattr(around, "FIRST_S", 60.0)
    looked = []

    def add(found, steps, *more):
        looked.append(len(looked))
        return add_all(found, steps, *more)

    add_all = around._add_all
    monkeypatch.setattr(around, "_add_all", add)
    with Shelf(tmp_path / "s") as shelf:
        plant.fill_shelf(shelf, journal)
        found = balance(shelf, ORCHARD, 7, period)
    same = part(journal, *period)
    assert len(looked) > 1  # a minute around tells nothing yet
    assert found.water["down"].value == pytest.approx(same.water["down"].value, rel=1e-6)
    assert found.told["down"] == same.told["down"]
    assert found.told["down"].by == "between moves of the floats"


# What rests on a float --------------------------------------------------------------------


def stuck():
    """An evening whose float of a full tank never lifts: the pump goes on behind it."""
    journal, _ = evening(hours=3.0)
    journal.rows.contacts[:] |= 1 << ch.C_71H_UP - ch.COLUMNS
    place = np.flatnonzero(journal.rows.state == STANDSTILL)[:MORE_ROWS // 2]
    journal.rows.state[place] = PUMPING
    return journal


def test_a_float_that_never_moved_bounds_neither_spill_nor_what_came_up():
    journal = stuck()
    found = balanced(journal)
    told, value = spilled(found)
    assert (told.kind, told.low, value) == (BOUNDS, 0.0, None)
    assert "showed that it works" in told.by
    assert any("Lift one by hand" in note for note in found.notes)
    # 73 mL/s in bright sun from a brimful box, by the pump's figures: twice the rated 45.
    filled_s = 10.0 * np.count_nonzero(journal.rows.state == PUMPING)
    assert 0.045 * filled_s < told.high < 0.09 * filled_s
    # More may have come up than the drum has room for.
    assert bounds(found, "up").high == pytest.approx(told.high)
    room_L = OVERFLOW_L * (1 + 2 * ORCHARD.model.tank_frac)
    assert 196 < bounds(found, "gained").high <= room_L + 2 * 264 * ORCHARD.model.float_place_m


def test_a_float_that_moved_and_stopped_the_pump_tells_that_nothing_spilled():
    told, value = spilled(balanced(evening(hours=3.0)[0]))
    assert (told.kind, value.value) == (MODEL, 0)
    assert "it moved" in told.by


def test_a_part_of_a_filling_knows_by_the_float_that_moved_at_its_end():
    journal, _ = evening(hours=3.0)
    (_, begin_s, end_s), *_ = states(journal)
    found = part(journal, begin_s, end_s - 600)
    assert spilled(found)[0].kind == MODEL
    assert bounds(found, "up").high <= bounds(balanced(journal), "up").high


def test_a_pump_that_was_off_took_and_lifted_nothing():
    journal, _ = night()
    (light_s, _), = [(begin_s, end_s) for state, begin_s, end_s in states(journal)
                     if state == RUNNING and end_s - begin_s > 3600]
    found = part(journal, light_s, light_s + 3600)
    assert found.pump_h == 0
    for key, value in (("pump", found.energies["pump"]), ("up", found.water["up"])):
        assert found.told[key] == (MODEL, IDLE, None, None)
        assert (value.value, value.u) == (0, 0)


def test_over_nothing_is_no_bound():
    journal = replace(night()[0])
    # Of a drum that was dry before and behind, nothing came up though the pump was switched on.
    dark = part(journal, *tried(journal))
    assert (dark.pump_h > 0, dark.water["up"].value) == (True, pytest.approx(0, abs=1e-9))
    for one in (balanced(journal), balanced(stuck()), dark):
        assert not [key for key, told in one.told.items() if told.kind == BOUNDS
                    and (told.low or 0) <= 0 and told.high is None]
