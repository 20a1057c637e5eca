"""The firmware's own link on a pseudo terminal or over TCP."""

import os
import select
import socket
import threading
import time

from keeper.link.tcp import TcpPort

POLL_MS = 2
PACKET_BYTES = 64
WRITES = b"\x10"  # the function that lays an order


class Line:
    """Serves a rig's link until closed, with the scan going on behind it.

    mishap: called with (request number, reply) and may return other bytes to
    send, or None to say nothing.  Attribute damaged: as many orders from now on
    lose their first bytes on the way.
    """

    def __init__(self, rig, link, mishap=None):
        import tty

        self.rig = rig
        self.link = link
        self.mishap = mishap or (lambda number, reply: reply)
        self.requests = 0
        self.damaged = 0
        self.board_end, self.host_end = os.openpty()
        tty.setraw(self.host_end)
        self.port = os.ttyname(self.host_end)
        self.stop = threading.Event()
        self.thread = threading.Thread(target=self._serve, daemon=True)
        self.thread.start()

    def _serve(self):
        now_ms = 0
        while not self.stop.is_set():
            if select.select([self.board_end], [], [], POLL_MS / 1000)[0]:
                data = os.read(self.board_end, PACKET_BYTES)
                if self.damaged and data[1:2] == WRITES:
                    self.damaged -= 1
                else:
                    self.link.feed(data, now_ms)
            reply = self.link.poll(now_ms)
            if reply is not None:
                self.requests += 1
                data = self.mishap(self.requests, bytes(reply))
                if data:
                    os.write(self.board_end, data)
            self.rig.run(1)
            now_ms += POLL_MS

    def close(self):
        self.stop.set()
        self.thread.join(5)
        os.close(self.host_end)
        os.close(self.board_end)


class TcpLine:
    """The firmware's TCP port on this machine, worked by a thread."""

    def __init__(self, rig):
        self.port = TcpPort(rig.keeper, rig.journal, rig.desk)
        listener = socket.create_server(("127.0.0.1", 0))
        self.number = listener.getsockname()[1]
        self.address = f"127.0.0.1:{self.number}"
        self.port.open(listener)
        self.stop = threading.Event()
        self.thread = threading.Thread(target=self._work)
        self.thread.start()

    def _work(self):
        while not self.stop.is_set():
            if not self.port.work(0):
                time.sleep(0.001)

    def close(self):
        self.stop.set()
        self.thread.join()
        self.port.close()
