"""Export: what other programs read is what the board measured, whole or not there."""

import csv
import json
import os
import sys
import tracemalloc
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from forebay import cli
from forebay.exits import Exit
from forebay.export import ExportError, Wish, document, export, tables
from forebay.export.aside import Aside
from forebay.export.csvfile import CsvFile
from forebay.export.parquet import BY_DAY, BY_MONTH
from forebay.export.tables import Piece
from forebay.shelf import Anchor, Rehearsed, Shelf, query
from forebay.shelf.columns import (
    EVENT_COLUMNS,
    NUMBER,
    ROW_COLUMNS,
    TEXT,
    TIME,
    TRUTH,
    Column,
)
from forebay.shelf.rows import Rows
from keeper import events, modes
from keeper.channels import CONTACTS, LEVEL_MM, MOTOR_MDEGC, OPEN, PANEL_MV
from keeper.operation import orders
from keeper.protection import elements
from tests.export.shelves import LONG_DAY, MADRID, SHORT_DAY, fill, journal_of
from tests.shelf import encoder

ROOT = Path(__file__).resolve().parents[2]
def lines_of(path):
    with open(path, encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def test_a_csv_holds_each_row_once_with_its_time_state_contacts_and_si_values(shelf, tmp_path):
    done = export(shelf, 7, Wish(tmp_path / "rows.csv", UTC))
    lines = lines_of(tmp_path / "rows.csv")
    assert [int(line["seq"]) for line in lines] == list(range(1, 4 * 1440 + 1))
    assert done.lines == len(lines)
    assert (tmp_path / "rows.csv").read_bytes().count(b"\r") == 0
    line = lines[1]
    assert line["utc"] == "2026-03-27T12:02:00.000Z"
    assert line["state"] == "pumping"
    assert (line["contact_71h_up"], line["contact_71hh_up"]) == ("1", "0")
    # 10 mV and 1/16 K a step, as the nomenclature has it; row 1 stores 1 + the channel.
    assert float(line["panel_V"]) == (1 + PANEL_MV) * 0.01
    assert float(line["motor_degC"]) == (1 + MOTOR_MDEGC) / 16
    assert line["level_m"] == "0.001"
    assert lines[0]["level_m"] == ""
    # A minute behind the contact: a minute of drift at 50 parts in a million.
    assert float(line["bound_s"]) == pytest.approx(120 * 50e-6, abs=0.001)


def test_numbers_are_written_with_the_digits_that_they_have(shelf, tmp_path):
    export(shelf, 7, Wish(tmp_path / "v.csv", UTC, columns="panel_V,motor_degC"))
    assert {len(line["panel_V"].partition(".")[2]) for line in lines_of(tmp_path / "v.csv")} <= {
        1, 2}


@pytest.mark.parametrize(("day", "hours", "month"), [(SHORT_DAY, 23, 3), (LONG_DAY, 25, 10)])
def test_local_days_of_23_and_25_hours_are_exported_whole(tmp_path, day, hours, month):
    path = fill(tmp_path / "s", datetime(2026, month, int(day[-2:]) - 2, 12, tzinfo=UTC), 4 * 1440)
    with Shelf(path) as shelf:
        export(shelf, 7, Wish(tmp_path / "day.csv", MADRID, day=day))
    lines = lines_of(tmp_path / "day.csv")
    assert len(lines) == hours * 60
    told = [datetime.fromisoformat(line["utc"]).astimezone(MADRID) for line in lines]
    assert {str(each.date()) for each in told} == {day}
    assert (told[0].hour, told[0].minute, told[-1].hour, told[-1].minute) == (0, 0, 23, 59)


def test_parquet_lies_by_rig_and_local_day_and_reads_back_the_same(shelf, tmp_path):
    folder = tmp_path / "store"
    done = export(shelf, 7, Wish(folder, MADRID))
    assert done.days == ["2026-03-27", "2026-03-28", "2026-03-29", "2026-03-30", "2026-03-31"]
    assert done.files == [folder / f"rig=7/date={day}/rows.parquet" for day in done.days]
    # pandas with pyarrow finds the partitions by the folders' names alone.
    read = pd.read_parquet(folder)
    export(shelf, 7, Wish(tmp_path / "rows.csv", MADRID))
    plain = pd.read_csv(tmp_path / "rows.csv", parse_dates=["utc"])
    assert set(read.pop("rig").astype(int)) == {7}
    dates = read.pop("date").astype(str).tolist()
    assert dates == [str(day) for day in read["utc"].dt.tz_convert("Europe/Madrid").dt.date]
    pd.testing.assert_frame_equal(read.astype({"utc": plain["utc"].dtype}), plain,
                                  check_dtype=False, rtol=0, atol=0)
    assert np.isnan(read["level_m"].to_numpy()).sum() == len(range(0, 4 * 1440, 7))


def test_parquet_by_month_holds_the_same_lines_each_with_its_local_day(shelf, tmp_path):
    done = export(shelf, 7, Wish(tmp_path / "store", MADRID, by=BY_MONTH))
    assert done.files == [tmp_path / "store/rig=7/month=2026-03/rows.parquet"]
    export(shelf, 7, Wish(tmp_path / "days", MADRID))
    read, days = pd.read_parquet(done.files[0], partitioning=None), pd.read_parquet(
        tmp_path / "days")
    assert read["date"].tolist() == days["date"].astype(str).tolist()
    pd.testing.assert_frame_equal(read.drop(columns="date"), days.drop(columns=["rig", "date"]))


@pytest.mark.parametrize("by", [BY_DAY, BY_MONTH])
@pytest.mark.parametrize("what", [{}, {"events": True}])
def test_days_that_two_boards_wrote_at_once_are_exported_whole(tmp_path, by, what):
    begin = datetime(2026, 3, 27, 12, tzinfo=UTC)
    with Shelf(fill(tmp_path / "s", begin, 2 * 1440)) as shelf:
        for stream, number, data in journal_of(2 * 1440, 7):
            shelf.put_segment(7, 1, stream, number, data)
        shelf.add_anchor(7, Anchor(1, 1, 0, begin.timestamp() + 86400, 0.0))
        for life, board in enumerate(("a1", "b2")):
            shelf.note_life(7, life, board, None)
        done = export(shelf, 7, Wish(tmp_path / "store", UTC, by=by, **what))
        export(shelf, 7, Wish(tmp_path / "a.csv", UTC, **what))
    read = pd.read_parquet(tmp_path / "store")
    assert len(read) == done.lines == len(lines_of(tmp_path / "a.csv"))
    of_day = read[read["date"].astype(str) == "2026-03-28"]
    assert set(of_day["life"]) == {0, 1}
    assert {str(one)[:10] for one in of_day["utc"].tolist()} == {"2026-03-28"}


def test_only_the_columns_asked_for_in_their_order(shelf, tmp_path):
    export(shelf, 7, Wish(tmp_path / "a.csv", UTC, columns="level_m, utc"))
    assert (tmp_path / "a.csv").read_text().splitlines()[0] == "level_m,utc"
    export(shelf, 7, Wish(tmp_path / "b", UTC, columns="utc,level_m"))
    assert list(pd.read_parquet(tmp_path / "b").columns) == ["utc", "level_m", "rig", "date"]


def test_from_and_to_are_local_and_to_is_not_included(shelf, tmp_path):
    wish = Wish(tmp_path / "a.csv", MADRID, begin="2026-03-29T01:30", end="2026-03-29T03:30")
    export(shelf, 7, wish)
    # 01:30 is UTC+1, 03:30 UTC+2: one hour lies between, not two.
    assert [line["utc"] for line in lines_of(tmp_path / "a.csv")][:: 59] == [
        "2026-03-29T00:30:00.000Z", "2026-03-29T01:29:00.000Z"]


def test_events_are_exported_with_name_state_and_totals(shelf, tmp_path):
    export(shelf, 7, Wish(tmp_path / "e.csv", UTC, events=True))
    lines = lines_of(tmp_path / "e.csv")
    assert len(lines) == 96
    assert (lines[3]["event"], lines[3]["total_panel_mJ"], lines[3]["total_light_ms"]) == (
        "state", "3", "12")
    export(shelf, 7, Wish(tmp_path / "e", UTC, events=True))
    assert len(pd.read_parquet(tmp_path / "e")) == 96


NOT_READ = (encoder.INVALID,) * 14


def of_events(tmp_path, *records):
    """Exports events as CSV and as Parquet; returns the lines of both."""
    with Shelf(tmp_path / "s") as shelf:
        shelf.put_segment(7, 0, 1, 1, encoder.header(1, 1) + b"".join(
            encoder.event(seq, *record[:2], **record[2]) for seq, record in enumerate(records, 1)))
        shelf.add_anchor(7, Anchor(0, 1, 0, 1.5e9, 0.05))
        export(shelf, 7, Wish(tmp_path / "e.csv", UTC, events=True))
        export(shelf, 7, Wish(tmp_path / "e", UTC, events=True))
    return lines_of(tmp_path / "e.csv"), pd.read_parquet(tmp_path / "e").to_dict("records")


def test_contacts_that_nobody_read_are_empty(tmp_path):
    # The events of a start used to state the over-full float open and the stop pressed.
    lines, kept = of_events(
        tmp_path, (1, 0, {"code": 1, "values": NOT_READ}),
        (1, 0, {"code": 7, "values": NOT_READ}),
        (1, 5, {"code": 2, "contacts": 0b10, "values": NOT_READ}))
    for name in CONTACTS:
        told = "1" if name == "contact_71hh_up" else "0"
        assert [line[name] for line in lines] == ["", "", told]
        assert [line[name] for line in kept] == [None, None, told == "1"]


@pytest.mark.parametrize(("code", "argument", "argument2", "names"), [
    (events.ACTED, elements.number("71H-UP"), elements.STOP, ("71H-UP", "stop")),
    (events.STATE, modes.PUMPING, modes.TOO_WEAK, ("pumping", "too weak")),
    (events.ORDER, orders.LIGHT, orders.LOCKED,
     ("light", "locked out: a person must reset first")),
    (events.READING_BAD, LEVEL_MM, OPEN, ("LI-UP", "open")),
    (events.HELD_OFF, elements.TURBINE, 60, ("light", "")),
    (events.JOURNAL_LOST, 0, 12, ("detail", "")),
    (events.LIGHT_PLANNED, 1, 600, ("", "")), (99, 1, 2, ("", ""))])
def test_events_have_names_where_their_numbers_stand_for_something(
        tmp_path, code, argument, argument2, names):
    lines, kept = of_events(tmp_path, (
        1, 9, {"code": code, "argument": argument, "argument2": argument2}))
    told = (lines[0]["argument_name"], lines[0]["argument2_name"])
    assert told == names
    assert (kept[0]["argument_name"], kept[0]["argument2_name"]) == told
    assert (lines[0]["argument"], lines[0]["argument2"]) == (str(argument), str(argument2))


def test_a_bound_is_told_to_the_millisecond_and_never_less_than_it_is(shelf, tmp_path):
    export(shelf, 7, Wish(tmp_path / "a.csv", UTC, columns="bound_s,uptime_s"))
    for line in lines_of(tmp_path / "a.csv"):
        assert len(line["bound_s"].partition(".")[2]) <= 3
        true_s = float(line["uptime_s"]) * 50e-6
        assert true_s - 1e-6 <= float(line["bound_s"]) <= true_s + 0.001 + 1e-6


def test_the_export_states_its_period_and_what_waits_on_the_board(capsys, shelf, tmp_path):
    shelf.put_listing(7, 0, 1.5e9, [(0, 9, 4000)])
    code, out, _ = run(capsys, "export", "--shelf", shelf.path, "--out", tmp_path / "a.csv",
                       "--zone", "UTC", "--date", "2026-03-28")
    assert code == Exit.DONE
    assert "28 Mar 2026 00:00 to 28 Mar 2026 23:59" in " ".join(out.split())
    assert "Not wholly pulled: pull again (d00009)." in out
    _, out, _ = run(capsys, "export", "--shelf", shelf.path, "--out", tmp_path / "b.csv",
                    "--zone", "UTC", "--date", "2026-03-28", "--json")
    told = json.loads(out)
    assert (told["begin_utc"], told["end_utc"], told["not_wholly_pulled"]) == (
        "2026-03-28T00:00:00+00:00", "2026-03-28T23:59:00+00:00", ["d00009"])


def test_what_a_rehearsal_wrote_is_exported_as_rehearsed(capsys, shelf, tmp_path):
    shelf.note_rehearsal(7, Rehearsed("2016-01-01", "sun.csv", "hillside", 1,
                                      ((1.45e9, "strainer-blocked"),)))
    said = "nobody measured these figures, with these faults brought on: strainer-blocked"
    _, out, _ = run(capsys, "export", "--shelf", shelf.path, "--out", tmp_path / "a.csv")
    assert said in " ".join(out.split())
    _, out, _ = run(capsys, "export", "--shelf", shelf.path, "--out", tmp_path / "b.csv", "--json")
    assert said in json.loads(out)["rehearsed"][0]


def test_rows_of_a_board_that_no_contact_tied_to_time_are_exported_without_one(tmp_path):
    with Shelf(fill(tmp_path / "s", None, 100)) as shelf:
        export(shelf, 7, Wish(tmp_path / "a.csv", UTC))
        done = export(shelf, 7, Wish(tmp_path / "p", UTC))
    assert {line["utc"] for line in lines_of(tmp_path / "a.csv")} == {""}
    # Hive's name for the partition of what has no value.
    assert done.files == [tmp_path / "p/rig=7/date=__HIVE_DEFAULT_PARTITION__/rows.parquet"]
    read = pd.read_parquet(done.files[0], partitioning=None)
    assert len(read) == 100
    assert read["utc"].dropna().tolist() == []


def test_nothing_is_overwritten_unless_asked(shelf, tmp_path):
    place = tmp_path / "a.csv"
    place.write_text("mine")
    with pytest.raises(ExportError, match="--force"):
        export(shelf, 7, Wish(place, UTC))
    assert place.read_text() == "mine"
    export(shelf, 7, Wish(place, UTC, force=True))
    assert len(lines_of(place)) == 4 * 1440
    folder = tmp_path / "p"
    export(shelf, 7, Wish(folder, UTC, day="2026-03-28"))
    before = (folder / "rig=7/date=2026-03-28/rows.parquet").read_bytes()
    with pytest.raises(ExportError, match="date=2026-03-28/rows.parquet is there"):
        export(shelf, 7, Wish(folder, UTC))
    assert [path.name for path in (folder / "rig=7").iterdir()] == ["date=2026-03-28"]
    assert (folder / "rig=7/date=2026-03-28/rows.parquet").read_bytes() == before
    export(shelf, 7, Wish(folder, UTC, day="2026-03-29"))
    assert len(pd.read_parquet(folder)) == 2 * 1440


@pytest.mark.parametrize("name", ["s.csv", "link.csv", "s"])
def test_the_shelf_itself_is_never_replaced(tmp_path, name, capsys):
    # --force once replaced it, and all that was ever pulled was gone.
    begin = datetime(2026, 3, 27, tzinfo=UTC)
    path = fill(tmp_path / ("s" if name == "s" else "s.csv"), begin, 70)
    if name == "link.csv":
        (tmp_path / name).symlink_to(path)
    before = path.read_bytes()
    code = cli.run(["export", "--shelf", str(path), "--out", str(tmp_path / name), "--force"])
    said = capsys.readouterr().err
    assert (code, said.count("\n")) == (Exit.INPUT, 1)
    assert "is the shelf itself: name another file" in said
    assert path.read_bytes() == before


def test_events_and_rows_do_not_share_a_folder(shelf, tmp_path):
    export(shelf, 7, Wish(tmp_path / "p", UTC))
    with pytest.raises(ExportError, match="folder of its own"):
        export(shelf, 7, Wish(tmp_path / "p", UTC, events=True))


def test_without_pyarrow_parquet_is_refused_in_one_line_and_csv_is_not(
        shelf, tmp_path, monkeypatch):
    monkeypatch.setitem(sys.modules, "pyarrow", None)
    # The words once named an extra that no index has.
    with pytest.raises(ExportError, match=f"{sys.executable} -m pip install pyarrow") as caught:
        export(shelf, 7, Wish(tmp_path / "p", UTC))
    assert "\n" not in str(caught.value)
    assert not (tmp_path / "p").exists()
    export(shelf, 7, Wish(tmp_path / "a.csv", UTC))


# From the least number of rows on at which it no longer depends on them; the bound finds
# 25 bytes a row that are kept.
@pytest.mark.parametrize(("out", "rows"), [("a.csv", 4_000), ("p", 8_000)])
def test_four_times_the_rows_take_no_more_memory(tmp_path, monkeypatch, out, rows):
    def peak(rows):
        path = tmp_path / f"{rows}"
        with Shelf(fill(path, datetime(2026, 1, 1, tzinfo=UTC), rows)) as shelf:
            tracemalloc.start()
            export(shelf, 7, Wish(tmp_path / out, UTC, force=True))
            most = tracemalloc.get_traced_memory()[1]
            tracemalloc.stop()
        return most

    monkeypatch.setattr(query, "PART_SEGMENTS", 1)
    peak(100)  # the first loads libraries, which would count
    assert peak(4 * rows) < 1.05 * peak(rows)


def run(capsys, *arguments):
    """Returns (exit code, stdout, stderr) of a command line."""
    code = cli.run(list(map(str, arguments)))
    return code, *capsys.readouterr()


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["--columns", "volts"], "no column 'volts'; there are utc"),
        (["--columns", "utc,utc"], "each column once"),
        (["--date", "29.3.2026"], "write it as YYYY-MM-DD"),
        (["--date", "2026-03-28", "--to", "2026-03-29"], "without --from and --to"),
        (["--from", "yesterday"], "'yesterday' is not a time"),
        (["--from", "2026-03-29", "--to", "2026-03-28"], "is not before"),
        (["--zone", "Mars/Base"], "no time zone 'Mars/Base'"),
        (["--date", "1999-01-01"], "holds no rows of that rig in that time"),
    ],
)
def test_bad_input_is_one_line_and_code_2_and_leaves_no_file(
        capsys, shelf, tmp_path, arguments, said):
    out = tmp_path / "a.csv"
    code, stdout, err = run(capsys, "export", "--shelf", shelf.path, "--out", out, *arguments)
    assert (code, stdout) == (Exit.INPUT, "")
    assert said in err
    assert err.count("\n") == 1
    assert not out.exists()


def test_a_folder_that_cannot_be_written_is_one_line(capsys, shelf, tmp_path):
    (tmp_path / "file").write_text("")
    out = tmp_path / "file" / "a.csv"
    code, stdout, err = run(capsys, "export", "--shelf", shelf.path, "--out", out)
    assert (code, stdout, err.count("\n")) == (Exit.INPUT, "", 1)
    assert "cannot write" in err


def test_the_report_is_json_with_documented_keys(capsys, shelf, tmp_path):
    out = tmp_path / "p"
    code, stdout, err = run(capsys, "export", "--shelf", shelf.path, "--out", out, "--json",
                            "--zone", "Europe/Madrid")
    document = json.loads(stdout)
    assert code == Exit.DONE
    assert err == ""
    assert document["lines"] == 4 * 1440
    assert document["local_days"][0] == "2026-03-27"
    assert all(os.path.exists(path) for path in document["files"])
    described = (ROOT / "host" / "docs" / "json.md").read_text()
    assert [key for key in document if f"`{key}`" not in described] == []


def test_the_page_of_the_columns_is_current():
    assert (ROOT / "host" / "docs" / "columns.md").read_text() == document.text()


def test_values_outside_the_tables_of_this_forebay_are_unknown_not_errors():
    rows = Rows.empty(1)
    rows.state[:] = 200
    state = next(one for one in ROW_COLUMNS if one.name == "state")
    assert state.values(rows, None, None).tolist() == ["unknown"]


def by_pandas(columns, values):
    """Returns the lines that pandas writes of a piece, an other way to the same text."""
    frame = pd.DataFrame({column.name: values[column.name] for column in columns})
    for column in columns:
        if column.kind == TIME:
            known = frame[column.name].notna()
            texts = frame[column.name].dt.strftime("%Y-%m-%dT%H:%M:%S.%f").str[:23] + "Z"
            frame[column.name] = texts.where(known, "")
        if column.kind == TRUTH:
            frame[column.name] = [None if one is None else int(one) for one in frame[column.name]]
            frame[column.name] = frame[column.name].astype("Int64")
    return frame.to_csv(header=False, index=False, lineterminator="\n")


@pytest.mark.parametrize("events_too", [False, True])
def test_a_csv_is_the_text_that_pandas_writes_of_the_same_frame(shelf, tmp_path, events_too):
    columns = EVENT_COLUMNS if events_too else ROW_COLUMNS
    export(shelf, 7, Wish(tmp_path / "all.csv", UTC, events=events_too))
    _, text = (tmp_path / "all.csv").read_text().split("\n", 1)
    found = tables.pieces(shelf, 7, columns, UTC, None,
                          tables.EVENTS if events_too else tables.ROWS, lambda done, total: None)
    assert text == "".join(by_pandas(columns, piece.values) for piece in found)


def test_what_parts_fields_stands_in_quotes_and_an_empty_line_is_no_line(tmp_path):
    words = Column("words", "-", TEXT, 0, "", dict)
    table = {"words": np.array(['a "b", c', None, "d\u00b2 e", ""], dtype=object),
             "number": np.array([1e-7, np.nan, -0.5, 12345678.25])}
    number = Column("number", "m", NUMBER, 7, "", dict)
    for columns in ((words, number), (number,)):
        with Aside(tmp_path, force=True) as aside:
            file = CsvFile(tmp_path / "t.csv", columns, aside)
            file.write(Piece("", table, 4, 0.0, 0.0))
            file.close()
            aside.put_in_place()
        _, text = (tmp_path / "t.csv").read_text().split("\n", 1)
        assert text == by_pandas(columns, table)
