"""Reads a board's traceback back: from lines of the one module to those of the sources."""

import bisect
import re

from forebay.flash.artefact.flat import Artefact

PLACE = re.compile(r'File "(?P<file>[^"]*)", line (?P<line>\d+)')


def located(traceback: str, artefact: Artefact, program: str) -> str:
    """Return a traceback with the places in `program` as files and lines of the sources.

    True only for the artefact that the board runs.  A piece keeps its lines,
    so what lies behind its first line lies as far behind it in the sources.
    """
    starts = [line for line, _, _ in artefact.lines]

    def place(found: re.Match[str]) -> str:
        line = int(found["line"])
        at = bisect.bisect_right(starts, line) - 1
        if found["file"] not in (program, program + ".py") or at < 0:
            return found[0]
        first, module, there = artefact.lines[at]
        return f'File "{module.replace(".", "/")}.py", line {there + line - first}'

    return PLACE.sub(place, traceback)
