"""Which program runs, by the file in which the loader states it."""

import hashlib

import pytest

from keeper.link.identity import firmware_hash

SLOT, PROGRAM = hashlib.sha256(b"slot").hexdigest(), hashlib.sha256(b"program").digest()
WHOLE = f"{SLOT}\n{PROGRAM.hex()}\n"


def test_the_hash_of_the_program_is_the_first_eight_bytes_of_the_second_line(tmp_path):
    (tmp_path / "whole").write_text(WHOLE)
    assert firmware_hash(str(tmp_path)) == int.from_bytes(PROGRAM[:8], "big")


@pytest.mark.parametrize("text", [None, "", SLOT, f"{SLOT}\n", f"{SLOT}\nno number\n"])
def test_a_program_of_which_no_file_says_the_hash_is_not_known(tmp_path, text):
    if text is not None:
        (tmp_path / "whole").write_text(text)
    assert firmware_hash(str(tmp_path)) == 0
