"""A tank that rests, or leaks, read row by row: see tests/stories.py."""

import tempfile

from keeper import channels as ch
from keeper.operation import orders
from tests.twin.rigs import MINUTES, twin


def rows(leak_m3_s, count, scans):
    """Returns `count` rows of means of some scans: (uptime [0.1 s], state, means)."""
    with tempfile.TemporaryDirectory() as folder:
        one = twin(folder, ([0.0] * MINUTES, [10.0] * MINUTES, [10.0] * MINUTES),
                   {"upper.start_volume_m3": 0.5, "night.setpoint_W": 0.0})
        orders.carry_out(one.keeper, orders.REST, 600, 0)
        one.plant.leak_m3_s = leak_m3_s
        one.run(30)   # what is read in turn has been read
        return [_row(one, scans) for _ in range(count)]


def _row(one, scans):
    sums = [0] * ch.COLUMNS
    for _ in range(scans):
        one.run(1)
        values = one.keeper.values
        for place in range(ch.COLUMNS):
            sums[place] += values[place]
    return one.keeper.uptime_ds, one.keeper.state, [total / scans for total in sums]
