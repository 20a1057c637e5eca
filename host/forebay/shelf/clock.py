"""Wall time from uptime: the board has no clock that survives a reset.

Each pull notes an *anchor*: the host's UTC beside the board's boot number and
uptime.  Within a boot the nearest anchors fix the time; between two of them
the offset is interpolated, which takes out the drift of the board's crystal.
"""

from dataclasses import dataclass, field
from typing import NamedTuple

import numpy as np

DS_PER_S = 10


class Anchor(NamedTuple):
    """The host's time beside the board's; utc_s: seconds since 1970 UTC [s]."""

    life: int
    boot: int
    uptime_ds: int
    utc_s: float
    uncertainty_s: float


@dataclass
class Clock:
    """Turns (life, boot, uptime) into UTC.

    A boot without an anchor took place at a time that nobody noted.  What is
    known is that it ended before the next boot began; `utc` places such a
    boot as late as that allows, and `is_anchored` tells which rows are placed
    so.

    ends: the last uptime [s] known of each (life, boot), from every record of
    the journal; without it rows and events of a boot would be placed apart.
    """

    anchors: list[Anchor]
    ends: dict[tuple[int, int], float] = field(default_factory=dict)

    def __post_init__(self):
        self._by_boot = {}
        for anchor in sorted(self.anchors):
            self._by_boot.setdefault((anchor.life, anchor.boot), []).append(anchor)

    def is_anchored(self, life: int, boot: int) -> bool:
        """Return whether an anchor fixes the time of that boot."""
        return (life, boot) in self._by_boot

    def utc(self, life, boot, uptime_ds) -> np.ndarray:
        """Return the times [s since 1970 UTC] of moments, NaN where nothing bounds them.

        life, boot [-], uptime_ds [0.1 s]: arrays of one length, in the order
        of the journal.
        """
        life, boot = np.asarray(life, np.int64), np.asarray(boot, np.int64)
        uptime_s = np.asarray(uptime_ds, np.float64) / DS_PER_S
        times = np.full(len(uptime_s), np.nan)
        keys = life << 16 | boot
        told = {(int(key) >> 16, int(key) & 0xFFFF) for key in np.unique(keys)}
        begin_of_next_s = np.nan
        for one in sorted(told | set(self.ends) | set(self._by_boot), reverse=True):
            mine = keys == (one[0] << 16 | one[1])
            if one in self._by_boot:
                begin_s = self._offset_s(one, 0.0)
                offset_s = self._offset_s(one, uptime_s[mine])
            else:
                last_s = max(self.ends.get(one, 0.0), uptime_s[mine].max(initial=0.0))
                offset_s = begin_s = begin_of_next_s - last_s
            times[mine] = uptime_s[mine] + offset_s
            begin_of_next_s = begin_s
        return times

    def _offset_s(self, key, uptime_s):
        """Return UTC less uptime [s] at uptimes [s] of an anchored boot."""
        at = [anchor.uptime_ds / DS_PER_S for anchor in self._by_boot[key]]
        offsets = [anchor.utc_s - s for anchor, s in zip(self._by_boot[key], at, strict=True)]
        return np.interp(uptime_s, at, offsets)


def ends_of(*tables) -> dict[tuple[int, int], float]:
    """Return the last uptime [s] of each (life, boot) in tables of life, boot and uptime_ds."""
    ends: dict[tuple[int, int], float] = {}
    for life, boot, uptime_ds in tables:
        life, boot = np.asarray(life, np.int64), np.asarray(boot, np.int64)
        keys = life << 16 | boot
        for key in np.unique(keys):
            one = (int(key) >> 16, int(key) & 0xFFFF)
            last_s = float(np.asarray(uptime_ds)[keys == key].max()) / DS_PER_S
            ends[one] = max(ends.get(one, 0.0), last_s)
    return ends
