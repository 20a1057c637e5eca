"""Absent, not trusted and zero are three things on the shelf, start by start."""

import csv
from datetime import UTC, datetime

import numpy as np
import pytest

from forebay.export import Wish, export
from forebay.rig import instruments
from forebay.shelf import Anchor, Shelf
from forebay.shelf.checking import check
from forebay.shelf.fitted import TOTAL_FACTORS, Fitted, totals_measured
from forebay.shelf.query import fitted_of, series
from keeper import channels as ch
from keeper import events as ev
from keeper.partial import PartialTotals
from keeper.totals import POWERS
from tests.rig.less import without
from tests.shelf import encoder

RIG = 7
LACKS = 1 << ch.LEVEL_MM | 1 << ch.C_71L_UP | 1 << ch.PANEL_MA
VALUES = [100] * 14
VALUES[ch.LEVEL_MM] = VALUES[ch.PANEL_MA] = encoder.INVALID


def event(seq, boot, uptime_ds, code, argument2=0):
    return encoder.event(seq, boot, uptime_ds, code, 0, argument2, values=tuple(
        [encoder.INVALID] * 14), totals=[1000] * 10)


def told(*rows):
    """Returns Fitted of (generation, boot, code, argument 2)."""
    table = np.zeros(len(rows), [("generation", "<u2"), ("boot", "<u2"), ("code", "u1"),
                                 ("argument2", "<i4")])
    for at, row in enumerate(rows):
        table[at] = row
    return Fitted(table)


@pytest.fixture
def shelf(tmp_path):
    """A rig that lacked a level, a float and the panel's current at start 1, and at 2 nothing."""
    with Shelf(tmp_path / "shelf") as shelf:
        shelf.put_segment(RIG, 0, 1, 1, encoder.header(1, 1, RIG) + event(1, 1, 0, ev.BOOT)
                          + event(2, 1, 0, ev.NOT_FITTED, LACKS) + event(3, 1, 300, ev.STATE)
                          + event(4, 2, 0, ev.BOOT) + event(5, 2, 300, ev.STATE))
        contacts = 0b1111111 & ~(1 << ch.C_71L_UP - ch.COLUMNS)
        shelf.put_segment(RIG, 0, 3, 1, encoder.header(3, 1, RIG)
                          + encoder.row(1, 1, 600, contacts=contacts, values=VALUES)
                          + encoder.row(2, 2, 600, contacts=contacts, values=VALUES))
        for boot in (1, 2):
            shelf.add_anchor(RIG, Anchor(0, boot, 0, datetime(
                2026, 3, 27, 12, boot, tzinfo=UTC).timestamp(), 0.0))
        yield shelf


def test_what_was_absent_is_known_start_by_start(shelf):
    had = fitted_of(shelf, RIG)

    assert had.absent(np.array([0, 0]), np.array([1, 2])).tolist() == [LACKS, 0]


def test_a_start_whose_event_is_gone_had_what_the_next_one_had_else_the_one_before():
    had = told((0, 3, ev.BOOT, 0), (0, 3, ev.NOT_FITTED, 5), (0, 5, ev.BOOT, 0),
               (1, 1, ev.BOOT, 0), (1, 1, ev.NOT_FITTED, 9))

    starts = np.array([1, 3, 4, 5, 6])
    assert had.absent(np.zeros(5, int), starts).tolist() == [5, 5, 0, 0, 0]
    assert had.absent(np.ones(2, int), np.array([1, 7])).tolist() == [9, 9]
    assert had.absent(np.array([2]), np.array([1])).tolist() == [0]


def test_what_is_absent_is_said_from_start_to_start_and_is_no_gap(shelf):
    found = check(shelf, RIG)

    assert [one for one in found.notes if "no gap" in one] == [
        "No instrument reads II-PAN LI-UP LSL-UP, as the board says of its start 1: that is no"
        " gap."]
    assert found.losses == found.disagreements == []
    had = told(*[(0, boot, code, 1 << ch.LEVEL_MM) for boot in (1, 2, 3)
                 for code in (ev.BOOT, ev.NOT_FITTED)])
    assert had.notes() == ["No instrument reads LI-UP, as the board says of its starts 1 to 3:"
                           " that is no gap."]


def test_a_journal_without_any_start_lacks_nothing():
    assert told().absent(np.array([0, 1]), np.array([1, 2])).tolist() == [0, 0]


@pytest.mark.parametrize("form", ["csv", "parquet"])
def test_an_export_says_of_each_line_what_was_absent(shelf, tmp_path, form):
    lines = exported(shelf, tmp_path, form)

    # Both are empty in both lines; only the column `absent` tells the two apart.
    assert [line["level_m"] for line in lines] == ["", ""]
    assert [line["absent"] for line in lines] == ["panel_A level_m contact_71l_up", ""]
    assert [line["contact_71l_up"] for line in lines] == ["", "0"]
    assert {line["lamp_A"] for line in lines} == {"0.1"}


def exported(shelf, folder, form, **wish):
    if form == "csv":
        export(shelf, RIG, Wish(folder / "out.csv", UTC, **wish))
        with open(folder / "out.csv", encoding="utf-8", newline="") as file:
            return list(csv.DictReader(file))
    pandas = pytest.importorskip("pandas")
    pytest.importorskip("pyarrow")
    export(shelf, RIG, Wish(folder / "out", UTC, **wish))
    table = pandas.read_parquet(folder / "out").astype(object)
    return [{name: "" if pandas.isna(value) else str(int(value)) if isinstance(value, bool)
             else str(value) for name, value in line.items()} for line in table.to_dict("records")]


@pytest.mark.parametrize("form", ["csv", "parquet"])
def test_a_total_that_nothing_measures_is_empty_and_not_zero(shelf, tmp_path, form):
    lines = exported(shelf, tmp_path, form, events=True)

    panel = [line["total_panel_mJ"] for line in lines]
    assert panel[:3] == ["", "", ""]
    assert [float(value) for value in panel[3:]] == [1000, 1000]
    assert {float(line["total_lamp_mJ"]) for line in lines} == {1000}


def test_columns_of_a_program_tell_it_as_well(shelf):
    found = series(shelf, RIG, "level_m,contact_71l_up,absent")

    assert np.isnan(found["level_m"]).all()
    assert found["contact_71l_up"].tolist() == [None, False]
    assert found["absent"].tolist() == ["panel_A level_m contact_71l_up", None]


def test_which_totals_exist_is_what_the_board_itself_sums():
    for name in ("panel_meter", "pump_meter", "generator_meter", "lamp_meter", "supply_meter",
                 "flow_up", "flow_down"):
        fitted = instruments.mask(without(name).plant())
        found = totals_measured(fitted)
        bank = PartialTotals(1000, 1000, 1, fitted)
        summed = {row[0] for row in bank.powers}
        assert [found[ch.TOTALS[row[0]]] for row in POWERS] == [
            row[0] in summed for row in POWERS]
        has_supply = bool(fitted >> ch.SUPPLY_MA & 1)
        assert found["supply_in_mJ"] == found["supply_out_mJ"] == has_supply
        assert found["light_ms"]
        assert found["up_uL"] == bool(fitted >> ch.FLOW_UP & 1)
        assert found["down_uL"] == bool(fitted >> ch.FLOW_DOWN & 1)


def test_the_factors_of_the_powers_are_the_keepers():
    assert all(TOTAL_FACTORS[row[0]] == (row[1:],) for row in POWERS)
