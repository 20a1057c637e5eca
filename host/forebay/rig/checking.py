"""A description looked through at once: every fault, every notice, how much is assumed.

It never raises for a file, whatever is in it, and prints nothing.
"""

from pathlib import Path
from typing import NamedTuple

from forebay.errors import InputError
from forebay.rig import Rig, load


class Checked(NamedTuple):
    """What was found.

    faults: a line each; with any of them there is no rig.  notices: a line for each thing that
    is allowed but promised less than usual.  figures, assumed, marked: how many figures the
    rig has, how many of these are assumed, and how many of those its [assumed] lists [-].
    """

    faults: list[str]
    notices: list[str]
    figures: int
    assumed: int
    marked: int
    rig: Rig | None


def check(path: Path | str) -> Checked:
    """Return what is to be said of the file at a path."""
    try:
        rig = load(path)
    except InputError as error:
        return Checked(error.lines(), [], 0, 0, 0, None)
    return Checked([], rig.notices(), len(rig.figures), len(rig.assumed), len(rig.marked), rig)
