"""A whole board at the end of a pseudo terminal, in a process of its own.

Run: python -m tests.bench.board_line BAUD FOLDER SCANS (BAUD 0 = as fast as it
goes; SCANS = length of its history).  Prints the port and the number of a TCP
port that is served as well; at the end of its input it stops and prints one
line of JSON: scans, periods that passed, lateness and stalls as the keeper
counts them.  Scan, journal, link and loop are the firmware's; the UART is
played by a thread that lets every byte take its time (10 bits, 8N1), in either
direction.
"""

import collections
import json
import os
import random
import select
import socket
import sys
import threading
import time
import tty

from keeper.channels import MOTOR_MDEGC, PANEL_MV, SUPPLY_MA, SUPPLY_MV, WATER_MDEGC
from keeper.drivers.streams import PASS_BYTES, SerialStream
from keeper.link.tcp import TcpPort
from keeper.loop import Loop, Port
from tests.keeper.scripted import PERIOD_MS
from tests.link.rig import Rig

BITS = 10
POLL_S = 0.0002
TICKS = 1 << 30


class Uart:
    """What a stream wants of a UART: bytes come and leave when their time has come."""

    def __init__(self, line: int, baud: int):
        self.line = line
        self.byte_s = BITS / baud if baud else 0.0
        self.came: collections.deque[tuple[float, int]] = collections.deque()
        self.leaves: collections.deque[tuple[float, int]] = collections.deque()
        self.in_s = self.out_s = 0.0  # when the last byte of either direction is through
        threading.Thread(target=self._run, daemon=True).start()

    def _run(self):
        while True:
            if select.select([self.line], [], [], POLL_S)[0]:
                for byte in os.read(self.line, 4096):
                    self.in_s = max(self.in_s, time.monotonic()) + self.byte_s
                    self.came.append((self.in_s, byte))
            due = bytearray()
            while self.leaves and self.leaves[0][0] <= time.monotonic():
                due.append(self.leaves.popleft()[1])
            if due:
                os.write(self.line, due)

    def any(self) -> int:
        now_s = time.monotonic()
        return sum(1 for when, _ in list(self.came) if when <= now_s)

    def readinto(self, buffer, count: int) -> int:
        for place in range(count):
            buffer[place] = self.came.popleft()[1]
        return count

    def write(self, data):
        for byte in bytes(data):
            self.out_s = max(self.out_s, time.monotonic()) + self.byte_s
            self.leaves.append((self.out_s, byte))

    def txdone(self) -> bool:
        return not self.leaves


class NoPin:
    """The driver-enable pin: a pseudo terminal has none."""

    def value(self, level):
        """Takes a level."""


class System:
    """What the loop wants of an interpreter and a chip, here."""

    def __init__(self, now_ms: int):
        """now_ms: what the ticks show now, so that the keeper's time goes on."""
        self.begin_s = time.monotonic() - now_ms / 1000
        self.heap_lock = self.heap_unlock = self.collect = self.feed = lambda: None

    def ticks_ms(self) -> int:
        return int((time.monotonic() - self.begin_s) * 1000) % TICKS

    def ticks_us(self) -> int:
        return int((time.monotonic() - self.begin_s) * 1000000) % TICKS

    @staticmethod
    def sleep_ms(milliseconds: int):
        time.sleep(milliseconds / 1000)


class Board:
    """What the loop wants of a board beside the scripted one."""

    faults = 0

    def safe(self):
        """Does nothing."""

    def slack(self, now_ms) -> bool:
        return False


def noisy(rig: Rig, scans: int) -> Rig:
    """Returns a rig at rest whose readings wander, so that its journal packs as a real one."""
    chance = random.Random(1)
    inputs = rig.board.inputs
    for _ in range(scans):
        inputs[PANEL_MV] = chance.randrange(9000, 11000)
        inputs[SUPPLY_MV] = chance.randrange(12700, 12900)
        inputs[SUPPLY_MA] = chance.randrange(80, 120)
        inputs[MOTOR_MDEGC] = chance.randrange(19000, 21000)
        inputs[WATER_MDEGC] = chance.randrange(11000, 13000)
        rig.run(1)
    rig.settle()
    return rig


def main() -> None:
    baud, folder = int(sys.argv[1]), sys.argv[2]
    rig = noisy(Rig(folder), int(sys.argv[3]))
    board_end, host_end = os.openpty()
    tty.setraw(host_end)
    stream = SerialStream(Uart(board_end, baud), NoPin(), baud or 1000000)
    if not baud:
        stream.quiet_ms = 0
    assert PASS_BYTES >= 12  # a request for a file is taken in one pass
    tcp = TcpPort(rig.keeper, rig.journal, rig.desk)
    listener = socket.create_server(("127.0.0.1", 0))
    tcp.open(listener)
    loop = Loop(rig.keeper, Board(), [Port(rig.link(), stream), tcp],
                System(rig.now_ms + PERIOD_MS), lambda: None)
    before, begin_ds = rig.keeper.scans, rig.keeper.uptime_ds
    runner = threading.Thread(target=loop.run)
    begin_s = time.monotonic()
    runner.start()
    print(os.ttyname(host_end), listener.getsockname()[1], flush=True)
    sys.stdin.read()
    rig.keeper.leaving = rig.keeper.core.sequence.maintenance = True
    runner.join()
    health = rig.keeper.health
    print(json.dumps({
        "scans": rig.keeper.scans - before, "uptime_ds": rig.keeper.uptime_ds - begin_ds,
        "tcp_requests": tcp.answers.published.requests,
        "periods": (time.monotonic() - begin_s) * 10,
        "late_ms": health.late_ms, "late_scans": health.late_scans, "stall_ms": health.stall_ms}))


if __name__ == "__main__":
    main()
