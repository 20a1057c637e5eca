"""How the board itself is doing: lateness, times, memory, restarts, faults of its buses.

The loop and the start write it, the registers publish it.  It must not know
what the keeper decides.
"""

# Why a keeper stands in its safe mode.
SAFE_REASONS = range(5)
SOUND, BAD_SETTINGS, RESTARTING, NO_FILES, NO_BOARD = SAFE_REASONS

# Why the board started, as far as it can be told.  The loader marks a reset
# that it makes itself; the chip alone cannot tell those from the watchdog's.
RESET_REASONS = range(8)
(POWER_ON, WATCHDOG, ORDERED, SCAN_FAILED, SLACK_FAILED, START_FAILED,
 TO_TRY_AGAIN, GAVE_WAY) = RESET_REASONS

# Whether a journal is kept, and why not.
JOURNAL_STATES = range(5)
RECORDING, NO_MEMORY, UNUSABLE, SAFE_MODE, NOT_EVEN_READ = JOURNAL_STATES

# Registers are 16 bits wide: what is counted stops there.
MOST = 65535


class Health:
    """Marks of one start; all integers but the path.

    Attributes: late_ms, worst lateness of a scan [ms]; late_scans, scans more
    than one period late [-]; scan_us, scan_longest_us, the newest and the
    longest scan [us]; first_scan_ms, ticks at the first [ms]; collect_ms, the
    longest collection [ms]; heap_free_B, free heap after the newest [bytes];
    stall_ms, longest write to flash seen [ms]; awake_permille, share of the
    last minute in which the processor did not rest [permille]; restarts, quick
    restarts in a row before this start [-]; reset_reason, why it came;
    journal_state, RECORDING or why there is no journal; bus_errors, readings that
    drivers gave up [-]; error_path, file with the text of the last error, ""
    for none.
    """

    def __init__(self):
        """Begin with nothing seen."""
        self.late_ms = 0
        self.late_scans = 0
        self.scan_us = 0
        self.scan_longest_us = 0
        self.first_scan_ms = 0
        self.collect_ms = 0
        self.heap_free_B = 0
        self.stall_ms = 0
        self.awake_permille = 1000
        self.restarts = 0
        self.reset_reason = POWER_ON
        self.journal_state = RECORDING
        self.bus_errors = 0
        self.error_path = ""

    def note_late(self, late_ms, period_ms):
        """Take the lateness [ms] of a scan; allocates nothing."""
        if late_ms > self.late_ms:
            self.late_ms = min(late_ms, MOST)
        if late_ms > period_ms and self.late_scans < MOST:
            self.late_scans += 1

    def note_scan(self, scan_us):
        """Take the length [us] of a scan; allocates nothing."""
        self.scan_us = scan_us
        if scan_us > self.scan_longest_us:
            self.scan_longest_us = scan_us

    def note_collection(self, collect_ms, heap_free_B):
        """Take the length [ms] of a collection and what it left free [bytes]."""
        if collect_ms > self.collect_ms:
            self.collect_ms = min(collect_ms, MOST)
        self.heap_free_B = heap_free_B

    def note_stall(self, stall_ms):
        """Take the length [ms] of a piece of work that may have written to flash."""
        if stall_ms > self.stall_ms:
            self.stall_ms = min(stall_ms, MOST)
