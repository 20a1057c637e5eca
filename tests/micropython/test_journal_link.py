"""The journal and the link on the board's own interpreter."""

import json

from keeper.link import Link
from tests.journal import reader
from tests.link.frames import frame, read_file, read_registers
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
    scans = 12_000
    board = run_micropython(RUN.format(scans=scans), fetch=["/journal"], timeout_s=120)
    files = {path.rsplit("/", 1)[1]: data for path, data in board.files.items()}
    desktop(str(tmp_path / "journal"), scans)
    assert files == reader.folder_files(tmp_path / "journal")
    content = reader.read_files(files)
    assert content.damaged == 0
    assert content.conflicts == []
    assert len(content.rows) > 300
    assert min(content.rows) > 1  # the oldest detail was given up
    assert len(content.summaries) == 2
    assert [event[1] for event in content.events if event[3] == 1] == [1, 2]


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


REQUESTS = [
    frame(pdu).hex()
    for pdu in (
        read_registers(0, 125),
        read_registers(60, 108),
        read_registers(9000, 1),
        read_file((16384, 0, 2)),
        read_file((1, 0, 121)),
        read_file((16385, 0, 8), (16385, 4, 75)),
        read_file((9, 0, 1)),
        b"\x2b\x0e\1\0",
        b"\x41",
    )
]
ASK = """
replies = []
now_ms = 0
for request in {requests}:
    for byte in bytes.fromhex(request):
        link.feed(byte, now_ms)
        now_ms += 1
    now_ms += 100
    reply = link.poll(now_ms)
    while reply is not None:
        replies.append(bytes(reply).hex())
        reply = link.poll(now_ms)
"""


def test_requests_are_answered_alike(run_micropython, tmp_path):
    garbled = ["ff00" + REQUESTS[0], REQUESTS[0][:-2] + "00" + REQUESTS[1]]
    ask = ASK.format(requests=REQUESTS + garbled)
    board = run_micropython(
        RUN.format(scans=2000)
        + "from keeper.link import Link\nlink = Link(keeper, keeper.journal)\n"
        + ask
        + "import json\nprint(json.dumps(replies))",
    )
    keeper = desktop(str(tmp_path / "journal"), 2000)
    names: dict = {"link": Link(keeper, keeper.journal)}
    exec(compile(ask, "ask", "exec"), names)
    assert json.loads(board.stdout) == names["replies"]
    assert len(names["replies"]) == len(REQUESTS) + 2


def test_a_row_is_gathered_without_memory(run_micropython):
    run = run_micropython("""
import micropython
from keeper.channels import INVALID
from keeper.derived import VALUES
from keeper.rows import Rows

rows = Rows()
values = [60000] * VALUES
values[3] = INVALID
values[8] = 5400000

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
