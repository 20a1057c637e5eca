"""Packs what is held into one self-contained block: numbers of some bits each, bit behind bit.

Owns what blocks of rows and of summaries have in common.  The format is the
journal's specification, section 4.
"""

from keeper.journal.records import HEAD, TRAILER, seal

BLOCK_HEAD = 2   # version, how many things the block holds
WIDTH_BITS = 6   # of a width: 0 to 63 bits


def width_of(bits):
    """Return how many bits a number [0 or more] takes; 0 for 0."""
    return len(bin(bits)) - len("0b") if bits else 0


def zigzag(number):
    """Return a signed number as an unsigned one: small for small ones of either sign."""
    return 2 * number if number >= 0 else -2 * number - 1


class BlockPacker:
    """Turns what is held, column by column, into one block record, a slice at a time.

    `begin`, then `step` until it returns True; then the record is
    buffer[:size].  Attributes: held, what it packs; most, how many of them a
    block takes; count, how many the block has.
    """

    def __init__(self, held, most, kind, version, payload_bytes_most):
        """kind, version: of the record and its block [-]; payload_bytes_most [bytes]."""
        self.held = held
        self.most = most
        self.kind = kind
        self.version = version
        self.buffer = bytearray(HEAD + payload_bytes_most + TRAILER)
        self.size = 0     # bytes written so far
        self.waiting = 0  # bits that do not fill a byte yet
        self.bits = 0     # how many
        self.seq = 0      # number of the first that is packed
        self.count = 0
        self.column = 0   # column being packed

    def begin(self, count):
        """Start a block of the oldest `count` [1 to most] that are held."""
        self.seq = self.held.first_seq
        self.count = count
        self.column = 0
        self.waiting = 0
        self.bits = 0
        self.buffer[HEAD] = self.version
        self.buffer[HEAD + 1] = count
        self.size = HEAD + BLOCK_HEAD

    def step(self):
        """Do one slice of the work; return whether the record is complete."""
        raise NotImplementedError

    def _end_column(self, columns):
        """Go on to the next of `columns` [-]; behind the last one the record is complete."""
        self.column += 1
        if self.column < columns:
            return False
        self._put(0, -self.bits % 8)
        self._flush()
        self.size = seal(self.buffer, 0, self.kind, self.seq, self.size - HEAD)
        return True

    def _put(self, number, width):
        self.waiting |= number << self.bits
        self.bits += width

    def _put_all(self, numbers, first, end, width):
        """Add numbers[first:end], with so many bits each, to what waits."""
        waiting = self.waiting
        bits = self.bits
        for at in range(first, end):
            waiting |= numbers[at] << bits
            bits += width
        self.waiting = waiting
        self.bits = bits

    def _flush(self):
        """Move whole bytes to the buffer."""
        count = self.bits // 8
        rest = self.waiting >> 8 * count
        whole = self.waiting - (rest << 8 * count)
        self.buffer[self.size:self.size + count] = whole.to_bytes(count, "little")
        self.size += count
        self.bits -= 8 * count
        self.waiting = rest
