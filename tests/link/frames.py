"""Modbus RTU frames, put together with a CRC that is computed bit by bit."""

import struct


def crc16(data: bytes) -> int:
    """CRC-16 as drawn in "MODBUS over Serial Line" V1.02, section 6.2.2: shift and XOR."""
    crc = 0xFFFF
    for byte in data:
        crc ^= byte
        for _ in range(8):
            carry = crc & 1
            crc >>= 1
            if carry:
                crc ^= 0xA001
    return crc


def frame(pdu: bytes, unit: int = 1) -> bytes:
    """Returns unit, PDU, CRC."""
    data = bytes([unit]) + pdu
    return data + struct.pack("<H", crc16(data))


def pdu_of(reply, unit: int = 1) -> bytes:
    """Returns the PDU of a reply whose unit and CRC are right."""
    data = bytes(reply)
    assert data[0] == unit
    assert struct.unpack("<H", data[-2:])[0] == crc16(data[:-2])
    return data[1:-2]


def read_registers(address: int, count: int) -> bytes:
    """Returns the PDU of FC 4."""
    return struct.pack(">BHH", 4, address, count)


def read_holding(address: int, count: int) -> bytes:
    """Returns the PDU of FC 3."""
    return struct.pack(">BHH", 3, address, count)


def write_one(address: int, value: int) -> bytes:
    """Returns the PDU of FC 6."""
    return struct.pack(">BHH", 6, address, value)


def write_many(address: int, words, size: int | None = None) -> bytes:
    """Returns the PDU of FC 16; size: the byte count, if it is to be wrong."""
    count = len(words)
    head = struct.pack(">BHHB", 16, address, count, 2 * count if size is None else size)
    return head + struct.pack(f">{count}H", *words)


def read_file(*groups: tuple[int, int, int], reference: int = 6) -> bytes:
    """Returns the PDU of FC 20; groups are (file, record, words)."""
    body = b"".join(struct.pack(">BHHH", reference, *group) for group in groups)
    return bytes([20, len(body)]) + body
