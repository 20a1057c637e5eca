"""Numbers that lie bit behind bit in packed blocks, many blocks at a time.

Owns how one is read, least significant bit first (`host/docs/journal.md`, section 4);
must not know what a block holds.
"""

import numpy as np

_WINDOW_BYTES = 8
# A number begins inside a byte of its window: a wider one ends in the byte behind that.
_WINDOW_BITS = 8 * _WINDOW_BYTES - 7


class Bits:
    """Numbers of up to 63 bits from any bit of the data.

    Attribute data: its bytes, with some more behind them, so that what leads past the end
    reads as anything; the block that led there does not end where it should.
    """

    def __init__(self, data: bytes):
        self.data = np.frombuffer(data + bytes(2 * _WINDOW_BYTES), dtype=np.uint8)
        self._last = len(data)
        self._words = np.ndarray(
            (self._last + 1,), dtype="<u8", buffer=self.data.data, strides=(1,))

    def take(self, at, widths):
        """Return the numbers of `widths` bits at bit offsets `at`."""
        byte = np.minimum(at >> 3, self._last)
        shift = (at & 7).astype(np.uint64)
        window = self._words[byte] >> shift
        if widths.max(initial=0) > _WINDOW_BITS:
            # Shifted twice, because a shift by all 64 bits is not defined.
            behind = self.data[byte + _WINDOW_BYTES].astype(np.uint64)
            window |= behind << np.uint64(1) << (np.uint64(63) - shift)
        return window & ((np.uint64(1) << widths.astype(np.uint64)) - np.uint64(1))

    def take_fixed(self, at, width):
        """Return the numbers of one width [bits], as signed integers."""
        return self.take(at, np.uint64(width)).astype(np.int64)


def signed(codes):
    """Return the numbers whose zigzag forms these are, modulo the range of their type."""
    one = codes.dtype.type(1)
    return (codes >> one) ^ -(codes & one)
