"""Two boards of one rig name: each keeps a history of its own, whichever is pulled when."""

import sqlite3
from datetime import timedelta

import pytest

from forebay import cli
from forebay.balance import balance
from forebay.exits import Exit
from forebay.shelf import Shelf, ShelfError
from forebay.shelf.lives import at_once, choose
from forebay.wire import pull
from tests.balance import rig as plant
from tests.balance.test_cut_pulls import Board
from tests.wire.board import FakeBoard
from tests.wire.test_pull import NOON, pty

A, B = 0xE660583883123456, 0xE6605838831299FF
NAME_A, NAME_B = f"{A:016x}", f"{B:016x}"


@pytest.fixture(scope="module")
def journals():
    return {A: Board(1), B: Board()}


@pytest.fixture
def bring(journals):
    """Pulls a board that has written so many rows, begun at a time; returns the report."""
    boards = []

    def pulled(shelf, chip, rows, began=NOON, told=True):
        live = {"uptime_ds": 100 * rows, "board_id": chip if told else 0,
                "journal_budget_B": 500_000 if chip == A else 300_000}
        boards.append(FakeBoard(journals[chip].files(rows), live))
        now = began + timedelta(seconds=10 * rows)
        return pull(boards[-1].on_pty(), shelf, now_utc=lambda: now)

    yield pulled
    for board in boards:
        board.close()


def figures(shelf, board=None):
    """Returns what a balance says of a shelf, or of one board on it."""
    choose(shelf, 7, board)
    found = balance(shelf, plant.DEMO, 7).as_json()
    shelf.board = None
    return found


TURNS = [(A, 400), (B, 500), (A, 900), (B, 1200), (A, 1270)]


@pty
@pytest.mark.parametrize("later_days", [0, 30])
def test_boards_pulled_in_turn_are_as_each_alone(bring, tmp_path, later_days):
    # Used to be counted twice, each time that the other board came back.
    began = {A: NOON, B: NOON + timedelta(days=later_days)}
    with Shelf(tmp_path / "both") as both:
        for chip, rows in TURNS:
            report = bring(both, chip, rows, began[chip])
            assert not report.new_journal
            assert report.board == f"{chip:016x}"
        assert report.other_boards == [NAME_B]
        assert both.boards(7) == {0: NAME_A, 1: NAME_B}
        for chip, name in ((A, NAME_A), (B, NAME_B)):
            with Shelf(tmp_path / name) as alone:
                for other, rows in TURNS:
                    if other == chip:
                        bring(alone, chip, rows, began[chip])
                assert figures(both, name) == figures(alone)
        assert both.budget_B(7, 0) == 500_000
        assert at_once(both, 7) == ([] if later_days else [NAME_A, NAME_B])


@pty
def test_a_board_that_took_anothers_place_goes_on_with_the_rigs_history(bring, tmp_path):
    with Shelf(tmp_path / "both") as both:
        bring(both, A, 1270)
        bring(both, B, 900, NOON + timedelta(days=30))
        found = figures(both)
        one, other = figures(both, NAME_A), figures(both, NAME_B)
    for name in ("panel", "pump", "generator", "lamps", "supply_in"):
        both_J = one["energy_J"][name]["value"] + other["energy_J"][name]["value"]
        assert found["energy_J"][name]["value"] == pytest.approx(both_J, rel=1e-5)
    assert found["covered"] == [*one["covered"], *other["covered"]]
    said = " ".join(found["notes"])
    assert f"2 boards: {NAME_A} from 2026-03-01" in said
    assert f"{NAME_B} from 2026-03-31" in said


@pty
def test_two_boards_that_ran_at_once_are_told_and_never_added_up(
        bring, tmp_path, capsys):
    with Shelf(tmp_path / "both") as both:
        bring(both, A, 900)
        report = bring(both, B, 900)
    assert f"another board of this rig as well ({NAME_A})" in " ".join(report.lines())
    for command in (("balance",), ("review", "--out", tmp_path / "p.html")):
        line = [*map(str, command), "--shelf", str(tmp_path / "both")]
        assert cli.run(line) == Exit.INPUT
        err = capsys.readouterr().err
        assert f"2 boards of that rig that ran at the same time: {NAME_A}, {NAME_B}" in err
        assert err.count("\n") == 1
        assert cli.run([*line, "--board", "3456"]) == Exit.DONE
        capsys.readouterr()
    cli.run(["check", "--shelf", str(tmp_path / "both"), "--zone", "UTC"])
    said = " ".join(capsys.readouterr().out.split())
    assert f"2 boards: {NAME_A} from" in said
    assert "ran at the same time" in said
    # An export keeps them apart by a column; it once said nothing of it.
    line = ["export", "--out", str(tmp_path / "r.csv"), "--shelf", str(tmp_path / "both")]
    assert cli.run(line) == Exit.DONE
    assert "ran at the same time" in capsys.readouterr().err
    assert cli.run([*line, "--board", "3456", "--force"]) == Exit.DONE
    assert "ran at the same time" not in capsys.readouterr().err


@pytest.mark.parametrize(("text", "said"), [
    ("e660", "is more than one of"), ("7777", "is none of"), ("", "is more than one of")])
def test_a_board_that_cannot_be_told_is_refused_with_those_there_are(tmp_path, text, said):
    with Shelf(tmp_path / "s") as shelf:
        for life, name in enumerate((NAME_A, NAME_B)):
            shelf.note_life(7, life, name, None)
        with pytest.raises(ShelfError, match=f"{said}.*{NAME_A}, {NAME_B}"):
            choose(shelf, 7, text)


@pty
def test_what_was_pulled_before_the_shelf_knew_boards_is_gone_on_with_by_its_own(
        bring, tmp_path):
    with Shelf(tmp_path / "s") as shelf:
        bring(shelf, A, 400, told=False)
    with Shelf(tmp_path / "s") as shelf:
        assert bring(shelf, B, 500).new_journal is False
        assert bring(shelf, A, 900).new_journal is False
        assert shelf.boards(7) == {0: NAME_A, 1: NAME_B}


@pty
def test_a_board_that_did_not_tell_its_number_is_not_said_to_be_another(bring, tmp_path):
    with Shelf(tmp_path / "s") as shelf:
        bring(shelf, A, 400, told=False)
        bring(shelf, B, 500)
        assert at_once(shelf, 7) == []


def test_a_shelf_of_the_second_form_is_brought_up_to_date(tmp_path):
    path = tmp_path / "s"
    with Shelf(path) as shelf:
        shelf.put_listing(7, 0, 1.5e9, [(0, 1, 99)])
    with sqlite3.connect(path) as db:
        db.executescript("""
            DROP TABLE lives; DROP TABLE notes; DROP TABLE rehearsals; DROP TABLE records;
            CREATE TABLE l (rig_id, life, utc_s, stream, number, size,
                            PRIMARY KEY (rig_id, stream, number));
            INSERT INTO l SELECT * FROM listings; DROP TABLE listings;
            ALTER TABLE l RENAME TO listings; PRAGMA user_version = 2;""")
    db.close()
    with Shelf(path, create=False) as shelf:
        assert shelf.listings(7) == [(1.5e9, 0, [(0, 1, 99)])]
        shelf.note_life(7, 1, NAME_B, 5)
        shelf.put_listing(7, 1, 1.6e9, [(0, 1, 44)])
        assert len(shelf.listings(7)) == 2
