"""What a request gets for an answer.

Numbers of sections are those of "MODBUS Application Protocol" V1.1b3.
"""

import binascii
import hashlib
import struct

import pytest

from forebay.wire import registers
from keeper import VERSION
from keeper import channels as ch
from keeper import settings as st
from keeper.channels import ALL_FITTED, INVALID, LEVEL_MM, PANEL_MV, READ
from keeper.link import layout
from keeper.link.layout import REGISTERS_END
from keeper.link.pdu import PDU_MOST, Answers
from keeper.protection.derived import DERIVED
from tests.link.frames import read_file, read_holding, read_registers, write_many, write_one
from tests.link.rig import BOARD_ID, FIRMWARE, RIG_ID

DETAIL, EVENTS = 1, 16385  # file numbers of the first segments


@pytest.fixture
def ask(rig):
    """ask(pdu) -> reply PDU."""
    answers = Answers(rig.keeper, rig.journal, rig.desk)

    def ask(pdu: bytes) -> bytes:
        reply = bytearray(PDU_MOST)
        return bytes(reply[: answers.answer(pdu, reply)])

    ask.answers = answers
    return ask


def all_registers(ask) -> dict[str, int]:
    """Reads the whole map in two requests and decodes it by the table."""
    words = b""
    while len(words) < 2 * REGISTERS_END:
        at = len(words) // 2
        count = min(125, REGISTERS_END - at)
        reply = ask(read_registers(at, count))
        assert reply[:2] == bytes([4, 2 * count])
        words += reply[2:]
    values = {}
    for row in registers.INPUT_REGISTERS:
        address, name, kind = row[:3]
        data = words[2 * address : 2 * (address + layout.WORDS[kind])]
        values[name] = int.from_bytes(data, signed=kind[0] == "i")
    return values


def test_every_register_holds_what_the_table_says(ask, keeper):
    keeper.values[LEVEL_MM] = INVALID
    keeper.totals.high[3] = 7
    keeper.totals.low[3] = 123456789
    keeper.core.protection.first = 3
    keeper.core.protection.first_values[PANEL_MV] = -5
    got = all_registers(ask)
    major, minor, patch = VERSION
    assert got["map_version"] == layout.MAP_VERSION
    assert got["firmware_version"] == major * 10000 + minor * 100 + patch
    assert got["rig_id"] == RIG_ID
    assert got["settings_crc"] == binascii.crc32(st.pack(keeper.settings)[:-4])
    assert got["uptime_ds"] == keeper.uptime_ds == 1001
    assert got["contacts"] == keeper.contact_bits() == 0b1101111
    assert got["fitted"] == ALL_FITTED
    assert got["rows"] == 100
    assert got["boot"] == 1
    assert got["requests"] == 1
    assert (got["first_out"], got["lockouts"], got["state"]) == (3, 0, keeper.state)
    assert got["first_panel_mV"] == -5
    assert got["setpoint_mW"] == 600
    for index, name in enumerate(row[0] for row in ch.OUTPUTS):
        assert got["out_" + name] == keeper.outputs[index]
    for index, name in enumerate(row[0] for row in ch.CHANNELS):
        assert got[name] == keeper.values[index]
    for index, name in enumerate(row[0] for row in DERIVED):
        assert got[name] == keeper.values[READ + index]
    for index, name in enumerate(ch.TOTALS):
        assert got[name] == keeper.totals.high[index] * 10**9 + keeper.totals.low[index]


def test_the_registers_say_which_board_program_and_settings_these_are(ask, rig):
    got = all_registers(ask)
    packed = st.pack(rig.keeper.settings)
    assert got["board_id"] == int.from_bytes(BOARD_ID)
    assert got["firmware_hash"] == FIRMWARE
    assert got["settings_hash"] == int.from_bytes(hashlib.sha256(packed).digest()[:8])


def test_the_room_left_for_the_journal_is_told(ask, rig):
    got = all_registers(ask)
    blocks = sum(-(-size // 4096) for _, size in rig.journal.files())
    assert got["journal_budget_B"] == 48 * 4096  # of 200 000 bytes, in whole blocks
    assert got["journal_free_B"] == (48 - blocks) * 4096


def test_every_name_and_every_address_stands_for_one_thing():
    taken = {}
    for row in registers.INPUT_REGISTERS:
        for word in range(layout.WORDS[row[2]]):
            assert row[0] + word not in taken, row
            taken[row[0] + word] = row[1]
    names = [row[1] for row in registers.INPUT_REGISTERS + registers.HOLDING_REGISTERS]
    assert len(names) == len(set(names))
    assert [row[0] for row in registers.INPUT_REGISTERS] == sorted(
        row[0] for row in registers.INPUT_REGISTERS)


# Where map 3 had what a flash asks of a board of before, as that map was released.
MAP_3 = {
    "map_version": 0, "firmware_version": 1, "rig_id": 2, "settings_crc": 4, "boot": 6,
    "uptime_ds": 7, "safe_reason": 31, "restarts": 39, "reset_reason": 40, "firmware_hash": 324,
    "order_nonce": 352, "orders_passed": 360, "key_state": 362, "key_id": 363,
    "order_state": 365, "last_tag": 366, "last_result": 369, "last_gate": 370,
}

def test_the_map_adds_to_the_one_before_only_what_that_is_said_to_lack():
    here = {row[1]: row[0] for row in registers.INPUT_REGISTERS}
    assert {name: here[name] for name in MAP_3} == MAP_3
    assert len(here) - len(registers.LACKING[3]) == 124


def test_any_part_of_the_map_equals_that_part_of_the_whole(ask):
    def words(first, count):
        ask.answers.published.requests = 0  # the one register that asking changes
        return ask(read_registers(first, count))[2:]

    whole = b"".join(words(at, 1) for at in range(REGISTERS_END))
    for first in (0, 1, 3, 60, 63, 64, 65, 100, 127, 128, 130, 131, 165, 260, 321, 353, 359, 400):
        for count in (1, 2, 3, 5, 40, 100):
            if first + count <= REGISTERS_END:
                assert words(first, count) == whole[2 * first : 2 * (first + count)]


@pytest.mark.parametrize(
    ("pdu", "exception"),
    [
        # 6.4: count 1 to 0x7D, else 03; address and count within the map, else 02.
        (read_registers(0, 0), 3),
        (read_registers(0, 126), 3),
        (read_registers(REGISTERS_END, 1), 2),
        (read_registers(REGISTERS_END - 1, 2), 2),
        (read_registers(65535, 1), 2),
        # 6.14: byte count 0x07 to 0xF5, else 03; type, file and record, else 02.
        (bytes([20, 0]), 3),
        (bytes([20, 6]) + b"\6\0\1\0\0\0", 3),
        (bytes([20, 8]) + b"\6\0\1\0\0\0\1\0", 3),
        (bytes([20, 14]) + b"\6\0\1\0\0\0\1", 3),
        (read_file((DETAIL, 0, 1), reference=7), 2),
        (read_file((0, 0, 1)), 2),
        (read_file((DETAIL + 5, 0, 1)), 2),
        (read_file((65535, 0, 1)), 2),
        (read_file((DETAIL, 10_000, 1)), 2),
        (read_file((DETAIL, 9_999, 2)), 2),
        (read_file((DETAIL, 0, 0)), 3),
        (read_file((DETAIL, 0, 122)), 3),
        (read_file((DETAIL, 0, 100), (DETAIL, 100, 22)), 3),
        # 6.3 and 6.4: no more and no fewer bytes than five.
        (read_registers(0, 1) + b"\0", 3),
        (read_holding(0, 1)[:-1], 3),
        (read_holding(0, 0), 3),
        (read_holding(0, 126), 3),
        (read_holding(0, 37), 2),
        (read_holding(36, 1), 2),
        # 6.6: any value, but the address must be there.
        (write_one(36, 0), 2),
        (write_one(0, 0)[:-1], 3),
        # 6.12: 1 to 0x7B registers, twice as many bytes, all there; else 03.
        (write_many(0, []), 3),
        (write_many(0, [0] * 124), 3),
        (write_many(0, [0] * 123), 2),
        (write_many(35, [0, 0]), 2),
        (write_many(0, [0])[:-1], 3),
        (write_many(0, [0]) + b"\0", 3),
        (write_many(0, [0], size=4), 3),
        (b"\x10\0\0", 3),
        # What the register "order_go" does not know.
        (write_one(35, 2), 3),
        (write_one(35, 0x0100), 3),
        # 7: what is not known at all.
        (b"\x01\0\0\0\1", 1),
        (b"\x17\0\0\0\1\0\0\0\1\2\0\0", 1),
        (b"\x7f", 1),
    ],
)
def test_a_request_that_cannot_be_answered_gets_its_exception(ask, pdu, exception):
    assert ask(pdu) == bytes([pdu[0] | 0x80, exception])


def test_a_file_is_read_byte_for_byte_in_pieces_of_any_size(ask, keeper):
    for number, size in keeper.journal.files():
        path = keeper.journal.segments.path(number // 16384, number % 16384)
        with open(path, "rb") as file:
            expected = file.read()
        assert len(expected) == size
        expected += b"\0" * (size % 2)
        for words in (1, 7, 121):
            got = b""
            while len(got) < len(expected):
                count = min(words, (len(expected) - len(got)) // 2)
                reply = ask(read_file((number, len(got) // 2, count)))
                assert reply[:4] == bytes([20, 2 + 2 * count, 1 + 2 * count, 6])
                got += reply[4:]
            assert got == expected


@pytest.mark.parametrize("text", [b"Traceback", b"OSError: 5\n", b"x" * 2047])
def test_the_text_of_the_last_error_is_read_as_a_file(ask, keeper, tmp_path, text):
    path = tmp_path / "last_error"
    path.write_bytes(text)
    keeper.health.error_path = str(path)
    got = b""
    while len(got) < len(text):
        words = min(121, (len(text) - len(got) + 1) // 2)
        reply = ask(read_file((layout.ERROR_FILE, len(got) // 2, words)))
        assert reply[:4] == bytes([20, 2 + 2 * words, 1 + 2 * words, 6])
        got += reply[4:]
    assert got == text + b"\0" * (len(text) % 2)
    past = len(got) // 2
    assert ask(read_file((layout.ERROR_FILE, past, 1))) == bytes([0x94, 2])


@pytest.mark.parametrize("path", ["", "/nowhere/last_error"])
def test_without_a_last_error_there_is_no_such_file(ask, keeper, path):
    keeper.health.error_path = path
    assert ask(read_file((layout.ERROR_FILE, 0, 1))) == bytes([0x94, 2])


def test_times_memory_and_the_journals_state_are_published(ask, keeper):
    health = keeper.health
    health.note_scan(7500)
    health.note_scan(4321)
    health.note_collection(29, 41000)
    health.first_scan_ms = 2345
    health.journal_state = 1
    got = all_registers(ask)
    assert (got["scan_us"], got["scan_longest_us"]) == (4321, 7500)
    assert (got["collect_ms"], got["heap_free_B"]) == (29, 41000)
    assert (got["first_scan_ms"], got["journal_state"]) == (2345, 1)


def test_reading_past_the_end_of_a_file_is_an_illegal_address(ask, keeper):
    size = dict(keeper.journal.files())[EVENTS]
    words = (size + 1) // 2
    assert ask(read_file((EVENTS, words - 1, 1)))[0] == 20
    assert ask(read_file((EVENTS, words - 1, 2))) == bytes([0x94, 2])
    assert ask(read_file((EVENTS, words, 1))) == bytes([0x94, 2])


def test_several_pieces_come_in_one_answer_each_with_its_head(ask):
    first = ask(read_file((EVENTS, 0, 4)))[4:]
    second = ask(read_file((EVENTS, 2, 3)))[4:]
    both = ask(read_file((EVENTS, 0, 4), (EVENTS, 2, 3)))
    assert both == bytes([20, 18, 9, 6]) + first + bytes([7, 6]) + second


def test_one_bad_piece_spoils_the_request(ask):
    assert ask(read_file((EVENTS, 0, 4), (EVENTS + 9, 0, 1))) == bytes([0x94, 2])


def test_the_directory_is_as_it_was_when_its_first_record_was_read(ask, rig, keeper):
    def directory(count):
        reply = ask(read_file((layout.DIRECTORY_FILE, 0, count)))
        words = struct.unpack(f">{count}H", reply[4:])
        return list(zip(words[::2], words[1::2], strict=True))

    listed = keeper.journal.files()
    assert directory(2 * len(listed)) == listed
    rig.run(700)
    assert keeper.journal.files() != listed
    last = ask(read_file((layout.DIRECTORY_FILE, 2 * len(listed) - 2, 2)))[4:]
    assert struct.unpack(">HH", last) == listed[-1]
    assert ask(read_file((layout.DIRECTORY_FILE, 2 * len(listed), 2))) == bytes([0x94, 2])
    assert directory(2 * len(listed)) == keeper.journal.files()


def test_a_flash_that_fails_is_a_device_failure(ask, keeper, monkeypatch):
    def fail(*_):
        raise OSError(5)

    monkeypatch.setattr(keeper.journal.segments, "read_file", fail)
    assert ask(read_file((EVENTS, 0, 4))) == bytes([0x94, 4])


def test_files_are_busy_while_a_sync_is_due_and_registers_are_not(ask, rig, keeper):
    keeper.journal.jobs |= 1  # as after an interval that events have held up
    assert keeper.journal.sync_is_due()
    assert ask(read_file((EVENTS, 0, 4))) == bytes([0x94, 6])
    assert ask(read_registers(0, 1))[0] == 4
    rig.settle()
    assert ask(read_file((EVENTS, 0, 4)))[0] == 20
