"""A long campaign of bad bytes against the link.  Run: python -m tests.fuzz.campaign [MB]

Three targets: a serial line of a board with a key, the line at a board without
one (where orders need no signature), and TCP clients of a board with a key.
After every stretch: no output has moved, no order has passed, nothing has
grown, the keeper has scanned on, and the next good request gets its answer.
"""

import gc
import random
import struct
import sys
import tempfile
import time

from keeper.channels import OUTPUTS
from keeper.link.layout import MAP_VERSION
from keeper.link.tcp import IDLE_MS, SLOTS, TcpPort
from keeper.operation import orders
from tests.fuzz.frames import hostile, pieces
from tests.link.frames import frame, pdu_of, read_file, read_registers, write_many
from tests.link.orders import Sender
from tests.link.rig import KEY, Rig

GOOD = read_registers(0, 2)
ANSWER = struct.pack(">BBHH", 4, 4, MAP_VERSION, 100)
STRETCH_BYTES = 10000
SILENCE_MS = 1000
PIECES = 8               # more calls than an order has pieces, or a line glued requests
TICKS_MASK = (1 << 30) - 1
# Blocks of memory that may come and go between two looks: caches of the interpreter.
GROWTH_BLOCKS = 2000
HISTORY_SCANS = 1500


class Target:
    """A rig that has obeyed some orders, which were recorded; then holds nothing."""

    def __init__(self, folder: str, key: bytes | None, local: bool):
        self.rig = Rig(folder, key)
        self.rig.run(HISTORY_SCANS)
        self.link = self.rig.link(local=local)
        self.recorded = [GOOD, read_registers(300, 100), read_file((16384, 0, 2))]
        self.recorded += [read_file((number, 0, 100)) for number, _ in self.rig.journal.files()]
        sender = Sender(self.link, key)
        for code, a, b in ((orders.LIGHT, 600, 60), (orders.BRIGHTNESS, 2, 60),
                           (orders.PUMP_ALLOWED, 0, 60), (orders.DRAIN_DOWN, 1, 60),
                           (orders.RELEASE, 0, 0), (orders.MAINTAIN, 1, 0),
                           (orders.MAINTAIN, 0, 0), (orders.RELEASE, 0, 0)):
            words = sender.words(code, a, b)
            self.recorded.append(write_many(0, words))
            sender.send(words)
        self.passed = self.rig.desk.passed
        assert self.passed == 8
        self.rig.run(100)
        self.rig.settle()
        self.now_ms = self.rig.now_ms
        self.outputs = list(self.rig.board.outputs)
        self.scans = self.rig.keeper.scans

    def feed(self, piece: bytes):
        """Lets a piece of a stream in, and everything out."""
        self.link.feed(piece, self.now_ms)
        while self.link.poll(self.now_ms) is not None or self.link.work <= 0:
            pass

    def wait(self, passed_ms: int):
        self.now_ms = (self.now_ms + passed_ms) & TICKS_MASK

    def scan(self):
        """Scans once with its slack work; nothing may have moved."""
        self.rig.run(1)
        self.scans += 1
        assert self.rig.keeper.scans == self.scans
        assert self.rig.board.outputs == self.outputs == [0] * len(OUTPUTS)

    def check(self):
        """After a silence: nothing passed, and the next good request is answered at once."""
        self.wait(SILENCE_MS)
        for _ in range(PIECES):
            self.link.poll(self.now_ms)
        assert self.rig.desk.passed == self.passed
        assert self.rig.desk.piece == 0
        assert self.link.count == 0
        self.link.feed(frame(GOOD), self.now_ms)
        assert pdu_of(self.link.poll(self.now_ms)) == ANSWER
        assert self.link.poll(self.now_ms) is None

    def stream(self, chance: random.Random) -> bytes:
        return hostile(chance, self.recorded)


class Pipe:
    """A socket's end as the firmware sees it; what the client has sent lies in `coming`."""

    def __init__(self, chance: random.Random):
        self.chance = chance
        self.coming = b""
        self.given = b""
        self.closed = False
        self.deaf = False

    def setblocking(self, on: bool):
        assert not on

    def recv(self, count: int) -> bytes:
        if self.chance.random() < 0.001:
            raise ConnectionResetError(104, "reset")
        if not self.coming:
            raise BlockingIOError(11, "nothing")
        data, self.coming = self.coming[:count], self.coming[count:]
        return data

    def send(self, data) -> int:
        if self.deaf:
            raise BlockingIOError(11, "full")
        size = self.chance.randint(1, len(data))  # a socket may take a part
        self.given = (self.given + bytes(data[:size]))[-600:]
        return size

    def close(self):
        self.closed = True


class Listener:
    """A listening socket: hands out the pipes that wait."""

    def __init__(self):
        self.waiting: list[Pipe] = []

    def setblocking(self, on: bool):
        assert not on

    def accept(self):
        if not self.waiting:
            raise BlockingIOError(11, "none")
        return self.waiting.pop(0), None

    def close(self):
        """Nothing to do."""


def mbap(pdu: bytes) -> bytes:
    return struct.pack(">HHHB", 7, 0, 1 + len(pdu), 1) + pdu


class TcpTarget(Target):
    """The same over TCP: clients come, misbehave, are cut and come again."""

    TURNS = 30

    def __init__(self, folder: str, chance: random.Random):
        super().__init__(folder, KEY, local=False)
        self.chance = chance
        self.port = TcpPort(self.rig.keeper, self.rig.journal, self.rig.desk)
        self.listener = Listener()
        self.port.open(self.listener)
        self.pipes: list[Pipe] = []
        self.pipe: Pipe | None = None

    def stream(self, chance: random.Random) -> bytes:
        """Returns the next bytes, for a client that is chosen here."""
        self.pipes = [pipe for pipe in self.pipes if not pipe.closed]
        if len(self.pipes) < SLOTS + 1 and self.chance.random() < 0.5:
            pipe = Pipe(self.chance)
            pipe.deaf = self.chance.random() < 0.05
            self.pipes.append(pipe)
            self.listener.waiting.append(pipe)
        self.pipe = self.chance.choice(self.pipes) if self.pipes else None
        return hostile(chance, self.recorded, mbap)

    def feed(self, piece: bytes):
        if self.pipe is not None:
            self.pipe.coming += piece
        for _ in range(self.TURNS):
            self.port.work(self.now_ms)

    def check(self):
        """Whoever hangs on is cut after a minute; then the next client is served at once."""
        super().check()
        self.wait(IDLE_MS)
        for _ in range(self.TURNS):
            self.port.work(self.now_ms)
        assert all(client.socket is None for client in self.port.clients)
        pipe = Pipe(random.Random(0))
        pipe.coming = mbap(GOOD)
        self.listener.waiting = [pipe]
        while not pipe.given.endswith(mbap(ANSWER)):
            assert self.port.work(self.now_ms), "a good request is not answered"
        self.port.clients[0].close()
        told, counted = self.link.answers.published, self.port.answers.published
        told.requests, told.bad_frames = counted.requests, counted.bad_frames


def run(target: Target, most_bytes: int, chance: random.Random) -> dict[str, float]:
    """Sends so many bytes; returns counts.  Raises AssertionError, or whatever got out."""
    sent = stretch = 0
    blocks = None
    began_s = time.monotonic()
    while sent < most_bytes:
        for piece in pieces(chance, target.stream(chance)):
            target.feed(piece)
            target.wait(chance.choice((0, 0, 1, 20, 60)))
            sent += len(piece)
        if sent >= stretch:
            stretch = sent + STRETCH_BYTES
            target.scan()
            target.check()
            if sent > most_bytes // 10 and blocks is None:
                gc.collect()
                blocks = sys.getallocatedblocks()
    gc.collect()
    grown = sys.getallocatedblocks() - (blocks or 0)
    assert grown < GROWTH_BLOCKS, f"{grown} blocks of memory more"
    published = target.link.answers.published
    return {"bytes": sent, "s": time.monotonic() - began_s, "answered": published.requests,
            "bad_frames": published.bad_frames, "refused": sum(target.rig.desk.counts),
            "blocks": grown}


def targets(folder: str, chance: random.Random) -> dict[str, Target]:
    """Returns the three targets by name."""
    return {
        "serial line, with a key": Target(folder + "/a", KEY, local=False),
        "USB, without a key": Target(folder + "/b", None, local=True),
        "TCP, with a key": TcpTarget(folder + "/c", chance),
    }


def main() -> None:
    most_bytes = int(float(sys.argv[1] if len(sys.argv) > 1 else 10) * 1e6)
    with tempfile.TemporaryDirectory() as folder:
        chance = random.Random(1)
        for name, target in targets(folder, chance).items():
            found = run(target, most_bytes, chance)
            print(name + ": " + ", ".join(f"{what} {value:.0f}" for what, value in found.items()),
                  flush=True)


if __name__ == "__main__":
    main()
