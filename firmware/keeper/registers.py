"""The register map of the keeper's Modbus server: one table.

Firmware, host client and documentation derive from it.  Types: u16, i16 take
one register; u32, i32 two, big-endian words; u64 four.  A source names where
the keeper finds the value: `value` an entry of the scan's list, `total` a
totalizer, `first` an input of the first-out's scan, otherwise a name that the
keeper publishes.
"""

from keeper.channels import CHANNELS, CONTACTS, OUTPUTS, READ, TOTALS
from keeper.derived import DERIVED

MAP_VERSION = 2
WORDS = {"u16": 1, "i16": 1, "u32": 2, "i32": 2, "u64": 4}

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
    ("requests", "u32", "-", "requests answered"),
    ("bad_frames", "u32", "-", "frames dropped for a bad CRC"),
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


def _build():
    """Return the map as (address, name, type, unit, meaning, kind, index) in address order."""
    rows = []
    address = 0
    for name, kind, unit, text in STATUS:
        rows.append((address, name, kind, unit, text, "status", len(rows)))
        address += WORDS[kind]
    address = LIVE
    for index, row in enumerate(CHANNELS):
        rows.append((address, row[0], "i32", row[2], row[7], "value", index))
        address += 2
    for index, row in enumerate(OUTPUTS):
        rows.append((address, "out_" + row[0], "u16", "-", row[4], "output", index))
        address += 1
    address = SUMS
    for index, row in enumerate(TOTALS):
        rows.append((address, row[0], "u64", row[0].split("_")[-1], row[1], "total", index))
        address += 4
    address = JUDGED
    for index, row in enumerate(DERIVED):
        rows.append((address, row[0], "i32", row[1], row[2], "value", READ + index))
        address += 2
    address = FIRST_OUT
    for index, row in enumerate(CHANNELS):
        rows.append((address, "first_" + row[0], "i32", row[2], "at the first-out: " + row[7],
                     "first", index))
        address += 2
    return tuple(rows)


# First addresses of the live values, the totals, the derived values and the
# inputs of the first-out: fixed, so that no block moves another by growing.
LIVE = 64
SUMS = 128
JUDGED = 192
FIRST_OUT = 256
INPUT_REGISTERS = _build()
(R_ADDRESS, R_NAME, R_TYPE, R_UNIT, R_TEXT, R_KIND, R_INDEX) = range(7)

# The file that lists the journal's files: pairs of u16 (file number, bytes).
# It is taken anew when its first record is read.
DIRECTORY_FILE = 16384

# Contacts travel as bits in table order.
CONTACT_BITS = len(CONTACTS)
