"""Rows of the journal as columns, and the plain records beside them.

Owns the payload layouts of `host/docs/journal.md`, section 4, except the
packed block.  Stored values keep the journal's 16-bit form; `Rows.si` turns
them into numbers with NaN where the board did not trust a reading.
"""

from dataclasses import dataclass

import numpy as np

from forebay.si import stored_si
from keeper.channels import COLUMNS, LIMB, TOTALS

# The fields of a row before its stored values, in the journal's order.
ROW_FIELDS = ("boot", "uptime_ds", "scans", "state", "contacts")
ROW_TYPES = ("<u2", "<u4", "<u2", "u1", "u1")

_TOTALS = ("totals", "<u4", (len(TOTALS), 2))
_ROW_HEAD = list(zip(ROW_FIELDS, ROW_TYPES, strict=True))
ROW_RECORD = np.dtype([*_ROW_HEAD, ("stored", "<i2", COLUMNS), ("spare", "<u2")])
EVENT_RECORD = np.dtype(
    [
        ("boot", "<u2"),
        ("uptime_ds", "<u4"),
        ("code", "u1"),
        ("argument", "u1"),
        ("state", "u1"),
        ("contacts", "u1"),
        ("argument2", "<i4"),
        ("stored", "<i2", COLUMNS),
        _TOTALS,
    ]
)
TOTALS_RECORD = np.dtype([("boot", "<u2"), ("uptime_ds", "<u4"), _TOTALS])
SUMMARY_RECORD = np.dtype(
    [
        ("boot", "<u2"),
        ("uptime_ds", "<u4"),
        ("covered_s", "<u2"),
        ("stored", "<i2", (COLUMNS, 3)),
        _TOTALS,
    ]
)


@dataclass
class Rows:
    """Rows in the order of their numbers; every attribute is one array over the rows.

    generation: which journal of the board (it starts a new one when its filesystem
    was made anew) [-]; seq: number of the row [-]; uptime_ds: uptime at the
    end of the interval [0.1 s]; scans [-]; state, contacts: as in the
    keeper's tables; stored: (14, rows) values in steps of their channel.
    """

    generation: np.ndarray
    seq: np.ndarray
    boot: np.ndarray
    uptime_ds: np.ndarray
    scans: np.ndarray
    state: np.ndarray
    contacts: np.ndarray
    stored: np.ndarray

    @classmethod
    def empty(cls, count: int) -> "Rows":
        """Return `count` [-] rows that are yet to be filled."""
        fields = [np.empty(count, dtype=kind) for kind in ("<u2", "<u4", *ROW_TYPES)]
        rows = cls(*fields, stored=np.empty((COLUMNS, count), dtype="<i2"))
        rows.generation[:] = 0
        return rows

    @classmethod
    def joined(cls, parts: list["Rows"]) -> "Rows":
        """Return the rows of several parts, one after the other."""
        if not parts:
            return cls.empty(0)
        names = [name for name in cls.__dataclass_fields__ if name != "stored"]
        fields = [np.concatenate([getattr(part, name) for part in parts]) for name in names]
        return cls(*fields, stored=np.concatenate([part.stored for part in parts], axis=1))

    @classmethod
    def from_records(cls, seqs: np.ndarray, payloads: bytes) -> "Rows":
        """Return the rows of plain records: their numbers [-] and payloads, back to back."""
        records = np.frombuffer(payloads, dtype=ROW_RECORD)
        rows = cls.empty(len(records))
        rows.seq[:] = seqs
        for name in ROW_FIELDS:
            getattr(rows, name)[:] = records[name]
        rows.stored[:] = records["stored"].T
        return rows

    def __len__(self) -> int:
        return len(self.seq)

    def take(self, index) -> "Rows":
        """Return the rows that `index`, a mask or list of places [-], selects."""
        names = [name for name in self.__dataclass_fields__ if name != "stored"]
        fields = [getattr(self, name)[index] for name in names]
        # Not by stored[:, places], whose result has the values of a channel far apart.
        stored = (self.stored[:, index] if isinstance(index, slice) else
                  np.stack([channel[index] for channel in self.stored]))
        return Rows(*fields, stored=stored)

    def si(self, index: int) -> np.ndarray:
        """Return a channel's means [SI unit, temperatures in degC]; NaN where not trusted."""
        return stored_si(self.stored[index], index)


def total_values(limbs: np.ndarray) -> np.ndarray:
    """Return totals [unit of each total] from their two limbs (..., 10, 2) as whole numbers."""
    return limbs[..., 0].astype(np.int64) + limbs[..., 1].astype(np.int64) * LIMB
