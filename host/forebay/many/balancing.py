"""The balance of one rig and one day as one row of a table; runs where the work is spread to."""

from typing import Any

from forebay.balance import balance_of
from forebay.balance.model import ENERGIES, NODES, STEPS, WATER, Balance
from forebay.many.journals import Month
from forebay.many.store import Store, Task

UNITS = ((ENERGIES, "energies", "J"), (NODES, "nodes", "J"), (WATER, "water", "L"),
         (STEPS, "steps", "frac"))
# Columns besides the figures, each of which has two: value and standard uncertainty.
PLAIN = ("covered_s", "from_rows_s", "light_h", "pump_h", "trips", "boots", "rows", "gaps",
         "gap_s")
# When the descriptions came that stood in the day beside the one that reads it.
OTHERS = "other_descriptions_utc"
# What a damaged file or an odd day can bring; pyarrow's own errors are of these kinds.
FAULTS = (ValueError, KeyError, OSError, ArithmeticError)


def columns() -> list[str]:
    """Return the columns of a row, in order."""
    figures = [f"{key}_{unit}{end}" for table, _, unit in UNITS for key, _ in table
               for end in ("", "_u")]
    return ["rig_id", "rig", "day", "fault", OTHERS, *PLAIN, *figures]


def row_of(rig_id: int, name: str, day: str, found: Balance) -> dict[str, Any]:
    """Return a balance as one row; None where a figure is not known."""
    row: dict[str, Any] = {"rig_id": rig_id, "rig": name, "day": day, "fault": None, OTHERS: None}
    row |= {one: getattr(found, one) for one in PLAIN}
    for table, of, unit in UNITS:
        for key, _ in table:
            value = getattr(found, of)[key]
            row[f"{key}_{unit}"] = None if value is None else value.value
            row[f"{key}_{unit}_u"] = None if value is None else value.u
    return row


def rows_of(folder: str, task: Task) -> list[dict[str, Any]]:
    """Return the rows of a piece of work, one a day.

    A day that cannot be balanced has its fault in words, and so has a month that cannot be read.
    """
    store = Store(folder)
    found = []
    days: list[str] = []
    at = task.month
    rig = store.description(task.rig_id, at)
    # One broken day or file of thousands must not end the others: it is published as such.
    try:
        month = Month(store, *task)
        days = month.days
    except FAULTS as error:
        found.append(_faulty(task, rig, at, error))
    for at in days:
        rig = store.description(task.rig_id, at)
        try:
            row = row_of(task.rig_id, rig.rig.name, at,
                         balance_of(month.of(at), month.clock, rig, task.rig_id))
        except FAULTS as error:
            row = _faulty(task, rig, at, error)
        found.append(row | {OTHERS: " ".join(store.others_utc(task.rig_id, at)) or None})
    return found


def _faulty(task, rig, at, error):
    return {"rig_id": task.rig_id, "rig": rig.rig.name, "day": at, OTHERS: None,
            "fault": f"{type(error).__name__}: {error}"}
