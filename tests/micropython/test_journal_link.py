"""The journal on the board's own interpreter."""

from tests.journal import reader
from tests.micropython.scenario import SOURCE

# Board and desktop run this very text; see scenario.py.
RUN = SOURCE + """
keeper = run_all("/journal", {scans})
"""


def desktop(folder: str, scans: int):
    """Runs the scenario here; returns its keeper."""
    names: dict = {}
    exec(compile(SOURCE, "scenario", "exec"), names)
    return names["run_all"](folder, scans)


def test_the_board_writes_the_journal_that_the_desktop_writes(run_micropython, tmp_path):
    """Byte for byte, through two boots, hand-overs, summaries, rotation and retention."""
    scans = 24_000
    board = run_micropython(RUN.format(scans=scans), fetch=["/journal"], timeout_s=120)
    files = {path.rsplit("/", 1)[1]: data for path, data in board.files.items()}
    desktop(str(tmp_path / "journal"), scans)
    assert files == reader.folder_files(tmp_path / "journal")
    content = reader.read_files(files)
    assert content.damaged == 0
    assert content.conflicts == []
    assert len(content.rows) > 300
    assert min(content.rows) > 1  # the oldest detail was given up
    assert len(content.summaries) == 4
    assert {event[1] for event in content.events} >= {2}


def test_a_torn_journal_is_taken_up_by_the_board(run_micropython, tmp_path):
    desktop(str(tmp_path / "journal"), 1000)
    files = reader.folder_files(tmp_path / "journal")
    name = max(files)
    files[name] = files[name][:-30]
    before = reader.read_files(files)
    board = run_micropython(
        RUN.format(scans=700),
        files={f"/journal/{name}": data for name, data in files.items()},
        fetch=["/journal"],
    )
    after = reader.read_files({p.rsplit("/", 1)[1]: d for p, d in board.files.items()})
    assert after.rows.items() >= before.rows.items()
    assert set(after.events) >= set(before.events)
    assert after.conflicts == []
    assert max(event[1] for event in after.events) == 4


def test_a_row_is_gathered_without_memory(run_micropython):
    run = run_micropython("""
import micropython
from keeper.channels import FLOW_UP, GENERATOR_MV, INVALID
from keeper.protection.derived import VALUES
from keeper.journal.rows import Rows

rows = Rows()
values = [60000] * VALUES
values[GENERATOR_MV] = INVALID
values[FLOW_UP] = 5400000

def gather():
    micropython.heap_lock()
    try:
        for _ in range(6000):
            rows.add(values)
    finally:
        micropython.heap_unlock()

gather()
print(rows.scans)
""")
    assert run.lines == ["6000"]
