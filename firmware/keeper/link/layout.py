"""Where every register stands: what the board needs of the register map.

Names and types only.  Types: u16, i16 take one register; u32, i32 two; u64
four; u128 eight; u256 sixteen: the most significant word first, as the bytes
within a word are.  Addresses of blocks are fixed, so that none moves another
by growing; rows are only ever added.
"""

from keeper.channels import COLUMNS, OUTPUTS, TOTALS
from keeper.protection.derived import DERIVED

MAP_VERSION = 8
WORDS = {"u16": 1, "i16": 1, "u32": 2, "i32": 2, "u64": 4, "u128": 8, "u256": 16}

# name, type
STATUS = (
    ("map_version", "u16"), ("firmware_version", "u16"), ("rig_id", "u32"),
    ("settings_crc", "u32"), ("boot", "u16"), ("uptime_ds", "u32"), ("scans", "u32"),
    ("state", "u16"), ("first_out", "u16"), ("acting", "u64"), ("lockouts", "u16"),
    ("setpoint_mW", "u32"), ("contacts", "u16"), ("rows", "u32"), ("journal_lost", "u16"),
    ("requests", "u32"), ("bad_frames", "u32"), ("lockout_element", "u16"), ("held", "u16"),
    ("inhibited", "u16"), ("safe_reason", "u16"), ("wanted_mW", "u32"), ("clock_known", "u16"),
    ("late_ms", "u16"), ("late_scans", "u16"), ("stall_ms", "u16"), ("awake_permille", "u16"),
    ("restarts", "u16"), ("reset_reason", "u16"), ("bus_errors", "u16"), ("events_lost", "u16"),
    ("memory_failed", "u16"), ("scan_longest_us", "u32"), ("scan_us", "u32"),
    ("first_scan_ms", "u16"), ("collect_ms", "u16"), ("heap_free_B", "u32"),
    ("journal_state", "u16"), ("light_band_permille", "u16"), ("valve_moves", "u32"),
)
IDENTITY_ROWS = (
    ("board_id", "u64"), ("firmware_hash", "u64"), ("settings_hash", "u64"),
    ("journal_budget_B", "u32"), ("journal_free_B", "u32"), ("fitted", "u32"),
)
# What became of orders.
DESK_ROWS = (
    ("order_nonce", "u128"), ("orders_passed", "u32"), ("key_state", "u16"), ("key_id", "u32"),
    ("order_state", "u16"), ("last_tag", "u32"), ("last_code", "u16"), ("last_result", "u16"),
    ("last_gate", "u16"), ("refused_unsigned", "u16"), ("refused_other_key", "u16"),
    ("refused_altered", "u16"), ("refused_replayed", "u16"), ("refused_stale", "u16"),
    ("refused_only_usb", "u16"), ("refused_bad_key", "u16"), ("refused_tag", "u32"),
)
# What orders have brought about, and how long it lasts.
WISH_ROWS = (
    ("light_held_ds", "u32"), ("light_ends_ds", "u32"), ("rest_ds", "u32"),
    ("pump_forbidden_ds", "u32"), ("drain_ds", "u32"), ("maintenance", "u16"),
    ("cause_present", "u16"), ("reset_at_rig", "u16"), ("dark", "u16"), ("last_night_min", "u16"),
    ("minutes_left", "u16"), ("clock_day", "u16"), ("clock_ds", "u32"),
    ("proved_element", "u16"), ("proof_ds", "u16"),
)
# Holding registers: one order.  Writing 1 to the last one lays it on the desk.
ORDER_ROWS = (
    ("order_code", "u16"), ("order_tag", "u32"), ("order_a", "i32"), ("order_b", "i32"),
    ("order_number", "u32"), ("order_key_id", "u32"), ("order_sent_nonce", "u128"),
    ("order_signature", "u256"), ("order_go", "u16"),
)

# First addresses of the blocks of input registers.
LIVE = 64
SUMS = 128
JUDGED = 192
FIRST_OUT = 256
IDENTITY = 320
DESK = 352
WISHES = 416


def words_of(rows):
    """Return the registers that a table takes [-]."""
    words = 0
    for row in rows:
        words += WORDS[row[1]]
    return words


# The tables by kind.
TABLES = (
    ("status", STATUS), ("identity", IDENTITY_ROWS), ("desk", DESK_ROWS), ("wish", WISH_ROWS),
)


def _table(address, kind):
    """Return a block of a table: its types alone, for a board has no use of the names."""
    rows = dict(TABLES)[kind]
    return address, kind, tuple([row[1] for row in rows]), words_of(rows)


# first address, kind, then a type and how many, or a table's types and its registers.
BLOCKS = (
    _table(0, "status"),
    (LIVE, "value", "i32", COLUMNS),
    (LIVE + 2 * COLUMNS, "output", "i16", len(OUTPUTS)),
    (SUMS, "total", "u64", len(TOTALS)),
    (JUDGED, "derived", "i32", len(DERIVED)),
    (FIRST_OUT, "first", "i32", COLUMNS),
    _table(IDENTITY, "identity"),
    _table(DESK, "desk"),
    _table(WISHES, "wish"),
)
REGISTERS_END = WISHES + words_of(WISH_ROWS)

# Places of the words of an order.
(BLOCK_CODE, BLOCK_TAG, BLOCK_A, BLOCK_B, BLOCK_NUMBER, BLOCK_KEY_ID, BLOCK_NONCE,
 BLOCK_SIGNATURE, BLOCK_GO) = [words_of(ORDER_ROWS[:place]) for place in range(len(ORDER_ROWS))]
ORDER_WORDS = words_of(ORDER_ROWS)
ORDER_HEAD = ">HIiiII"  # the rows before the nonce, as `struct` reads them

# The file that lists the journal's files: pairs of u16 (file number, bytes).
# It is taken anew when its first record is read.
DIRECTORY_FILE = 16384
# The text of the error that ended a start, as the loader keeps it.
ERROR_FILE = 32768
