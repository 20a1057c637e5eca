"""Periods, gaps, starts and times of a balance; steps; and its form as JSON."""

import math

import numpy as np
import pytest

from forebay.balance import Measured, balance, balance_of
from forebay.balance.compute import within
from forebay.balance.figures import maybe_step
from forebay.balance.model import ENERGIES, NODES, STEPS, WATER, Balance
from forebay.balance.ways import BY_FIGURE, MEASURED, Told
from forebay.shelf import Anchor, Clock, Rows, Shelf, ShelfError
from forebay.shelf.local import maybe_iso
from keeper import channels as ch
from keeper import events
from keeper.modes import CLOSING, PUMPING, RUNNING, STANDSTILL
from keeper.protection import elements
from tests.balance import rig as plant
from tests.balance.small import changed, happened, journal, kept, rows, totals

BEGAN_S = 1.5e9


def clock(*boots, generation=0):
    """A clock whose boots (number, begin [s after 1.5e9]) were each met at their start."""
    return Clock([Anchor(generation, boot, 0, BEGAN_S + begin, 0.05) for boot, begin in boots])


def still(*uptimes_ds, boot=1, **more):
    return [(boot, uptime_ds, 100, STANDSTILL, more.get("also", {})) for uptime_ds in uptimes_ds]


# Periods -----------------------------------------------------------------------------------


@pytest.fixture
def hour():
    """Rows of 10 s, totals and an event at 100, 200, 300 s after the begin."""
    return journal(
        rows(*still(*range(100, 4001, 100))),
        happened(*[(1, at, events.ACTED, 0, STANDSTILL, totals()) for at in (1000, 2000, 3000)]),
        kept(*[(1, at, totals()) for at in (1000, 2000, 3000)]))


def test_rows_of_a_period_end_within_it_and_records_at_its_ends_belong_to_it(hour):
    some = within(hour, clock((1, 0)), (BEGAN_S + 100, BEGAN_S + 200))
    assert list(some.rows.uptime_ds) == list(range(1100, 2001, 100))
    assert list(some.events["uptime_ds"]) == [1000, 2000]
    assert list(some.totals["uptime_ds"]) == [1000, 2000]


def test_a_period_is_one_of_time_not_of_uptime():
    one = journal(rows(*still(100, 200), *still(100, 200, boot=2)), None,
                  kept((1, 200, totals()), (2, 200, totals())))
    two_starts = clock((1, 0), (2, 1000))
    some = within(one, two_starts, (BEGAN_S + 900, BEGAN_S + 1015))
    assert [(boot, at) for boot, at in zip(some.rows.boot, some.rows.uptime_ds, strict=True)] == [
        (2, 100)]
    assert len(some.totals) == 0


def test_a_period_tells_two_lives_of_a_board_apart():
    # A board whose journal was made anew counts its starts from 1 again.
    old, new = rows(*still(100)), rows(*still(100), generation=1)
    both = Rows(**{name: np.concatenate([part, vars(new)[name]], axis=-1)
                   for name, part in vars(old).items()})
    one = journal(both, None, np.concatenate([
        kept((1, 100, totals())), kept((1, 100, totals()), generation=1)]))
    known = Clock([Anchor(0, 1, 0, BEGAN_S, 0.05), Anchor(1, 1, 0, BEGAN_S + 9000, 0.05)])
    for begin, generation in ((0, 0), (9000, 1)):
        some = within(one, known, (BEGAN_S + begin, BEGAN_S + begin + 60))
        assert list(some.rows.generation) == list(some.totals["generation"]) == [generation]
        told = balance_of(one, known, plant.DEMO, period=(BEGAN_S + begin, BEGAN_S + begin + 60))
        assert told.begin_utc_s == pytest.approx(BEGAN_S + begin, abs=0.2)
        assert told.end_utc_s == pytest.approx(BEGAN_S + begin + 10, abs=0.2)


def test_without_a_period_all_is_taken(hour):
    whole = balance_of(hour, clock((1, 0)), plant.DEMO)
    assert (whole.rows, whole.rig_id) == (40, 0)
    half = balance_of(hour, clock((1, 0)), plant.DEMO, period=(BEGAN_S, BEGAN_S + 200))
    assert half.rows == 20


# Counts ------------------------------------------------------------------------------------


def test_hours_are_those_that_the_keeper_counted():
    one = journal(rows(*still(100)), None, kept(
        (1, 0, totals(pump_ms=1_000, light_ms=2_000)),
        (1, 100, totals(pump_ms=1_801_000, light_ms=5_402_000))))
    found = balance_of(one, clock((1, 0)), plant.DEMO)
    assert (found.pump_h, found.light_h) == (0.5, 1.5)
    assert found.covered_s == 10


def test_starts_are_counted_in_rows_and_events():
    one = journal(rows(*still(100), *still(100, boot=2)),
                  happened((2, 0, events.BOOT, 0, CLOSING, totals()),
                           (4, 0, events.BOOT, 0, CLOSING, totals())))
    assert balance_of(one, clock((1, 0)), plant.DEMO).boots == 3


@pytest.mark.parametrize(("code", "action", "counted"), [
    (events.ACTED, elements.TRIP, 1), (events.ACTED, elements.TRIP + 1, 1),
    (events.ACTED, elements.TRIP - 1, 0), (events.BOOT, elements.TRIP, 0)])
def test_a_trip_is_an_element_that_acted_by_tripping(code, action, counted):
    said = happened((1, 0, code, 0, CLOSING, totals()))
    said["argument2"] = action
    assert balance_of(journal(None, said), clock((1, 0)), plant.DEMO).trips == counted


@pytest.mark.parametrize(("element", "counted"), [("37-PMP", 7), ("71L-LO", 0)])
def test_trips_that_were_told_as_a_count_are_counted(element, counted):
    said = happened((1, 0, events.REPEATED, 0, CLOSING, totals()))
    said["argument"] = elements.number(element)
    said["argument2"] = 7 | 60 << events.MINUTES_SHIFT
    assert balance_of(journal(None, said), clock((1, 0)), plant.DEMO).trips == counted


def test_a_gap_is_what_is_missing_between_two_rows_of_one_start():
    made = rows(*still(100, 200, 900, 1000), *still(100, 500, boot=2))
    made.seq[:] = [1, 2, 5, 6, 9, 11]
    both = kept(*[(boot, at, totals()) for boot, last in ((1, 1000), (2, 500))
                  for at in (0, last)])
    said = happened(changed(1, 0, STANDSTILL, STANDSTILL, totals()),
                    changed(2, 0, STANDSTILL, STANDSTILL, totals()))
    found = balance_of(journal(made, said, both), clock((1, 0)), plant.DEMO)
    # From 20 to 80 s, and from 10 to 40 s; between the starts nothing is missing.
    assert (found.gaps, found.gap_s) == (2, 90.0)
    assert "2 gaps in the rows, 2 min in all, are bridged by the totals." in found.notes


def test_rows_without_a_gap_say_nothing_of_gaps(hour):
    found = balance_of(hour, clock((1, 0)), plant.DEMO)
    assert (found.gaps, found.gap_s) == (0, 0.0)
    assert not any("gap" in note for note in found.notes)


# Temperature -------------------------------------------------------------------------------


def test_the_waters_density_is_that_of_its_mean_trusted_temperature():
    # 16 and 24 degC: 20 degC, 998.204 kg/m3; 100 L from 0.1 to 0.2 m: 9.15 m; in 1/16 K.
    def at(uptime_ds, state, level_mm, degC):
        also = {ch.LEVEL_MM: level_mm}
        if degC:
            also[ch.WATER_MDEGC] = degC * 16
        return (1, uptime_ds, 100, state, also)

    one = journal(
        rows(at(100, STANDSTILL, 100, 16), at(200, PUMPING, 150, 24), at(300, PUMPING, 200, None),
             at(400, STANDSTILL, 200, None)),
        happened(changed(1, 100, STANDSTILL, PUMPING, totals()),
                 changed(1, 300, PUMPING, STANDSTILL, totals())),
        kept((1, 0, totals()), (1, 400, totals())))
    found = balance_of(one, clock((1, 0)), plant.DEMO)
    low = 0.1                          # the row at rest before the pump
    stored = 998.204 * 9.7991 * (0.2 - low) * (9 + (0.2 + low) / 2)
    assert found.energies["stored"].value == pytest.approx(stored, rel=1e-5)
    assert not any("temperature" in note for note in found.notes)


def test_a_temperature_that_was_never_read_is_assumed_and_said(hour):
    found = balance_of(hour, clock((1, 0)), plant.DEMO)
    assert "The water's temperature was not measured: 12 degC assumed." in found.notes


# Times -------------------------------------------------------------------------------------


def test_begin_and_end_are_those_of_the_first_and_last_row(hour):
    found = balance_of(hour, clock((1, 0)), plant.DEMO)
    assert found.begin_utc_s == pytest.approx(BEGAN_S, abs=0.2)
    assert found.end_utc_s == pytest.approx(BEGAN_S + 400, abs=0.2)
    assert found.time_bound_s == pytest.approx(0.05, abs=0.2)
    assert not any("pull" in note for note in found.notes)


def test_a_start_that_no_pull_met_is_said_with_its_bound():
    one = journal(rows(*still(100), *still(100, 200, boot=2), *still(100, boot=3)))
    # Boot 2 of 20 s lies somewhere in the 1000 s between the ends of its neighbours.
    found = balance_of(one, clock((1, 0), (3, 1000)), plant.DEMO)
    said = [note for note in found.notes if "No pull met" in note]
    assert said[0].startswith("No pull met 1 of 3 starts of the board")
    assert found.time_bound_s is not None
    assert 400 < found.time_bound_s <= 1000
    assert not any("long from a pull" in note for note in found.notes)


@pytest.mark.parametrize(("bound_s", "said"), [(55.0, False), (66.0, True)])
def test_a_record_that_is_more_than_a_minute_uncertain_is_said(bound_s, said):
    # A crystal drifts, so that the bound grows with the time since the pull.
    day_ds = 86400 * 10
    one_day = clock((1, 0)).times([0], [1], [day_ds]).bound_s[0]
    long_ds = round(bound_s / one_day * day_ds)
    found = balance_of(journal(rows(*still(long_ds))), clock((1, 0)), plant.DEMO)
    assert found.time_bound_s == pytest.approx(bound_s, rel=0.06)
    assert any("It is long from a pull to some records" in note for note in found.notes) == said


def test_times_that_nothing_bounds_are_not_known(hour):
    found = balance_of(hour, Clock([]), plant.DEMO)
    assert found.begin_utc_s is found.end_utc_s is found.time_bound_s is None
    open_end = balance_of(journal(rows(*still(100), *still(100, boot=2))), clock((1, 0)),
                          plant.DEMO)
    assert open_end.begin_utc_s == pytest.approx(BEGAN_S, abs=0.2)
    assert open_end.time_bound_s is None


def test_contacts_that_contradict_each_other_are_said(hour):
    wrong = Clock([Anchor(0, 1, 0, BEGAN_S, 0.05), Anchor(0, 1, 100, BEGAN_S + 100, 0.05),
                   Anchor(0, 1, 3000, BEGAN_S + 90000, 0.05)])
    found = balance_of(hour, wrong, plant.DEMO)
    assert any("contradict" in note for note in found.notes)


# Steps -------------------------------------------------------------------------------------


def energies(**joules):
    return {name: Measured(float(joules.get(name, 100))) for name, _ in ENERGIES}


def steps(values):
    """The step efficiencies of some energies."""
    found = dict(values)
    for name, _ in STEPS:
        found[name] = maybe_step(BY_FIGURE[name][0], found)
    return {name: found[name] for name, _ in STEPS}


def test_steps_are_what_came_out_over_what_went_in():
    found = steps(energies(panel=1000, pump=800, stored=200, released=150, generator=30, lamps=27))
    assert {name: one and one.value for name, one in found.items()} == pytest.approx({
        "panel_to_pump": 0.8, "wire_to_water": 0.25, "water_to_wire": 0.2,
        "generator_to_lamps": 0.9, "round_trip": 0.05})
    assert list(found) == [name for name, _ in STEPS]


@pytest.mark.parametrize(("small", "gone"), [
    ("panel", {"panel_to_pump"}), ("pump", {"wire_to_water", "round_trip"}),
    ("released", {"water_to_wire", "round_trip"}), ("generator", {"generator_to_lamps"})])
def test_a_step_of_less_than_ten_joules_is_chance(small, gone):
    found = steps(energies(**{small: 10.0}))
    assert {name for name, one in found.items() if one is None} == gone
    assert None not in steps(energies(**{small: 10.1})).values()


# JSON --------------------------------------------------------------------------------------


BY = Told(MEASURED, "its meter")
WAY = {"way": MEASURED, "by": "its meter"}


def told(**changes):
    given = {
        "rig_id": 7, "stretches_s": [(0.0, 3600.0), (None, 86400.0)], "covered_s": 12.34,
        "from_rows_s": 2.34,
        "energies": {name: Measured(1234.5678).with_part("x", 0.25) for name, _ in ENERGIES},
        "nodes": {name: Measured(3.0).with_part("x", 1.5) for name, _ in NODES},
        "water": {name: Measured(-4.0).with_part("x", 2.0) for name, _ in WATER},
        "steps": {**{name: Measured(0.25) for name, _ in STEPS}, "round_trip": None},
        "told": dict.fromkeys(BY_FIGURE, BY),
        "light_h": 1.23456, "pump_h": 2.34567, "trips": 3, "boots": 4, "rows": 5,
        "gaps": 6, "gap_s": 7.89,
        "notes": ["a note"], "time_bound_s": 1.23456789}
    return Balance(**{**given, **changes}).as_json()


def without_half(figures):
    """Figures of a document without the halves of their 95 % intervals: see test_intervals."""
    halves = [one.pop("half_95") for one in figures.values() if one["u"] is not None]
    assert all(half > 0 or one["u"] == 0 for half, one in zip(
        halves, [one for one in figures.values() if one["u"] is not None], strict=True))
    return figures


def test_the_document_tells_every_figure_under_its_key():
    found = told()
    for table in ("energy_J", "node_residual_J", "water_L", "step_efficiency_frac"):
        without_half(found[table])
    assert found["energy_J"] == {
        name: {"value": 1234.57, "u": 0.25, **WAY} for name, _ in ENERGIES}
    assert found["node_residual_J"] == {
        name: {"value": 3.0, "u": 1.5, "normalised": 2.0, **WAY} for name, _ in NODES}
    for name, _ in WATER:
        normalised = {"normalised": -2.0} if name.endswith("residual") else {}
        assert found["water_L"][name] == {"value": -4.0, "u": 2.0, **normalised, **WAY}
    assert found["step_efficiency_frac"] == {
        **{name: {"value": 0.25, "u": 0.0, **WAY} for name, _ in STEPS},
        "round_trip": {"value": None, "u": None, **WAY}}
    plain = {"rig_id": 7, "begin_utc": "1970-01-01T00:00:00+00:00",
             "end_utc": "1970-01-02T00:00:00+00:00", "largest_bound_s": 1.23457,
             "covered": [{"begin_utc": "1970-01-01T00:00:00+00:00",
                          "end_utc": "1970-01-01T01:00:00+00:00"},
                         {"begin_utc": None, "end_utc": "1970-01-02T00:00:00+00:00"}],
             "covered_s": 12.3, "from_rows_s": 2.3,
             "light_h": 1.2346, "pump_h": 2.3457, "trips": 3, "boots": 4,
             "rows": 5, "gaps_bridged_by_totals": 6, "gaps_s": 7.9, "notes": ["a note"]}
    assert {key: found[key] for key in plain} == plain


def test_what_is_exact_or_not_known_is_null():
    found = told(nodes={"panel_node": Measured(3.0)}, stretches_s=[(None, None)],
                 time_bound_s=None)
    assert found["node_residual_J"]["panel_node"]["normalised"] is None
    assert found["begin_utc"] is None
    assert found["largest_bound_s"] is None
    assert maybe_iso(math.nan) is None


def test_a_shelf_is_balanced_for_the_rig_and_period_that_are_asked(tmp_path):
    with Shelf(tmp_path / "s") as shelf:
        plant.fill_shelf(shelf, plant.journal_of(plant.Errors()), 7)
        shelf.add_rig(8)
        assert balance(shelf, plant.DEMO, 7).rig_id == 7
        light = balance(shelf, plant.DEMO, 7).energies["lamps"].value
        assert light == pytest.approx(plant.TRUE_ENERGY_J["lamps"], rel=1e-3)
        early = balance(shelf, plant.DEMO, 7, (0, BEGAN_S + plant.FILL_S))
        assert early.energies["lamps"].value == 0
        with pytest.raises(ShelfError, match="holds no rows of that rig"):
            balance(shelf, plant.DEMO, 8)


def test_findings_of_the_journal_are_passed_on():
    one = journal(rows(*still(100)))
    one.findings.damaged_bytes = 12
    notes = balance_of(one, clock((1, 0)), plant.DEMO).notes
    assert set(one.findings.lines()) <= set(notes)
    assert one.findings.lines()


def test_light_belongs_to_the_states_of_light():
    read = {ch.FLOW_DOWN: 0}
    one = journal(rows((1, 50, 50, RUNNING, read), (1, 100, 50, STANDSTILL, read)), happened(
        changed(1, 0, STANDSTILL, RUNNING, totals()),
        changed(1, 50, RUNNING, STANDSTILL, totals(down=2_000_000))),
        kept((1, 100, totals(down=2_500_000))))
    assert balance_of(one, clock((1, 0)), plant.DEMO).water["down"].value == pytest.approx(2.0)
    assert np.isfinite(balance_of(one, clock((1, 0)), plant.DEMO).covered_s)
