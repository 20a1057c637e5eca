"""Wall time from uptime: the board has no clock that survives a reset.

Each pull notes an *anchor*: the host's UTC beside the board's boot number and
uptime.  Within a boot the nearest anchors fix the time; between two of them
the offset is interpolated, which takes out the drift of the board's crystal.
"""

from dataclasses import dataclass
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
    """

    anchors: list[Anchor]

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
        begin_of_next = np.nan
        for key in np.unique(keys)[::-1]:
            mine = keys == key
            offset_s = self._offset_s(int(key >> 16), int(key & 0xFFFF), uptime_s[mine])
            if offset_s is None:
                offset_s = begin_of_next - uptime_s[mine].max()
            times[mine] = uptime_s[mine] + offset_s
            begin_of_next = times[mine].min() - uptime_s[mine].min()
        return times

    def _offset_s(self, life, boot, uptime_s):
        anchors = self._by_boot.get((life, boot))
        if anchors is None:
            return None
        at = [anchor.uptime_ds / DS_PER_S for anchor in anchors]
        return np.interp(
            uptime_s, at, [anchor.utc_s - s for anchor, s in zip(anchors, at, strict=True)]
        )
