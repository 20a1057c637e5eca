"""Packed blocks of rows, decoded many at a time.

Owns the block body of `host/docs/journal.md`, section 4.  All blocks of a
batch go through their columns in step: the place of a column depends on the
widths of those before it in the same block only, so each column is one
vectorised pass over the batch.
"""

import numpy as np

from forebay.shelf.bits import Bits, signed
from forebay.shelf.rows import ROW_FIELDS, Rows
from keeper.channels import COLUMNS
from keeper.journal.blocks import (
    CONSTANT,
    GROUP,
    GROUPS,
    LEVELS,
    MODE_BITS,
    NARROWER_BITS,
    ROWS_MOST,
    STEPS,
    VERSION,
)
from keeper.journal.packing import BLOCK_HEAD, WIDTH_BITS

WIDEST_CODE = 33
# Blocks a batch: the work arrays (blocks x 64 x 8 bytes) then stay in a core's cache.
BATCH = 256


def decode(data: bytes, starts: np.ndarray, lengths: np.ndarray, seqs: np.ndarray):
    """Decode block payloads that lie anywhere in `data`.

    starts, lengths: offset and length [bytes] of each payload; seqs: number of
    its first row.  Returns (Rows, count [-] of blocks that do not follow the format).
    """
    bits = Bits(data)
    parts = []
    refused = 0
    for first in range(0, len(starts), BATCH):
        batch = slice(first, first + BATCH)
        rows, bad = _decode_batch(bits, starts[batch], lengths[batch], seqs[batch])
        parts.append(rows)
        refused += bad
    return Rows.joined(parts), refused


def _decode_batch(bits, starts, lengths, seqs):
    sound = lengths >= BLOCK_HEAD
    starts, lengths, seqs = starts[sound], lengths[sound], seqs[sound]
    refused = int(np.count_nonzero(~sound))
    counts = bits.data[starts + 1].astype(np.int64)
    sound = (bits.data[starts] == VERSION) & (counts >= 1) & (counts <= ROWS_MOST)
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


def _head(bits, at, counts):
    """Return ((mode, first number, widths, offsets of groups), end, whether it can be so)."""
    mode = bits.take_fixed(at, MODE_BITS)
    width = bits.take_fixed(at + MODE_BITS, WIDTH_BITS)
    sound = (mode <= STEPS) & (width <= WIDEST_CODE)
    at = at + MODE_BITS + WIDTH_BITS
    first = signed(bits.take(at, width).astype(np.uint32))
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


def _column(bits, mode, first, widths, offsets, twice):
    """Return the values of one column, (blocks, 64) [-]; entries past a block's end are noise.

    All arithmetic is modulo 2**32, which every value and difference fits.
    """
    each = np.repeat(widths, GROUP, axis=1)
    at = np.repeat(offsets, GROUP, axis=1) + np.tile(np.arange(GROUP), GROUPS) * each
    codes = bits.take(at, each).astype(np.uint32)
    values = np.empty((len(mode), ROWS_MOST), dtype=np.uint32)
    values[:, 0] = first
    values[:, 1:] = signed(codes[:, :-1])
    if twice:
        np.cumsum(values[:, 1:], axis=1, dtype=np.uint32, out=values[:, 1:])
    values = np.cumsum(values, axis=1, dtype=np.uint32)
    level = mode == LEVELS
    values[level] = first[level, None] + codes[level]
    return values
