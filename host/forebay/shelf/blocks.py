"""Packed blocks of rows, decoded many at a time.

Owns the block body of `host/docs/journal.md`, section 4.  All blocks of a
batch go through their columns in step: the place of a column depends on the
widths of those before it in the same block only, so each column is one
vectorised pass over the batch.
"""

import numpy as np

from forebay.shelf.rows import ROW_FIELDS, Rows
from keeper.blocks import BLOCK_HEAD, COLUMN_HEAD, ROWS_MOST, VERSION
from keeper.channels import COLUMNS

WIDEST_CODE = 32
# Blocks a batch: the work arrays (blocks x 64 x 8 bytes) then stay in a core's cache.
BATCH = 256
# A code starts inside a byte and is read through one 64-bit window.
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
    places, widths, fits = _column_places(data, starts, lengths, counts, sound)
    refused += int(np.count_nonzero(~fits))
    places, widths, counts, seqs = places[:, fits], widths[:, fits], counts[fits], seqs[fits]
    kept = np.arange(ROWS_MOST) < counts[:, None]
    numbers = (seqs[:, None] + np.arange(ROWS_MOST))[kept]
    rows = Rows.empty(len(numbers))
    rows.seq[:] = numbers
    for index in range(len(ROW_FIELDS) + COLUMNS):
        twice = index < len(ROW_FIELDS) and ROW_FIELDS[index] == "uptime_ds"
        values = _column(data, places[index], widths[index], counts, twice)[kept]
        if index < len(ROW_FIELDS):
            target = getattr(rows, ROW_FIELDS[index])
        else:
            target = rows.stored[index - len(ROW_FIELDS)]
        target[:] = values.astype(target.dtype)
    return rows, refused


def _column_places(data, starts, lengths, counts, sound):
    """Return (offset of each column head, its width, whether the block fits its length)."""
    columns = len(ROW_FIELDS) + COLUMNS
    places = np.zeros((columns, len(starts)), dtype=np.int64)
    widths = np.zeros((columns, len(starts)), dtype=np.int64)
    ends = starts + lengths
    at = starts + BLOCK_HEAD
    for index in range(columns):
        sound = sound & (at + COLUMN_HEAD <= ends)
        # A block found unsound reads its own start from here on; it is dropped below.
        at = np.where(sound, at, starts)
        width = data[at + COLUMN_HEAD - 1].astype(np.int64)
        sound = sound & (width <= WIDEST_CODE)
        places[index] = at
        widths[index] = width
        at = at + COLUMN_HEAD + ((counts - 1) * width + 7) // 8
    return places, widths, sound & (at == ends)


def _column(data, places, widths, counts, twice):
    """Return the values of one column, (blocks, 64) [-]; entries past a block's end are noise.

    All arithmetic is modulo 2**32, which every value and difference fits.
    """
    words = np.ndarray(
        (len(data) - WINDOW_BYTES + 1,), dtype="<u8", buffer=data.data, strides=(1,)
    )
    # Codes past the end of a short block are read from its own last code.
    steps = np.minimum(np.arange(ROWS_MOST - 1), np.maximum(counts - 2, 0)[:, None])
    bits = steps * widths[:, None]
    window = words[(places + COLUMN_HEAD)[:, None] + (bits >> 3)]
    window >>= (bits & 7).astype(np.uint64)
    masks = ((np.uint64(1) << widths.astype(np.uint64)) - np.uint64(1)).astype(np.uint32)
    codes = window.astype(np.uint32) & masks[:, None]
    values = np.empty((len(places), ROWS_MOST), dtype=np.uint32)
    values[:, 0] = words[places].astype(np.uint32)
    np.bitwise_xor(codes >> 1, -(codes & 1), out=values[:, 1:])
    if twice:
        np.cumsum(values[:, 1:], axis=1, dtype=np.uint32, out=values[:, 1:])
    return np.cumsum(values, axis=1, dtype=np.uint32)
