"""Answers Modbus requests: input registers (FC 4) and the journal's files (FC 20).

Owns the meaning of a request, not its framing: the same answers serve a
serial line and TCP.  Layouts and exceptions: "MODBUS Application Protocol"
V1.1b3, sections 6.4, 6.14 and 7.
"""

import struct

from keeper import VERSION
from keeper import registers as reg
from keeper import settings as st
from keeper.channels import LIMB

READ_INPUT = 4
READ_FILE = 20
ILLEGAL_FUNCTION, ILLEGAL_ADDRESS, ILLEGAL_VALUE, FAILURE = 1, 2, 3, 4
BUSY = 6
EXCEPTION = 0x80  # added to the function code of an exception's answer
PDU_MOST = 253

REGISTERS_MOST = 125     # in one answer of FC 4
FILE_GROUP = 7           # bytes of a sub-request: type, file, record, length
FILE_REFERENCE = 6       # the only type of reference there is
FILE_DATA_MOST = 0xF5    # bytes in a request or an answer of FC 20
RECORDS = 10000          # registers of a file
U16_MOST = 0xFFFF
U32_MOST = 0xFFFFFFFF

REGISTERS_END = reg.INPUT_REGISTERS[-1][reg.R_ADDRESS] + reg.WORDS[
    reg.INPUT_REGISTERS[-1][reg.R_TYPE]]


class Refused(Exception):
    """A request gets an exception for its answer.  Attribute: code, 1 to 6."""

    def __init__(self, code):
        super().__init__(code)
        self.code = code


class Answers:
    """The Modbus server of one keeper, without its framing.

    Attributes: requests, answered so far; bad_frames, dropped by the framing.
    """

    def __init__(self, keeper, journal):
        """Answer from a keeper and its journal."""
        self.keeper = keeper
        self.journal = journal
        self.requests = 0
        self.bad_frames = 0
        self.settings_crc = struct.unpack("<I", st.pack(keeper.settings)[-4:])[0]
        self.image = bytearray(2 * REGISTERS_END)  # reserved registers stay 0
        self.directory = b""

    def answer(self, request, reply):
        """Answer the PDU `request` [bytes-like] in `reply` [at least PDU_MOST bytes].

        Returns the bytes of the answer.  Nothing is raised: what cannot be
        answered is answered by an exception.
        """
        self.requests = (self.requests + 1) & U32_MOST
        try:
            if request[0] == READ_INPUT:
                return self._input_registers(request, reply)
            if request[0] == READ_FILE:
                return self._file_records(request, reply)
            raise Refused(ILLEGAL_FUNCTION)
        except Refused as refused:
            code = refused.code
        except OSError:
            code = FAILURE
        reply[0] = request[0] | EXCEPTION
        reply[1] = code
        return 2

    # Input registers

    def _input_registers(self, request, reply):
        if len(request) != 5:
            raise Refused(ILLEGAL_VALUE)
        _, address, count = struct.unpack(">BHH", request)
        if not 1 <= count <= REGISTERS_MOST:
            raise Refused(ILLEGAL_VALUE)
        if address + count > REGISTERS_END:
            raise Refused(ILLEGAL_ADDRESS)
        self._refresh(address, address + count)
        reply[0] = READ_INPUT
        reply[1] = 2 * count
        reply[2:2 + 2 * count] = memoryview(self.image)[2 * address:2 * (address + count)]
        return 2 + 2 * count

    def _refresh(self, first, end):
        """Bring the registers first to end - 1 of the image up to date."""
        keeper = self.keeper
        status = self._status() if first < reg.LIVE else {}
        if end > reg.SUMS:
            keeper.totals.settle()
        for row in reg.INPUT_REGISTERS:
            address = row[reg.R_ADDRESS]
            if not first - 4 < address < end:
                continue
            kind = row[reg.R_KIND]
            index = row[reg.R_INDEX]
            if kind == "status":
                value = status[row[reg.R_NAME]]
            elif kind == "value":
                value = keeper.values[index]
            elif kind == "output":
                value = keeper.outputs[index]
            elif kind == "first":
                value = keeper.core.protection.first_values[index]
            else:
                value = keeper.totals.high[index] * LIMB + keeper.totals.low[index]
            self._store(address, reg.WORDS[row[reg.R_TYPE]], value)

    def _store(self, address, words, value):
        """Put a number into `words` registers, most significant first."""
        for place in range(words - 1, -1, -1):
            self.image[2 * (address + place)] = value >> 8 & 0xFF
            self.image[2 * (address + place) + 1] = value & 0xFF
            value >>= 16

    def _status(self):
        """Return the values of `keeper.registers.STATUS` by name."""
        keeper = self.keeper
        journal = self.journal
        health = keeper.health
        major, minor, patch = VERSION
        return {
            "map_version": reg.MAP_VERSION,
            "firmware_version": major * 10000 + minor * 100 + patch,
            "rig_id": keeper.settings[st.index("rig_id")],
            "settings_crc": self.settings_crc,
            "boot": journal.boot,
            "uptime_ds": keeper.uptime_ds,
            "scans": keeper.scans,
            "state": keeper.state,
            "first_out": keeper.first_out,
            "acting": keeper.acting,
            "lockouts": keeper.lockouts,
            "setpoint_mW": keeper.setpoint_mW,
            "contacts": keeper.contact_bits(),
            "rows": journal.newest_row,
            "journal_lost": min(journal.lost, U16_MOST),
            "requests": self.requests,
            "bad_frames": self.bad_frames,
            "lockout_element": keeper.core.sequence.lockout.element,
            "held": keeper.core.protection.hold,
            "inhibited": keeper.core.protection.inhibit,
            "safe_reason": keeper.safe_reason,
            "wanted_mW": keeper.core.sequence.light.wanted_mW,
            "clock_known": 1 if keeper.core.sequence.light.clock_known else 0,
            "late_ms": health.late_ms,
            "late_scans": health.late_scans,
            "stall_ms": health.stall_ms,
            "awake_permille": health.awake_permille,
            "restarts": health.restarts,
            "reset_reason": health.reset_reason,
            "bus_errors": min(health.bus_errors, U16_MOST),
            "events_lost": min(keeper.events.lost, U16_MOST),
        }

    # Files

    def _file_records(self, request, reply):
        groups = self._groups(request)
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

    def _groups(self, request):
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

    def _read(self, file, record, out):
        """Fill `out` from a register of a file; a last odd byte is followed by a 0."""
        if file == reg.DIRECTORY_FILE:
            if record == 0:
                self._list()
            size = len(self.directory)
        else:
            size = self.journal.size_of(file)
        offset = 2 * record
        if offset + len(out) > size + size % 2:
            raise Refused(ILLEGAL_ADDRESS)
        if file == reg.DIRECTORY_FILE:
            out[:] = self.directory[offset:offset + len(out)]
            return
        out[len(out) - 1] = 0
        wanted = min(len(out), size - offset)
        if self.journal.read_file(file, offset, out[:wanted]) != wanted:
            raise Refused(FAILURE)

    def _list(self):
        """Take the directory anew: a pair (file number, bytes) for each file."""
        files = self.journal.files()
        pairs = bytearray(4 * len(files))
        for index in range(len(files)):
            struct.pack_into(">HH", pairs, 4 * index, *files[index])
        self.directory = bytes(pairs)
