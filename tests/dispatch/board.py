"""The firmware's own link on a pseudo terminal, with the scan going on behind it."""

import os
import select
import threading

POLL_MS = 2


class Line:
    """Serves a rig's link until closed.

    mishap: called with (request number, reply) and may return other bytes to
    send, or None to say nothing.
    """

    def __init__(self, rig, link, mishap=None):
        import tty

        self.rig = rig
        self.link = link
        self.mishap = mishap or (lambda number, reply: reply)
        self.requests = 0
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
                self.link.feed(os.read(self.board_end, 64), now_ms)
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
