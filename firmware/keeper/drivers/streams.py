"""Lines of bytes to the outside: USB serial and RS-485.

Contract of a stream: `receive(link, now_ms)` feeds what came to a link and
returns how many bytes; `send(view, now_ms)` takes a reply whole, which must
stay as it is until `is_busy` is false; `step(now_ms)` moves it along and never
waits.  Attribute quiet_ms: silence that must lie before an answer [ms].
"""

from keeper.clock import TICKS_MASK

# Bytes that are taken or given in one pass: bounds the time of a pass to some
# milliseconds of interpreter time.
PASS_BYTES = 64
# A host that does not read: its reply is given up after this time without
# progress, else it would be in the way of the next answer.
GIVE_UP_ms = 200


class UsbStream:
    """The board's USB serial port, one byte at a time in either direction.

    Any longer read waits for all its bytes, and a longer write for a host that
    does not read, up to 500 ms; a poll says whether one byte can move.
    """

    quiet_ms = 0

    def __init__(self, source, sink, make_poll, in_flag, out_flag):
        """Take the binary ends, `select.poll` and its two flags."""
        self.source = source
        self.sink = sink
        self.readable = make_poll()
        self.readable.register(source, in_flag)
        self.writable = make_poll()
        self.writable.register(sink, out_flag)
        self.byte_in = bytearray(1)
        self.byte_out = bytearray(1)
        self.reply = None
        self.at = 0
        self.moved_ms = 0        # ticks of the last byte given, or of the start

    def is_busy(self):
        """Return whether a reply is still being given."""
        return self.reply is not None

    def receive(self, link, now_ms):
        """Feed at most PASS_BYTES to the link; return how many came."""
        for count in range(PASS_BYTES):
            if not _is_ready(self.readable) or not self.source.readinto(self.byte_in):
                return count
            link.feed(self.byte_in[0], now_ms)
        return PASS_BYTES

    def send(self, view, now_ms):
        """Begin to give a reply [memoryview]."""
        self.reply = view
        self.at = 0
        self.moved_ms = now_ms
        self.step(now_ms)

    def step(self, now_ms):
        """Give at most PASS_BYTES; drop a reply that makes no progress."""
        reply = self.reply
        if reply is None:
            return
        for _ in range(PASS_BYTES):
            if not _is_ready(self.writable):
                break
            self.byte_out[0] = reply[self.at]
            if not self.sink.write(self.byte_out):
                break
            self.moved_ms = now_ms
            self.at += 1
            if self.at == len(reply):
                self.reply = None
                return
        if (now_ms - self.moved_ms) & TICKS_MASK >= GIVE_UP_ms:
            self.reply = None


def _is_ready(poll):
    # The iterator hands out one tuple over and over and allocates nothing.
    for _ in poll.ipoll(0):
        return True
    return False


class SerialStream:
    """An RS-485 line; the driver is on the line only while a reply leaves."""

    # Buffers of both directions: two requests, or a reply and more.
    BUFFER_BYTES = 512
    # Silence of 3.5 characters of 11 bits ahead of an answer, 1.75 ms at 19200
    # baud and above: "MODBUS over Serial Line" V1.02, section 2.5.1.1.
    QUIET_BITS = 39
    QUIET_LEAST_ms = 2
    # Bits of a reply of 256 bytes, and then twice that: longer is a dead UART.
    REPLY_BITS = 2 * 256 * 11

    def __init__(self, uart, enable, baud):
        """Take the UART with buffers of BUFFER_BYTES, the driver-enable pin (low), the speed."""
        self.uart = uart
        self.enable = enable
        self.quiet_ms = max(self.QUIET_LEAST_ms, self.QUIET_BITS * 1000 // baud + 1)
        self.reply_most_ms = self.REPLY_BITS * 1000 // baud + GIVE_UP_ms
        self.buffer = bytearray(PASS_BYTES)
        self.view = memoryview(self.buffer)
        self.sending = False
        self.began_ms = 0

    def is_busy(self):
        """Return whether a reply is still leaving."""
        return self.sending

    def receive(self, link, now_ms):
        """Feed at most PASS_BYTES to the link; return how many came."""
        waiting = min(self.uart.any(), PASS_BYTES)
        if not waiting:
            return 0
        count = self.uart.readinto(self.buffer, waiting) or 0
        for place in range(count):
            link.feed(self.buffer[place], now_ms)
        return count

    def send(self, view, now_ms):
        """Take the line and begin to give a reply [memoryview], which the UART copies."""
        self.enable.value(1)
        self.sending = True
        self.began_ms = now_ms
        self.uart.write(view)

    def step(self, now_ms):
        """Leave the line as soon as the last bit has gone, or when that takes too long."""
        if self.sending and (self.uart.txdone()
                             or (now_ms - self.began_ms) & TICKS_MASK > self.reply_most_ms):
            self.enable.value(0)
            self.sending = False

    def safe(self):
        """Leave the line to others."""
        self.enable.value(0)
        self.sending = False
