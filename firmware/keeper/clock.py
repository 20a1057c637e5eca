"""The keeper's clocks, declared once: the scan period and the ticks.

The keeper reads no clock itself: it is told `now_ms`, in ticks that wrap, and
counts delays and waits in whole periods.
"""

PERIOD_MS = 100          # between two scans
PERIODS_PER_S = 10
PERIOD_S = 0.1           # for the host; the scan counts in integers
TICKS_MASK = 0x3FFFFFFF  # MicroPython's ticks wrap at 2**30: later - earlier & this
