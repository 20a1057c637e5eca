"""Modbus RTU framing over any stream of bytes.

A frame is found by its function code, its length and its CRC, as USB and a
polled port show no silences.  Silence only ends what cannot become a frame.
Contract: `feed` takes what came, in pieces of any size; `poll` gives at most
one reply and looks at no more than WORK_MOST bytes and a frame, the rest in the
next; nothing is raised whatever comes.
"""

from keeper.clock import TICKS_MASK
from keeper.link.crc import crc16
from keeper.link.pdu import PDU_MOST, Answers

FRAME_MOST = 256        # unit, PDU, CRC: "MODBUS over Serial Line" V1.02, section 2.5.1
FRAME_LEAST = 4
SILENCE_MS = 50         # guess: longer than a pause within a frame on any port we know
BROADCAST = 0
UNIT_MOST = 247
NEVER = -1
# Two frames may be glued together.
HELD_MOST = 2 * FRAME_MOST
# Work of one poll, in bytes of which a CRC is made; a place that is looked at costs some more.
WORK_MOST = 512
PLACE_WORK = 8          # guess

# Lengths of requests, CRC included, by function code; those with a byte count
# follow as (place of the count, bytes besides those counted).
FIXED = {1: 8, 2: 8, 3: 8, 4: 8, 5: 8, 6: 8, 7: 4, 8: 8, 11: 4, 12: 4, 17: 4, 22: 10, 24: 6,
         43: 7}
COUNTED = {15: (6, 9), 16: (6, 9), 20: (2, 5), 21: (2, 5), 23: (10, 13)}

# What a place in the buffer may be the start of.
MORE, NONE = 0, -1


class Link:
    """One serial line of the keeper.  Attribute: answers, the server behind it."""

    def __init__(self, keeper, journal, unit=1, desk=None, local=False):
        """Serve as the given unit [1 to 247].

        desk: `keeper.link.desk.Desk`, one for all lines of a board; without one no
        order passes.  local: this is the line at the board itself (USB), on which
        nobody else listens: there it serves as whichever unit it is called.
        """
        if not 1 <= unit <= UNIT_MOST:
            raise ValueError("unit %d: must be 1 to %d" % (unit, UNIT_MOST))
        self.unit = unit
        self.answers = Answers(keeper, journal, desk, local)
        self.held = bytearray(HELD_MOST)
        self.count = 0           # bytes held
        self.last_ms = NEVER     # ticks of the newest byte
        self.damaged = False     # what is held does not start with a frame
        self.ended = 0           # bytes held that a silence followed: nothing completes them
        self.work = 0            # what this poll may still do
        self.reply = bytearray(1 + PDU_MOST + 2)
        self.view = memoryview(self.reply)
        self.body = self.view[1:]

    def feed(self, data, now_ms):
        """Take one byte [int] or several [bytes-like] that came by `now_ms` [ticks]."""
        if self._silent(now_ms):
            self._end()
        self.last_ms = now_ms
        if isinstance(data, int):
            self._hold(data)
        else:
            for byte in data:
                self._hold(byte)

    def poll(self, now_ms):
        """Return the reply to the oldest request [memoryview], None if there is none.

        The reply is valid until the next call.  Each call moves an order that
        waits on by one piece.
        """
        self.answers.desk.step()
        self.work = WORK_MOST
        length = 0
        if self._silent(now_ms):
            length = self._unknown_request()
            if not length:
                self._end()
        while True:
            length = length or self._find()
            if length == 0:
                return None
            size = self._answer(length)
            self._drop(length)
            length = 0
            if size:
                return self.view[:size]

    def is_hearing(self):
        """Return whether a request has come in part."""
        return self.count > 0

    def _silent(self, now_ms):
        return ((now_ms - self.last_ms) & TICKS_MASK) >= SILENCE_MS

    def _hold(self, byte):
        if self.count == HELD_MOST:
            self._bad()
            self._drop(1)
        self.held[self.count] = byte
        self.count += 1

    def _drop(self, count):
        """Forget the first bytes."""
        self.count -= count
        self.held[:self.count] = self.held[count:count + self.count]
        if self.ended:
            self.ended = max(0, self.ended - count)
            if not self.ended:
                self.damaged = False

    def _bad(self):
        """Count a stretch that is no frame, once."""
        if not self.damaged:
            self.damaged = True
            self.answers.published.bad_frames += 1

    def _find(self):
        """Drop what is no frame; return the length of the frame at the start, 0 if none yet."""
        while self.count and self.work > 0:
            self.work -= PLACE_WORK
            length = self._judge()
            if length == MORE and not self.ended:
                return 0
            if length > 0:
                self.damaged = False
                return length
            self._bad()
            self._drop(1)
        return 0

    def _end(self):
        """Take that a silence follows what is held: what is no frame by now will be none."""
        self.ended = self.count
        if not self.count:
            self.damaged = False

    def _unknown_request(self):
        """Return the length of a request with an unknown function, 0 if there is none.

        Nothing but the silence behind it tells where it ends.
        """
        if not FRAME_LEAST <= self.count <= FRAME_MOST or self.damaged:
            return 0
        function = self.held[1]
        if not self._is_ours(self.held[0]) or function in FIXED or function in COUNTED:
            return 0
        end = self.count - 2
        crc = self.held[end] | self.held[end + 1] << 8
        return self.count if crc16(self.held, 0, end) == crc else 0

    def _judge(self):
        """Return the length of the frame at the start, MORE if bytes are missing, NONE if none is.

        Inside a damaged stretch only a frame for this unit, or for all, counts:
        any other byte would make one look for a frame where none is.
        """
        held = self.held
        unit = held[0]
        if unit > UNIT_MOST or (self.damaged and unit != self.unit and unit != BROADCAST):
            return NONE
        if self.count < 2:
            return MORE
        length = self._length()
        if length <= 0:
            return length
        if self.count < length:
            return MORE
        end = length - 2
        self.work -= end
        crc = held[end] | held[end + 1] << 8
        return length if crc16(held, 0, end) == crc else NONE

    def _length(self):
        """Return the length that the request at the start has by its function code."""
        function = self.held[1]
        if function in FIXED:
            return FIXED[function]
        if function not in COUNTED:
            return NONE if self.damaged else MORE
        place, others = COUNTED[function]
        if self.count <= place:
            return MORE
        length = self.held[place] + others
        return length if length <= FRAME_MOST else NONE

    def _is_ours(self, unit):
        return unit == self.unit or self.answers.local and unit != BROADCAST

    def _answer(self, length):
        """Answer the frame at the start; return the bytes of the reply, 0 if it gets none."""
        unit = self.held[0]
        if not self._is_ours(unit):
            return 0  # for another, or for all: an order to all is not carried out either
        self.unit = unit  # in a damaged stretch the one that called last is looked for
        request = bytes(memoryview(self.held)[1:length - 2])
        size = 1 + self.answers.answer(request, self.body)
        self.reply[0] = unit
        crc = crc16(self.reply, 0, size)
        self.reply[size] = crc & 0xFF
        self.reply[size + 1] = crc >> 8
        return size + 2
