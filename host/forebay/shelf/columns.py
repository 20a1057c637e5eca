"""The columns that a row or an event has for a person or a program: name, unit, values.

The board's own tables say what each channel is, `forebay.si` its SI unit.
Every quantity ends in its unit.
"""

from collections.abc import Callable
from typing import NamedTuple

import numpy as np

from forebay.errors import InputError
from forebay.shelf.clock import DS_PER_S, Times
from forebay.shelf.fitted import are_measured, is_there
from forebay.shelf.naming import argument2_name, argument_name
from forebay.shelf.rows import total_values
from forebay.si import are_trusted, si_name, step, stored_si, unit_of
from forebay.words import measured
from forebay.words.operation import EVENTS
from keeper.channels import ALL_FITTED, CH_NAME, CHANNELS, COLUMNS, CONTACTS, TOTALS
from keeper.modes import STATES

MS_PER_S = 1000
BOUND_DIGITS = 3  # of a bound [s]: its last is a millisecond, rounded up
SLACK_MS = 1e-3   # of times in seconds since 1970, which floats hold to less than 1 us
UNKNOWN = "unknown"
TIME, NUMBER, WHOLE, TRUTH, TEXT = "time", "number", "whole", "truth", "text"


class Column(NamedTuple):
    """One column.  kind: TIME, NUMBER, WHOLE, TRUTH or TEXT; digits: after the point [-].

    values: called with (rows or events, times, what was absent as bits of
    `keeper.channels`); times are NaT, numbers NaN, truths and totals None where
    nothing is known, or nothing is there to read it.
    """

    name: str
    unit: str
    kind: str
    digits: int
    meaning: str
    values: Callable


def utc_ms(times: Times) -> np.ndarray:
    """Return times as datetime64 [ms], UTC, NaT where not known."""
    known = np.isfinite(times.utc_s)
    found = np.full(len(known), np.datetime64("NaT", "ms"))
    found[known] = np.rint(times.utc_s[known] * MS_PER_S).astype("datetime64[ms]")
    return found


def bound_s(times: Times) -> np.ndarray:
    """Return the bounds of times [s], up to the next millisecond; NaN where open."""
    bounds_ms = np.where(np.isfinite(times.bound_s), times.bound_s, np.nan) * MS_PER_S
    return np.ceil(bounds_ms - SLACK_MS) / MS_PER_S


def _field(table, name):
    return table[name] if isinstance(table, np.ndarray) else getattr(table, name)


def _plain(name, unit, meaning, field=None):
    return Column(name, unit, WHOLE, 0, meaning,
                  lambda table, times, absent: _field(table, field or name))


def _names(code, names):
    return np.array([*names, UNKNOWN])[np.minimum(code, len(names))]


_TIMES = (
    Column("utc", "UTC", TIME, 3, "when it was; a row: when its interval ended",
           lambda table, times, absent: utc_ms(times)),
    Column("bound_s", "s", NUMBER, BOUND_DIGITS,
           "most by which `utc` can be wrong; empty = not bounded",
           lambda table, times, absent: bound_s(times)),
    _plain("life", "-", "which journal of the board, from 0", "generation"),
    _plain("boot", "-", "which start of the board"),
    Column("uptime_s", "s", NUMBER, 1, "since that start",
           lambda table, times, absent: _field(table, "uptime_ds") / DS_PER_S),
    _plain("seq", "-", "number of the row or event"),
)
_STATE = Column("state", "-", TEXT, 0, "state of operation", lambda table, times, absent: _names(
    _field(table, "state"), [row[0] for row in STATES]))


def _contact(index, name):
    return Column(name, "-", TRUTH, 0, measured.CONTACTS[name].plain,
                  lambda table, times, absent: _closed(table, index, absent))


def _closed(table, index, absent):
    """Return whether a contact is closed [bool].

    None where it is absent, or in an event before the first scan.
    """
    closed = (_field(table, "contacts") >> index & 1).astype(bool)
    unread = ~is_there(absent, COLUMNS + index)
    if isinstance(table, np.ndarray):
        unread |= (table["uptime_ds"] == 0) & ~are_trusted(table["stored"]).any(axis=1)
    return np.where(unread, None, closed) if unread.any() else closed


def _named(name, field, meaning, naming):
    return Column(name, "-", TEXT, 0, meaning, lambda table, times, absent: np.array(
        [naming(code, value) for code, value in
         zip(table["code"].tolist(), table[field].tolist(), strict=True)], dtype=object))


def _channel(index, row):
    unit = unit_of(row[CH_NAME])
    step_si = step(index) * unit.factor
    digits = next(count for count in range(12)
                  if abs(step_si - round(step_si, count)) < 1e-9 * step_si)

    def values(table, times, absent):
        stored = _field(table, "stored")
        stored = stored[:, index] if isinstance(table, np.ndarray) else stored[index]
        return np.round(stored_si(stored, index), digits)

    meaning = measured.CHANNELS[row[CH_NAME]].plain
    return Column(si_name(row[CH_NAME]), unit.text, NUMBER, digits, meaning, values)


def _total(index, name):
    meaning = measured.TOTALS[name] + ", in all"

    def values(table, times, absent):
        found = total_values(table["totals"])[..., index]
        there = are_measured(index, ALL_FITTED & ~absent)
        if there.all():
            return found
        return np.array([value if known else None for value, known in
                         zip(found.tolist(), there.tolist(), strict=True)], dtype=object)

    return Column(f"total_{name}", name.split("_")[-1], WHOLE, 0, meaning, values)


def _absent(columns):
    """Return the column that tells which others are empty because nothing reads them."""
    names = [column.name for column in columns]

    def values(table, times, absent):
        known, place = np.unique(absent, return_inverse=True)
        texts = [" ".join(name for at, name in enumerate(names) if bits >> at & 1) or None
                 for bits in known.tolist()]
        return np.array([*texts, None], dtype=object)[place]

    return Column("absent", "-", TEXT, 0, "columns that no instrument of the rig read, with spaces"
                  " between: they are empty for that; where another one is, its reading could not"
                  " be trusted", values)


_CHANNELS = tuple(_channel(index, row) for index, row in enumerate(CHANNELS))
_CONTACTS = tuple(_contact(index, name) for index, name in enumerate(CONTACTS))
# In the order of `keeper.channels`, whose places are the bits of what is absent.
_ABSENT = _absent((*_CHANNELS, *_CONTACTS))
ROW_COLUMNS = (
    *_TIMES,
    Column("interval_s", "s", NUMBER, 1, "length of the interval, by its scans",
           lambda table, times, absent: table.scans / DS_PER_S),
    _STATE, *_CONTACTS, *_CHANNELS, _ABSENT)
EVENT_COLUMNS = (
    *_TIMES,
    _plain("code", "-", "code of the event"),
    Column("event", "-", TEXT, 0, "its name", lambda table, times, absent: _names(
        table["code"], [UNKNOWN, *[said.name for said in EVENTS.values()]])),
    _plain("argument", "-", "depends on the event"),
    _named("argument_name", "argument", "element, state left, order, side, stream or instrument"
           " of that number; empty if it is none", argument_name),
    _plain("argument2", "-", "depends on the event"),
    _named("argument2_name", "argument2", "action, cause, refusal or reason of that number;"
           " empty if it is none", argument2_name),
    _STATE, *_CONTACTS, *_CHANNELS,
    *[_total(index, name) for index, name in enumerate(TOTALS)], _ABSENT)


# Totals between the events: what a balance rests on besides rows and events.
TOTAL_COLUMNS = (*[one for one in _TIMES if one.name != "seq"],
                 *[_total(index, name) for index, name in enumerate(TOTALS)])


def chosen(columns: tuple[Column, ...], names: str | None) -> tuple[Column, ...]:
    """Return the columns of a list of names with commas, in that order; None = all.

    Raises InputError that names the columns there are.
    """
    if names is None:
        return columns
    known = {column.name: column for column in columns}
    asked = [name.strip() for name in names.split(",") if name.strip()]
    strange = [name for name in asked if name not in known]
    if strange or not asked or len(set(asked)) < len(asked):
        what = f"no column {strange[0]!r}" if strange else "give each column once"
        raise InputError(f"--columns {names}: {what}; there are {', '.join(known)}")
    return tuple(known[name] for name in asked)
