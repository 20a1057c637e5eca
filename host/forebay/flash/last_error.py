"""The error that a board kept, with its places in the sources: the board knows one module only."""

import functools
from pathlib import Path

from forebay.flash import firmware
from forebay.flash.artefact import Artefact, located
from forebay.flash.errors import FlashError

LAST_ERROR = "/last_error"  # where the loader keeps what ended the last run
PLACE = "  File "  # begins a line of a traceback that tells a place
IN_PROGRAM = f'"{firmware.PROGRAM}"'


def of_program(text: str, program: firmware.Program, folder: Path | None = None) -> str:
    """Return a traceback of a program with its places in the sources.

    folder: where the program was made from, as for `firmware.loader`.
    """
    if IN_PROGRAM not in text:
        return text
    made = firmware.artefact(folder, native=bool(program.processor))
    return located(text, made, firmware.PROGRAM)


def of_board(text: str, program_hash: int) -> str:
    """Return the traceback that a board kept, with its places in the sources.

    program_hash: what the board publishes of its program [u64].  If that is
    not the one of this forebay's own, the text stays as it is.
    """
    if IN_PROGRAM not in text:
        return text
    made = _maybe_own(program_hash)
    return text if made is None else located(text, made, firmware.PROGRAM)


@functools.cache
def _maybe_own(program_hash: int) -> Artefact | None:
    """Return this forebay's own program, None if it has another hash on every processor."""
    try:
        for processor in (*firmware.PROCESSORS, 0):
            program = firmware.program(
                firmware.MPY_VERSION | processor << firmware.MPY_PROCESSOR_SHIFT)
            if firmware.expected_hash(program) == program_hash:
                return firmware.artefact(native=bool(program.processor))
    except FlashError:
        pass  # without the sources or the compiler nobody can tell: the text is shown as it is
    return None


def in_one_line(traceback: str) -> str:
    """Return the end of a traceback in one line: what happened, and where at last."""
    lines = traceback.split("\n")
    places = [line.strip() for line in lines if line.startswith(PLACE)]
    said = [line.strip() for line in lines if line.strip() and not line.startswith(PLACE)]
    return " ".join([*said[-1:], *(f"({place})" for place in places[-1:])])
