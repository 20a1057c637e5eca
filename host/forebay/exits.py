"""Exit codes of the `forebay` command: the one list of them."""

from enum import IntEnum


class Exit(IntEnum):
    """How a command ended, as the shell sees it."""

    DONE = 0
    """It did what was asked."""
    FAULT = 1
    """It met a fault of its own; `--traceback` shows where."""
    INPUT = 2
    """Something given to it cannot be used, or a port or board is not there."""
    INCOMPLETE = 3
    """What was checked is sound as far as it goes, but not all of it is there."""
    DAMAGED = 4
    """What was checked is damaged, or contradicts itself."""
    HUNG_UP = 129
    """Its terminal went away (128 + signal 1, the shells' custom)."""
    INTERRUPTED = 130
    """It was interrupted from the keyboard (128 + signal 2)."""
    TERMINATED = 143
    """It was told to end from outside (128 + signal 15)."""
