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
        self.fitted = keeper.settings[at("fitted")]
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

    # Each table in the order of its rows in `keeper.link.layout`.

    def _status(self):
        keeper = self.keeper
        journal = self.journal
        core = keeper.core
        light = core.sequence.light
        health = keeper.health
        major, minor, patch = VERSION
        return [
            layout.MAP_VERSION, major * 10000 + minor * 100 + patch, self.rig_id,
            self.desk.identity.settings_crc, journal.boot, keeper.uptime_ds, keeper.scans,
            keeper.state, keeper.first_out, keeper.acting, keeper.lockouts, keeper.setpoint_mW,
            keeper.contact_bits(), journal.newest_row, min(journal.lost, U16_MOST),
            self.requests, self.bad_frames, core.sequence.lockout.element,
            core.protection.hold, core.protection.inhibit, keeper.safe_reason, light.wanted_mW,
            1 if light.clock_known else 0,
            health.late_ms, health.late_scans, health.stall_ms, health.awake_permille,
            health.restarts, health.reset_reason, min(health.bus_errors, U16_MOST),
            min(keeper.events.lost, U16_MOST), min(keeper.retained.failed(), U16_MOST),
            health.scan_longest_us, health.scan_us, health.first_scan_ms, health.collect_ms,
            health.heap_free_B, health.journal_state,
            min(core.governor.band_permille(), U16_MOST), core.positioner.moves,
        ]

    def _identity(self):
        segments = self.journal.segments
        taken = sum(segments.blocks)
        identity = self.desk.identity
        return [
            identity.board_id, identity.firmware_hash, identity.settings_hash,
            _bytes_of(segments.budget_blocks), _bytes_of(segments.budget_blocks - taken),
            self.fitted,
        ]

    def _desk(self):
        desk = self.desk
        return [
            desk.nonce(), desk.passed, desk.key_state, desk.key_id, desk.state(), desk.tag,
            desk.code, desk.result, desk.gate,
        ] + desk.counts[1:] + [desk.refused_tag]

    def _wishes(self):
        core = self.keeper.core
        sequence = core.sequence
        light = sequence.light
        lockout = sequence.lockout
        return [
            light.ordered_periods, light.ends_periods, light.off_periods,
            sequence.forbidden_periods, sequence.drain_periods,
            1 if sequence.maintenance else 0, 1 if core.protection.cause_present() else 0,
            1 if lockout.sides and lockout.only_at_rig() else 0, 1 if light.dark else 0,
            light.last_night_min, min(U16_MOST, light.minutes_left()), self.keeper.clock_days,
            light.clock_periods, self.keeper.proving.element, self.keeper.proving.left_ds(),
        ]


def _bytes_of(blocks):
    return min(U32_MOST, max(0, blocks) * FLASH_BLOCK_BYTES)
