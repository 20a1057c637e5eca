"""Summaries of a quarter hour, packed some to a block: decoded many blocks at a time.

Owns the body of a summary block (`host/docs/journal.md`, section 4).  One run
of bits goes through all columns of a block; the blocks of a batch go through
it in step, each at a place of its own.
"""

import numpy as np

from forebay.shelf.bits import Bits, signed
from forebay.shelf.rows import SUMMARY_RECORD
from keeper.channels import COLUMNS, LIMB, TOTALS
from keeper.journal.packing import BLOCK_HEAD, WIDTH_BITS
from keeper.journal.summary import VERSION


def decode(data: bytes, starts: np.ndarray, lengths: np.ndarray, seqs: np.ndarray):
    """Decode the payloads of summary blocks that lie anywhere in `data`.

    starts, lengths: offset and length [bytes] of each payload; seqs: number of
    its first summary.  Returns (numbers [-], SUMMARY_RECORD array, count [-]
    of blocks that do not follow the format).
    """
    if not len(starts):      # as in most parts of a journal: nothing is laid out for it
        return np.empty(0, np.int64), np.empty(0, SUMMARY_RECORD), 0
    bits = Bits(data)
    sound = lengths >= BLOCK_HEAD
    sound &= bits.data[starts] == VERSION
    refused = int(np.count_nonzero(~sound))
    starts, lengths, seqs = starts[sound], lengths[sound], seqs[sound]
    counts = bits.data[starts + 1].astype(np.int64)
    columns = _Columns(bits, (starts + BLOCK_HEAD) * 8)
    table = _table(columns, counts)
    fits = (columns.at + 7) // 8 == starts + lengths
    fits &= counts > 0
    real = (np.arange(table.shape[1]) < counts[:, None]) & fits[:, None]
    numbers = (seqs[:, None].astype(np.int64) + np.arange(table.shape[1]))[real]
    return numbers, table[real], refused + int(np.count_nonzero(~fits))


def _table(columns, counts):
    """Return (blocks, most summaries) records; those past a block's end are noise."""
    most = int(counts.max(initial=0))
    table = np.zeros((len(counts), most), dtype=SUMMARY_RECORD)
    for name in ("boot", "uptime_ds", "covered_s"):
        table[name] = columns.stepped(counts, most).astype(table[name].dtype)
    for channel in range(COLUMNS):
        mean = columns.stepped(counts, most)
        least = mean - columns.plain(counts, most)
        greatest = mean + columns.plain(counts, most)
        table["stored"][:, :, channel] = np.stack([least, mean, greatest], -1).astype("<i2")
    for index in range(len(TOTALS)):
        total = columns.stepped(counts, most)
        table["totals"][:, :, index] = np.stack([total % LIMB, total // LIMB], -1).astype("<u4")
    return table


class _Columns:
    """Reads the columns of many blocks in step; at: where each block's next one begins [bits]."""

    def __init__(self, bits, at):
        self.bits = bits
        self.at = at

    def stepped(self, counts, most):
        """Return (blocks, most) values [-]: a first one, then differences."""
        values = np.zeros((len(counts), most), dtype=np.int64)
        values[:, :1] = signed(self.plain(np.minimum(counts, 1), min(most, 1)))
        values[:, 1:] = signed(self.plain(np.maximum(counts - 1, 0), most - 1))
        return np.cumsum(values, axis=1)

    def plain(self, counts, most):
        """Return (blocks, most) values [-] that are never negative."""
        width = self.bits.take_fixed(self.at, WIDTH_BITS)
        places = np.minimum(np.arange(max(most, 0)), np.maximum(counts - 1, 0)[:, None])
        first = self.at + WIDTH_BITS
        self.at = first + width * counts
        at, widths = first[:, None] + places * width[:, None], width[:, None]
        return self.bits.take(at, widths).astype(np.int64)
