# pyright: reportMissingImports=false, reportMissingModuleSource=false
# pyright: reportAttributeAccessIssue=false
"""Lines to the outside: bytes in small pieces, a host that does not read, a shared pair."""

import pytest

from keeper.boards import parts
from keeper.boards.pins import gpio
from keeper.drivers.streams import PASS_BYTES, GIVE_UP_ms, SerialStream, UsbStream
from tests.drivers.bench import wiring_with

READ, WRITE = 1, 4


class HeardLink:
    """Keeps what it was fed."""

    def __init__(self):
        self.heard = bytearray()

    def feed(self, byte, now_ms):
        """Takes one byte."""
        assert isinstance(byte, int)
        self.heard.append(byte)


class Usb:
    """Both ends of a USB port: the host's buffer takes `room` bytes before it is full."""

    def __init__(self, room=10000):
        self.incoming = bytearray()
        self.taken = bytearray()
        self.room = room

    def readinto(self, buffer):
        assert len(buffer) == 1, "would wait until all bytes came"
        buffer[0] = self.incoming.pop(0)
        return 1

    def write(self, data):
        assert len(data) == 1, "would wait for a host that does not read"
        assert self.room > 0, "would wait 500 ms"
        self.room -= 1
        self.taken += data
        return 1


class Poll:
    """`select.poll` over a Usb."""

    def __init__(self):
        self.usb: Usb
        self.flag = 0

    def register(self, usb, flag):
        self.usb, self.flag = usb, flag

    def ipoll(self, timeout):
        assert timeout == 0
        ready = self.usb.incoming if self.flag == READ else self.usb.room > 0
        return iter([(self.usb, self.flag)] if ready else [])


@pytest.fixture
def usb():
    return Usb()


def stream_on(usb):
    return UsbStream(usb, usb, Poll, READ, WRITE)


def test_every_byte_value_passes_in_order_and_in_bounded_pieces(usb):
    stream, link = stream_on(usb), HeardLink()
    usb.incoming += bytes(range(256))
    counts = [stream.receive(link, 0) for _ in range(5)]
    assert counts == [PASS_BYTES] * 4 + [0]
    assert link.heard == bytes(range(256))


def test_a_reply_leaves_in_bounded_pieces_without_waiting(usb):
    stream = stream_on(usb)
    reply = bytes(range(200))
    stream.send(memoryview(reply), 0)
    passes = 1
    while stream.is_busy():
        assert len(usb.taken) == passes * PASS_BYTES
        stream.step(passes)
        passes += 1
    assert usb.taken == reply


def test_a_reply_waits_for_a_host_that_is_slow(usb):
    usb.room = 10
    stream = stream_on(usb)
    stream.send(memoryview(bytes(30)), 0)
    stream.step(GIVE_UP_ms - 1)
    assert stream.is_busy()
    usb.room = 100
    stream.step(GIVE_UP_ms - 1)
    assert not stream.is_busy()
    assert len(usb.taken) == 30


def test_a_reply_that_makes_no_progress_is_given_up_and_the_next_one_leaves(usb):
    usb.room = 10
    stream = stream_on(usb)
    stream.send(memoryview(bytes(30)), 5)
    stream.step(5 + GIVE_UP_ms)
    assert not stream.is_busy()
    usb.room = 100
    stream.send(memoryview(b"next"), 500)
    assert usb.taken[10:] == b"next"


@pytest.fixture
def serial(chip):
    """The RS-485 line as a board has it, with its UART and driver-enable pin."""
    from machine import Pin

    stream = parts.serial_stream(wiring_with(), Pin(gpio("uart_de"), Pin.OUT, value=0))
    return stream, chip.uarts[0]


def enabled(chip):
    return chip.level(gpio("uart_de"))


def test_the_uart_has_room_for_a_whole_frame_in_both_directions(serial):
    _, uart = serial
    assert (uart.rxbuf, uart.txbuf, uart.baudrate) == (512, 512, 19200)


def test_what_came_on_the_line_is_fed_in_bounded_pieces(serial):
    stream, uart = serial
    link = HeardLink()
    uart.waiting += bytes(range(150))
    assert [stream.receive(link, 0) for _ in range(4)] == [64, 64, 22, 0]
    assert link.heard == bytes(range(150))


def test_the_driver_is_on_the_line_until_the_last_bit_has_gone_and_not_longer(serial, chip):
    stream, uart = serial
    stream.send(memoryview(b"reply"), 0)
    assert (enabled(chip), stream.is_busy()) == (1, True)
    stream.step(2)
    assert (enabled(chip), bytes(uart.sent)) == (1, b"reply")
    uart.done = True
    stream.step(3)
    assert (enabled(chip), stream.is_busy()) == (0, False)


def test_a_uart_that_never_ends_does_not_hold_the_line(serial, chip):
    stream, _ = serial
    stream.send(memoryview(b"reply"), 0)
    stream.step(stream.reply_most_ms)
    assert enabled(chip) == 1
    stream.step(stream.reply_most_ms + 1)
    assert enabled(chip) == 0


# "MODBUS over Serial Line" V1.02, section 2.5.1.1: 3.5 characters of 11 bits, and
# 1.750 ms above 19200 baud.
@pytest.mark.parametrize(
    ("baud", "silence_ms"), [(9600, 4.01), (19200, 2.005), (115200, 1.75), (1200, 32.1)]
)
def test_an_answer_leaves_the_silence_of_the_standard(baud, silence_ms, chip):
    from machine import Pin

    stream = SerialStream(None, Pin(2, Pin.OUT, value=0), baud)
    assert silence_ms <= stream.quiet_ms <= silence_ms + 2
