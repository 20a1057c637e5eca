"""What the line promises: speed of a pull, cost of a request.

Wall time on a loaded machine proves little: the suite's bounds are loose, the
figures are in the report, and `python -m tests.bench.pull_speed` measures.
"""

import os
import random
import socket
import threading

import pytest

from forebay.wire import Board
from keeper.link.tcp import SLOTS
from tests.bench import link_cost, pull_speed
from tests.fuzz.campaign import mbap
from tests.link.frames import read_registers

pty = pytest.mark.skipif(os.name == "nt", reason="no pseudo terminals on this system")
# Where the suite runs, other tests take turns with this one: the aim is 0.9.
LOOSE_FRACTION = 0.3
SHARE_BYTES = 10000
SHARE_SCANS = 5000
# Opcodes of CPython for one answer, feeding apart: counts, so they do not waver.
MOST_OPCODES = {"121 words of a file": 6000, "125 registers": 12000, "4 registers": 4000,
                "an order, written": 3500}
MOST_OPCODES_PIECE = 2500


def test_the_ceiling_is_that_of_the_protocol():
    """261 bytes of 10 bits at 115 200 baud and twice 1.75 ms for 242 bytes: by hand 9252 B/s."""
    assert round(pull_speed.CEILING_B_s) == 9252


@pty
def test_a_paced_line_is_used_and_no_scan_is_lost_while_it_is(record_property):
    found = pull_speed.measure(pull_speed.BAUD, SHARE_BYTES, scans=SHARE_SCANS)
    record_property("measured", f"pull at 115 200 baud: {found['B_s']:.0f} B/s,"
                    f" {100 * found['B_s'] / pull_speed.CEILING_B_s:.0f} % of the ceiling"
                    " (on whatever else runs here)")
    assert found["B_s"] > LOOSE_FRACTION * pull_speed.CEILING_B_s
    # Each scan counts the periods that passed since the one before: none may be missing.
    assert abs(found["uptime_ds"] - found["periods"]) <= 2


class Hostile(threading.Thread):
    """More TCP clients than slots: silent, half a request, noise, deaf to the answers."""

    CLIENTS = 8

    def __init__(self, number: int):
        super().__init__()
        self.number = number
        self.stop = threading.Event()
        self.opened = 0

    def run(self):
        chance = random.Random(9)
        clients: list[socket.socket] = []
        while not self.stop.is_set():
            if len(clients) < self.CLIENTS:
                clients.append(socket.create_connection(("127.0.0.1", self.number)))
                self.opened += 1
                clients[-1].setblocking(False)
            client = chance.choice(clients)
            how = chance.randrange(4)
            try:
                if how == 1:
                    client.send(mbap(read_registers(0, 125))[: chance.randrange(1, 11)])
                elif how == 2:
                    client.send(chance.randbytes(300))
                elif how == 3:
                    client.send(mbap(read_registers(0, 125)) * 20)
            except BlockingIOError:
                pass
            except OSError:
                client.close()
                clients.remove(client)
            self.stop.wait(0.002)
        for client in clients:
            client.close()


@pty
def test_hostile_tcp_clients_cost_the_serial_line_no_answer_and_the_keeper_no_scan(tmp_path):
    with pull_speed.board_line(0, str(tmp_path), SHARE_SCANS) as (port, number, counts):
        hostile = Hostile(number)
        hostile.start()
        try:
            with Board(port) as board:
                directory = board.directory()
                file, size = max(directory, key=lambda entry: entry[1])
                words = size // 2 // 121 * 121
                assert words > 0
                parts = [board.file(file, at, 121) for at in range(0, words, 121)]
                while board.values("uptime_ds")["uptime_ds"] < SHARE_SCANS + 20:
                    assert [board.file(file, at, 121) for at in range(0, words, 121)] == parts
        finally:
            hostile.stop.set()
            hostile.join()
    assert hostile.opened > SLOTS
    assert counts["tcp_requests"] > 0
    assert abs(counts["uptime_ds"] - counts["periods"]) <= 2


def test_a_request_costs_the_board_a_bounded_count_of_opcodes(record_property):
    found = link_cost.on_cpython()
    for name, (size, feed, poll) in link_cost.asked(found):
        record_property("measured", f"{name}: {size} B for {feed} + {poll} opcodes")
        assert poll < MOST_OPCODES[name]
    assert len(found["pieces of an order"]) == 4
    assert max(found["pieces of an order"]) < MOST_OPCODES_PIECE
