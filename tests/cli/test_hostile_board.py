"""Whatever is on the line: no traceback, no fault of ours, no byte that steers the terminal."""

import os
import re
from datetime import UTC, datetime

import numpy as np
import pytest

from forebay import cli
from forebay.exits import Exit
from forebay.rig import Rig, load
from forebay.shelf import Shelf
from forebay.shelf.query import journal_between
from forebay.wire import client
from tests.wire import hostile

pytestmark = [
    pytest.mark.skipif(os.name == "nt", reason="no pseudo terminals on this system"),
    pytest.mark.usefixtures("descriptions_once")]

COMMANDS = {
    "pull": ["pull", "--shelf", "shelf"],
    "pull again": ["pull", "--shelf", "shelf", "--json"],
    "watch": ["watch", "--once"],
    "watch --json": ["watch", "--once", "--json"],
    "dispatch": ["dispatch", "rest", "--for", "1 h"],
    "reset": ["dispatch", "reset", "--seen-on-site"],
    "prove, undescribed": ["prove", "--list", "--shelf", "shelf"],
    "prove": ["prove", "--list", "--rig", "rig.toml", "--shelf", "shelf"],
    "prove --json": ["prove", "--list", "--rig", "rig.toml", "--shelf", "shelf", "--json"],
}
READERS = (["check"], ["balance"], ["review", "--out", "page.html"],
           ["export", "--out", "rows.csv"], ["export", "--events", "--out", "events.csv"],
           ["export", "--out", "store"], ["rehearse", "--replay", "last"],
           ["calibrate", "--rig", "rig.toml"],
           *(["calibrate", task, "--rig", "rig.toml", "--answers", "answers.toml", "--anew",
              "--dry-run"] for task in ("motor", "tank", "pump", "leak")))
ANSWERS = 'water_in_all = "900 L"\nwater_in_all_u = "30 L"\n'
HALF_SPAN_S, LAST_S = 3600.0, 2.0**33


@pytest.fixture(autouse=True)
def short_waits(monkeypatch):
    monkeypatch.setattr(client, "TIMEOUT_S", 0.15)
    monkeypatch.setattr(client, "TRIES", 2)
    monkeypatch.setattr(client, "SILENCE_S", 0.01)
    monkeypatch.setattr(client, "LONGEST_DRAIN_S", 0.1)
    monkeypatch.setattr(client, "LONGEST_BUSY_S", 0.2)
    monkeypatch.setattr(client, "BUSY_WAIT_S", 0.02)
    monkeypatch.setattr("forebay.watch.follow.ANSWER_S", 0.15)
    monkeypatch.setattr("forebay.dispatch.sending.JUDGED_S", 0.2)


def at_board(kind, *arguments):
    """Runs a command at a new board of a kind; returns its exit code."""
    board = hostile.board(kind)
    port = board.on_pty()
    try:
        return cli.run([*arguments, "--port", port])
    finally:
        board.close()


def is_clean(text):
    return all(letter.isprintable() or letter == "\n" for letter in text)


def test_there_are_more_than_25_kinds():
    assert len(hostile.KINDS) >= 25


@pytest.mark.parametrize("kind", hostile.KINDS)
def test_a_hostile_board_is_told_in_one_line_and_what_it_gave_is_read(
        kind, tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(Rig, "rig_id", 7)   # the board is of the rig that is described
    (tmp_path / "rig.toml").write_text(load().toml_text, encoding="utf-8")
    (tmp_path / "answers.toml").write_text(ANSWERS, encoding="utf-8")
    for name, arguments in COMMANDS.items():
        code = at_board(kind, *arguments)
        out, err = capsys.readouterr()
        assert code in (Exit.DONE, Exit.INPUT), f"{name}: {err}"
        assert is_clean(out), name
        assert is_clean(err), name
        if code == Exit.INPUT:
            said = [line for line in err.splitlines() if line.startswith("forebay: ")]
            assert len(said) == 1, f"{name}: {err}"
    if (tmp_path / "shelf").exists():
        read_all(capsys)


def first_span(shelf, rig_id):
    """Returns [FROM..TO] around a rig's first row of a known time, [] where it has none."""
    rows = journal_between(shelf, rig_id).rows
    ends_s = shelf.clock(rig_id).utc(rows.generation, rows.boot, rows.uptime_ds)
    known = ends_s[np.isfinite(ends_s) & (ends_s > HALF_SPAN_S) & (ends_s < LAST_S)]
    return ["..".join(f"{datetime.fromtimestamp(known[0] + by_s, UTC):%Y-%m-%dT%H:%MZ}"
                      for by_s in (-HALF_SPAN_S, HALF_SPAN_S))] if len(known) else []


def read_all(capsys):
    """Runs every command that reads a shelf."""
    with Shelf("shelf") as shelf:
        assert shelf.rigs()
        spans = [span for rig_id, _ in shelf.rigs() for span in first_span(shelf, rig_id)]
    for arguments in (*READERS, *(["rehearse", "--replay", span] for span in spans)):
        code = cli.run([*arguments, "--shelf", "shelf"])
        out, err = capsys.readouterr()
        assert code != Exit.FAULT, f"{arguments}: {err}"
        # The simulation's own fault, in a process apart, is one as well.
        assert "ended by itself" not in err, f"{arguments}: {err}"
        assert is_clean(out), arguments
        assert is_clean(err), arguments


@pytest.mark.parametrize(("kind", "said"), [
    ("lists files without an end", "gives a file 16384 without an end"),
    ("lists other files without an end", "gives a file 16384 without an end"),
    # Once "UNIQUE constraint failed", which is nothing that a person can act on.
    ("lists a file twice", "lists file 1 twice"),
    ("lists a file twice, of two sizes", "lists file 1 twice"),
    ("lists files that are too large", "says that file 1 has 65535 bytes, more than the 20000"),
])  # fmt: skip
def test_a_list_of_files_that_no_keeper_gives_is_told_as_that(
        kind, said, tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    assert at_board(kind, "pull", "--shelf", "shelf") == Exit.INPUT
    assert re.search(rf"the board at \S+ {said}", capsys.readouterr().err)
