"""A store of rigs: what is written is read back, and balances the same."""

import json
import math
import shutil

import numpy as np
import pytest

from forebay.balance import balance
from forebay.balance.model import ENERGIES, WATER
from forebay.described import Descriptions
from forebay.many.balancing import columns, row_of, rows_of
from forebay.many.document import as_document
from forebay.many.journals import Month
from forebay.many.page import COMPARED, lines_of, page, text
from forebay.many.spreading import balanced
from forebay.many.store import Store, StoreError, Task, put
from forebay.many.written import frame, write
from forebay.rig import load
from forebay.shelf import Anchor, Shelf
from forebay.shelf.local import day_bounds_s, day_of, zone_at
from keeper import channels as ch
from tests.expected.played import BEGIN_S, kept

RIGS = Descriptions(load().rig_id, load())
ZONE = zone_at(load().site)
DAY, MONTH = "2016-02-15", "2016-02"


@pytest.fixture(scope="module")
def shelf(tmp_path_factory):
    """A shelf of a played day of the demo's rig."""
    played = kept()
    with Shelf(tmp_path_factory.mktemp("shelf") / "shelf.sqlite") as found:
        rig_id = played.rig.rig_id
        found.add_rig(rig_id, played.rig.rig.name, played.rig.toml_text, played.rig.digest)
        for stream, number, data in played.segments:
            found.put_segment(rig_id, 0, stream, number, data)
        found.add_anchor(rig_id, Anchor(0, 1, 0, BEGIN_S, 0.05))
        yield found


@pytest.fixture(scope="module")
def store(shelf, tmp_path_factory):
    """That rig as a store."""
    folder = tmp_path_factory.mktemp("store")
    put(shelf, RIGS, folder, ZONE)
    return folder


def test_what_the_board_stored_comes_back_integer_by_integer(shelf, store):
    rig_id = kept().rig.rig_id
    journal = Month(Store(store), rig_id, MONTH).of(DAY)
    held = shelf.journal(rig_id).rows
    mine = held.take(np.isin(held.seq, journal.rows.seq))

    assert len(mine) == len(journal.rows) > 500
    for name in ("boot", "uptime_ds", "scans", "state", "contacts"):
        assert np.array_equal(getattr(mine, name), getattr(journal.rows, name)), name
    assert np.array_equal(mine.stored, journal.rows.stored)


def test_events_and_totals_come_back_too(shelf, store):
    rig_id = kept().rig.rig_id
    journal = Month(Store(store), rig_id, MONTH).of(DAY)
    held = shelf.journal(rig_id).events
    mine = held[np.isin(held["seq"], journal.events["seq"])]

    assert len(mine) > 5
    for name in ("code", "argument", "argument2", "state", "uptime_ds", "stored"):
        assert np.array_equal(mine[name], journal.events[name]), name
    fitted = [ch.T_PUMP, ch.T_UP, ch.T_LIGHT_MS]
    assert np.array_equal(mine["totals"][:, fitted], journal.events["totals"][:, fitted])
    assert len(journal.totals) > 20


def test_times_come_back_within_their_thousandths(store):
    month = Month(Store(store), kept().rig.rig_id, MONTH)
    rows = month.of(DAY).rows
    utc_s = month.clock.utc(rows.generation, rows.boot, rows.uptime_ds)

    assert np.abs(utc_s - (BEGIN_S + rows.uptime_ds / 10)).max() < 0.01


def test_the_balance_is_that_of_the_shelf_for_the_same_day(shelf, store):
    rig = kept().rig
    row = one_day(store, rig.rig_id)
    whole = balance(shelf, rig, rig.rig_id, day_bounds_s(day_of(DAY), ZONE))
    same = row_of(rig.rig_id, rig.rig.name, DAY, whole)

    assert row["fault"] is None
    assert row["rows"] == same["rows"]
    for key in [f"{one}_J" for one, _ in ENERGIES] + [f"{one}_L" for one, _ in WATER]:
        # About midnight the store's day sums up rows, where the shelf has totals on both sides.
        assert row[key] == pytest.approx(same[key], abs=3.0 * same[f"{key}_u"] + 1e-6), key
    # Totals are written once a minute at least: so much light lies on neither side of midnight
    # where the shelf has the totals beyond it and the store has not.
    assert row["light_h"] == pytest.approx(same["light_h"], abs=1 / 60)


def one_day(store, rig_id):
    """Returns the row of the day, worked out in this process."""
    return next(one for one in rows_of(str(store), Task(rig_id, MONTH)) if one["day"] == DAY)


def test_a_broken_day_is_told_and_does_not_end_the_others(store, monkeypatch):
    rig_id = kept().rig.rig_id
    whole = rows_of(str(store), Task(rig_id, MONTH))
    read = Month.of

    def broken(month, day):
        if day == whole[0]["day"]:
            raise ValueError("broken")
        return read(month, day)

    monkeypatch.setattr(Month, "of", broken)
    rows = rows_of(str(store), Task(rig_id, MONTH))

    assert len(whole) > 1
    assert rows[0]["fault"] == "ValueError: broken"
    assert rows[1:] == whole[1:]


def test_a_month_that_cannot_be_read_is_told_by_its_name(shelf, tmp_path):
    rig = kept().rig
    put(shelf, RIGS, tmp_path, ZONE)
    file = Store(tmp_path).file("rows", rig.rig_id, MONTH)
    file.write_bytes(file.read_bytes()[:1000])
    (row,) = rows_of(str(tmp_path), Task(rig.rig_id, MONTH))

    assert row["day"] == MONTH
    assert "ArrowInvalid" in row["fault"]


def test_dask_gives_the_same_rows_in_order(store, tmp_path):
    rows = balanced(store)
    rig_id = kept().rig.rig_id

    assert Store(store).rigs() == {rig_id: [MONTH]}
    assert [one["day"] for one in rows] == Month(Store(store), rig_id, MONTH).days
    assert next(one for one in rows if one["day"] == DAY) == one_day(store, rig_id)
    place = write(rows, tmp_path / "days.csv")
    assert place.read_text(encoding="utf-8").splitlines()[0].split(",") == columns()


def test_a_scheduler_that_is_not_there_is_told(store, monkeypatch):
    monkeypatch.setattr("forebay.many.spreading.FINDS_WITHIN_S", 0.5)

    with pytest.raises(StoreError, match="none answers there"):
        balanced(store, scheduler="tcp://127.0.0.1:9")


def test_a_folder_that_is_no_store_is_told(tmp_path):
    with pytest.raises(StoreError, match="--whole"):
        Store(tmp_path)


def test_a_rig_without_its_description_is_told_before_any_work(shelf, tmp_path):
    rig = kept().rig
    put(shelf, RIGS, tmp_path / "other", ZONE)
    shutil.rmtree(tmp_path / "other" / "rigs" / str(rig.rig_id))

    with pytest.raises(StoreError, match="export that rig again"):
        balanced(tmp_path / "other")


def table(count=3, days=4):
    """Returns rows of rigs, each pumping ten litres more than the one before."""
    rows = []
    for rig in range(1, count + 1):
        for day in range(days):
            row = dict.fromkeys(columns(), 1.0)
            rows.append({**row, "rig_id": rig, "rig": f"rig {rig}", "day": f"2026-03-0{day + 1}",
                         "fault": None, "covered_s": 86400.0, "up_L": 100.0 + 10.0 * rig,
                         "pump_J": 36000.0, "fill_residual_L": 0.1 if rig < 3 else 9.0,
                         "trips": int(rig == 2), "other_descriptions_utc": None})
    return frame(rows)


def test_rigs_stand_side_by_side_with_their_own_means():
    found = lines_of(table())

    assert [one.values[0] for one in found] == [110.0, 120.0, 130.0]
    lifted = next(place for place, one in enumerate(COMPARED) if one.unit == "L/Wh")
    assert found[0].values[lifted] == pytest.approx(11.0)
    assert [one.trips for one in found] == [0, 4, 0]
    assert [one.odd for one in found] == [0, 0, 4]


def test_a_figure_that_no_rig_knows_is_not_known_and_not_nothing():
    unknown = table()
    unknown["up_L"] = None
    found = lines_of(unknown)

    assert all(math.isnan(one.values[0]) for one in found)
    assert "Not known of any rig" in page(found)
    assert as_document(found)["rigs"][0]["figures"][0]["value"] is None


def test_text_page_and_document_hold_every_rig():
    found = lines_of(table())

    assert all(len(one) <= 80 for one in text(found))
    for one in found:
        assert one.name in "\n".join(text(found))
        assert f"{one.name} ({one.rig_id})" in page(found)
    assert len(json.loads(json.dumps(as_document(found), allow_nan=False))["rigs"]) == 3


def test_days_in_which_another_description_was_flashed_are_marked_in_text_and_page():
    flashed = table()
    assert "another description" not in "\n".join(text(lines_of(flashed)))
    assert "another description" not in page(lines_of(flashed))
    flashed.loc[[5, 6], "other_descriptions_utc"] = "2026-02-01T12:00:00+00:00"
    found = lines_of(flashed)

    assert [one.mixed for one in found] == [0, 2, 0]
    assert [one["mixed_days"] for one in as_document(found)["rigs"]] == [0, 2, 0]
    said = text(found)
    assert [one for one in said if one.endswith("*")] == [
        one for one in said if one.startswith("  rig 2")]
    assert "another description was flashed in 2 days" in " ".join(" ".join(said).split())
    assert all(len(one) <= 80 for one in said)
    assert "another description was flashed in 2 days" in page(found)


def test_a_day_that_cannot_be_balanced_keeps_its_mark(shelf, tmp_path, monkeypatch):
    rig_id = kept().rig.rig_id
    put(shelf, RIGS, tmp_path, ZONE)
    (tmp_path / "rigs" / str(rig_id) / f"{DAY}.mixed").write_text("2016-02-05T12:00:00+00:00\n")
    monkeypatch.setattr(Month, "of", lambda month, day: {}[day])
    marks = {one["day"]: one["other_descriptions_utc"]
             for one in rows_of(str(tmp_path), Task(rig_id, MONTH))}

    assert len(marks) > 1
    assert {day for day, mark in marks.items() if mark} == {DAY}


def test_why_a_rig_has_no_figure_of_a_day_is_said_where_none_of_its_days_is_whole():
    """Of a rig recorded from one morning to the next, h/d was a dash without a word."""
    def table(name, covered_s):
        return [{"rig_id": 1, "rig": name, "day": day, "light_h": 3.0, "trips": 0,
                 "covered_s": covered_s, "up_L": 100.0} for day in ("2026-03-01", "2026-03-02")]

    partly, whole = (lines_of(frame(table("shed", seconds))) for seconds in (43200.0, 86400.0))
    said = " ".join(" ".join(text(partly)).split())
    assert "none such of shed" in said
    assert "none such of shed" in page(partly)
    assert max(map(len, text(partly))) <= 80
    assert "none such" not in " ".join(text(whole))
    assert text(whole)[0] == "1 rig, 2 days"
