"""What the registers say: values by the names of `keeper.link.layout`.

Reads the keeper, its journal and the order desk by their attributes; runs
between scans and may allocate.
"""

from keeper import VERSION
from keeper.link import layout
from keeper.settings import index as at
from keeper.channels import LIMB, READ

U16_MOST = 0xFFFF
U32_MOST = 0xFFFFFFFF
FLASH_BLOCK_BYTES = 4096
DESK_COUNTS = [row[0] for row in layout.DESK_ROWS if row[0].startswith("refused_")]


class Published:
    """The values of all registers of one line.  Attributes: requests, bad_frames (of the line)."""

    def __init__(self, keeper, journal, desk):
        """Take what is published."""
        self.keeper = keeper
        self.journal = journal
        self.desk = desk
        self.requests = 0
        self.bad_frames = 0
        self.rig_id = keeper.settings[at("rig_id")]
        desk.identity.know(keeper.settings)
        self.tables = {"status": self._status, "identity": self._identity, "desk": self._desk,
                       "wish": self._wishes}

    def table(self, kind):
        """Return the values of a table by name."""
        return self.tables[kind]()

    def value(self, kind, index):
        """Return a value that is read by index."""
        keeper = self.keeper
        if kind == "value":
            return keeper.values[index]
        if kind == "derived":
            return keeper.values[READ + index]
        if kind == "output":
            return keeper.outputs[index]
        if kind == "first":
            return keeper.core.protection.first_values[index]
        return keeper.totals.high[index] * LIMB + keeper.totals.low[index]

    def _status(self):
        keeper = self.keeper
        journal = self.journal
        core = keeper.core
        major, minor, patch = VERSION
        found = {
            "map_version": layout.MAP_VERSION,
            "firmware_version": major * 10000 + minor * 100 + patch,
            "rig_id": self.rig_id,
            "settings_crc": self.desk.identity.settings_crc,
            "boot": journal.boot,
            "uptime_ds": keeper.uptime_ds,
            "scans": keeper.scans,
            "state": keeper.state,
            "first_out": keeper.first_out,
            "acting": keeper.acting,
            "lockouts": keeper.lockouts,
            "setpoint_mW": keeper.setpoint_mW,
            "contacts": keeper.contact_bits(),
            "rows": journal.newest_row,
            "journal_lost": min(journal.lost, U16_MOST),
            "requests": self.requests,
            "bad_frames": self.bad_frames,
            "lockout_element": core.sequence.lockout.element,
            "held": core.protection.hold,
            "inhibited": core.protection.inhibit,
            "safe_reason": keeper.safe_reason,
            "wanted_mW": core.sequence.light.wanted_mW,
            "clock_known": 1 if core.sequence.light.clock_known else 0,
            "events_lost": min(keeper.events.lost, U16_MOST),
            "memory_failed": min(keeper.retained.failed(), U16_MOST),
        }
        found.update(_marks(keeper.health))
        return found

    def _identity(self):
        segments = self.journal.segments
        taken = sum(segments.blocks)
        identity = self.desk.identity
        return {
            "board_id": identity.board_id,
            "firmware_hash": identity.firmware_hash,
            "settings_hash": identity.settings_hash,
            "journal_budget_B": _bytes_of(segments.budget_blocks),
            "journal_free_B": _bytes_of(segments.budget_blocks - taken),
        }

    def _desk(self):
        desk = self.desk
        found = {
            "order_nonce": desk.nonce(),
            "orders_passed": desk.passed,
            "key_state": desk.key_state,
            "key_id": desk.key_id,
            "order_state": desk.state,
            "last_tag": desk.tag,
            "last_code": desk.code,
            "last_result": desk.result,
            "last_gate": desk.gate,
        }
        for place in range(len(DESK_COUNTS)):
            found[DESK_COUNTS[place]] = desk.counts[place + 1]
        return found

    def _wishes(self):
        core = self.keeper.core
        sequence = core.sequence
        light = sequence.light
        return {
            "light_held_ds": light.ordered_periods,
            "light_ends_ds": light.ends_periods,
            "rest_ds": light.off_periods,
            "pump_forbidden_ds": sequence.forbidden_periods,
            "drain_ds": sequence.drain_periods,
            "maintenance": 1 if sequence.maintenance else 0,
            "cause_present": 1 if core.protection.cause_present() else 0,
            "reset_at_rig": 1 if sequence.lockout.sides and sequence.lockout.only_at_rig() else 0,
            "dark": 1 if light.dark else 0,
            "last_night_min": light.last_night_min,
            "minutes_left": min(U16_MOST, light.minutes_left()),
            "clock_day": self.keeper.clock_days,
            "clock_ds": light.clock_periods,
        }


def _marks(health):
    """Return what the board says of itself."""
    return {
        "late_ms": health.late_ms,
        "late_scans": health.late_scans,
        "stall_ms": health.stall_ms,
        "awake_permille": health.awake_permille,
        "restarts": health.restarts,
        "reset_reason": health.reset_reason,
        "bus_errors": min(health.bus_errors, U16_MOST),
        "scan_longest_us": health.scan_longest_us,
        "scan_us": health.scan_us,
        "first_scan_ms": health.first_scan_ms,
        "collect_ms": health.collect_ms,
        "heap_free_B": health.heap_free_B,
        "journal_state": health.journal_state,
    }


def _bytes_of(blocks):
    return min(U32_MOST, max(0, blocks) * FLASH_BLOCK_BYTES)
