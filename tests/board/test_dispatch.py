"""Signed orders on the emulated board: the whole firmware, from its start, over its USB serial."""

import pytest

from forebay import rig as rigs
from forebay.dispatch import DispatchError, keys, sending
from forebay.wire import Board
from keeper.link import desk
from keeper.operation import orders
from tests.board import clock, session

START_MS = 6000


@pytest.fixture
def key(tmp_path, monkeypatch):
    monkeypatch.setattr(keys, "folder", lambda: tmp_path / "keys")
    return keys.ensure(rigs.load().rig_id)


@pytest.fixture
def board_files(key):
    return {**session.flashed_files(with_rig=True), keys.BOARD_PATH: key.secret}


def test_orders_pass_with_the_rigs_key_and_with_no_other(make_board, board_files, record_property):
    with make_board(board_files, held=True) as emulated:
        session.fit(emulated)
        emulated.run_ms(START_MS)
        with clock.following(emulated), Board(emulated.serial_path) as board:
            before = board.live()
            assert (before["safe_reason"], before["key_state"]) == (0, desk.HAS_KEY)
            assert sending.send(board, orders.MAINTAIN, 1, 0).result == orders.DONE
            assert board.values("maintenance", "orders_passed") == {
                "maintenance": 1, "orders_passed": 1}
            keys.path(before["rig_id"]).write_bytes(bytes(32))
            with pytest.raises(DispatchError, match="has another key"):
                sending.send(board, orders.MAINTAIN, 0, 0)
            after = board.live()
    assert after["maintenance"] == 1
    assert after["order_nonce"] != before["order_nonce"]
    assert after["late_scans"] == 0
    record_property("measured", f"emulated board, orders over USB: latest scan"
                    f" {after['late_ms']} ms, longest stall {after['stall_ms']} ms")
