"""Bytes a packed row takes, on a synthetic noisy day.  Run: python -m tests.bench.density

The day is invented: 9 h of pumping under a bell of sun, 1 h at rest and 6 h
of light, in rows of 10 s, then rest in rows of 60 s.  Resolution and noise of
a scan are those of the demo rig (V 10 mV and 20 mV, I 1 mA and 0.1 % of its
range, level 1 mm and 5 mm, temperature 1/16 K and 0.06 K, valve 0.1 %); a row
is a mean over its scans, so that its noise is smaller by their square root.
For comparison: the same columns as little-endian int32, column after column,
through xz -9e, the yardstick for packed columns.
"""

import lzma
import math
import random
import struct

from keeper.blocks import ROWS_MOST, HeldRows, Packer

SUN_S, REST_S, LIGHT_S, NIGHT_S = 9 * 3600, 3600, 6 * 3600, 8 * 3600
SEED = 1


def noisy_day() -> list[list[int]]:
    """Returns the rows of the day, 19 numbers each."""
    chance = random.Random(SEED)
    rows = []
    uptime_ds = 0
    level_mm, motor_degC, cloud = 60.0, 14.0, 1.0
    end_s = SUN_S + REST_S + LIGHT_S + NIGHT_S
    while uptime_ds < 10 * end_s:
        at_s = uptime_ds / 10
        sun = max(0.0, math.sin(math.pi * at_s / SUN_S)) if at_s < SUN_S else 0.0
        cloud = min(1.0, max(0.2, cloud + chance.gauss(0, 0.01)))
        sun *= cloud
        pumping = sun > 0.25
        light = SUN_S + REST_S <= at_s < SUN_S + REST_S + LIGHT_S
        length_s = 10 if pumping or light else 60
        root = math.sqrt(10 * length_s)
        up_mL_s = 45 * sun if pumping else 0.0
        down_mL_s = 30.0 if light else 0.0
        level_mm += (up_mL_s - down_mL_s) * length_s / 1000
        motor_degC += ((40 if pumping else 14) - motor_degC) * length_s / 1500

        def noisy(value, sigma, step, root=root):
            return round((value + chance.gauss(0, sigma / root)) / step)

        values = [
            noisy(29 * min(1, 3 * sun) - 4 * sun, 0.02, 0.01),
            noisy(0.8 * sun, 0.008, 0.001),
            noisy(0.75 * sun * pumping, 0.002, 0.001),
            noisy(11.5 * light, 0.02, 0.01),
            noisy(0.06 * light, 0.0004, 0.001),
            noisy(0.055 * light, 0.0004, 0.001),
            noisy(12.8 + 0.4 * sun, 0.02, 0.01),
            noisy(0.1 * sun - 0.016, 0.0008, 0.001),
            noisy(up_mL_s, up_mL_s * 0.02, 0.1),
            noisy(down_mL_s, down_mL_s * 0.02, 0.1),
            noisy(level_mm, 5, 1),
            noisy(motor_degC, 0.06, 1 / 16),
            noisy(12, 0.06, 1 / 16),
            noisy(300 + at_s / 400 if light else 0, 1, 1),
        ]
        uptime_ds += 10 * length_s
        rows.append([1, uptime_ds, 10 * length_s, 2 * pumping + 3 * light, 31, *values])
    return rows


def packed(rows: list[list[int]]) -> list[bytes]:
    """Returns the records of the blocks that hold the rows."""
    records = []
    packer = Packer()
    for first in range(0, len(rows), ROWS_MOST):
        held = HeldRows(ROWS_MOST)
        for row in rows[first : first + ROWS_MOST]:
            held.add(row)
        packer.begin(first + 1, held.count)
        while not packer.step(held.columns):
            pass
        records.append(bytes(packer.buffer[: packer.size]))
    return records


def figures() -> dict[str, float]:
    """Returns the figures that `main` prints."""
    rows = noisy_day()
    active = [row for row in rows if row[2] == 100]
    size = sum(map(len, packed(rows)))
    columns = b"".join(
        struct.pack(f"<{len(rows)}i", *[row[column] for row in rows])
        for column in range(len(rows[0]))
    )
    xz = len(lzma.compress(columns, preset=9 | lzma.PRESET_EXTREME))
    return {
        "rows": len(rows),
        "bytes_a_row": size / len(rows),
        "bytes_a_point": size / len(rows) / 14,
        "bytes_a_row_active": sum(map(len, packed(active))) / len(active),
        "ratio_to_xz": size / xz,
    }


def main() -> None:
    """Prints the figures."""
    for name, value in figures().items():
        print(f"{name:20} {value:10.3f}")


if __name__ == "__main__":
    main()
