"""What a start on a long tail leaves in the memory of the board's interpreter."""

from tests.journal.test_recovery import LARGEST, TAILS, files_of
from tests.micropython.harness import run_micropython

# Live memory at the end of the reading, all that it has gathered still at hand: memory
# is collected between steps only, so what one record leaves behind is not in it.
SCRIPT = """
import gc
from keeper.journal.again import HeldAgain
from keeper.journal.journal import Journal
from keeper.journal.records import DETAIL, SUMMARY
from keeper.journal.recovery import Recovery
from keeper.journal.segments import Segments

kept = []

def step(n):
    if n < 2:
        segments = Segments("/journal", 12345, 800000)
        journal = Journal(segments)
        past = Recovery(segments, HeldAgain(journal.packer, segments, DETAIL),
                        HeldAgain(journal.summary_packer, segments, SUMMARY),
                        journal.tail.buffer)
        gc.collect()
        kept[:] = [gc.mem_alloc(), past]
        return True  # the first time for what is imported and interned on the way
    if n == 2:
        kept[0] = gc.mem_alloc()
        kept[1].read()
        gc.collect()
        return True
    gc.collect()
    if n == 3:
        return True
    print(gc.mem_alloc() - kept[0], kept[1].rows.newest)
    return False
"""


def grown_bytes(segments) -> tuple[int, int]:
    """Returns what the reading of these tails leaves [B], and the newest row it found."""
    files = {f"/journal/{name}": data for name, data in files_of(segments).items()}
    grown, newest = run_micropython(SCRIPT, files=files, steps=True).stdout.split()
    return int(grown), int(newest)


def test_reading_a_tail_of_any_length_leaves_nothing_in_memory():
    found = {name: grown_bytes(TAILS[name]) for name in ("1 row", "64 rows")}
    assert [newest for _, newest in found.values()] == [1, 64]
    assert found["64 rows"][0] == found["1 row"][0]
    grown, newest = grown_bytes(LARGEST)
    assert newest == 126
    assert grown == found["1 row"][0]
