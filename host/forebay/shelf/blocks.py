"""Packed blocks of rows, decoded many at a time.

Owns the block body of `host/docs/journal.md`, section 4.  All blocks of a
batch go through their columns in step: the place of a column depends on the
widths of those before it in the same block only, so each column is one
vectorised pass over the batch.
"""

import numpy as np

from forebay.shelf.rows import ROW_FIELDS, Rows
from keeper.channels import COLUMNS
from keeper.journal.blocks import (
    BLOCK_HEAD,
    CONSTANT,
    GROUP,
    GROUPS,
    LEVELS,
    MODE_BITS,
    NARROWER_BITS,
    ROWS_MOST,
    STEPS,
    VERSION,
    WIDTH_BITS,
)

WIDEST_CODE = 33
# Blocks a batch: the work arrays (blocks x 64 x 8 bytes) then stay in a core's cache.
BATCH = 256
# A number starts inside a byte and is read through one 64-bit window.
WINDOW_BYTES = 8


def decode(data: bytes, starts: np.ndarray, lengths: np.ndarray, seqs: np.ndarray):
    """Decode block payloads that lie anywhere in `data`.

    starts, lengths: offset and length [bytes] of each payload; seqs: number of
    its first row.  Returns (Rows, count [-] of blocks that do not follow the format).
    """
    padded = np.frombuffer(data + bytes(WINDOW_BYTES), dtype=np.uint8)
    parts = []
    refused = 0
    for first in range(0, len(starts), BATCH):
        batch = slice(first, first + BATCH)
        rows, bad = _decode_batch(padded, starts[batch], lengths[batch], seqs[batch])
        parts.append(rows)
        refused += bad
    return Rows.joined(parts), refused


def _decode_batch(data, starts, lengths, seqs):
    sound = lengths >= BLOCK_HEAD
    starts, lengths, seqs = starts[sound], lengths[sound], seqs[sound]
    refused = int(np.count_nonzero(~sound))
    counts = data[starts + 1].astype(np.int64)
    sound = (data[starts] == VERSION) & (counts >= 1) & (counts <= ROWS_MOST)
    bits = _Bits(data)
    columns = []
    at = (starts + BLOCK_HEAD) * 8
    for _ in range(len(ROW_FIELDS) + COLUMNS):
        head, at, fits = _head(bits, at, counts)
        columns.append(head)
        sound &= fits
    fits = sound & ((at + 7) // 8 == starts + lengths)
    refused += int(np.count_nonzero(~fits))
    counts, seqs = counts[fits], seqs[fits]
    real = np.arange(ROWS_MOST) < counts[:, None]
    numbers = (seqs[:, None] + np.arange(ROWS_MOST))[real]
    rows = Rows.empty(len(numbers))
    rows.seq[:] = numbers
    for index, head in enumerate(columns):
        twice = index < len(ROW_FIELDS) and ROW_FIELDS[index] == "uptime_ds"
        mode, first, widths, offsets = (part[fits] for part in head)
        values = _column(bits, mode, first, widths, offsets, twice)[real]
        if index < len(ROW_FIELDS):
            target = getattr(rows, ROW_FIELDS[index])
        else:
            target = rows.stored[index - len(ROW_FIELDS)]
        target[:] = values.astype(target.dtype)
    return rows, refused


class _Bits:
    """Numbers of any width up to 57 bits from any bit of the data, many at a time."""

    def __init__(self, data):
        count = len(data) - WINDOW_BYTES + 1
        self._words = np.ndarray((count,), dtype="<u8", buffer=data.data, strides=(1,))
        self._last = 8 * (count - 1)

    def take(self, at, widths):
        """Return the numbers of `widths` bits at bit offsets `at`; past the end, anything."""
        at = np.minimum(at, self._last)
        window = self._words[at >> 3] >> (at & 7).astype(np.uint64)
        return window & ((np.uint64(1) << widths.astype(np.uint64)) - np.uint64(1))

    def take_fixed(self, at, width):
        """Return the numbers of one width [bits], as signed integers."""
        return self.take(at, np.uint64(width)).astype(np.int64)


def _head(bits, at, counts):
    """Return ((mode, first number, widths, offsets of groups), end, whether it can be so)."""
    mode = bits.take_fixed(at, MODE_BITS)
    width = bits.take_fixed(at + MODE_BITS, WIDTH_BITS)
    sound = (mode <= STEPS) & (width <= WIDEST_CODE)
    at = at + MODE_BITS + WIDTH_BITS
    first = _signed(bits.take(at, width).astype(np.uint32))
    at = at + np.where(sound, width, 0)
    varies = mode != CONSTANT
    items = np.where(varies, np.where(mode == LEVELS, counts, counts - 1), 0)
    widest = bits.take_fixed(at, WIDTH_BITS)
    sound &= ~varies | (widest <= WIDEST_CODE)
    heads = at + WIDTH_BITS
    group = np.arange(GROUPS)
    narrower = bits.take_fixed(heads[:, None] + NARROWER_BITS * group, NARROWER_BITS)
    inside = np.clip(items[:, None] - GROUP * group, 0, GROUP)
    widths = np.where(inside > 0, np.maximum(widest[:, None] - narrower, 0), 0)
    widths = np.minimum(widths, WIDEST_CODE)
    ends = np.cumsum(inside * widths, axis=1)
    groups = np.count_nonzero(inside, axis=1)
    offsets = (heads + NARROWER_BITS * groups)[:, None] + ends - inside * widths
    end = np.where(varies, heads + NARROWER_BITS * groups + ends[:, -1], at)
    return (mode, first, widths, offsets), end, sound


def _signed(codes):
    """Return the numbers whose zigzag forms these are, modulo 2**32."""
    return (codes >> np.uint32(1)) ^ (np.uint32(0) - (codes & np.uint32(1)))


def _column(bits, mode, first, widths, offsets, twice):
    """Return the values of one column, (blocks, 64) [-]; entries past a block's end are noise.

    All arithmetic is modulo 2**32, which every value and difference fits.
    """
    each = np.repeat(widths, GROUP, axis=1)
    at = np.repeat(offsets, GROUP, axis=1) + np.tile(np.arange(GROUP), GROUPS) * each
    codes = bits.take(at, each).astype(np.uint32)
    values = np.empty((len(mode), ROWS_MOST), dtype=np.uint32)
    values[:, 0] = first
    values[:, 1:] = _signed(codes[:, :-1])
    if twice:
        np.cumsum(values[:, 1:], axis=1, dtype=np.uint32, out=values[:, 1:])
    values = np.cumsum(values, axis=1, dtype=np.uint32)
    level = mode == LEVELS
    values[level] = first[level, None] + codes[level]
    return values
