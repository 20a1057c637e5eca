"""Shelves that somebody wrote to, or that were damaged: one line, and no fault of ours."""

import os
import shutil
import sqlite3

import pytest

from forebay import cli
from forebay.exits import Exit
from forebay.rig import load
from forebay.shelf import Rehearsed, Shelf
from tests.balance import rig as plant

pytestmark = pytest.mark.usefixtures("descriptions_once")

NASTY = ("text\x1b[31m", b"\x00\xff\x1b", None, -1, 2**62, 2**32, 0, "", 3.5, 1e300,
         float("inf"))
READERS = (["check"], ["balance"], ["check", "--json"], ["review", "--out", "page.html"],
           ["export", "--out", "rows.csv", "--force"],
           ["export", "--events", "--out", "events.csv", "--force"])
# Of past days: of a rig's own description, which is beside the shelf.
PAST = (["rehearse", "--replay", "2017-07-14T02:40Z..2017-07-14T02:50Z",
         "--set", "limits.trip_retries=1"], ["rehearse", "--replay", "last", "--json"],
        ["calibrate", "--rig", "rig.toml"],
        *(["calibrate", task, "--rig", "rig.toml", "--answers", "answers.toml", "--anew",
           "--dry-run"] for task in ("motor", "tank", "pump", "leak")))
ANSWERS = 'water_in_all = "900 L"\nwater_in_all_u = "30 L"\n'
TABLES = ("rigs", "segments", "held", "boots", "listings", "anchors", "rig_versions",
          "notes", "rehearsals", "records")


@pytest.fixture(scope="module")
def good(tmp_path_factory):
    """A shelf with something in each table."""
    path = tmp_path_factory.mktemp("shelf") / "good"
    with Shelf(path) as shelf:
        plant.fill_shelf(shelf, plant.journal_of(plant.Errors(2)), load().rig_id)
        rig_id = shelf.only_rig()
        shelf.add_rig(rig_id, "x", load().toml_text, "d")
        shelf.put_listing(rig_id, 0, 1.7e9, [(0, 1, 100)])
        shelf.add_note(rig_id, 1.7e9, "strainer cleaned")
        shelf.note_rehearsal(rig_id, Rehearsed("2016-01-01", "sun.csv", "", 1), 0)
        shelf.add_record("calibration", rig_id, {"task": "level"}, 1.7e9)
    with sqlite3.connect(path) as db:
        for table in TABLES:
            assert db.execute(f"SELECT count(*) FROM {table}").fetchone()[0], table
    db.close()
    return path


@pytest.fixture
def beside(tmp_path, monkeypatch):
    """Works in a folder that holds a rig's description and answers."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "rig.toml").write_text(load().toml_text, encoding="utf-8")
    (tmp_path / "answers.toml").write_text(ANSWERS, encoding="utf-8")


def read_all(capsys, path, commands=READERS):
    """Runs every command that reads a shelf; returns what they said of it on stderr.

    What two of them refuse in the same words is refused as it is opened: there it ends.
    """
    said = []
    for arguments in commands:
        capsys.readouterr()
        code = cli.run([*arguments, "--shelf", str(path)])
        out, err = capsys.readouterr()
        assert code != Exit.FAULT, f"{arguments}: {err}"
        assert "ended by itself" not in err, f"{arguments}: {err}"
        for text in (out, err):
            assert all(letter.isprintable() or letter == "\n" for letter in text), arguments
        if code == Exit.INPUT:
            # A description with several faults is told in a line each.
            lines = err.splitlines()
            assert len(lines) == 1 or "rig.toml: " in err, f"{arguments}: {err}"
            assert [line for line in lines if not line.startswith("forebay: ")] == []
        said.append(err)
        if code == Exit.INPUT and said[-2:] == [err, err]:
            break
    return said


@pytest.mark.usefixtures("beside")
def test_the_good_shelf_is_read(good, capsys):
    said = read_all(capsys, good, (*READERS, *PAST))
    assert len(said) == len(READERS) + len(PAST)
    assert [one for one in said if "damaged" in one] == []


def with_wrong_cells(good, table, values):
    """Makes a copy `s` of a shelf with each value in each column of a table, one at a time."""
    db = sqlite3.connect(good)
    columns = [row[1] for row in db.execute(f"PRAGMA table_info({table})")]
    db.close()
    for column in columns:
        for value in values:
            shutil.copy(good, "s")
            db = sqlite3.connect("s")
            db.execute("PRAGMA synchronous = OFF")
            try:
                with db:
                    db.execute(f"UPDATE {table} SET {column} = ? WHERE rowid ="
                               f" (SELECT min(rowid) FROM {table})", (value,))
            except sqlite3.IntegrityError:
                continue
            finally:
                db.close()
            yield "s"


@pytest.mark.parametrize("table", TABLES)
def test_a_cell_of_another_kind_or_size_is_no_fault(table, good, capsys, tmp_path, monkeypatch):
    # A wrongly typed cell was once "unexpected TypeError", exit code 1.
    monkeypatch.chdir(tmp_path)
    tried = 0
    for shelf in with_wrong_cells(good, table, NASTY):
        tried += 1
        read_all(capsys, shelf)
    assert tried > 10


@pytest.mark.usefixtures("beside")
@pytest.mark.parametrize(("table", "commands"), [
    ("segments", PAST[1:]), ("anchors", PAST[1:]), ("records", PAST[2:3])])
def test_a_wrong_cell_is_no_fault_of_what_works_on_past_days(table, commands, good, capsys):
    tried = 0
    for shelf in with_wrong_cells(good, table, ("text\x1b[31m", 0)):
        tried += 1
        read_all(capsys, shelf, commands)
    assert tried > 3


@pytest.mark.parametrize(("table", "column", "value"), [
    ("segments", "life", "one"), ("segments", "data", "text"), ("anchors", "utc_s", b"now"),
    ("anchors", "boot", -1), ("segments", "first_boot", None), ("rig_versions", "toml", b"x"),
    ("boots", "last_uptime_ds", 2**40),
])  # fmt: skip
def test_it_is_told_which_cell_is_wrong(table, column, value, good, capsys, tmp_path):
    path = tmp_path / "s"
    shutil.copy(good, path)
    with sqlite3.connect(path) as db:
        db.execute(f"UPDATE {table} SET {column} = ?", (value,))
    db.close()
    before = path.read_bytes()
    code = cli.run(["balance", "--shelf", str(path)])
    _, err = capsys.readouterr()
    assert code == Exit.INPUT
    assert f"is damaged: table {table}, row " in err
    assert f": {column} must be " in err
    assert path.read_bytes() == before


@pytest.mark.parametrize("table", TABLES)
@pytest.mark.parametrize("change", ["DROP TABLE {}", "ALTER TABLE {} RENAME TO other",
                                    "DELETE FROM {}"])
@pytest.mark.usefixtures("beside")
def test_a_table_that_is_gone_is_no_fault(table, change, good, capsys):
    shutil.copy(good, "s")
    with sqlite3.connect("s") as db:
        db.execute(change.format(table))
    db.close()
    read_all(capsys, "s", (*READERS, *PAST))


@pytest.mark.parametrize("content", [b"", b"\x00", b"\x1b[31m not a shelf \x07\n" * 99,
                                     b"SQLite format 3\x00" + b"\xff" * 5000])
def test_a_file_that_is_no_shelf_is_no_fault(content, capsys, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    name = "s\x1b[31m"
    (tmp_path / name).write_bytes(content)
    for said in read_all(capsys, name):
        assert said.startswith("forebay: ")
    assert (tmp_path / name).read_bytes() == content


def test_a_shelf_cut_anywhere_is_no_fault(good, capsys, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    whole = good.read_bytes()
    for share in (0.02, 0.1, 0.5, 0.9):
        (tmp_path / "s").write_bytes(whole[:int(len(whole) * share)])
        read_all(capsys, "s")


@pytest.mark.parametrize("place", ["folder", "nowhere/s", "/dev/null"])
def test_a_place_that_can_be_no_shelf_is_one_line(place, capsys, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    os.mkdir("folder")
    for said in read_all(capsys, place):
        assert said.startswith("forebay: ")
