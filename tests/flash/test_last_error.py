"""Errors that boards kept: of the program, its functions."""

from forebay.flash import firmware, last_error
from tests.flash import rigs

SCRIPT = """
import sys
import program
try:
    program.run(None)
except ValueError as error:
    sys.print_exception(error)
"""


def test_the_program_has_no_lines_and_names_its_functions(run_micropython, tmp_path):
    folder = rigs.small(tmp_path / "program", 1)
    rigs.change(folder, rigs.RUN,
                f"def fail():\n    raise ValueError('no good')\n\n\n{rigs.RUN}    fail()\n")
    files = firmware.program(firmware.MPY_VERSION, folder).files
    kept = run_micropython(SCRIPT, files={f"/{path}": data for path, data in files.items()}).stdout

    told = last_error.readable(kept)

    assert told.splitlines()[-3:] == ['  File "program", in run', '  File "program", in fail',
                                      "ValueError: no good"]
    assert last_error.in_one_line(told) == 'ValueError: no good (File "program", in fail)'


def test_places_of_the_loader_and_lines_of_an_earlier_program_stay():
    kept = ('Traceback (most recent call last):\n  File "main.py", line 1, in start\n'
            '  File "program", line 12, in run\nMemoryError: \n')

    assert last_error.readable(kept) == kept
