"""`note`: kept in local time, listed, removed, and refused in one line."""

import json
from pathlib import Path

import pytest

from forebay import cli
from forebay.exits import Exit
from forebay.shelf import Rehearsed, Shelf
from tests.balance import rig as plant

pytestmark = pytest.mark.usefixtures("descriptions_once")


@pytest.fixture
def run(capsys, tmp_path):
    """Gives a function that runs a command on a shelf: (code, stdout, stderr)."""
    path = tmp_path / "shelf.sqlite"
    with Shelf(path) as shelf:
        plant.fill_shelf(shelf, plant.journal_of(plant.Errors(2)))

    def done(*arguments):
        capsys.readouterr()
        code = cli.run([*map(str, arguments), "--shelf", str(path)])
        return code, *capsys.readouterr()

    return done


def test_a_note_is_kept_in_local_time_listed_and_removed(run):
    code, out, _ = run("note", "strainer cleaned", "--at", "2026-03-01T14:30",
                       "--zone", "Europe/Madrid")
    assert (code, out) == (Exit.DONE, "kept: 1 01 Mar 2026 14:30  strainer cleaned\n")
    assert run("note")[1].strip() == "1 01 Mar 2026 13:30  strainer cleaned"
    assert run("note", "--to", "2026-03-01")[1] == ""
    found = json.loads(run("note", "--json")[1])["notes"]
    assert [(one["number"], one["utc"]) for one in found] == [(1, "2026-03-01T13:30:00+00:00")]
    assert run("note", "--remove", 1)[0] == Exit.DONE
    assert json.loads(run("note", "--json")[1]) == {"notes": []}


def test_that_there_are_no_notes_is_said_of_the_time_only_where_one_was_asked_for(run):
    assert "no notes yet" in run("note")[2]
    assert "no notes in that time" in run("note", "--date", "2026-03-01")[2]


@pytest.mark.parametrize("wrong", [
    ("note", ""), ("note", "x" * 501), ("note", "x", "--at", "yesterday"),
    ("note", "x", "--at", "2990-01-01"), ("note", "x", "--at", "2100-01-01"),
    ("note", "--at", "2026-03-01"),
    ("note", "x", "--remove", 1), ("note", "--remove", 9), ("note", "--from", "x")])
def test_what_cannot_be_noted_is_refused_in_one_line(run, wrong):
    code, out, err = run(*wrong)
    assert (code, out, err.count("\n")) == (Exit.INPUT, "", 1)
    assert json.loads(run("note", "--json")[1]) == {"notes": []}


def test_every_key_of_the_notes_is_described(run):
    run("note", "x", "--at", "2026-03-01")
    described = (Path(__file__).parents[2] / "host/docs/json.md").read_text()
    part = described.split("## forebay note --json")[1].split("\n## ")[0]
    found = json.loads(run("note", "--json")[1])
    assert [key for key in [*found, *found["notes"][0]] if f"`{key}`" not in part] == []


def test_a_shelf_that_a_rehearsal_left_says_so_in_every_balance(run, tmp_path):
    with Shelf(tmp_path / "shelf.sqlite") as shelf:
        shelf.note_rehearsal(shelf.only_rig(), Rehearsed(
            "2016-01-01", "sun.csv", "hillside", 1, ((1.45e9, "jet-blocked"),),
            assumed=("The night is assumed dark.",)))
    for arguments in (("balance",), ("balance", "--json")):
        said = " ".join(run(*arguments)[1].split())
        assert "nobody measured these figures" in said
        assert "jet-blocked" in said
