"""A description looked through at once: every fault, every notice, how much is assumed.

It never raises for a file, whatever is in it, and prints nothing.
"""

import textwrap
from pathlib import Path
from typing import Any, NamedTuple

from forebay.errors import InputError
from forebay.rig import DEMOS, Rig, load

WIDTH = 80


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

    def lines(self) -> list[str]:
        """Return what is to be said of a sound description, as lines of text."""
        assert self.rig is not None
        told = [f"{self.rig.rig.name}: sound. {self.assumed} of {self.figures} figures are"
                " assumed, not measured."]
        return [line for one in (*told, *self.notices) for line in textwrap.wrap(
            one, WIDTH, subsequent_indent="  ", break_on_hyphens=False)]

    def as_json(self) -> dict[str, Any]:
        """Return all of it as a JSON document, as described in docs/json.md."""
        return {"sound": self.rig is not None, "faults": self.faults, "notices": self.notices,
                "figures": self.figures, "assumed": self.assumed, "marked": self.marked}


def check(path: Path | str | None, demo: str = DEMOS[0]) -> Checked:
    """Return what is to be said of the file at a path; None = of a packaged rig."""
    try:
        rig = load(path, demo)
    except InputError as error:
        return Checked(error.lines(), [], 0, 0, 0, None)
    return Checked([], rig.notices(), len(rig.figures), len(rig.assumed), len(rig.marked), rig)
