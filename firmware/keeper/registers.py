"""The register map of the keeper's Modbus server: tables of what stands where.

Firmware, host client and documentation derive from them.  Types: u16, i16 take
one register; u32, i32 two; u64 four; u128 eight; u256 sixteen: the most
significant word first, as the bytes within a word are.  Addresses of blocks
are fixed, so that none moves another by growing; rows are only ever added.
"""

from keeper.channels import CHANNELS, CONTACTS, OUTPUTS, READ, TOTALS
from keeper.derived import DERIVED

MAP_VERSION = 3
WORDS = {"u16": 1, "i16": 1, "u32": 2, "i32": 2, "u64": 4, "u128": 8, "u256": 16}

# name, type, unit or coding, meaning
STATUS = (
    ("map_version", "u16", "-", "version of this map"),
    ("firmware_version", "u16", "major*10000 + minor*100 + patch", "version of the keeper"),
    ("rig_id", "u32", "-", "identity of the rig"),
    ("settings_crc", "u32", "-", "CRC-32 of the settings in force"),
    ("boot", "u16", "-", "boot number, grows by one at each start"),
    ("uptime_ds", "u32", "0.1 s", "time since the start"),
    ("scans", "u32", "-", "scans executed since the start"),
    ("state", "u16", "number of the state", "state of operation"),
    ("first_out", "u16", "number of the element, 0 = none", "first element to act in this run"),
    ("acting", "u64", "bit i = element i + 1", "elements that act now"),
    ("lockouts", "u16", "bit 0 pump, bit 1 turbine", "sides that wait for a person"),
    ("setpoint_mW", "u32", "mW", "lamp power that the governor holds"),
    ("contacts", "u16", "bit i = contact i closed", "contacts"),
    ("rows", "u32", "-", "number of the newest journal row"),
    ("journal_lost", "u16", "-", "journal segments lost or removed since the start"),
    ("requests", "u32", "-", "requests answered on this line"),
    ("bad_frames", "u32", "-", "frames dropped on this line for a bad CRC or head"),
    ("lockout_element", "u16", "number of the element, 0 = none or not known",
     "element that locked out"),
    ("held", "u16", "bit 0 pump, bit 1 turbine", "sides that an element holds off"),
    ("inhibited", "u16", "bit 0 pump, bit 1 turbine", "sides that may not start anew"),
    ("safe_reason", "u16", "number of the reason, 0 = none", "why the keeper stands in safe mode"),
    ("wanted_mW", "u32", "mW", "lamp power wanted, before the night's plan"),
    ("clock_known", "u16", "1 = set in this boot", "clock"),
    ("late_ms", "u16", "ms", "worst lateness of a scan in this boot"),
    ("late_scans", "u16", "-", "scans more than a period late in this boot"),
    ("stall_ms", "u16", "ms", "longest write to flash seen in this boot"),
    ("awake_permille", "u16", "permille", "share of time in which the processor works"),
    ("restarts", "u16", "-", "quick restarts in a row before this boot"),
    ("reset_reason", "u16", "number of the reason", "why the board started"),
    ("bus_errors", "u16", "-", "readings that drivers gave up in this boot"),
    ("events_lost", "u16", "-", "events that found no room in this boot"),
)

IDENTITY_ROWS = (
    ("board_id", "u64", "-", "number of the chip, 0 = not known"),
    ("firmware_hash", "u64", "first 8 bytes of SHA-256", "hash of the program, 0 = not known"),
    ("settings_hash", "u64", "first 8 bytes of SHA-256", "hash of the settings' file"),
    ("journal_budget_B", "u32", "bytes", "room that the journal may take"),
    ("journal_free_B", "u32", "bytes", "of it, not taken yet; at 0 the oldest detail goes"),
)

DESK_ROWS = (
    ("order_nonce", "u128", "-", "nonce that the next order must carry"),
    ("orders_passed", "u32", "-", "orders that passed in this boot; the next one's number less 1"),
    ("key_state", "u16", "0 none, 1 there, 2 unreadable", "key of the board"),
    ("key_id", "u32", "-", "short name of the key, 0 = none"),
    ("order_state", "u16", "0 none yet, 1 waits, 2 judged by the keeper, 3 refused at the desk",
     "what became of the last order"),
    ("last_tag", "u32", "-", "tag of the last order"),
    ("last_code", "u16", "code of the order", "code of the last order"),
    ("last_result", "u16", "number of the refusal, 0 = done", "what the keeper said to it"),
    ("last_gate", "u16", "number of the reason, 0 = passed", "why the desk refused it"),
    ("refused_unsigned", "u16", "-", "orders refused in this boot: not signed"),
    ("refused_other_key", "u16", "-", "orders refused in this boot: signed with another key"),
    ("refused_altered", "u16", "-", "orders refused in this boot: the signature does not fit"),
    ("refused_replayed", "u16", "-", "orders refused in this boot: their number was used"),
    ("refused_stale", "u16", "-", "orders refused in this boot: made for another nonce"),
    ("refused_only_usb", "u16", "-", "orders refused in this boot: no key, and not over USB"),
    ("refused_bad_key", "u16", "-", "orders refused in this boot: the board's key is unreadable"),
)

# What orders have brought about, and how long it lasts.
WISH_ROWS = (
    ("light_held_ds", "u32", "0.1 s", "an order or the button still lights for so long"),
    ("light_ends_ds", "u32", "0.1 s", "the light is to last for so long, 0 = till dawn"),
    ("rest_ds", "u32", "0.1 s", "no light for so long, by order"),
    ("pump_forbidden_ds", "u32", "0.1 s", "no pump for so long, by order"),
    ("drain_ds", "u32", "0.1 s", "the drain-down goes on for at most so long"),
    ("maintenance", "u16", "1 = ordered", "everything stands for work on the rig"),
    ("cause_present", "u16", "1 = present", "the cause of a lockout is still there"),
    ("reset_at_rig", "u16", "1 = only there", "the lockout can be reset only by the button"),
    ("dark", "u16", "1 = night", "night, as the panel shows it"),
    ("last_night_min", "u16", "min", "length of the last whole night, 0 = none seen yet"),
    ("minutes_left", "u16", "min", "how long the light must still last"),
    ("clock_day", "u16", "days since 1970-01-01, UTC", "day on which the clock was set"),
    ("clock_ds", "u32", "0.1 s since midnight, UTC", "time of day, as far as the clock is known"),
)

# Holding registers: one order.  Writing 1 to the last one lays it on the desk.
ORDER_ROWS = (
    ("order_code", "u16", "see the orders", "what is ordered"),
    ("order_tag", "u32", "any number", "chosen by the sender, who knows the result by it"),
    ("order_a", "i32", "see the orders", "first argument"),
    ("order_b", "i32", "see the orders", "second argument"),
    ("order_number", "u32", "orders_passed + 1", "number of the order in this boot"),
    ("order_key_id", "u32", "0 = not signed", "short name of the key that it is signed with"),
    ("order_sent_nonce", "u128", "order_nonce", "the board's nonce, as it was read"),
    ("order_signature", "u256", "HMAC-SHA256", "signature, 0 without a key"),
    ("order_go", "u16", "1 = judge this order", "reads 0 again at once"),
)

# First addresses of the blocks of input registers.
LIVE = 64
SUMS = 128
JUDGED = 192
FIRST_OUT = 256
IDENTITY = 320
DESK = 352
WISHES = 416


def _rows(address, table, kind):
    """Return the rows of a table from an address on."""
    rows = []
    for index, row in enumerate(table):
        rows.append((address, row[0], row[1], row[2], row[3], kind, index))
        address += WORDS[row[1]]
    return rows


def _build():
    """Return the map as (address, name, type, unit, meaning, kind, index) in address order."""
    live = [(row[0], "i32", row[2], row[7]) for row in CHANNELS]
    outputs = [("out_" + row[0], "u16", "permille" if row[0].endswith("permille") else "0 or 1",
                row[4]) for row in OUTPUTS]
    sums = [(row[0], "u64", row[0].split("_")[-1], row[1]) for row in TOTALS]
    derived = [(row[0], "i32", row[1], row[2]) for row in DERIVED]
    first = [("first_" + row[0], "i32", row[2], "at the first-out: " + row[7])
             for row in CHANNELS]
    rows = _rows(0, STATUS, "status")
    rows += _rows(LIVE, live, "value")
    rows += _rows(LIVE + 2 * len(live), outputs, "output")
    rows += _rows(SUMS, sums, "total")
    rows += _rows(JUDGED, derived, "derived")
    rows += _rows(FIRST_OUT, first, "first")
    rows += _rows(IDENTITY, IDENTITY_ROWS, "identity")
    rows += _rows(DESK, DESK_ROWS, "desk")
    rows += _rows(WISHES, WISH_ROWS, "wish")
    return tuple(rows)


INPUT_REGISTERS = _build()
HOLDING_REGISTERS = tuple(_rows(0, ORDER_ROWS, "order"))
(R_ADDRESS, R_NAME, R_TYPE, R_UNIT, R_TEXT, R_KIND, R_INDEX) = range(7)

# Places of the words of an order.
(BLOCK_CODE, BLOCK_TAG, BLOCK_A, BLOCK_B, BLOCK_NUMBER, BLOCK_KEY_ID, BLOCK_NONCE,
 BLOCK_SIGNATURE, BLOCK_GO) = [row[R_ADDRESS] for row in HOLDING_REGISTERS]
ORDER_WORDS = BLOCK_GO + 1

# The file that lists the journal's files: pairs of u16 (file number, bytes).
# It is taken anew when its first record is read.
DIRECTORY_FILE = 16384

# Contacts travel as bits in table order.
CONTACT_BITS = len(CONTACTS)
# The values behind those that are read: index of the first derived one.
DERIVED_FIRST = READ
