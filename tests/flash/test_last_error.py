"""Errors that boards kept, read back to the sources."""

import pytest

from forebay.flash import firmware, last_error
from tests.flash import rigs

RP2040 = 0x306 | 4 << 10  # `sys.implementation._mpy` of MicroPython 1.29 there
FIRST_LINE = "def read_key(path):"
SOURCE = "keeper/link/signing.py"


def line_of(text):
    """Returns the number of the one line of a text that FIRST_LINE is."""
    lines = text.splitlines()
    assert lines.count(FIRST_LINE) == 1
    return 1 + lines.index(FIRST_LINE)


@pytest.fixture(scope="module")
def traceback():
    """What a board would keep, and the same with the sources' places."""
    form = ('Traceback (most recent call last):\n  File "main.py", line 7, in start\n'
            '  File "{}", line {}, in read_key\nMemoryError: \n')
    there = line_of(firmware.artefact(native=True).text)
    here = line_of((rigs.FIRMWARE / SOURCE).read_text())
    return form.format("program", there + 2), form.format(SOURCE, here + 2)


def test_what_this_forebays_own_program_kept_has_the_places_of_the_sources(traceback):
    said, wanted = traceback
    own = firmware.program(RP2040)

    assert last_error.of_board(said, firmware.expected_hash(own)) == wanted
    assert last_error.of_program(said, own) == wanted
    assert last_error.in_one_line(wanted).startswith(f'MemoryError: (File "{SOURCE}", line')


def test_what_another_program_kept_stays_as_it_is(traceback):
    said, _ = traceback
    assert last_error.of_board(said, 1) == said


def test_an_error_that_names_no_place_of_the_program_needs_no_program(monkeypatch):
    monkeypatch.setattr(firmware, "artefact", None)
    assert last_error.of_board("ValueError: x", 1) == last_error.of_program(
        "ValueError: x", firmware.Program({})) == "ValueError: x"
