"""The journal's own writer on the board's own file system, with the power cut as it writes."""

import pytest

from tests.board.session import module_files
from tests.journal import reader
from tests.micropython.scenario import SOURCE

SCANS = 900  # ninety rows: a block of 64, its hand-over and a new tail
BUSY = 2
OPEN_MOST_MS, WORK_MOST_MS = 20_000, 120_000
MAIN = (
    "import gc\ngc.threshold(8192)\n"
    + SOURCE
    + f"""
from machine import Pin
busy = Pin({BUSY}, Pin.OUT, value=0)
keeper = StandIn(open_journal("/journal", RIG_ID, 7, BUDGET), 1)
busy.value(1)
keeper.run({SCANS})
busy.value(0)
"""
)


def journal(board) -> reader.Content:
    """Returns what a reader finds after the power went; fails if the files do not mount."""
    found = board.files()
    return reader.read_files(
        {path.rsplit("/", 1)[1]: data for path, data in found.items() if "/journal/" in path}
    )


@pytest.fixture(scope="module")
def files() -> dict[str, bytes]:
    return module_files() | {"/main.py": MAIN.encode()}


@pytest.fixture(scope="module")
def whole(make_board, files) -> tuple[reader.Content, int]:
    """The journal of a run without a cut, and how many flash operations it took."""
    with make_board(files, held=True) as board:
        assert board.wait_pin(BUSY, "high", OPEN_MOST_MS)
        begun = board.state()["operations"]
        assert board.wait_pin(BUSY, "low", WORK_MOST_MS)
        operations = board.state()["operations"] - begun
        board.power_off()
        return journal(board), operations


def test_a_board_writes_rows_blocks_and_its_boot(whole):
    content, operations = whole

    assert len(content.rows) > 70
    assert len(content.blocked) == 64
    assert content.damaged == 0
    assert content.conflicts == []
    assert [event[1] for event in content.events][0] == 1
    assert operations > 40


@pytest.mark.parametrize("share", [0.2, 0.5, 0.8])
def test_after_a_power_cut_all_that_was_synced_is_there_and_the_board_goes_on(
    make_board, files, whole, share
):
    reference, operations = whole
    with make_board(files, held=True) as board:
        assert board.wait_pin(BUSY, "high", OPEN_MOST_MS)
        board.cut_power(int(operations * share), fraction=share)
        assert not board.run_ms(WORK_MOST_MS)
        before = journal(board)
        board.power_on()
        assert board.wait_pin(BUSY, "high", OPEN_MOST_MS)
        after = journal(board)

    # The same story up to the cut: no row that the whole run did not write.
    assert 0 < len(before.rows) < len(reference.rows)
    assert before.rows.items() <= reference.rows.items()
    assert sorted(before.rows) == list(range(1, len(before.rows) + 1))
    assert before.conflicts == []
    assert after.rows.items() >= before.rows.items()
    assert max(event[1] for event in after.events) == 2
