"""What a board keeps of the error that ended its program: also where it came from."""

import pytest

from forebay.flash import firmware, last_error, looking, slots
from tests.board import session
from tests.flash import rigs

RUN_MS = 3000
FAULTS = {
    "ValueError: no good": "    raise ValueError('no good')\n",
    "MemoryError: ": "    held = []\n    while True:\n        held.append(bytearray(64))\n",
}


@pytest.mark.parametrize(("said", "fault"), FAULTS.items())
def test_a_program_that_fails_leaves_its_traceback_with_the_names_of_its_functions(
        make_board, tmp_path, said, fault):
    folder = rigs.small(tmp_path / "program", 1)
    rigs.change(folder, rigs.RUN, f"def fail():\n{fault}\n\n{rigs.RUN}    fail()\n")
    program = firmware.program(session.MPY_FORMAT, folder)
    files = {f"/a/{path}": data for path, data in program.files.items()}
    whole = looking.whole_text(firmware.hashes(program.files))
    with make_board({**firmware.loader(), **files, f"/a/{slots.WHOLE}": whole, "/slot": b"a"},
                    held=True) as board:
        board.run_ms(RUN_MS)
        text = board.files()[last_error.LAST_ERROR].decode()
        assert board.resets > 0
        assert board.faults == []

    found = last_error.readable(text).splitlines()
    assert found[0] == "Traceback (most recent call last):"
    assert found[-1].startswith(said)
    places = [line for line in found if line.startswith(last_error.PLACE)]
    assert places[-2:] == ['  File "program", in run', '  File "program", in fail']
