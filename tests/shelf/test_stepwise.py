"""The journal read in steps: all of it once, in order, in memory that does not grow."""

import tracemalloc
from datetime import UTC, datetime

import numpy as np
import pytest

from forebay.shelf import Anchor, Shelf
from forebay.shelf.stepwise import MARGIN_S, Reader
from tests.export.shelves import fill
from tests.shelf import encoder

BEGIN_S = datetime(2026, 3, 27, 12, tzinfo=UTC).timestamp()


@pytest.fixture
def path(tmp_path):
    return fill(tmp_path / "s", datetime.fromtimestamp(BEGIN_S, UTC), 8 * 1440)


def tables_of(journals):
    return [np.concatenate([getattr(one, name) for one in journals])
            for name in ("events", "totals", "summaries")]


def test_steps_hold_all_that_a_journal_holds_each_once_and_in_order(path, monkeypatch):
    monkeypatch.setattr("forebay.shelf.stepwise.PART_SEGMENTS", 1)
    with Shelf(path) as shelf:
        whole = shelf.journal(7)
        steps = list(Reader(shelf, 7).steps())
    assert len(steps) > 3
    assert np.concatenate([one.journal.rows.seq for one in steps]).tolist() == (
        whole.rows.seq.tolist())
    for ours, theirs in zip(tables_of([one.journal for one in steps]),
                            tables_of([whole]), strict=True):
        assert ours.tobytes() == theirs.tobytes()
    assert [one.is_last for one in steps] == [False] * (len(steps) - 1) + [True]
    for one, later in zip(steps, steps[1:], strict=False):
        rows, events = one.journal.rows, one.journal.events
        assert (events["uptime_ds"] <= rows.uptime_ds[-1]).all()
        # The event behind a step is the first of a later one.
        behind = [table for table in (step.journal.events for step in steps) if len(table)]
        following = np.concatenate(behind)["seq"]
        assert one.next_event["seq"].tolist() == (
            following[following > events["seq"][-1]][:1].tolist())
        assert later.journal.rows.seq[0] == rows.seq[-1] + 1


def test_lives_are_steps_of_their_own_with_their_own_records(tmp_path):
    with Shelf(tmp_path / "s") as shelf:
        for life in (0, 1):
            shelf.put_segment(7, life, 0, 1, encoder.header(0, 1) + b"".join(
                encoder.row(n, 1, 600 * n) for n in (1, 2)))
            shelf.put_segment(7, life, 1, 1, encoder.header(1, 1) + encoder.event(
                1, 1, 700 + life, 2, 1, 2, 3))
            shelf.add_anchor(7, Anchor(life, 1, 0, BEGIN_S + 1000 * life, 0.05))
        steps = list(Reader(shelf, 7).steps())
    assert [(one.ends_life, one.is_last) for one in steps] == [(True, False), (True, True)]
    assert [one.journal.events["uptime_ds"].tolist() for one in steps] == [[700], [701]]
    assert [len(one.next_event) for one in steps] == [0, 0]


def test_a_period_brings_what_lies_near_it_and_whole_spans_of_totals(path):
    period = (BEGIN_S + 86400, BEGIN_S + 2 * 86400)
    with Shelf(path) as shelf:
        step, = Reader(shelf, 7).steps(period)
    rows = step.journal.rows
    low_s, high_s = BEGIN_S + rows.uptime_ds[[0, -1]] / 10
    # Records come every hour here; rows every minute.
    assert period[0] - MARGIN_S - 2 * 3600 - 64 * 60 <= low_s <= period[0] - MARGIN_S
    assert period[1] + MARGIN_S <= high_s <= period[1] + MARGIN_S + 2 * 3600 + 64 * 60
    at = step.journal.events["uptime_ds"]
    # The first record is in front of the rows: it tells the state in which they begin.
    assert at[0] <= rows.uptime_ds[0]
    assert at[-1] >= 10 * (period[1] - BEGIN_S)


def test_what_was_decoded_last_is_at_hand(path):
    with Shelf(path) as shelf:
        reader = Reader(shelf, 7)
        asked = []
        read = shelf.read
        shelf.read = lambda question, *values: asked.append(values) or read(question, *values)
        for day in range(8):
            list(reader.steps((BEGIN_S + 86400 * day, BEGIN_S + 86400 * (day + 1))))
        segments, = read("SELECT count(*) FROM segments WHERE stream != 3")[0]
    # A tail is read with the rows and with the records.
    assert len(asked) <= segments + 2


def test_memory_does_not_grow_with_the_journal(tmp_path, monkeypatch):
    monkeypatch.setattr("forebay.shelf.stepwise.PART_SEGMENTS", 1)
    monkeypatch.setattr("forebay.shelf.stepwise.KEPT_DECODED", 2)

    def peak(days):
        with Shelf(fill(tmp_path / str(days), datetime.fromtimestamp(BEGIN_S, UTC),
                        days * 1440)) as shelf:
            tracemalloc.start()
            rows = sum(len(one.journal.rows) for one in Reader(shelf, 7).steps())
            most = tracemalloc.get_traced_memory()[1]
            tracemalloc.stop()
        assert rows == days * 1440
        return most

    peak(3)
    assert peak(24) < 1.3 * peak(8)
