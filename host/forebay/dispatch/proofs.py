"""The wishes of a proof test: an element that acts sooner, a trial of the pump, a blink.

It must not know which proofs a rig needs, nor how an order travels.
"""

import difflib
from typing import NamedTuple

from forebay.dispatch.errors import DispatchError
from forebay.dispatch.wishes import Wish
from forebay.si import unit_of
from forebay.units import UnitError, parse
from forebay.words.protection import ELEMENTS
from keeper.channels import CH_NAME, CHANNELS, COLUMNS
from keeper.operation import orders, proving
from keeper.protection.elements import E_ACTION, E_ID, E_SENSE, E_VALUE, LOCK, SENSES, UNTRUSTED
from keeper.protection.elements import ELEMENTS as TABLE

DIMENSIONS = {"V": "voltage", "degC": "temperature", "-": "ratio"}


class Provable(NamedTuple):
    """An element that an order may let act sooner: number, name of its value, whether it acts
    above its limit (else below)."""

    number: int
    register: str
    acts_above: bool


def _provable():
    return {row[E_ID]: Provable(index + 1, str(CHANNELS[row[E_VALUE]][CH_NAME]),
                                row[E_SENSE] == SENSES[0])
            for index, row in enumerate(TABLE)
            if row[E_VALUE] < COLUMNS and row[E_SENSE] != SENSES[UNTRUSTED]
            and row[E_ACTION] != LOCK}


PROVABLE = _provable()


def sooner(element_id: str, limit: str) -> Wish:
    """Let an element act from another limit on, in the unit of its value, for ten minutes."""
    found = PROVABLE.get(element_id)
    if found is None:
        near = difflib.get_close_matches(element_id, PROVABLE, cutoff=0.3) or list(PROVABLE)
        raise DispatchError(f"element {element_id!r} cannot be let act sooner: one of"
                            f" {', '.join(near)}")
    unit = unit_of(found.register)
    try:
        value = round(parse(limit, DIMENSIONS[unit.text]) / unit.factor)
    except UnitError as error:
        raise DispatchError(f"limit {limit!r}: {error.reason}") from None
    way = "above" if found.acts_above else "below"
    minutes = proving.LASTS_DS // 600
    return Wish(orders.PROVE, proving.ELEMENT + found.number, value,
                f"{element_id} acts {way} {value * unit.factor:g} {unit.text} for {minutes} min:"
                f" {ELEMENTS[found.number].plain}",
                ("proved_element", "proof_ds"),
                lambda live: live["proved_element"] == found.number)


def blink(times: int) -> Wish:
    """Blink the board's own light."""
    return Wish(orders.PROVE, proving.BLINK, times, f"the board's light blinks {times} times",
                ("state",), lambda live: True)


def try_pump() -> Wish:
    """Try the pump now, whatever the sun says."""
    return Wish(orders.PROVE, proving.TRY_PUMP, 0,
                "the pump is tried as soon as nothing bars it, within 10 min", ("state",),
                lambda live: True)


def end() -> Wish:
    """Let everything act as it is set."""
    return Wish(orders.PROVE, proving.END, 0, "every element acts as it is set",
                ("proved_element",), lambda live: not live["proved_element"])
