"""The wiring's table and its file: what cannot be is refused, a damaged file never used."""

import binascii
import struct

import pytest
from hypothesis import given
from hypothesis import strategies as some

from keeper.boards import wiring as wr


def with_value(name, value):
    values = wr.defaults()
    values[wr.index(name)] = value
    return values


def test_the_defaults_can_be():
    assert wr.problems(wr.defaults()) == []


def test_names_are_unique_and_every_range_holds_its_default():
    assert len(set(wr.NAMES)) == len(wr.WIRING)
    assert all(row[1] <= row[3] <= row[2] for row in wr.WIRING)


@pytest.mark.parametrize("row", wr.WIRING, ids=lambda row: row[0])
def test_each_entry_is_refused_beyond_its_range(row):
    for value in (row[1] - 1, row[2] + 1):
        found = wr.problems(with_value(row[0], value))
        assert any(line.startswith(f"{row[0]} = {value}: must be") for line in found)


@given(some.data())
def test_what_is_packed_is_unpacked(data):
    values = [
        data.draw(some.integers(row[1], row[2])) if row[0].startswith("level_z") else row[3]
        for row in wr.WIRING
    ]
    assert wr.unpack(wr.pack(values)) == values


@pytest.mark.parametrize("place", range(0, len(wr.pack(wr.defaults())), 3))
def test_one_turned_bit_anywhere_is_seen(place):
    data = bytearray(wr.pack(wr.defaults()))
    data[place] ^= 0x04
    with pytest.raises(ValueError, match="kind of file|CRC|version|wiring"):
        wr.unpack(bytes(data))


def test_a_file_of_another_version_is_refused():
    body = wr.pack(wr.defaults())[:4] + struct.pack("<HH", wr.VERSION + 1, 0)
    with pytest.raises(ValueError, match="version"):
        wr.unpack(body + struct.pack("<I", binascii.crc32(body)))


@pytest.mark.parametrize(
    ("changes", "complaint"),
    [
        ([("valve_feedback", 1), ("motor_sensor", 2)], "want the same input"),
        ([("valve_open_mV", 400)], "must differ by"),
        ([("servo_open_us", 1000)], "must differ"),
        ([("pump_shunt_uohm", 10)], "must be 0, or 500 or more"),
        ([("pump_monitor", 64)], "same I2C address"),
        ([("loop_open_permille", 100)], "loop_short_permille must be below"),
    ],
)
def test_what_cannot_be_fitted_together_is_refused(changes, complaint):
    values = wr.defaults()
    for name, value in changes:
        values[wr.index(name)] = value
    assert any(complaint in line for line in wr.problems(values))
    with pytest.raises(ValueError, match=complaint):
        wr.pack(values)


def test_without_a_whole_file_nothing_is_trusted_and_no_valve_is_driven(tmp_path):
    unknown = wr.defaults()
    for name in wr.FITTED:
        unknown[wr.index(name)] = 0
    path = tmp_path / "wiring"
    assert wr.load(str(path)) == (unknown, False)
    path.write_bytes(wr.pack(with_value("link_unit", 9)))
    assert wr.load(str(path)) == (with_value("link_unit", 9), True)
    path.write_bytes(path.read_bytes()[:-1])
    assert wr.load(str(path)) == (unknown, False)
    path.write_bytes(b"")
    assert wr.load(str(path)) == (unknown, False)
