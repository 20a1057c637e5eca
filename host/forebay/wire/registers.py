"""The register map: at which address a client finds what, with unit and meaning.

Addresses are those of `keeper.link.layout`; names and words those of the tables.
"""

from collections.abc import Iterable
from typing import NamedTuple

from forebay.words import link, measured
from keeper.channels import CH_NAME, CH_UNIT, CHANNELS, OUTPUTS, TOTALS
from keeper.link.layout import BLOCKS, ORDER_ROWS, TABLES, WORDS
from keeper.protection.derived import DERIVED


class Register(NamedTuple):
    """One value of the map, `WORDS[type]` registers from its address on."""

    address: int
    name: str
    type: str
    unit: str
    meaning: str
    kind: str

    @property
    def end(self) -> int:
        """The address behind it."""
        return self.address + WORDS[self.type]


# (name, unit, meaning) of the values of a block that has no table of its own
_VALUES = [(row[CH_NAME], row[CH_UNIT], measured.CHANNELS[row[CH_NAME]].plain)
           for row in CHANNELS]
_NAMED = {
    "value": _VALUES,
    "output": [("out_" + row[0], "permille" if row[0].endswith("permille") else "0 or 1",
                measured.OUTPUTS[row[0]].plain) for row in OUTPUTS],
    "total": [(name, name.split("_")[-1], measured.TOTALS[name]) for name in TOTALS],
    "derived": [(name, unit, measured.DERIVED[name]) for name, unit, _ in DERIVED],
    "first": [("first_" + name, unit, "at the first-out: " + plain)
              for name, unit, plain in _VALUES],
}


def _block(address, kind, named: Iterable) -> list[Register]:
    """Return the registers of (name, type, unit, meaning) from an address on."""
    rows = []
    for name, width, unit, meaning in named:
        rows.append(Register(address, name, width, unit, meaning, kind))
        address = rows[-1].end
    return rows


def _worded(rows):
    return [(name, width, *link.REGISTERS[name]) for name, width in rows]


def _input_registers():
    rows = []
    tables = dict(TABLES)
    for address, kind, what, _ in BLOCKS:
        rows += _block(address, kind, _worded(tables[kind]) if kind in tables else [
            (name, what, unit, meaning) for name, unit, meaning in _NAMED[kind]])
    return tuple(rows)


INPUT_REGISTERS = _input_registers()
HOLDING_REGISTERS = tuple(_block(0, "order", _worded(ORDER_ROWS)))

# Maps that were before and that this one only adds to: version -> names that it lacks.
_SINCE_5 = ("light_band_permille", "valve_moves", "out_valve_drive_ms", "not_shut_permille",
            "open_lead_mV", "little_flow_mW", "missing_rise_mdegC", "shut_leak_uL_s",
            "lamp_gap_mA", "generator_mW")
_SINCE_8 = ("proved_element", "proof_ds")
_SINCE_7 = ("fitted", "too_warm_mdegC", "heats_mdegC", "warms_mdegC", "filling_s", "unfilled_min",
            "spent_permille", "fell_early_s", *_SINCE_8)
_SINCE_6 = ("refused_tag", *_SINCE_7)
LACKING = {
    3: ("scan_longest_us", "scan_us", "first_scan_ms", "collect_ms", "heap_free_B",
        "journal_state", *_SINCE_5, *_SINCE_6),
    4: (*_SINCE_5, *_SINCE_6),
    5: _SINCE_6,
    6: _SINCE_7,
    7: _SINCE_8,
}
