"""Modbus over TCP (MBAP): the same answers, for a few clients at once.

Framing: "MODBUS Messaging on TCP/IP Implementation Guide" V1.0b, section
3.1.3; the unit means nothing where no line lies behind the server, and is
echoed.  Contract: every socket is non-blocking and handed in; `work` does one
short piece (takes a client, some bytes, or answers one request) and never
waits; whatever a client does or leaves undone costs its own slot at most, and
that for IDLE_MS.  Where all are taken the one that asked nothing for longest
gives way to who comes.  Has what `keeper.loop` wants of a port.
"""

import struct

from keeper.clock import TICKS_MASK
from keeper.link.pdu import PDU_MOST, Answers

PORT = 502              # registered for Modbus
SLOTS = 2               # clients at once: the radio's program has few sockets
IDLE_MS = 60000         # without a whole request, a client is cut
# Who has come and not asked yet counts as idle for so long: else a stranger who
# only comes, again and again, would drive out the owner.
NEW_IDLE_MS = IDLE_MS // 2
PIECE_BYTES = 260       # taken at once: the longest request
# A reply that leaves may hold up the journal for so long; a client that does
# not read must not.
LEAVES_MS = 200
IN_USE_MS = 100         # after a byte, the loop rests in short pieces

HEAD_BYTES = 7          # transaction, protocol, length, unit
LENGTH_LEAST, LENGTH_MOST = 2, 1 + PDU_MOST  # unit and PDU
HELD_MOST = 2 * (HEAD_BYTES + PDU_MOST)
# errno of "not now": EAGAIN, EINPROGRESS; as other systems number them.
NOT_NOW = (11, 35, 115, 10035)


class Client:
    """One slot.  Attribute: socket, None while it is free."""

    def __init__(self):
        """Make the buffers, once and for all."""
        self.socket = None
        self.held = bytearray(HELD_MOST)
        self.count = 0           # bytes held
        self.reply = bytearray(HEAD_BYTES + PDU_MOST)
        self.view = memoryview(self.reply)
        self.body = self.view[HEAD_BYTES:]
        self.size = 0            # bytes of the reply that leaves, 0 = none
        self.at = 0              # of them, those that have gone
        self.asked_ms = 0        # ticks of the last whole request; see NEW_IDLE_MS

    def begin(self, socket, now_ms):
        """Serve a socket from `now_ms` [ticks] on."""
        self.socket = socket
        self.asked_ms = (now_ms - NEW_IDLE_MS) & TICKS_MASK

    def close(self):
        """Let the client go."""
        self.count = self.size = self.at = 0
        socket, self.socket = self.socket, None
        if socket is not None:
            try:
                socket.close()
            except OSError:
                pass  # it is gone already

    def take(self):
        """Take what came; return whether anything did.  Raises OSError when the line is gone."""
        socket = self.socket
        room = min(HELD_MOST - self.count, PIECE_BYTES)
        if socket is None or not room:
            return False
        try:
            data = socket.recv(room)
        except OSError as error:
            if error.errno in NOT_NOW:
                return False
            raise
        if not data:
            raise OSError(0)  # the client has closed
        self.held[self.count:self.count + len(data)] = data
        self.count += len(data)
        return True

    def give(self):
        """Give more of the reply; return whether any went.  Raises OSError as `take`."""
        socket = self.socket
        if socket is None:
            return False
        try:
            sent = socket.send(self.view[self.at:self.size])
        except OSError as error:
            if error.errno in NOT_NOW:
                return False
            raise
        self.at += sent or 0
        if self.at >= self.size:
            self.size = self.at = 0
        return bool(sent)

    def drop(self, count):
        """Forget the first bytes held."""
        self.count -= count
        self.held[:self.count] = self.held[count:count + self.count]


class TcpPort:
    """The clients of one board.  Attribute: answers, the server behind it."""

    def __init__(self, keeper, journal, desk=None):
        """Serve a keeper; see `keeper.link.rtu.Link`."""
        self.answers = Answers(keeper, journal, desk)
        self.listener = None
        self.clients = [Client() for _ in range(SLOTS)]
        self.next_client = 0     # client that is next
        self.heard_ms = 0        # ticks of the newest bytes
        self.was_heard = False
        self.now_ms = 0

    def open(self, listener):
        """Take clients from a listening socket; it is set not to block."""
        listener.setblocking(False)
        self.listener = listener

    def close(self):
        """Let every client go, and the listening socket."""
        for client in self.clients:
            client.close()
        listener, self.listener = self.listener, None
        if listener is not None:
            try:
                listener.close()
            except OSError:
                pass  # the radio is off, and the socket with it

    def is_busy(self):
        """Return whether a reply is on its way out."""
        for client in self.clients:
            if client.size and (self.now_ms - client.asked_ms) & TICKS_MASK < LEAVES_MS:
                return True
        return False

    def is_in_use(self, now_ms):
        """Return whether something came within IN_USE_MS of `now_ms` [ticks]."""
        if self.was_heard and (now_ms - self.heard_ms) & TICKS_MASK >= IN_USE_MS:
            self.was_heard = False
        return self.was_heard

    def work(self, now_ms):
        """Do one piece for one client at `now_ms` [ticks]; return whether there was one."""
        self.now_ms = now_ms
        did_work = self.answers.desk.step()
        if self.listener is None:
            return did_work
        if self._accept(self.listener, now_ms):
            return True
        for _ in range(SLOTS):
            client = self.clients[self.next_client]
            self.next_client = (self.next_client + 1) % SLOTS
            if client.socket is not None and self._serve(client, now_ms):
                return True
        return did_work

    def _accept(self, listener, now_ms):
        """Take a client that waits, in place of the longest idle one if there is no other."""
        try:
            socket = listener.accept()[0]
            socket.setblocking(False)
        except OSError:
            return False  # none waits, or there is no memory for it
        idlest, most_ms = self.clients[0], -1
        for client in self.clients:
            idle_ms = (now_ms - client.asked_ms) & TICKS_MASK
            if client.socket is None:
                idle_ms = TICKS_MASK
            if idle_ms > most_ms:
                idlest, most_ms = client, idle_ms
        idlest.close()
        idlest.begin(socket, now_ms)
        return True

    def _serve(self, client, now_ms):
        """Do one piece for a client; return whether there was one."""
        if (now_ms - client.asked_ms) & TICKS_MASK >= IDLE_MS:
            client.close()
            return True
        try:
            if client.size:
                return client.give()
            if self._answer(client, now_ms):
                return True
            if not client.take():
                return False
        except OSError:
            client.close()
            return True
        self.heard_ms = now_ms
        self.was_heard = True
        return True

    def _answer(self, client, now_ms):
        """Answer the oldest whole request; return whether there was one.

        Raises OSError if what is held cannot be one: nothing tells where the
        next would begin.
        """
        if client.count < HEAD_BYTES:
            return False
        _, protocol, length = struct.unpack_from(">HHH", client.held)
        if protocol or not LENGTH_LEAST <= length <= LENGTH_MOST:
            self.answers.published.bad_frames += 1
            raise OSError(0)
        whole = HEAD_BYTES - 1 + length
        if client.count < whole:
            return False
        client.asked_ms = now_ms
        request = bytes(memoryview(client.held)[HEAD_BYTES:whole])
        size = self.answers.answer(request, client.body)
        client.reply[:HEAD_BYTES] = client.held[:HEAD_BYTES]
        struct.pack_into(">H", client.reply, 4, 1 + size)
        client.size = HEAD_BYTES + size
        client.at = 0
        client.drop(whole)
        client.give()
        return True
