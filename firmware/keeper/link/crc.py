"""CRC-16 of Modbus serial frames.

Polynomial 0x8005 reflected (0xA001), initial value 0xFFFF, low byte sent
first: "MODBUS over Serial Line" V1.02, section 6.2.2.
"""

from array import array

INITIAL = 0xFFFF
_POLYNOMIAL = 0xA001


def _table():
    table = array("H", [0] * 256)
    for byte in range(256):
        crc = byte
        for _ in range(8):
            crc = (crc >> 1) ^ _POLYNOMIAL if crc & 1 else crc >> 1
        table[byte] = crc
    return table


TABLE = _table()


def crc16(data, start, end):
    """Return the CRC-16 [0 to 0xFFFF] of data[start:end]."""
    crc = INITIAL
    table = TABLE  # a local name is found faster, and this is most of the work of an answer
    for byte in memoryview(data)[start:end]:
        crc = (crc >> 8) ^ table[(crc ^ byte) & 0xFF]
    return crc
