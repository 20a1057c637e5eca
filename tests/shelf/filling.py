"""A board whose journal fills its room: see tests/stories.py."""

from tests.link import rig


def told(folder, budget_B, piece, pieces):
    """Runs a board in pieces of some scans; returns what there is after each of them.

    Each: (its time [s], (number, size) of its files, bytes of its oldest file of rows).
    """
    rig.BUDGET, before = budget_B, rig.BUDGET
    try:
        board = rig.Rig(folder)
    finally:
        rig.BUDGET = before
    found = []
    for _ in range(pieces):
        board.run(piece)
        board.settle()
        files = list(board.journal.files())
        number, size = min(file for file in files if file[0] < 16384)
        data = bytearray(size)
        board.journal.read_file(number, 0, data)
        found.append((board.now_ms / 1000, files, bytes(data)))
    return found
