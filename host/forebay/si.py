"""The board's numbers in SI, and which of them are not to be trusted.

The unit that ends a name says what its value is.  A reading that cannot be
trusted is INVALID, with a reason, in a register, and NOT_TRUSTED among the
stored values of the journal; here it becomes None or NaN.
"""

from collections.abc import Mapping
from functools import cache
from typing import NamedTuple

import numpy as np

from forebay.words.measured import REASONS
from keeper.channels import CH_NAME, CH_STEP_DEN, CH_STEP_NUM, CHANNELS, INVALID
from keeper.journal.rows import NOT_TRUSTED


class Unit(NamedTuple):
    """An SI unit, or degC: its text, the end of a name; factor: how many one of the board's is."""

    text: str
    suffix: str
    factor: float


# By the end of a name of the board's.
UNITS = {
    "_mV": Unit("V", "V", 1e-3),
    "_mA": Unit("A", "A", 1e-3),
    "_mW": Unit("W", "W", 1e-3),
    "_mJ": Unit("J", "J", 1e-3),
    "_ms": Unit("s", "s", 1e-3),
    "_uL": Unit("m3", "m3", 1e-9),
    "_uL_s": Unit("m3/s", "m3_s", 1e-9),
    "_mm": Unit("m", "m", 1e-3),
    "_mdegC": Unit("degC", "degC", 1e-3),
    "_permille": Unit("-", "frac", 1e-3),
}


def _ending(name):
    for end in UNITS:
        if name.endswith(end):
            return end
    raise KeyError(f"{name} ends in no unit of the board's")


@cache
def unit_of(name: str) -> Unit:
    """Return the unit of a channel, a total, a register or a derived value by its name.

    Raises KeyError if no unit ends it.
    """
    return UNITS[_ending(name)]


def si_name(name: str) -> str:
    """Return a name of the board's with the SI unit at its end."""
    end = _ending(name)
    return f"{name.removesuffix(end)}_{UNITS[end].suffix}"


# Registers

def is_trusted(value: int) -> bool:
    """Return whether a register's reading can be trusted."""
    return value >= INVALID // 2


def reason_of(value: int) -> str:
    """Return in words why a register's reading cannot be trusted."""
    return REASONS.get(value - INVALID, "unknown")


def maybe_si(live: Mapping[str, int], name: str) -> float | None:
    """Return a reading among registers [SI unit], None if it cannot be trusted."""
    return live[name] * unit_of(name).factor if is_trusted(live[name]) else None


def maybe_power_W(live: Mapping[str, int], volts: str, amps: str) -> float | None:
    """Return the power [W] of two readings by name, None if either cannot be trusted."""
    voltage_V, current_A = maybe_si(live, volts), maybe_si(live, amps)
    return None if voltage_V is None or current_A is None else voltage_V * current_A


# Stored values of the journal

def are_trusted(stored: np.ndarray) -> np.ndarray:
    """Return the mask of stored values that can be trusted."""
    return stored != NOT_TRUSTED


def step(index: int) -> float:
    """Return the step in which a channel is stored [unit of the channel]."""
    return int(CHANNELS[index][CH_STEP_NUM]) / int(CHANNELS[index][CH_STEP_DEN])


def stored_si(stored: np.ndarray, index: int) -> np.ndarray:
    """Return stored values of a channel [SI unit]; NaN where not trusted."""
    factor = unit_of(str(CHANNELS[index][CH_NAME])).factor
    return np.where(are_trusted(stored), stored * step(index) * factor, np.nan)
