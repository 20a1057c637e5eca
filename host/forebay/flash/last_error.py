"""The error that a board kept: the program's places are functions, its byte code has no lines."""

from forebay.flash import firmware

LAST_ERROR = "/last_error"  # where the loader keeps what ended the last run
PLACE = "  File "  # begins a line of a traceback that tells a place
# What an interpreter says of byte code without line numbers.
NO_LINE = f'"{firmware.PROGRAM}", line 1,'


def readable(text: str) -> str:
    """Return the traceback that a board kept, without the line that the program has not."""
    return text.replace(NO_LINE, f'"{firmware.PROGRAM}",')


def in_one_line(traceback: str) -> str:
    """Return the end of a traceback in one line: what happened, and where at last."""
    lines = traceback.split("\n")
    places = [line.strip() for line in lines if line.startswith(PLACE)]
    said = [line.strip() for line in lines if line.strip() and not line.startswith(PLACE)]
    return " ".join([*said[-1:], *(f"({place})" for place in places[-1:])])
