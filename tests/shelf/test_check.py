"""The check: what is sound is called so; every kind of loss is found, placed and explained."""

import functools
import json
import re
from pathlib import Path

import numpy as np
import pytest

from forebay import cli
from forebay.exits import Exit
from forebay.shelf import Anchor, Shelf
from forebay.shelf.checking import Verdict, check
from forebay.shelf.checking.losses import BEFORE, REMOVED, UNKNOWN, UNWRITTEN
from keeper import channels as ch
from keeper import events as ev
from tests.balance import rig as plant
from tests.shelf import encoder

ROOT = Path(__file__).resolve().parents[2]
DETAIL, EVENTS, SUMMARY, TAIL = range(4)
ROWS_A_SEGMENT = 256
QUARTER = 90  # rows of 10 s


@functools.cache
def truth():
    """Returns the rows of a plant that keeps its laws, and its totals at the end of each."""
    state, true = plant.scans()
    rows = plant.journal_of(plant.Errors()).rows
    return rows, plant.totals_of(state, plant.readings(true, plant.Errors()))[rows.uptime_ds - 1]


class Board:
    """The files of a board, to be spoilt one by one."""

    def __init__(self):
        self.rows, self.totals = truth()
        self.ends = np.arange(QUARTER - 1, len(self.rows), QUARTER)
        self.segments = {}
        for first in range(0, len(self.rows), ROWS_A_SEGMENT):
            self.add_detail(first)
        self.segments[EVENTS, 1] = encoder.header(EVENTS, 1) + encoder.event(1, 1, 0, ev.BOOT)
        self.add_summaries(self.totals)

    def add_detail(self, first, number=None):
        number = number or first // ROWS_A_SEGMENT + 1
        data = encoder.header(DETAIL, number)
        for at in range(first, min(first + ROWS_A_SEGMENT, len(self.rows)), 64):
            some = self.rows.take(slice(at, at + 64))
            heads = zip(some.boot.tolist(), some.uptime_ds.tolist(), some.scans.tolist(),
                        some.state.tolist(), some.contacts.tolist(), strict=True)
            block = [(*head, value) for head, value in
                     zip(heads, some.stored.T.tolist(), strict=True)]
            data += encoder.block(at + 1, block)
        self.segments[DETAIL, number] = data

    def add_summaries(self, totals):
        data = encoder.header(SUMMARY, 1)
        for seq, end in enumerate(self.ends, 1):
            data += encoder.summary(seq, 1, int(self.rows.uptime_ds[end]), 900,
                                    [(0, 0, 0)] * 14, totals[end].tolist())
        self.segments[SUMMARY, 1] = data

    def add_events(self, *more):
        """Adds event records behind the first."""
        self.segments[EVENTS, 1] += b"".join(more)

    def put(self, shelf):
        for (stream, number), data in self.segments.items():
            shelf.put_segment(7, 0, stream, number, data)
        shelf.add_anchor(7, Anchor(0, 1, 0, 1.5e9, 0.05))


@pytest.fixture
def board():
    return Board()


@pytest.fixture
def checked(tmp_path):
    def run(board):
        with Shelf(tmp_path / "s") as shelf:
            board.put(shelf)
            return check(shelf, 7)

    return run


def lost(found):
    """Returns (first, last, why) of each loss of rows."""
    return [(loss.first, loss.last, loss.why) for loss in found.losses]


def test_a_whole_shelf_is_sound_and_its_totals_agree_with_its_rows(board, checked):
    found = checked(board)
    assert found.verdict == Verdict.SOUND
    assert (found.rows, found.summaries, found.events) == (len(board.rows), 14, 1)
    assert found.compared == 13 * 7
    assert found.losses == []


@pytest.mark.parametrize("at", [60, 400])
def test_a_changed_bit_is_found_placed_and_costs_its_block_alone(board, checked, at):
    data = bytearray(board.segments[DETAIL, 2])
    data[at] ^= 4
    board.segments[DETAIL, 2] = bytes(data)
    found = checked(board)
    assert found.verdict == Verdict.DAMAGED
    assert [(one.name, one.at <= at < one.at + one.size) for one in found.segments.damage] == [
        ("d00002", True)]
    assert [(last - first + 1, why) for first, last, why in lost(found)] == [
        (64, "d00002 is damaged")]
    assert found.rows == len(board.rows) - 64


def test_a_segment_that_the_board_removed_is_a_loss_with_its_reason(board, checked):
    del board.segments[DETAIL, 3]
    board.add_events(encoder.event(2, 1, 9000, ev.JOURNAL_LOST, DETAIL, 3))
    found = checked(board)
    assert lost(found) == [(513, 768, REMOVED)]
    loss = found.losses[0]
    # Its neighbours end at 5120 s and at 7690 s of the boot.
    assert (loss.after_s, loss.before_s) == pytest.approx((1.5e9 + 5120, 1.5e9 + 7690), abs=0.5)


def test_rows_that_the_board_could_not_write_are_told_from_those_that_nobody_explains(
        board, checked, tmp_path):
    whole = board.segments[DETAIL, 3]
    board.add_detail(576, 3)
    board.segments[DETAIL, 4] = encoder.header(DETAIL, 4) + board.segments[DETAIL, 4][16:]
    assert board.segments[DETAIL, 3] != whole
    del board.segments[DETAIL, 4], board.segments[DETAIL, 5]
    assert lost(checked(board)) == [(513, 576, UNKNOWN)]
    board.add_events(encoder.event(2, 1, 52000, ev.JOURNAL_LOST, DETAIL, 99))
    with Shelf(tmp_path / "other") as shelf:
        board.put(shelf)
        assert lost(check(shelf, 7)) == [(513, 576, UNWRITTEN)]


def test_rows_from_before_the_first_pull_are_no_fault_but_the_record_is_not_whole(board, checked):
    del board.segments[DETAIL, 1]
    found = checked(board)
    assert lost(found) == [(1, 256, BEFORE)]
    assert [loss.is_explained for loss in found.losses] == [True]
    assert found.verdict == Verdict.INCOMPLETE


def test_what_the_board_still_holds_is_to_be_pulled(board, tmp_path):
    with Shelf(tmp_path / "s") as shelf:
        whole = board.segments.pop((DETAIL, 2))
        board.put(shelf)
        shelf.put_listing(7, 0, 1.5e9 + 13000, [(DETAIL, 2, len(whole))])
        found = check(shelf, 7)
        assert lost(found) == [(257, 512, "d00002 is not wholly pulled yet: pull again")]
        assert found.segments.not_pulled == ["d00002"]
        assert found.verdict == Verdict.INCOMPLETE


def test_a_missing_event_and_a_missing_summary_are_losses(board, checked):
    board.add_events(encoder.event(4, 1, 9000, 2))
    data = board.segments[SUMMARY, 1]
    board.segments[SUMMARY, 1] = data[: 16 + 4 * 184] + data[16 + 5 * 184 :]
    assert len(encoder.summary(1, 1, 1, 1, [(0, 0, 0)] * 14)) == 184
    assert lost(checked(board)) == [(2, 3, UNKNOWN), (5, 5, UNKNOWN)]


def test_rows_that_exist_twice_and_differ_are_named(board, checked):
    same = (1, 100, 100, int(board.rows.state[0]), 0, board.rows.stored[:, 0].tolist())
    other = (*same[:4], 5, same[5])
    board.segments[TAIL, 1] = (encoder.header(TAIL, 1) + encoder.row(1, *other)
                               + encoder.totals(1, 1, 100, board.totals[0].tolist()))
    found = checked(board)
    assert found.conflicts == [(0, 1)]
    assert found.verdict == Verdict.DAMAGED


def test_a_segment_of_a_newer_version_is_said_and_explains_what_is_missing(board, checked):
    body = board.segments[DETAIL, 2][16:]
    board.segments[DETAIL, 2] = encoder.header(DETAIL, 2, version=2) + body
    found = checked(board)
    assert found.segments.newer == [("d00002", 2)]
    assert lost(found) == [(257, 512, "d00002 is of a newer version of the journal: kept, not"
                                      " read")]


def test_a_header_that_names_another_segment_is_damage(board, checked):
    board.segments[DETAIL, 2] = encoder.header(DETAIL, 9) + board.segments[DETAIL, 2][16:]
    found = checked(board)
    assert "names segment 9 of stream 0" in found.segments.damage[0].what


def test_a_record_that_was_cut_while_it_was_written_is_no_damage(board, checked):
    board.segments[TAIL, 1] = (encoder.header(TAIL, 1)
                               + encoder.row(len(board.rows) + 1, 2, 100)[:30])
    found = checked(board)
    assert found.segments.cut_bytes == 30
    assert found.verdict == Verdict.SOUND


@pytest.mark.parametrize("total", range(8))
def test_a_total_that_its_rows_do_not_explain_is_found(board, checked, total):
    # More in one quarter hour and all that follows: half a step of 1 mA is 3 % of the
    # 16 mA that the board takes, and below 1 % of every other current.
    grown = np.diff(board.totals[board.ends, total])
    quarter = int(np.argmax(grown)) + 1
    more = np.zeros_like(board.totals)
    more[board.ends[quarter] :, total] = grown.max() // (10 if total == ch.T_SUPPLY_OUT else 20)
    board.add_summaries(board.totals + more)
    found = checked(board)
    assert [one.uptime_ds for one in found.disagreements] == [
        board.rows.uptime_ds[board.ends[quarter]]]
    assert ch.TOTALS[total] in found.disagreements[0].total


def test_a_total_that_falls_in_a_boot_or_after_a_restart_is_found(board, checked):
    low = board.totals[-1].tolist()
    low[ch.T_UP] = 5
    board.add_events(
        encoder.event(2, 2, 0, ev.BOOT, totals=low),
        encoder.event(3, 2, 90000, 2, totals=board.totals[-1].tolist()),
        encoder.event(4, 2, 99000, 2, totals=low))
    found = checked(board)
    assert [(one.boot, one.uptime_ds, one.total) for one in found.disagreements] == [
        (2, 0, "up_uL"), (2, 99000, "up_uL")]
    assert found.restarts == 1


def test_an_event_that_was_written_late_makes_no_total_fall(board, checked):
    # It carries the totals as they are when it is written, up to a sync later.
    end = int(board.ends[4])
    late = board.totals[end].tolist()
    board.add_events(encoder.event(2, 1, int(board.rows.uptime_ds[end]) - 300, 2, totals=late))
    assert checked(board).disagreements == []


def test_days_that_the_board_holds_come_from_its_list_of_files(board, tmp_path):
    with Shelf(tmp_path / "s") as shelf:
        board.put(shelf)
        files = [(stream, number, len(data)) for (stream, number), data in board.segments.items()]
        shelf.put_listing(7, 0, 1.5e9 + 12800, files)
        assert check(shelf, 7).holdings[-1].fits_days is None
        shelf.note_life(7, 0, "", 900_000)
        held = check(shelf, 7).holdings[-1]
    assert held.detail_days == pytest.approx(12790 / 86400, rel=1e-3)
    # Five segments below 4096 bytes are five blocks of flash; events and summary two more.
    assert held.used_B == 7 * 4096
    assert held.detail_days is not None
    # These plain summaries come to their share of 41 %; a segment of detail goes whole.
    rate = 1.024 * sum(size for stream, _, size in files if stream == DETAIL) / held.detail_days
    rate += 1.024 * sum(size for stream, _, size in files if stream == EVENTS) / (11900 / 86400)
    room_B = 900_000 * (1 - 0.41) - 20_000 - 4096
    assert held.fits_days == pytest.approx(room_B / rate, rel=0.02)
    assert (held.budget_B, held.is_measured) == (900_000, True)


def run(capsys, *arguments):
    """Returns (exit code, stdout, stderr) of a command line."""
    code = cli.run(list(map(str, arguments)))
    return code, *capsys.readouterr()


def test_the_command_says_what_is_lost_in_80_columns(board, checked, capsys, tmp_path):
    del board.segments[DETAIL, 3]
    checked(board)
    code, out, _ = run(capsys, "check", "--shelf", tmp_path / "s", "--zone", "Europe/Madrid")
    assert code == Exit.INCOMPLETE
    assert max(map(len, out.splitlines())) <= 80
    said = " ".join(out.split())
    # 1.5e9 s is 14 July 2017, 02:40 UTC: 04:40 in summer time.
    assert "lost: rows 513 to 768, 14 Jul 2017 06:05 to 14 Jul 2017 06:48: removed" in said
    assert said.endswith("INCOMPLETE: what is here is whole, but not all is here: see above")


def spoilt(board, how):
    """Spoils a board's files as a person's shelf may be spoilt."""
    if how == "all rows but the last few":
        board.rows = board.rows.take(slice(-7, None))
        for key in [key for key in board.segments if key[0] == DETAIL]:
            del board.segments[key]
        data = encoder.header(TAIL, 1)
        for place in range(7):
            data += encoder.row(int(board.rows.seq[place]), 1, int(board.rows.uptime_ds[place]))
        board.segments[TAIL, 1] = data
    elif how == "removed on the board":
        del board.segments[DETAIL, 3]
    elif how == "a newer version":
        board.segments[DETAIL, 2] = encoder.header(DETAIL, 2, version=2)
    elif how == "a bit":
        data = bytearray(board.segments[DETAIL, 2])
        data[60] ^= 4
        board.segments[DETAIL, 2] = bytes(data)
    elif how == "a total":
        board.add_events(encoder.event(2, 1, 90000, 2, totals=[10**9] * 10),
                         encoder.event(3, 1, 99000, 2))


@pytest.mark.parametrize(("how", "verdict", "code"), [
    ("", "sound", 0), ("all rows but the last few", "incomplete", 3),
    ("removed on the board", "incomplete", 3), ("a newer version", "incomplete", 3),
    ("a bit", "damaged", 4), ("a total", "damaged", 4)])
def test_the_exit_code_is_the_verdict(board, tmp_path, capsys, how, verdict, code):
    # A shelf with 7 rows of its thousands used to be called sound, and a damaged one left with 0.
    spoilt(board, how)
    with Shelf(tmp_path / "s") as shelf:
        board.put(shelf)
    ended, out, _ = run(capsys, "check", "--shelf", tmp_path / "s")
    assert ended == code
    assert out.splitlines()[-1].lower().startswith(verdict)
    ended, out, _ = run(capsys, "check", "--shelf", tmp_path / "s", "--json")
    assert (ended, json.loads(out)["verdict"]) == (code, verdict)


def test_every_key_of_the_document_is_described(board, capsys, tmp_path):
    board.add_events(encoder.event(4, 1, 9000, 2), encoder.event(
        5, 1, 9900, 2, totals=[10**6] * 10), encoder.event(6, 1, 19900, 2))
    board.segments[DETAIL, 2] = encoder.header(DETAIL, 2, version=2)
    board.segments[DETAIL, 4] = board.segments[DETAIL, 4][:300] + bytes(99)
    board.segments[TAIL, 1] = encoder.header(TAIL, 1) + encoder.row(1, 1, 100)
    with Shelf(tmp_path / "s") as shelf:
        board.put(shelf)
    _, out, _ = run(capsys, "check", "--shelf", tmp_path / "s", "--json")
    described = (ROOT / "host" / "docs" / "json.md").read_text()

    def keys(document):
        for one in document if isinstance(document, list) else [document]:
            for key, value in one.items() if isinstance(one, dict) else ():
                yield key
                yield from keys(value)

    document = json.loads(out)
    assert all(document[name] for name in ("damage", "losses", "rows_that_differ", "newer",
                                           "totals_that_disagree"))
    assert [key for key in keys(document) if not re.search(rf"`{key}`", described)] == []


@pytest.mark.parametrize("content", [b"", b"notes" * 99])
def test_another_file_is_refused_in_one_line_and_left_alone(capsys, tmp_path, content):
    path = tmp_path / "f"
    path.write_bytes(content)
    for name in ("check", "balance", "review"):
        code, out, err = run(capsys, name, "--shelf", path)
        assert (code, out, err.count("\n")) == (Exit.INPUT, "", 1)
    assert path.read_bytes() == content
