"""Modbus over TCP: framing, clients that misbehave, and the line beside them.

Real sockets on this machine; the port's time is an argument.
"""

import socket
import struct

import pytest

from keeper.link.desk import Desk
from keeper.link.layout import MAP_VERSION
from keeper.link.tcp import HELD_MOST, IDLE_MS, NEW_IDLE_MS, SLOTS, TcpPort
from keeper.operation import orders
from tests.link import rig as rigs
from tests.link.frames import frame, pdu_of, read_file, read_registers, write_many
from tests.link.orders import Sender

GOOD = read_registers(0, 2)
ANSWER = struct.pack(">BBHH", 4, 4, MAP_VERSION, 100)
TURNS = 400


def mbap(pdu: bytes, transaction=1, unit=1, protocol=0) -> bytes:
    """Returns a request or an answer with its head (MODBUS Messaging on TCP/IP V1.0b, 3.1.3)."""
    return struct.pack(">HHHB", transaction, protocol, 1 + len(pdu), unit) + pdu


class Network:
    """A port that listens on this machine, and its clients."""

    def __init__(self, port: TcpPort):
        self.port = port
        self.listener = socket.create_server(("127.0.0.1", 0))
        self.address = self.listener.getsockname()
        port.open(self.listener)
        self.now_ms = 0
        self.clients: list[socket.socket] = []

    def client(self, buffer=0) -> socket.socket:
        """Returns a new client, which does not block either; buffer: size of its own [bytes]."""
        client = socket.socket()
        if buffer:
            client.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, buffer)
            self.listener.setsockopt(socket.SOL_SOCKET, socket.SO_SNDBUF, buffer)
        client.connect(self.address)
        client.setblocking(False)
        self.clients.append(client)
        self.turn()
        return client

    def turn(self, turns=TURNS):
        """Lets the port do its pieces; time stands still."""
        for _ in range(turns):
            self.port.work(self.now_ms)

    def heard(self, client: socket.socket) -> bytes:
        """Returns what the client has got, b"" if nothing."""
        self.turn()
        found = b""
        while True:
            try:
                data = client.recv(4096)
            except BlockingIOError:
                return found
            if not data:
                return found
            found += data

    def is_closed(self, client: socket.socket) -> bool:
        self.turn()
        try:
            return client.recv(4096) == b""
        except BlockingIOError:
            return False
        except ConnectionError:
            return True

    def close(self):
        self.port.close()
        for client in self.clients:
            client.close()


@pytest.fixture
def network(rig):
    network = Network(TcpPort(rig.keeper, rig.journal, rig.desk))
    yield network
    network.close()


def test_the_answer_has_the_head_of_its_request(network):
    client = network.client()
    client.send(mbap(GOOD, transaction=0xBEEF))
    assert network.heard(client) == mbap(ANSWER, transaction=0xBEEF)


def test_a_request_whole_and_byte_by_byte_gets_the_same_answer(network):
    client = network.client()
    for byte in mbap(GOOD, 7):
        assert network.heard(client) == b""
        client.send(bytes([byte]))
    assert network.heard(client) == mbap(ANSWER, 7)


def test_requests_sent_ahead_are_answered_in_their_order(network):
    client = network.client()
    client.send(b"".join(mbap(GOOD, number) for number in range(100)))
    assert network.heard(client) == b"".join(mbap(ANSWER, number) for number in range(100))


def test_the_longest_answer_comes_whole(network, rig):
    size, number = max((size, number) for number, size in rig.journal.files())
    client = network.client()
    client.send(mbap(read_file((number, 0, 121))) + mbap(read_registers(0, 125), 2))
    got = network.heard(client)
    assert len(got) == 7 + 246 + 7 + 252
    assert got[4:8] == struct.pack(">HBB", 247, 1, 20)


def test_serial_line_and_tcp_give_the_same_pdus(network, rig):
    link = rig.link()
    client = network.client()
    for pdu in (GOOD, read_registers(320, 11), read_registers(9000, 1), b"\x2b\x0e\1\0",
                read_file((16385, 0, 20)), write_many(40, [1])):
        link.feed(frame(pdu), 0)
        serial = link.poll(1000)
        client.send(mbap(pdu))
        assert network.heard(client)[7:] == pdu_of(serial)


def test_every_unit_is_served_and_echoed_as_no_line_lies_behind(network):
    client = network.client()
    for unit in (0, 1, 2, 247, 254, 255):
        client.send(mbap(GOOD, unit=unit))
        assert network.heard(client) == mbap(ANSWER, unit=unit)


@pytest.mark.parametrize("garbage", [
    mbap(GOOD, protocol=1), struct.pack(">HHHB", 1, 0, 0, 1), struct.pack(">HHHB", 1, 0, 1, 1),
    struct.pack(">HHHB", 1, 0, 255, 1), b"GET / HTTP/1.1\r\n\r\n",
])  # fmt: skip
def test_a_head_that_cannot_be_one_ends_the_connection_and_is_counted(network, garbage):
    client = network.client()
    client.send(garbage)
    assert network.is_closed(client)
    assert network.port.answers.published.bad_frames == 1
    other = network.client()
    other.send(mbap(GOOD))
    assert network.heard(other) == mbap(ANSWER)


def ask(network, client):
    client.send(mbap(GOOD))
    return network.heard(client) == mbap(ANSWER)


def test_who_comes_where_all_are_served_takes_the_place_of_the_longest_idle(network):
    """Two that ask something every fifty seconds keep the owner out for ever otherwise."""
    strangers = [network.client() for _ in range(SLOTS)]
    for client in strangers:
        network.now_ms += 1000
        assert ask(network, client)
    network.now_ms += 49000
    owner = network.client()
    assert ask(network, owner)
    assert [network.is_closed(client) for client in strangers] == [True] + [False] * (SLOTS - 1)
    assert ask(network, strangers[1])


def test_who_only_comes_again_and_again_drives_nobody_out_that_asks(network):
    owner = network.client()
    assert ask(network, owner)
    for _ in range(20):
        network.now_ms += 1000
        network.client()
        network.turn()
        assert ask(network, owner)


def test_silent_clients_lose_their_slots_after_a_minute_and_busy_ones_do_not(network):
    silent, busy = network.client(), network.client()
    assert ask(network, silent)
    assert ask(network, busy)
    for _ in range(3):
        network.now_ms += IDLE_MS // 2
        busy.send(mbap(GOOD))
        assert network.heard(busy) == mbap(ANSWER)
    assert network.is_closed(silent)
    assert not network.is_closed(busy)


def test_a_client_that_drips_bytes_is_silent_too(network):
    """What counts is a whole request: half of one, ever so slowly, keeps no slot."""
    client = network.client()
    for byte in mbap(GOOD)[:8]:
        client.send(bytes([byte]))
        network.turn()
        network.now_ms += NEW_IDLE_MS // 8
    assert network.is_closed(client)


def test_a_client_that_does_not_read_stalls_neither_the_other_nor_the_journal(network):
    """It fills the buffers of both ends; then its slot waits for the minute to end."""
    deaf, other = network.client(buffer=2048), network.client()
    for _ in range(200):
        try:
            deaf.send(mbap(read_registers(0, 125)) * 50)
        except BlockingIOError:
            pass
        network.turn(100)
    stuck = [client for client in network.port.clients if client.size]
    assert len(stuck) == 1
    assert stuck[0].count <= HELD_MOST
    other.send(mbap(GOOD))
    assert network.heard(other) == mbap(ANSWER)
    network.now_ms += 1000
    network.turn()
    assert not network.port.is_busy()  # so that the journal goes on
    network.now_ms += IDLE_MS
    network.turn()
    assert not any(client.size for client in network.port.clients)


def test_a_client_that_vanishes_in_the_middle_frees_its_slot(network):
    for _ in range(10):
        client = network.client()
        client.send(mbap(read_registers(0, 125)) * 3 + mbap(GOOD)[:5])
        client.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, struct.pack("ii", 1, 0))
        client.close()  # by a reset, with answers under way
        network.turn()
    assert all(client.socket is None for client in network.port.clients)


def test_whatever_tcp_clients_do_the_serial_line_and_the_scan_go_on(network, rig):
    link = rig.link()
    hostile = [network.client() for _ in range(6)]
    scans = rig.keeper.scans
    for turn in range(50):
        for client in hostile:
            try:
                client.send(mbap(read_registers(0, 125))[: turn % 12 + 1])
            except OSError:
                pass
        network.turn(5)
        rig.run(1)
        link.feed(frame(GOOD), 100 * turn)
        assert pdu_of(link.poll(100 * turn)) == ANSWER
    assert rig.keeper.scans == scans + 50


def test_one_piece_of_work_answers_one_request_at_most(network):
    first, second = network.client(), network.client()
    for client in (first, second):
        client.send(mbap(GOOD) * 20)
    network.turn(4)
    before = network.port.answers.published.requests
    for _ in range(60):
        network.port.work(0)
        after = network.port.answers.published.requests
        assert after - before in (0, 1)
        before = after


def test_orders_over_tcp_pass_signed_only(tmp_path):
    rig = rigs.Rig(str(tmp_path / "j"), rigs.KEY)
    network = Network(TcpPort(rig.keeper, rig.journal, rig.desk))
    try:
        client = network.client()
        sender = Sender(rig.link(), rigs.KEY)
        words = sender.words(orders.LIGHT, 600, 30)
        client.send(mbap(write_many(0, words)))
        assert network.heard(client) == mbap(b"\x10\0\0\0\x24")
        assert rig.keeper.core.sequence.light.ordered_periods == 30 * 600
        client.send(mbap(write_many(0, words)))
        network.turn()
        assert rig.desk.passed == 1
        assert rig.desk.counts[4] == 1
    finally:
        network.close()


def test_a_port_without_a_listener_only_moves_orders_on(rig):
    port = TcpPort(rig.keeper, rig.journal, Desk(rig.keeper))
    assert not port.work(0)
    assert not port.is_busy()
    port.close()
