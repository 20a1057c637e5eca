"""One thing that matters about a time: how grave it is, what it is, what to do first.

And what the findings are made of: the record of that time, with how things stood.
"""

from dataclasses import dataclass
from datetime import tzinfo
from typing import Any

import numpy as np

from forebay.balance import Balance
from forebay.review.standing import Standing
from forebay.shelf.decode import Findings
from forebay.shelf.local import iso_local
from forebay.shelf.rows import Rows
from forebay.shelf.told import Rehearsed
from keeper.physics import of_rig

# How grave, the gravest first; the words stand before each finding.
GRAVITIES = ("locked out", "act now", "held off now", "look now", "happened", "unsure",
             "for your notice")
LOCKED, ACT, HELD, LOOK, HAPPENED, UNSURE, NOTICE = range(len(GRAVITIES))
# A residual or a leak that counts as one here: beyond what one night in 300 shows by chance.
SURE = 3.0
SHORT_S = 36 * 3600.0   # a time that is told by the clock alone: a day and its night
S_PER_MIN, S_PER_H = 60.0, 3600.0


@dataclass(frozen=True)
class Finding:
    """One thing that matters.

    gravity: place in GRAVITIES; what: sentences; do: what to do first, "" = nothing; utc_s:
    since when, or when first [s since 1970 UTC], None = not told; folds: ids of the elements
    that it speaks for.
    """

    gravity: int
    what: str
    do: str = ""
    utc_s: float | None = None
    folds: frozenset[str] = frozenset()

    @property
    def grade(self) -> str:
        """How grave it is, in words."""
        return GRAVITIES[self.gravity]


@dataclass
class Record:
    """What is known of a time.

    plant: the rig by "section.key_unit"; there: names of its instruments that gave readings;
    rows, when_s: of the time, with their ends [s since 1970 UTC]; begin_s, end_s: of the time
    [s since 1970 UTC], NaN = not known; place: latitude and longitude of the sun [deg];
    set_power_W: lamp power that the rig's description sets [W]; off_s: between what lengths
    [s] the board was off before its last start, infinite = not bounded, None = not known;
    goes_on: whether the shelf holds rows from after it.
    """

    plant: dict[str, Any]
    there: frozenset[str]
    rows: Rows
    when_s: np.ndarray
    begin_s: float
    end_s: float
    zone: tzinfo
    standing: Standing
    balance: Balance
    journal: Findings
    rehearsed: list[Rehearsed]
    place: tuple[float, float]
    set_power_W: float
    off_s: tuple[float, float] | None = None
    goes_on: bool = False

    @property
    def level_m(self) -> tuple[float, float]:
        """Levels at which the upper tank counts as empty and as full [m]."""
        tank = of_rig.tank(self.plant, "upper.")
        empty_m, full_m = (tank.level_m(self.plant[f"upper.{key}_volume_m3"])
                           for key in ("empty", "full"))
        return empty_m, full_m

    @property
    def is_long(self) -> bool:
        """Whether it is more than a day and its night."""
        return self.end_s - self.begin_s > SHORT_S

    def at(self, utc_s: float | None) -> str:
        """Return a time of it for a person, with its day where there are several."""
        return iso_local(utc_s, self.zone, "%d %b %H:%M" if self.is_long else "%H:%M")


def span_text(seconds: float) -> str:
    """Return a length of time [s] for a person."""
    if seconds < 2 * S_PER_MIN:
        return f"{seconds:.0f} s"
    if seconds < 2 * S_PER_H:
        return f"{seconds / S_PER_MIN:.0f} min"
    return f"{seconds / S_PER_H:.1f} h"


def times_text(count: int) -> str:
    """Return how often [-], in words."""
    return {1: "once", 2: "twice"}.get(count, f"{count} times")
