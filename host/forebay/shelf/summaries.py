"""Summaries of a quarter hour, packed some to a block: decoded many blocks at a time.

Owns the body of a summary block (`host/docs/journal.md`, section 4).  One run
of bits goes through all columns of a block; the blocks of a batch go through
it in step, each at a place of its own.
"""

import numpy as np

from forebay.shelf.rows import SUMMARY_RECORD
from keeper.channels import COLUMNS, LIMB, TOTALS

VERSION = 1
BLOCK_HEAD = 2  # version, summaries
WIDTH_BITS = 6
# A code of up to 63 bits may lie across nine bytes.
PADDING = 16


def decode(data: bytes, starts: np.ndarray, lengths: np.ndarray, seqs: np.ndarray):
    """Decode the payloads of summary blocks that lie anywhere in `data`.

    starts, lengths: offset and length [bytes] of each payload; seqs: number of
    its first summary.  Returns (numbers [-], SUMMARY_RECORD array, count [-]
    of blocks that do not follow the format).
    """
    padded = np.frombuffer(data + bytes(PADDING), dtype=np.uint8)
    sound = lengths >= BLOCK_HEAD
    sound &= padded[starts] == VERSION
    refused = int(np.count_nonzero(~sound))
    starts, lengths, seqs = starts[sound], lengths[sound], seqs[sound]
    counts = padded[np.minimum(starts + 1, len(padded) - 1)].astype(np.int64)
    bits = _Bits(padded, (starts + BLOCK_HEAD) * 8)
    table = _table(bits, counts)
    fits = (bits.at + 7) // 8 == starts + lengths
    fits &= counts > 0
    real = (np.arange(table.shape[1]) < counts[:, None]) & fits[:, None]
    numbers = (seqs[:, None].astype(np.int64) + np.arange(table.shape[1]))[real]
    return numbers, table[real], refused + int(np.count_nonzero(~fits))


def _table(bits, counts):
    """Return (blocks, most summaries) records; those past a block's end are noise."""
    most = int(counts.max(initial=0))
    table = np.zeros((len(counts), most), dtype=SUMMARY_RECORD)
    for name in ("boot", "uptime_ds", "covered_s"):
        table[name] = bits.stepped(counts, most).astype(table[name].dtype)
    for channel in range(COLUMNS):
        mean = bits.stepped(counts, most)
        least = mean - bits.plain(counts, most)
        greatest = mean + bits.plain(counts, most)
        table["stored"][:, :, channel] = np.stack([least, mean, greatest], -1).astype("<i2")
    for index in range(len(TOTALS)):
        total = bits.stepped(counts, most)
        table["totals"][:, :, index] = np.stack([total % LIMB, total // LIMB], -1).astype("<u4")
    return table


class _Bits:
    """Reads codes of many blocks in step, least significant bit first; at: their places [bits]."""

    def __init__(self, data, at):
        self.words = np.ndarray((len(data) - 7,), dtype="<u8", buffer=data.data, strides=(1,))
        self.data = data
        self.at = at

    def stepped(self, counts, most):
        """Return (blocks, most) values [-]: a first one, then differences."""
        values = np.zeros((len(counts), most), dtype=np.int64)
        values[:, :1] = _signed(self._codes(self._width(), np.minimum(counts, 1), min(most, 1)))
        values[:, 1:] = _signed(self._codes(self._width(), np.maximum(counts - 1, 0), most - 1))
        return np.cumsum(values, axis=1)

    def plain(self, counts, most):
        """Return (blocks, most) values [-] that are never negative."""
        return self._codes(self._width(), counts, most).astype(np.int64)

    def _width(self):
        width = self._read(self.at[:, None], np.full(len(self.at), WIDTH_BITS))[:, 0]
        self.at = self.at + WIDTH_BITS
        return width.astype(np.int64)

    def _codes(self, width, counts, most):
        places = np.minimum(np.arange(max(most, 0)), np.maximum(counts - 1, 0)[:, None])
        codes = self._read(self.at[:, None] + places * width[:, None], width)
        self.at = self.at + width * counts
        return codes

    def _read(self, at, width):
        # A block that lies about its widths would lead past the end: it is refused afterwards.
        byte = np.minimum(at >> 3, len(self.words) - 9)
        shift = (at & 7).astype(np.uint64)
        low = self.words[byte] >> shift
        # Shifted twice, because a shift by all 64 bits is not defined.
        high = self.data[byte + 8].astype(np.uint64) << np.uint64(1) << (np.uint64(63) - shift)
        mask = (np.uint64(1) << width.astype(np.uint64)) - np.uint64(1)
        return (low | high) & mask[:, None]


def _signed(codes):
    codes = codes.astype(np.int64)
    return (codes >> 1) ^ -(codes & 1)
