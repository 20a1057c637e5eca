"""How the board itself is doing: lateness, stalls, load, restarts, faults of its buses.

The loop and the loader write it, the registers publish it.  It must not know
what the keeper decides.
"""

# Why the board started, as far as it can be told.  The loader marks a reset
# that it makes itself; the chip alone cannot tell those from the watchdog's.
RESET_REASONS = ("power came", "watchdog, or unknown", "ordered", "a scan failed",
                 "work between scans failed", "the start failed")
(POWER_ON, WATCHDOG, ORDERED, SCAN_FAILED, SLACK_FAILED, START_FAILED) = range(
    len(RESET_REASONS))

# Registers are 16 bits wide: what is counted stops there.
MOST = 65535


class Health:
    """Marks of one start; all integers.

    Attributes: late_ms, worst lateness of a scan [ms]; late_scans, scans more
    than one period late [-]; stall_ms, longest write to flash seen [ms];
    awake_permille, share of the last minute in which the processor did not
    rest [permille]; restarts, quick restarts in a row before this start [-];
    reset_reason, index into RESET_REASONS; bus_errors, readings that drivers
    gave up [-].
    """

    def __init__(self):
        """Begin with nothing seen."""
        self.late_ms = 0
        self.late_scans = 0
        self.stall_ms = 0
        self.awake_permille = 1000
        self.restarts = 0
        self.reset_reason = POWER_ON
        self.bus_errors = 0

    def note_late(self, late_ms, period_ms):
        """Take the lateness [ms] of a scan; allocates nothing."""
        if late_ms > self.late_ms:
            self.late_ms = min(late_ms, MOST)
        if late_ms > period_ms and self.late_scans < MOST:
            self.late_scans += 1

    def note_stall(self, stall_ms):
        """Take the length [ms] of a piece of work that may have written to flash."""
        if stall_ms > self.stall_ms:
            self.stall_ms = min(stall_ms, MOST)
