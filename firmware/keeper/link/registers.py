"""The register map with units and meanings, for the host and for its page.

No board loads this: what a board needs is `keeper.link.layout`.
"""

from keeper.channels import CHANNELS, CONTACTS, OUTPUTS, TOTALS
from keeper.protection.derived import DERIVED
from keeper.link.layout import (  # noqa: F401 - the map is one thing for its readers
    BLOCK_A, BLOCK_B, BLOCK_CODE, BLOCK_GO, BLOCK_KEY_ID, BLOCK_NONCE, BLOCK_NUMBER,
    BLOCK_SIGNATURE, BLOCK_TAG, BLOCKS, DESK, DESK_ROWS, DIRECTORY_FILE, ERROR_FILE, FIRST_OUT,
    IDENTITY, JUDGED, LIVE, MAP_VERSION, ORDER_ROWS, ORDER_WORDS, REGISTERS_END, SUMS, WISHES,
    WORDS)

# name: unit or coding, meaning
TEXTS = {
    "map_version": ("-", "version of this map"),
    "firmware_version": ("major*10000 + minor*100 + patch", "version of the keeper"),
    "rig_id": ("-", "identity of the rig"),
    "settings_crc": ("-", "CRC-32 of the settings in force"),
    "boot": ("-", "boot number, grows by one at each start"),
    "uptime_ds": ("0.1 s", "time since the start"),
    "scans": ("-", "scans executed since the start"),
    "state": ("number of the state", "state of operation"),
    "first_out": ("number of the element, 0 = none", "first element to act in this run"),
    "acting": ("bit i = element i + 1", "elements that act now"),
    "lockouts": ("bit 0 pump, bit 1 turbine", "sides that wait for a person"),
    "setpoint_mW": ("mW", "lamp power that the governor holds"),
    "contacts": ("bit i = contact i closed", "contacts"),
    "rows": ("-", "number of the newest journal row"),
    "journal_lost": ("-", "journal segments lost or removed since the start"),
    "requests": ("-", "requests answered on this line"),
    "bad_frames": ("-", "frames dropped on this line for a bad CRC or head"),
    "lockout_element": ("number of the element, 0 = none or not known", "element that locked out"),
    "held": ("bit 0 pump, bit 1 turbine", "sides that an element holds off"),
    "inhibited": ("bit 0 pump, bit 1 turbine", "sides that may not start anew"),
    "safe_reason": ("number of the reason, 0 = none", "why the keeper stands in safe mode"),
    "wanted_mW": ("mW", "lamp power wanted, before the night's plan"),
    "clock_known": ("1 = set in this boot", "clock"),
    "late_ms": ("ms", "worst lateness of a scan in this boot"),
    "late_scans": ("-", "scans more than a period late in this boot"),
    "stall_ms": ("ms", "longest write to flash seen in this boot"),
    "awake_permille": ("permille", "share of time in which the processor works"),
    "restarts": ("-", "quick restarts in a row before this boot"),
    "reset_reason": ("number of the reason", "why the board started"),
    "bus_errors": ("-", "readings that drivers gave up in this boot"),
    "events_lost": ("-", "events that found no room in this boot"),
    "memory_failed": ("-", "writes in this boot of what must outlive a restart, that failed"),
    "scan_longest_us": ("us", "longest scan in this boot"),
    "scan_us": ("us", "newest scan"),
    "first_scan_ms": ("ms", "from the chip's start to the first scan"),
    "collect_ms": ("ms", "longest collection of memory in this boot"),
    "heap_free_B": ("bytes", "free memory after the newest collection"),
    "journal_state": ("number of the reason, 0 = kept", "whether a journal is kept, or why not"),
    "board_id": ("-", "number of the chip, 0 = not known"),
    "firmware_hash": ("first 8 bytes of SHA-256", "hash of the program, 0 = not known"),
    "settings_hash": ("first 8 bytes of SHA-256", "hash of the settings' file"),
    "journal_budget_B": ("bytes", "room that the journal may take"),
    "journal_free_B": ("bytes", "of it, not taken yet; at 0 the oldest detail goes"),
    "order_nonce": ("-", "nonce that the next order must carry"),
    "orders_passed": ("-", "orders that passed in this boot; the next one's number less 1"),
    "key_state": ("0 none, 1 there, 2 unreadable", "key of the board"),
    "key_id": ("-", "short name of the key, 0 = none"),
    "order_state": ("0 none yet, 1 waits, 2 judged by the keeper, 3 refused at the desk",
        "what became of the last order"),
    "last_tag": ("-", "tag of the last order"),
    "last_code": ("code of the order", "code of the last order"),
    "last_result": ("number of the refusal, 0 = done", "what the keeper said to it"),
    "last_gate": ("number of the reason, 0 = passed", "why the desk refused it"),
    "refused_unsigned": ("-", "orders refused in this boot: not signed"),
    "refused_other_key": ("-", "orders refused in this boot: signed with another key"),
    "refused_altered": ("-", "orders refused in this boot: the signature does not fit"),
    "refused_replayed": ("-", "orders refused in this boot: their number was used"),
    "refused_stale": ("-", "orders refused in this boot: made for another nonce"),
    "refused_only_usb": ("-", "orders refused in this boot: no key, and not over USB"),
    "refused_bad_key": ("-", "orders refused in this boot: the board's key is unreadable"),
    "light_held_ds": ("0.1 s", "an order or the button still lights for so long"),
    "light_ends_ds": ("0.1 s", "the light is to last for so long, 0 = till dawn"),
    "rest_ds": ("0.1 s", "no light for so long, by order"),
    "pump_forbidden_ds": ("0.1 s", "no pump for so long, by order"),
    "drain_ds": ("0.1 s", "the drain-down goes on for at most so long"),
    "maintenance": ("1 = ordered", "everything stands for work on the rig"),
    "cause_present": ("1 = present", "the cause of a lockout is still there"),
    "reset_at_rig": ("1 = only there", "the lockout can be reset only by the button"),
    "dark": ("1 = night", "night, as the panel shows it"),
    "last_night_min": ("min", "length of the last whole night, 0 = none seen yet"),
    "minutes_left": ("min", "how long the light must still last"),
    "clock_day": ("days since 1970-01-01, UTC", "day on which the clock was set"),
    "clock_ds": ("0.1 s since midnight, UTC", "time of day, as far as the clock is known"),
    "order_code": ("see the orders", "what is ordered"),
    "order_tag": ("any number", "chosen by the sender, who knows the result by it"),
    "order_a": ("see the orders", "first argument"),
    "order_b": ("see the orders", "second argument"),
    "order_number": ("orders_passed + 1", "number of the order in this boot"),
    "order_key_id": ("0 = not signed", "short name of the key that it is signed with"),
    "order_sent_nonce": ("order_nonce", "the board's nonce, as it was read"),
    "order_signature": ("HMAC-SHA256", "signature, 0 without a key"),
    "order_go": ("1 = judge this order", "reads 0 again at once"),
}

# Why the board started, and whether a journal is kept, in the order of `keeper.health`.
RESET_REASONS = ("power came", "watchdog, or unknown", "ordered", "a scan failed",
                 "work between scans failed", "the start failed", "of itself, to try again")
JOURNAL_STATES = ("kept", "no memory for it", "its files are unusable",
                  "the safe mode writes none", "no memory, not even to read it")

# Why the desk refused an order, in the order of `keeper.link.desk`.
GATE = (
    "passed",
    "it is not signed, and this needs a signature",
    "it is signed with another key than the board's",
    "its signature does not fit: it was altered, or made for another board",
    "it was sent before: its number is used",
    "it is stale: made for a nonce that the board no longer has",
    "the board has no key: without one it takes orders over USB only",
    "the board's key is unreadable: it takes no orders until it is flashed anew",
)


def _worded(rows: tuple) -> list:
    """Return the rows of a table, which have their words only where somebody reads them."""
    return list(rows)


def _described(kind) -> list:
    """Return (name, unit, meaning) of the values of a block that has no table."""
    if kind == "value":
        return [(row[0], row[2], row[7]) for row in _worded(CHANNELS)]
    if kind == "output":
        return [("out_" + row[0], "permille" if row[0].endswith("permille") else "0 or 1", row[4])
                for row in _worded(OUTPUTS)]
    if kind == "total":
        return [(row[0], row[0].split("_")[-1], row[1]) for row in _worded(TOTALS)]
    if kind == "derived":
        return _worded(DERIVED)
    return [("first_" + row[0], row[2], "at the first-out: " + row[7])
            for row in _worded(CHANNELS)]


def _rows(address, kind, named):
    """Return rows of the map for (name, type, unit, meaning) from an address on."""
    rows = []
    for index, row in enumerate(named):
        rows.append((address, row[0], row[1], row[2], row[3], kind, index))
        address += WORDS[row[1]]
    return rows


def _build():
    """Return the map as (address, name, type, unit, meaning, kind, index) in address order."""
    rows = []
    for address, kind, what, _ in BLOCKS:
        if isinstance(what, str):
            named = [(name, what, unit, text) for name, unit, text in _described(kind)]
        else:
            named = [(name, width) + TEXTS[name] for name, width in what]
        rows += _rows(address, kind, named)
    return tuple(rows)


INPUT_REGISTERS = _build()
HOLDING_REGISTERS = tuple(
    _rows(0, "order", [(name, width) + TEXTS[name] for name, width in ORDER_ROWS]))
(R_ADDRESS, R_NAME, R_TYPE, R_UNIT, R_TEXT, R_KIND, R_INDEX) = range(7)

# Maps that were before and that this one only adds to: version -> names that it lacks.
LACKING = {
    3: ("scan_longest_us", "scan_us", "first_scan_ms", "collect_ms", "heap_free_B",
        "journal_state"),
}

# Contacts travel as bits in table order.
CONTACT_BITS = len(CONTACTS)
