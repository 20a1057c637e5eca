"""The host's client over Modbus TCP, against the firmware's own port."""

import pytest

from forebay.dispatch import keys, sending
from forebay.shelf import Shelf
from forebay.wire import Board, NoSuchRecord, WireError, pull
from keeper.channels import LEVEL_MM
from keeper.operation import orders
from tests.dispatch.board import TcpLine
from tests.link.rig import RIG_ID, Rig


@pytest.fixture
def rig(tmp_path, monkeypatch) -> Rig:
    monkeypatch.setattr(keys, "folder", lambda: tmp_path / "keys")
    rig = Rig(str(tmp_path / "j"), keys.ensure(RIG_ID).secret)
    rig.run(1500)
    rig.settle()
    return rig


@pytest.fixture
def line(rig):
    line = TcpLine(rig)
    yield line
    line.close()


def test_live_values_come_over_tcp(line, rig):
    with Board(line.address) as board:
        live = board.live()
        assert live["rows"] == rig.journal.newest_row
        assert live["level_mm"] == rig.keeper.values[LEVEL_MM]
        with pytest.raises(NoSuchRecord):
            board.file(77, 0, 1)
    with Board("tcp:" + line.address) as board:
        assert board.values("boot") == {"boot": 1}


def test_a_pull_over_tcp_brings_every_byte(line, rig, tmp_path):
    with Shelf(tmp_path / "shelf") as shelf:
        pull(line.address, shelf)
        for number, size in rig.journal.files():
            data = bytearray(size)
            rig.journal.read_file(number, 0, data)
            assert shelf.segment(RIG_ID, 0, number // 16384, number % 16384) == bytes(data)


def test_a_signed_order_passes_over_tcp(line, rig):
    with Board(line.address) as board:
        outcome = sending.send(board, orders.LIGHT, 600, 30)
    assert (outcome.result, outcome.signed) == (0, True)
    assert rig.keeper.core.sequence.light.wanted_mW == 600


def test_where_nothing_listens_it_is_one_line(line):
    address = line.address
    line.port.listener.close()
    with pytest.raises(WireError, match=f"nothing answers at {address}|does not give"):
        with Board(address, timeout_s=0.2) as board:
            board.live()


def test_a_third_client_is_served_and_the_longest_idle_one_comes_back_by_itself(line):
    with Board(line.address) as one, Board(line.address) as two:
        assert one.values("boot") == two.values("boot") == {"boot": 1}
        with Board(line.address) as three:
            assert three.live()["boot"] == 1
            assert one.values("boot") == {"boot": 1}
