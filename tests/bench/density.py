"""Bytes a row takes, part by part, on a noisy day.  Run: python -m tests.bench.density [FOLDER]

Without FOLDER the day is invented: 9 h of pumping under a bell of sun, 1 h at
rest and 6 h of light, in rows of 10 s, then rest in rows of 60 s. Resolution
and noise of a scan are those of the demo rig (V 10 mV and 20 mV, I 1 mA and
0.1 % of its range, level 1 mm and 5 mm, temperature 1/16 K and 0.06 K, valve
0.1 %); a row is a mean over its scans, so that its noise is smaller by their
square root. FOLDER: a journal's folder, such as `board` of a rehearsal, whose
rows are taken instead.

Compared are, over the same rows:

- the columns as little-endian int32, column after column, through xz -9e: the
  yardstick for packed columns;
- the plain rows as the tail has them; the same through zlib 9; columns through
  zlib 9, and through zstd 19 where the package `zstandard` is there (it is not
  needed for anything else);
- row varints: each row as zigzag varints of its differences to the row before;
- Gorilla, published figure: 1.37 bytes a point of 16 (time, value), from
  Pelkonen et al., "Gorilla: A Fast, Scalable, In-Memory Time Series Database",
  VLDB 2015, section 4.1 (quoted from memory): production metrics of servers,
  many of them constant, so it is no measurement of these rows.
"""

import lzma
import math
import pathlib
import random
import struct
import sys
import zlib

from keeper.journal.blocks import ROWS_MOST, HeldRows, RowPacker
from tests.journal import reader

SUN_S, REST_S, LIGHT_S, NIGHT_S = 9 * 3600, 3600, 6 * 3600, 8 * 3600
SEED = 1
POINTS = 14
GORILLA_BYTES_A_POINT = 1.37


def noisy_day(seed: int = SEED) -> list[list[int]]:
    """Returns the rows of the day, 19 numbers each."""
    chance = random.Random(seed)
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


def rows_of(folder: str) -> list[list[int]]:
    """Returns the rows of a journal's folder."""
    content = reader.read_folder(pathlib.Path(folder))
    return [list(content.rows[seq]) for seq in sorted(content.rows)]


def packed(rows: list[list[int]]) -> list[bytes]:
    """Returns the records of the blocks that hold the rows."""
    records = []
    held = HeldRows(ROWS_MOST)
    packer = RowPacker(held)
    for first in range(0, len(rows), ROWS_MOST):
        for row in rows[first : first + ROWS_MOST]:
            held.add(row)
        packer.begin(held.count)
        while not packer.step():
            pass
        held.drop(held.count)
        records.append(bytes(packer.buffer[: packer.size]))
    return records


def columns_of(rows: list[list[int]]) -> bytes:
    """Returns the rows column after column, as little-endian int32."""
    return b"".join(
        struct.pack(f"<{len(rows)}i", *[row[column] for row in rows])
        for column in range(len(rows[0]))
    )


def varints(rows: list[list[int]]) -> bytes:
    """Returns each row as zigzag varints of the differences to the row before."""
    out = bytearray()
    before = [0] * len(rows[0])
    for row in rows:
        for new, old in zip(row, before, strict=True):
            code = 2 * (new - old) if new >= old else 2 * (old - new) - 1
            while code > 127:
                out.append(code & 127 | 128)
                code >>= 7
            out.append(code)
        before = row
    return bytes(out)


def zstd(data: bytes) -> int | None:
    """Returns how many bytes zstd at level 19 makes of `data`; None without the package."""
    try:
        import zstandard  # type: ignore[import-not-found]
    except ImportError:
        return None
    return len(zstandard.ZstdCompressor(level=19).compress(data))


def active(rows: list[list[int]]) -> list[list[int]]:
    """Returns the rows in which something ran: those of 10 s."""
    return [row for row in rows if row[2] == 100 and row[3]]


def sizes(rows: list[list[int]]) -> dict[str, int | None]:
    """Returns how many bytes the rows take, each way."""
    columns = columns_of(rows)
    plain = b"".join(struct.pack("<HIHBB14hH", *row, 0) for row in rows)
    return {
        "blocks, as written": sum(map(len, packed(rows))),
        "xz -9e of the columns": len(lzma.compress(columns, preset=9 | lzma.PRESET_EXTREME)),
        "zstd 19 of the columns": zstd(columns),
        "zlib 9 of the columns": len(zlib.compress(columns, 9)),
        "zlib 9 of plain rows": len(zlib.compress(plain, 9)),
        "row varints": len(varints(rows)),
        "plain rows, as in the tail": len(rows) * 52,
    }


def figures(rows: list[list[int]] | None = None) -> dict[str, float]:
    """Returns the figures that are promised."""
    rows = rows or noisy_day()
    found = sizes(rows)
    ours, xz = found["blocks, as written"] or 0, found["xz -9e of the columns"] or 1
    busy = active(rows)
    return {
        "rows": len(rows),
        "bytes_a_row": ours / len(rows),
        "bytes_a_point": ours / len(rows) / POINTS,
        "bytes_a_row_active": sum(map(len, packed(busy))) / len(busy),
        "ratio_to_xz": ours / xz,
    }


def main() -> None:
    """Prints the table."""
    rows = rows_of(sys.argv[1]) if len(sys.argv) > 1 else noisy_day()
    print(f"{len(rows)} rows, {len(active(rows))} of them while something ran")
    for title, chosen in (("all rows", rows), ("while something ran", active(rows))):
        print(f"\n{title:28} bytes a row  a point  ratio to xz")
        found = sizes(chosen)
        for name, size in found.items():
            if size is None:
                print(f"{name:28}     (package not there)")
                continue
            each = size / len(chosen)
            ratio = size / (found["xz -9e of the columns"] or 1)
            print(f"{name:28} {each:11.2f} {each / POINTS:8.3f} {ratio:12.2f}")
    print(f"{'Gorilla, published, elsewhere':40} {GORILLA_BYTES_A_POINT:8.3f}")


if __name__ == "__main__":
    main()
