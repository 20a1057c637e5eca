"""One value of a description, from what TOML gives to a plain value in SI units."""

import json
import math
import re
from collections.abc import Sequence

from forebay import units
from forebay.rig.keys import CHOICE, COUNT, NUMBER, TEXT, Key

_BARE_KEY = re.compile(r"[A-Za-z0-9_-]{1,40}")
_SHOWN = 40  # characters of a value that an error repeats


class Refused(ValueError):
    """A value that does not fit its key; `reason` says what may stand there."""

    def __init__(self, reason: str, items: Sequence[tuple[str, object, str]] = ()):
        super().__init__(reason)
        self.reason = reason
        self.items = items  # of a list: (place such as "[2]", value, reason) of each misfit


def shown(raw: object) -> str:
    """Return a value as the file would hold it, in one line and cut short."""
    text = json.dumps(raw, ensure_ascii=True, default=str)
    return text if len(text) <= _SHOWN else text[: _SHOWN - 3] + "..."


def shown_name(name: str) -> str:
    """Return the name of a key or section, quoted if it is no bare one."""
    return name if _BARE_KEY.fullmatch(name) else shown(name)


def read(key: Key, raw: object):
    """Return the value of a key: float or int [unit of plain numbers], text or a list.

    Raises Refused, naming the allowed range and the units that fit.
    """
    if key.counts is None:
        return _one(key, raw)
    if not isinstance(raw, list) or not key.counts[0] <= len(raw) <= key.counts[1]:
        raise Refused(f"must be a list of {key.allowed}")
    values, refused = [], []
    for place, item in enumerate(raw, 1):
        try:
            values.append(_one(key._replace(counts=None), item))
        except Refused as error:
            refused.append((f"[{place}]", item, error.reason))
    if refused:
        raise Refused("a value of the list does not fit", refused)
    return values


def _one(key: Key, raw: object):
    if key.kind == CHOICE:
        if raw in key.choices:
            return raw
        raise Refused(f"must be {key.allowed}")
    if key.kind == TEXT:
        return _text(key, raw)
    return _number(key, raw)


def _text(key: Key, raw: object) -> str:
    least, most = key.bounds
    if isinstance(raw, str) and raw.isprintable() and least <= len(raw.strip()) <= most:
        return raw.strip()
    raise Refused(f"must be text of {key.allowed}")


def _number(key: Key, raw: object) -> float | int:
    if isinstance(raw, str) and key.is_quantity:
        try:
            value = units.parse(raw, key.kind)
        except units.UnitError as error:
            raise Refused(f"{error.reason}; must be {key.allowed}") from None
    elif isinstance(raw, bool) or not isinstance(raw, int | float):
        raise Refused(f"must be {_wanted(key)}{key.allowed}")
    elif key.kind == COUNT and not isinstance(raw, int):
        raise Refused(f"must be {key.allowed}")
    else:
        value = _float(raw)
    low, high = key.bounds
    if not low <= value <= high:  # also refuses what is not a number
        raise Refused(f"must be {key.allowed}{_plain_unit(key, raw)}")
    return int(value) if key.kind == COUNT else value


def _wanted(key: Key) -> str:
    if key.kind in (NUMBER, COUNT):
        return "" if key.kind == COUNT else "a number without quotes, "
    return f"a number{' in ' + key.unit if key.unit else ''} or text with a unit, "


def _plain_unit(key: Key, raw: object) -> str:
    alone = not isinstance(raw, str) or not units.has_unit(raw)
    return f" (a number alone is in {key.unit})" if key.unit and alone else ""


def _float(raw: int | float) -> float:
    try:
        return float(raw)
    except OverflowError:
        return math.inf
