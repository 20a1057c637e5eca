"""Which instruments a board had, start by start: what its own journal says.

A start of a rig that lacks instruments writes which (`keeper.events.NOT_FITTED`), behind its
event `boot`.  So a rig that gains a meter keeps its history: before, it was absent.
"""

from itertools import groupby

import numpy as np

from forebay.shelf.naming import argument2_name
from keeper import channels as ch
from keeper import events
from keeper.channels import ALL_FITTED
from keeper.totals import POWERS

BOOT_BITS = 16
BOOT_MASK = (1 << BOOT_BITS) - 1


class Fitted:
    """What was absent at each start that the journal tells of."""

    def __init__(self, table: np.ndarray):
        """Take the events of a rig, all there are: a structured array as in `rows`."""
        starts = table[table["code"] == events.BOOT]
        lacking = table[table["code"] == events.NOT_FITTED]
        # A later row of the same start stands: `not fitted` comes behind `boot`.
        told = dict.fromkeys(_keys(starts["generation"], starts["boot"]).tolist(), 0)
        told.update(zip(_keys(lacking["generation"], lacking["boot"]).tolist(),
                        (lacking["argument2"] & ALL_FITTED).tolist(), strict=True))
        self._keys = np.array(sorted(told), np.int64)
        self._bits = np.array([told[key] for key in sorted(told)], np.int64)

    def absent(self, generation: np.ndarray, boot: np.ndarray) -> np.ndarray:
        """Return what was absent at starts: bit i = place i of `keeper.channels`.

        A start whose own event is gone had what the next told start had, else the one before:
        a description changes by a flash alone.  With none in its life: nothing was absent.
        """
        keys = _keys(np.asarray(generation), np.asarray(boot))
        if not len(self._keys):
            return np.zeros(len(keys), np.int64)
        place = np.searchsorted(self._keys, keys)
        at = np.minimum(place, len(self._keys) - 1)
        is_later = (place < len(self._keys)) & (_life(self._keys[at]) == _life(keys))
        at = np.where(is_later, at, np.maximum(place - 1, 0))
        return np.where(_life(self._keys[at]) == _life(keys), self._bits[at], 0)


    def notes(self) -> list[str]:
        """Return what was absent and from which start to which, a sentence each stretch."""
        found = []
        pairs = zip(self._keys.tolist(), self._bits.tolist(), strict=True)
        for (life, bits), group in groupby(pairs, lambda pair: (pair[0] >> BOOT_BITS, pair[1])):
            boots = [key & BOOT_MASK for key, _ in group]
            if bits:
                starts = f"starts {boots[0]} to {boots[-1]}" if len(boots) > 1 else (
                    f"start {boots[0]}")
                of = f" of life {life}" if life else ""
                found.append(f"No instrument reads {argument2_name(events.NOT_FITTED, bits)}, as"
                             f" the board says of its {starts}{of}: that is no gap.")
        return found


def _keys(generation, boot):
    return generation.astype(np.int64) << BOOT_BITS | boot.astype(np.int64)


def _life(keys):
    return keys >> BOOT_BITS


# What each total is made of: any one set of readings is enough.
TOTAL_FACTORS: tuple[tuple[tuple[int, ...], ...], ...] = tuple(
    {**{row[0]: (row[1:],) for row in POWERS},
     ch.T_SUPPLY_IN: ((ch.SUPPLY_MV, ch.SUPPLY_MA),),
     ch.T_SUPPLY_OUT: ((ch.SUPPLY_MV, ch.SUPPLY_MA),),
     ch.T_UP: ((ch.FLOW_UP,),),
     ch.T_DOWN: ((ch.FLOW_DOWN,),),
     ch.T_PUMP_MS: ((),),
     ch.T_LIGHT_MS: ((ch.GENERATOR_MV, ch.LAMP_MA), (ch.GENERATOR_MV, ch.GENERATOR_MA)),
     }[total] for total in range(len(ch.TOTALS)))


def are_measured(total: int, fitted: np.ndarray) -> np.ndarray:
    """Return whether a total [T_ of keeper.channels] is measured [bool].

    fitted: bits of what there is, an array; of what is not, a total is absent and not 0.
    """
    found = np.zeros(np.shape(fitted), bool)
    for factors in TOTAL_FACTORS[total]:
        there = np.ones(np.shape(fitted), bool)
        for place in factors:
            there &= np.asarray(fitted) >> place & 1 == 1
        found |= there
    return found


def totals_measured(fitted: int) -> dict[str, bool]:
    """Return, by the name of each total, whether a rig measures it; fitted: as the setting."""
    return {name: bool(are_measured(total, np.array(fitted)))
            for total, name in enumerate(ch.TOTALS)}


def is_there(absent: np.ndarray, place: int) -> np.ndarray:
    """Return whether a channel or contact existed [bool]; absent: bits, as of `Fitted`."""
    return absent >> place & 1 == 0
