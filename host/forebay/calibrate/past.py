"""Past days of one rig as columns: what the tasks need that ask no board."""

from dataclasses import dataclass

import numpy as np

from forebay.shelf import Rows, Shelf
from forebay.shelf.query import parts
from keeper.clock import PERIODS_PER_S

DAY_S = 86400.0
MOST_DAYS = 31     # that are looked at where no period is named: some 200 000 rows


@dataclass
class Past:
    """Rows in order, each a mean over its interval.

    at_s: end of each [s], on one axis within a boot; seconds: its length [s]; boot: changes
    where the board started anew; state: `keeper.modes`; rows: the columns.
    """

    at_s: np.ndarray
    seconds: np.ndarray
    boot: np.ndarray
    state: np.ndarray
    rows: Rows

    @classmethod
    def of(cls, rows: Rows) -> "Past":
        """Return rows of a journal as a past."""
        boot = rows.generation.astype(np.int64) << 16 | rows.boot
        return cls(rows.uptime_ds / PERIODS_PER_S, rows.scans / PERIODS_PER_S, boot,
                   rows.state.astype(int), rows)

    def __len__(self) -> int:
        return len(self.at_s)

    def si(self, channel: int) -> np.ndarray:
        """Return a channel [SI unit]; NaN where not trusted."""
        return self.rows.si(channel)

    def runs(self, is_in: np.ndarray, least_s: float) -> list[slice]:
        """Return the runs of rows without a gap in which a mask holds, so long at least [s]."""
        if not len(self):
            return []
        begins_s = self.at_s - self.seconds
        joins = (np.diff(self.boot) == 0) & (np.abs(begins_s[1:] - self.at_s[:-1]) < 1.0)
        edges = np.flatnonzero(~(joins & is_in[1:] & is_in[:-1])) + 1
        parts_ = [slice(first, last) for first, last in
                  zip([0, *edges], [*edges, len(self)], strict=True)]
        return [one for one in parts_ if is_in[one].all()
                and self.at_s[one][-1] - begins_s[one][0] >= least_s]


def maybe_past(shelf: Shelf, rig_id: int, period: tuple[float, float] | None) -> Past | None:
    """Return the rows of a period, of the newest MOST_DAYS where it is None; None for none."""
    if period is None:
        period = _newest(shelf, rig_id)
    found = [one.rows for one in parts(shelf, rig_id, period)] if period else []
    rows = Rows.joined(found)
    return Past.of(rows) if len(rows) else None


def _newest(shelf, rig_id):
    last_s = None
    for one in parts(shelf, rig_id):
        known = one.times.utc_s[np.isfinite(one.times.utc_s)]
        if len(known):
            last_s = max(float(known.max()), last_s or 0.0)
    return None if last_s is None else (last_s - MOST_DAYS * DAY_S, last_s + 1.0)

