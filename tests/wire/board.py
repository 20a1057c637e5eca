"""A board for tests: answers Modbus RTU on a pseudo terminal or TCP, from a dict of files.

Written from the Modbus Application Protocol V1.1b3 (6.4, 6.14) and apart from
the firmware, so that a fault shared by client and keeper still shows.
"""

import os
import select
import socket
import struct
import threading

from forebay.wire import registers
from keeper.channels import ALL_FITTED
from keeper.link import layout

POLL_S = 0.02


def crc16(data: bytes) -> bytes:
    """Returns the CRC of Modbus over Serial Line V1.02, appendix B."""
    crc = 0xFFFF
    for byte in data:
        crc ^= byte
        for _ in range(8):
            crc = (crc >> 1) ^ (0xA001 if crc & 1 else 0)
    return struct.pack("<H", crc)


class FakeBoard:
    """Serves `files` {file number: bytes} and `live` {name: value}.

    mishap: called with (request number, reply) and may return other bytes to
    send, or None to say nothing.
    """

    def __init__(self, files=None, live=None, mishap=None):
        self.files = dict(files or {})
        self.live = {"map_version": layout.MAP_VERSION, "rig_id": 7, "boot": 1,
                     "uptime_ds": 1000, "fitted": ALL_FITTED, **(live or {})}
        self.error = b""  # text of the last error
        self.written = b""  # what came last for holding registers
        self.mishap = mishap or (lambda number, reply: reply)
        self.requests = 0
        self.asked_words = 0
        self._stop = threading.Event()
        self._directory = b""

    def on_pty(self):
        """Starts serving on a new pseudo terminal; returns its path."""
        import tty

        line, slave = os.openpty()
        tty.setraw(slave)
        self._closing = [lambda: os.close(line), lambda: os.close(slave)]
        self._start(line, lambda: os.read(line, 4096), lambda data: os.write(line, data))
        return os.ttyname(slave)

    def on_tcp(self):
        """Starts serving RTU frames to one TCP client; returns rtu:HOST:PORT."""
        server = socket.create_server(("127.0.0.1", 0))

        def serve():
            line, _ = server.accept()
            self._closing.append(line.close)
            self._serve(line, lambda: line.recv(4096), line.sendall)

        self._closing = [server.close]
        self._thread = threading.Thread(target=serve, daemon=True)
        self._thread.start()
        return f"rtu:127.0.0.1:{server.getsockname()[1]}"

    def close(self):
        """Stops serving."""
        self._stop.set()
        self._thread.join(5)
        for close in self._closing:
            close()

    def _start(self, line, read, write):
        self._thread = threading.Thread(target=self._serve, args=(line, read, write), daemon=True)
        self._thread.start()

    def _serve(self, line, read, write):
        got = b""
        while not self._stop.is_set():
            if not select.select([line], [], [], POLL_S)[0]:
                continue
            try:
                got += read()
            except OSError:
                return
            while len(got) >= 4 and len(got) >= self._length(got):
                frame, got = got[: self._length(got)], got[self._length(got) :]
                self._answer(frame, write)

    @staticmethod
    def _length(got):
        if got[1] == 16:
            return 7 + got[6] + 2 if len(got) > 6 else 9
        return 8 if got[1] == 4 else 3 + got[2] + 2

    def _answer(self, frame, write):
        assert crc16(frame[:-2]) == frame[-2:]
        self.requests += 1
        body = frame[:1] + self.reply_to(frame[1:-2])
        reply = self.mishap(self.requests, body + crc16(body))
        if reply:
            write(reply)

    def reply_to(self, pdu):
        """Returns the PDU of the answer to a PDU."""
        if pdu[0] == 16:
            self.written = pdu[6:]
            return pdu[:5]
        return self._registers(pdu) if pdu[0] == 4 else self._file(pdu)

    def _registers(self, pdu):
        first, count = struct.unpack(">HH", pdu[1:])
        words = {}
        for row in registers.INPUT_REGISTERS:
            width = layout.WORDS[row.type]
            value = self.live.get(row.name, 0) % (1 << 16 * width)
            for at in range(width):
                word = value >> 16 * (width - 1 - at) & 0xFFFF
                words[row.address + at] = word
        if first + count > max(words) + 1:
            return b"\x84\x02"
        return struct.pack(f">BB{count}H", 4, 2 * count,
                           *[words.get(first + at, 0) for at in range(count)])

    def _file(self, pdu):
        _, number, record, words = struct.unpack(">BHHH", pdu[2:9])
        if number == layout.DIRECTORY_FILE:
            if record == 0:
                pairs = [struct.pack(">HH", n, len(data)) for n, data in self.files.items()]
                self._directory = b"".join(pairs)
            data = self._directory
        elif number == layout.ERROR_FILE:
            data = self.error
        else:
            data = self.files.get(number, b"")
            self.asked_words += words
        data += bytes(len(data) % 2)
        part = data[2 * record : 2 * (record + words)]
        if len(part) < 2 * words:
            return b"\x94\x02"
        return bytes([20, len(part) + 2, len(part) + 1, 6]) + part
