"""Shelves of one boot with a row a minute, to be exported."""

import functools
from datetime import datetime
from zoneinfo import ZoneInfo

from forebay.shelf import Anchor, Shelf
from keeper.channels import LEVEL_MM
from tests.shelf import encoder

MADRID = ZoneInfo("Europe/Madrid")
ROW_S = 60
# In 2026 the clocks of the European Union go forward on 29 March and back on
# 25 October, at 01:00 UTC (Directive 2000/84/EC).
SHORT_DAY, LONG_DAY = "2026-03-29", "2026-10-25"


def values_of(index):
    """Returns the stored values of row `index`; every seventh level was not trusted."""
    values = [index % 1000 + channel for channel in range(14)]
    values[LEVEL_MM] = encoder.INVALID if index % 7 == 0 else index % 30_000
    return tuple(values)


@functools.cache
def journal_of(rows: int, rig_id: int) -> list[tuple[int, int, bytes]]:
    """Returns (stream, number, data) of the files of one boot with a row a minute.

    Made once: to write it takes longer than to export it.
    """
    table = [(1, 10 * ROW_S * (i + 1), 600, 2, 0b101, values_of(i)) for i in range(rows)]
    files = []
    data, number = encoder.header(0, 1, rig_id), 1
    for first in range(0, rows, 64):
        block = encoder.block(first + 1, table[first : first + 64])
        if len(data) + len(block) > 20000:
            files.append((0, number, data))
            number += 1
            data = encoder.header(0, number, rig_id)
        data += block
    files.append((0, number, data))
    tail = b"".join(encoder.row(rows - 9 + i, *row) for i, row in enumerate(table[-10:]))
    files.append((3, 1, encoder.header(3, 1, rig_id) + tail))
    files.append((1, 1, encoder.header(1, 1, rig_id) + b"".join(
        encoder.event(1 + i, 1, 36000 * i, 2, 1, 2, 3, totals=range(i, i + 10))
        for i in range(rows // 60))))
    return files


def fill(path, begin: datetime | None, rows: int, rig_id=7):
    """Puts rows of one boot, one a minute from a time on, on a shelf; no time: no contact."""
    with Shelf(path) as shelf:
        for stream, number, data in journal_of(rows, rig_id):
            shelf.put_segment(rig_id, 0, stream, number, data)
        if begin:
            shelf.add_anchor(rig_id, Anchor(0, 1, 0, begin.timestamp(), 0.0))
    return path
