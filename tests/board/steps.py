"""What the firmware does to its flash, step by step, as the journal's tests tell it."""

from collections.abc import Iterator

from tests.board.image import BLOCK_BYTES, STORAGE_OFFSET
from tests.board.rig import EmulatedBoard
from tests.journal.flash import Step


def taken(board: EmulatedBoard) -> Iterator[tuple[Step, int]]:
    """Gives each step since the last call, from the first call on, with the start it came in.

    Blocks count from the start of the file system; starts as `state` counts them.
    """
    for kind, offset, count, data, start in board.steps():
        place = offset - STORAGE_OFFSET
        block, at = divmod(place, BLOCK_BYTES)
        if kind == "programmed":
            assert at + count <= BLOCK_BYTES
            yield ("program", block, at, bytes.fromhex(data)), start
        else:
            for one in range(count // BLOCK_BYTES):
                yield ("erase", block + one, 0, b""), start
