"""Answers Modbus requests: registers (FC 3, 4, 6, 16) and files (FC 20).

Files are those of the journal, their list, and the text of the last error.

Owns the meaning of a request, not its framing: the same answers serve a
serial line and TCP.  Layouts and exceptions: "MODBUS Application Protocol"
V1.1b3, sections 6.3, 6.4, 6.6, 6.12, 6.14 and 7.
"""

import os
import struct

from keeper.link import layout
from keeper.link.desk import Desk
from keeper.link.published import U32_MOST, Published

READ_HOLDING, READ_INPUT, WRITE_ONE, WRITE_MANY, READ_FILE = 3, 4, 6, 16, 20
ILLEGAL_FUNCTION, ILLEGAL_ADDRESS, ILLEGAL_VALUE, FAILURE = 1, 2, 3, 4
BUSY = 6
EXCEPTION = 0x80  # added to the function code of an exception's answer
PDU_MOST = 253

READ_MOST = 125          # registers in one answer of FC 3 and 4
WRITE_MOST = 123         # registers in one request of FC 16
READ_REQUEST = 5         # bytes of a request of FC 3, 4 and 6
WRITE_HEAD = 6           # bytes of a request of FC 16 ahead of its registers
FILE_GROUP = 7           # bytes of a sub-request: type, file, record, length
FILE_REFERENCE = 6       # the only type of reference there is
FILE_DATA_MOST = 0xF5    # bytes in a request or an answer of FC 20
RECORDS = 10000          # registers of a file

# How numbers of each type are packed; a negative one as its two's complement.
CODES = {"u16": ">H", "i16": ">H", "u32": ">I", "i32": ">I", "u64": ">Q"}
MASKS = {kind: (1 << 16 * words) - 1 for kind, words in layout.WORDS.items()}


class Refused(Exception):
    """A request gets an exception for its answer.  Attribute: code, 1 to 6."""

    def __init__(self, code):
        super().__init__(code)
        self.code = code


class Answers:
    """The Modbus server of one line, without its framing.

    Attributes: desk, the order desk that all lines of a board share;
    published, what its registers say; local, it is the line at the board.
    """

    def __init__(self, keeper, journal, desk=None, local=False):
        """Answer from a keeper and its journal; without a desk no order passes."""
        self.keeper = keeper
        self.journal = journal
        self.desk = desk or Desk(keeper)
        self.local = local
        self.published = Published(keeper, journal, self.desk)
        self.image = self.desk.image
        self.order = bytearray(2 * layout.ORDER_WORDS)
        self.directory = b""
        self.functions = {
            READ_HOLDING: self._holding_registers, READ_INPUT: self._input_registers,
            WRITE_ONE: self._write_one, WRITE_MANY: self._write_many,
            READ_FILE: self._file_records}

    def answer(self, request, reply):
        """Answer the PDU `request` [bytes-like] in `reply` [at least PDU_MOST bytes].

        Returns the bytes of the answer.  Nothing is raised: what cannot be
        answered is answered by an exception.
        """
        self.published.requests = (self.published.requests + 1) & U32_MOST
        try:
            if request[0] not in self.functions:
                raise Refused(ILLEGAL_FUNCTION)
            return self.functions[request[0]](request, reply)
        except Refused as refused:
            code = refused.code
        except OSError:
            code = FAILURE
        reply[0] = request[0] | EXCEPTION
        reply[1] = code
        return 2

    # Registers

    def _input_registers(self, request, reply):
        first, count = _span(request, layout.REGISTERS_END)
        self._refresh(first, first + count)
        return _registers(request, reply, self.image, first, count)

    def _holding_registers(self, request, reply):
        first, count = _span(request, layout.ORDER_WORDS)
        return _registers(request, reply, self.order, first, count)

    def _refresh(self, first, end):
        """Bring the registers first to end - 1 of the image up to date."""
        if end > layout.SUMS:
            self.keeper.totals.settle()
        for address, kind, what, count in layout.BLOCKS:
            if address >= end:
                break
            if isinstance(what, str):
                self._refresh_values(address, kind, what, count, first, end)
            elif address + count > first:
                self._refresh_table(address, kind, what, first, end)

    def _refresh_values(self, address, kind, width, count, first, end):
        """Refresh those of `count` values of one type that the registers touch."""
        words = layout.WORDS[width]
        published = self.published
        for index in range(max(0, (first - address) // words),
                           min(count, (end - address + words - 1) // words)):
            self._store(address + index * words, width, published.value(kind, index))

    def _refresh_table(self, address, kind, types, first, end):
        """Refresh the rows of a table that the registers touch."""
        values = self.published.table(kind)
        for row in range(len(types)):
            after = address + layout.WORDS[types[row]]
            if after > first and address < end:
                self._store(address, types[row], values[row])
            address = after

    def _store(self, address, kind, value):
        """Put a number, or bytes, into the image, most significant first."""
        if isinstance(value, bytes):
            self.image[2 * address:2 * address + len(value)] = value
        else:
            struct.pack_into(CODES[kind], self.image, 2 * address, value & MASKS[kind])

    # An order

    def _write_one(self, request, reply):
        if len(request) != READ_REQUEST:
            raise Refused(ILLEGAL_VALUE)
        address = struct.unpack(">H", request[1:3])[0]
        if address >= layout.ORDER_WORDS:
            raise Refused(ILLEGAL_ADDRESS)
        self._write(address, request[3:5])
        reply[:READ_REQUEST] = request
        return READ_REQUEST

    def _write_many(self, request, reply):
        if len(request) < WRITE_HEAD:
            raise Refused(ILLEGAL_VALUE)
        _, first, count, size = struct.unpack(">BHHB", request[:WRITE_HEAD])
        if not 1 <= count <= WRITE_MOST or size != 2 * count or len(request) != WRITE_HEAD + size:
            raise Refused(ILLEGAL_VALUE)
        if first + count > layout.ORDER_WORDS:
            raise Refused(ILLEGAL_ADDRESS)
        self._write(first, request[WRITE_HEAD:])
        reply[:READ_REQUEST] = request[:READ_REQUEST]
        return READ_REQUEST

    def _write(self, first, data):
        """Take registers of an order; lay it on the desk if it is to be judged."""
        if not self.desk.is_free():
            raise Refused(BUSY)
        go = 2 * layout.BLOCK_GO
        end = 2 * first + len(data)
        if end > go and (data[-2] or data[-1] > 1):
            raise Refused(ILLEGAL_VALUE)
        self.order[2 * first:end] = data
        if not self.order[go + 1]:
            return
        self.desk.take(self.order, self.local)
        for place in range(len(self.order)):
            self.order[place] = 0

    # Files

    def _file_records(self, request, reply):
        groups = _groups(request)
        if self.journal.sync_is_due():
            raise Refused(BUSY)
        at = 2
        for file, record, words in groups:
            reply[at] = 1 + 2 * words
            reply[at + 1] = FILE_REFERENCE
            at += 2
            self._read(file, record, memoryview(reply)[at:at + 2 * words])
            at += 2 * words
        reply[0] = READ_FILE
        reply[1] = at - 2
        return at

    def _read(self, file, record, out):
        """Fill `out` from a register of a file; a last odd byte is followed by a 0."""
        if file == layout.DIRECTORY_FILE:
            if record == 0:
                self._list()
            size = len(self.directory)
        elif file == layout.ERROR_FILE:
            size = _size(self.keeper.health.error_path)
        else:
            size = self.journal.size_of(file)
        offset = 2 * record
        if offset + len(out) > size + size % 2:
            raise Refused(ILLEGAL_ADDRESS)
        if file == layout.DIRECTORY_FILE:
            out[:] = self.directory[offset:offset + len(out)]
            return
        out[len(out) - 1] = 0
        wanted = min(len(out), size - offset)
        if file == layout.ERROR_FILE:
            count = _read_into(self.keeper.health.error_path, offset, out[:wanted])
        else:
            count = self.journal.read_file(file, offset, out[:wanted])
        if count != wanted:
            raise Refused(FAILURE)

    def _list(self):
        """Take the directory anew: a pair (file number, bytes) for each file."""
        files = self.journal.files()
        pairs = bytearray(4 * len(files))
        for index in range(len(files)):
            struct.pack_into(">HH", pairs, 4 * index, *files[index])
        self.directory = bytes(pairs)


def _size(path):
    """Return the bytes of a file, -1 if there is none."""
    try:
        return os.stat(path)[6] if path else -1
    except OSError:
        return -1


def _read_into(path, offset, buffer):
    """Fill `buffer` from an offset of a file; return the bytes read.  Raises OSError."""
    with open(path, "rb") as file:
        file.seek(offset)
        return file.readinto(buffer)


def _span(request, end):
    """Return (first register, count) of a request to read; all must lie below `end`."""
    if len(request) != READ_REQUEST:
        raise Refused(ILLEGAL_VALUE)
    _, first, count = struct.unpack(">BHH", request)
    if not 1 <= count <= READ_MOST:
        raise Refused(ILLEGAL_VALUE)
    if first + count > end:
        raise Refused(ILLEGAL_ADDRESS)
    return first, count


def _registers(request, reply, image, first, count):
    """Put registers of an image into the reply; return its bytes."""
    reply[0] = request[0]
    reply[1] = 2 * count
    reply[2:2 + 2 * count] = memoryview(image)[2 * first:2 * (first + count)]
    return 2 + 2 * count


def _groups(request):
    """Return (file, record, words) of each sub-request; all must be in order."""
    count = len(request) - 2
    if not FILE_GROUP <= count <= FILE_DATA_MOST or count % FILE_GROUP or request[1] != count:
        raise Refused(ILLEGAL_VALUE)
    groups = []
    total = 0
    for at in range(2, len(request), FILE_GROUP):
        reference, file, record, words = struct.unpack(">BHHH", request[at:at + FILE_GROUP])
        if reference != FILE_REFERENCE or file == 0 or record + words > RECORDS:
            raise Refused(ILLEGAL_ADDRESS)
        total += 2 + 2 * words
        if words == 0 or total > FILE_DATA_MOST:
            raise Refused(ILLEGAL_VALUE)
        groups.append((file, record, words))
    return groups
