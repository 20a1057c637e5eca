"""Pulls that break off anywhere: what a balance says is true of the period that it states."""

import shutil
import sys
from datetime import UTC, datetime

import numpy as np
import pytest

from forebay.balance import balance
from forebay.balance.measured import Measured
from forebay.balance.plant import Store
from forebay.shelf import Shelf, ShelfError
from forebay.wire import WireError, client, pull
from keeper import channels as ch
from keeper import events, modes
from tests.balance import rig as plant
from tests.shelf import encoder
from tests.wire.board import FakeBoard
from tests.wire.test_pull import pty

CUTS = 50
SEED = 2
ALL = 10**6  # answers
WHOLE_S, CUT_S = 2.0, 0.05  # for an answer that comes, and for one that may not
BLOCK, BLOCKS_A_SEGMENT, QUARTER = 64, 4, 90
DETAIL, EVENTS, SUMMARY, TAIL = (16384 * stream for stream in range(4))
J_PER_MJ, L_PER_UL = 1e-3, 1e-6
ROWS = (plant.FILL_S + 2 * plant.REST_S + plant.LIGHT_S) // 10 - 10  # the last in the tail


class Board:
    """The journal of a plant that keeps its laws, as the files of a board at any uptime."""

    def __init__(self, seed: int | None = SEED):
        state, true = plant.scans()
        self.state = state
        levels_m = [plant.START_LEVEL_M,
                    *true["level_mm"][plant.ROW_SCANS - 1 :: plant.ROW_SCANS] / 1000]
        store = Store(plant.DEMO, None)
        # Energy [J] and water [L] in the tank at the end of each row.
        self.held = np.array([[store.joules(level).value, store.litres(level).value]
                              for level in map(Measured, levels_m)])
        self.true = plant.totals_of(state, plant.readings(true, plant.Errors()))
        errors = plant.Errors(seed)
        # Calibration alone: of so many ends one in a hundred has noise beyond 3 u by chance.
        errors.on = False
        errors.level_mm = (4.0, -3.0)
        self.totals = plant.totals_of(state, plant.readings(true, errors))
        self.rows = plant.journal_of(errors).rows
        self.changes = [0, *(np.flatnonzero(np.diff(state)) + 1).tolist()]

    def files(self, rows):
        """Returns {file number: bytes} when so many rows [-] have ended."""
        blocks = rows // BLOCK
        found = {}
        for first in range(0, blocks, BLOCKS_A_SEGMENT):
            number = first // BLOCKS_A_SEGMENT + 1
            found[DETAIL + number] = encoder.header(0, number) + b"".join(
                encoder.block(at * BLOCK + 1, self.plain(at * BLOCK, (at + 1) * BLOCK))
                for at in range(first, min(first + BLOCKS_A_SEGMENT, blocks)))
        found[EVENTS + 1] = encoder.header(1, 1) + b"".join(
            self.event(seq, at) for seq, at in enumerate(self.changes, 1) if at <= rows * 100)
        found[SUMMARY + 1] = encoder.header(2, 1) + b"".join(
            encoder.summary(seq, 1, 9000 * seq, 900, [(0, 0, 0)] * 14, self.at(9000 * seq))
            for seq in range(1, rows // QUARTER + 1))
        number = blocks + 1
        found[TAIL + number] = encoder.header(3, number) + b"".join(
            encoder.row(at + 1, *row) + encoder.totals(at + 1, 1, row[1], self.at(row[1]))
            for at, row in zip(range(blocks * BLOCK, rows), self.plain(blocks * BLOCK, rows),
                               strict=True))
        return found

    def plain(self, first, last):
        some = self.rows.take(slice(first, last))
        heads = zip(some.boot.tolist(), some.uptime_ds.tolist(), some.scans.tolist(),
                    some.state.tolist(), some.contacts.tolist(), strict=True)
        return [(*head, values) for head, values in zip(heads, some.stored.T.tolist(),
                                                        strict=True)]

    def at(self, scan):
        return self.totals[scan - 1].tolist() if scan else [0] * 10

    def event(self, seq, at):
        code = events.STATE if at else events.BOOT
        left = int(self.state[at - 1]) if at else 0
        return encoder.event(seq, 1, at, code, left, modes.LIGHT_DUE if at else 0,
                             int(self.state[at]), totals=self.at(at))

    def truth(self, stretches_s):
        """Returns what happened in some stretches (begin, end) [s since 1970 UTC]."""
        spans = [[round((at_s - 1.5e9) * 10) for at_s in pair] for pair in stretches_s]
        grown = np.sum([self._totals(end) - self._totals(begin) for begin, end in spans], axis=0)
        names = {"panel": ch.T_PANEL, "pump": ch.T_PUMP, "generator": ch.T_GENERATOR,
                 "lamps": ch.T_LAMP, "supply_in": ch.T_SUPPLY_IN, "supply_out": ch.T_SUPPLY_OUT}
        found = {name: grown[total] * J_PER_MJ for name, total in names.items()}
        seconds = sum(end - begin for begin, end in spans) / 10
        found["board_load"] = plant.BOARD_W * seconds
        found["charge"] = plant.PANEL_V * plant.CHARGE_A * grown[ch.T_PUMP_MS] / 1000
        found["clamp"] = 0.0
        found["up"], found["down"] = grown[ch.T_UP] * L_PER_UL, grown[ch.T_DOWN] * L_PER_UL
        # The rest moves no water: the tank gains while it fills and loses in the light.
        more_J = np.concatenate([np.diff(self.held[begin:end + 1, 0]) for begin, end in
                                 np.array(spans) // plant.ROW_SCANS])
        found["stored"], found["released"] = more_J[more_J > 0].sum(), -more_J[more_J < 0].sum()
        found["gained"] = sum(self.held[end, 1] - self.held[begin, 1] for begin, end in
                              np.array(spans) // plant.ROW_SCANS)
        return found

    def _totals(self, scan):
        return self.true[scan - 1].astype(float) if scan else np.zeros(10)


@pytest.fixture
def serve(monkeypatch):
    monkeypatch.setattr(client, "TIMEOUT_S", WHOLE_S)
    monkeypatch.setattr(client, "SILENCE_S", 0.001)
    monkeypatch.setattr(client, "TRIES", 1)
    # Half of what a request may ask: more places at which a pull can break off.
    monkeypatch.setattr(sys.modules["forebay.wire.pull"], "MOST_FILE_WORDS", 60)
    boards = []

    def start(files, mishap=None):
        boards.append(FakeBoard(files, {"uptime_ds": 130_000}, mishap))
        return boards[-1], boards[-1].on_pty()

    yield start
    for one in boards:
        one.close()


def cut_pull(serve, shelf, files, answers):
    """Pulls from a board that falls silent after so many answers; returns whether it did."""
    def mishap(number, reply):
        return reply if number <= answers else None

    client.TIMEOUT_S = WHOLE_S if answers == ALL else CUT_S
    _, port = serve(files, mishap)
    try:
        pull(port, shelf, now_utc=lambda: plant_time(130_000))
    except WireError:
        return True
    return False


def plant_time(uptime_ds):
    return datetime.fromtimestamp(1.5e9 + uptime_ds / 10, UTC)


def whole_pull(serve, tmp_path, files):
    """Returns how many answers a whole pull takes."""
    fake, port = serve(files)
    with Shelf(tmp_path / "whole") as shelf:
        pull(port, shelf, now_utc=lambda: plant_time(130_000))
    return fake.requests


def is_true(board, found):
    """Says of each figure that is more than 3 u from the truth of the stated period."""
    true = board.truth(found.stretches_s)
    told = {**found.energies, **{key: found.water[key] for key in ("up", "down", "gained")}}
    return {key: (told[key].value, told[key].u, value) for key, value in true.items()
            if abs(told[key].value - value) > 3 * told[key].u + 1e-9}


@pty
@pytest.mark.parametrize(("before", "cuts"), [(0, CUTS), (500, CUTS // 2)])
def test_a_pull_cut_anywhere_leaves_a_balance_that_is_true_of_the_period_it_states(
        serve, tmp_path, before, cuts):
    # It used to say 0.2 Wh of a day of 108, +- 0.008, and "closes".
    board = Board()
    files = board.files(ROWS)
    longest_s = told = 0
    answers = whole_pull(serve, tmp_path, files)
    if before:
        with Shelf(tmp_path / "before") as shelf:
            assert not cut_pull(serve, shelf, board.files(before), ALL)
    for cut in np.unique(np.linspace(4, answers - 1, cuts).astype(int)).tolist():
        if before:
            shutil.copy(tmp_path / "before", tmp_path / f"{cut}")
        with Shelf(tmp_path / f"{cut}") as shelf:
            if not cut_pull(serve, shelf, files, cut):
                continue
            if not shelf.journal(7).rows:
                with pytest.raises(ShelfError, match="pull again"):
                    balance(shelf, plant.DEMO, 7)
                continue
            found = balance(shelf, plant.DEMO, 7)
            told += 1
            longest_s = max(longest_s, found.covered_s)
            assert is_true(board, found) == {}, (cut, found.stretches_s)
            # One that breaks off ahead of the list of files has told the shelf nothing.
            said = any("Not wholly pulled: pull again" in note for note in found.notes)
            assert said or found.end_utc_s == pytest.approx(1.5e9 + 10 * before, abs=1)
    # Broken off near its end, a pull has brought nearly all.
    assert told >= cuts / 2
    assert longest_s > 0.9 * 10 * ROWS


@pty
def test_after_the_next_pull_all_is_told_of_the_whole_time(serve, tmp_path):
    board = Board()
    files = board.files(ROWS)
    with Shelf(tmp_path / "s") as shelf:
        assert cut_pull(serve, shelf, files, 20)
        assert not cut_pull(serve, shelf, files, ALL)
        whole = balance(shelf, plant.DEMO, 7)
    assert not any("pull again" in note for note in whole.notes)
    assert whole.stretches_s == [(pytest.approx(1.5e9, abs=1),
                                  pytest.approx(1.5e9 + 10 * ROWS, abs=1))]
    assert whole.from_rows_s == 0
    assert is_true(board, whole) == {}
