"""The interval that holds a figure with 95 %: how many standard uncertainties it takes.

Two are right for a normal distribution and too many for one meter's calibration, which
lies anywhere within its limits: a rectangle's 95 % end at 1.65 (GUM 4.3.7, G.1.4).  How
near a sum is to either its fourth cumulant says: that of a rectangle is -6/5 of u^4, and
cumulants of independent errors add.
"""

import math

import numpy as np

from forebay.balance.measured import Measured
from forebay.words.measured import CHANNELS

# Excess of the fourth moment [u^4] -> half-width of 95 % [u]: a rectangle, a triangle (two
# rectangles of one size, GUM 4.3.9 note 2), a normal distribution.
RECTANGLE = -1.2
KNOWN = ((RECTANGLE, 0.95 * math.sqrt(3.0)), (RECTANGLE / 2, (1 - 0.05**0.5) * math.sqrt(6.0)),
         (0.0, 1.959964))
_THROUGH = np.polyfit([one for one, _ in KNOWN], [half for _, half in KNOWN], 2)
TAGS = frozenset(one.tag for one in CHANNELS.values())
# Two errors of one curve: any share of both is a rectangle again.
ENDS = (" floor", " rim")


def half_95(figure: Measured) -> float:
    """Return the half-width of a figure's 95 % interval [unit of the figure]."""
    if not figure.u:
        return 0.0
    limited: dict[str, float] = {}
    for source, part in figure.parts.items():
        tag = source.split(" ", 1)[0] if isinstance(source, str) else None
        if tag in TAGS:
            name = tag if source.startswith("LI") and source.endswith(ENDS) else source
            limited[name] = math.hypot(limited.get(name, 0.0), part)
    excess = RECTANGLE * sum(part**4 for part in limited.values()) / figure.u**4
    return float(np.polyval(_THROUGH, excess)) * figure.u
