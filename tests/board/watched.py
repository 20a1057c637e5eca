"""What a board's interpreter shows of a start that is left to itself: times, and its heap.

The figures are those of the production start, loader and journal included:
nothing runs on the board that measures (tests/board/watch.mjs).
"""

import dataclasses
from collections.abc import Iterable
from typing import Any

from keeper import modes
from keeper.health import RECORDING
from tests.board.rig import EmulatedBoard

LOCK, UNLOCK = "mp_micropython_heap_lock", "mp_micropython_heap_unlock"
COLLECT, WATCHDOG = "gc_collect", "machine_wdt_make_new"
BUS, CONVERTER = "machine_i2c_transfer_single", "machine_adc_read_u16"
WATCHED = (LOCK, UNLOCK, COLLECT, WATCHDOG, BUS, CONVERTER)
US = 1000  # of a millisecond


@dataclasses.dataclass(frozen=True)
class ScanTime:
    """One scan: when it began [ms], how long it was [us], and its parts.

    beside_us: what follows the last reading of the bus or the converter:
    validating, judging, deciding, driving and counting.  transfers_us: inside
    the interpreter's functions that move bytes on the bus and read the
    converter, which no program can shorten; what lies between them is the
    drivers' own.
    """

    at_ms: float
    whole_us: float
    beside_us: float
    transfers_us: float


@dataclasses.dataclass(frozen=True)
class Collection:
    """One collection: when it ended [ms], how long it was [ms], what is free then [B]."""

    at_ms: float
    took_ms: float
    free_B: int
    largest_B: int


def scans(marks: Iterable[list[Any]]) -> list[ScanTime]:
    """Returns the scans that begin and end among some marks."""
    found = []
    began = None
    transfers_us = entered = read = 0.0
    for at, name, way, *_ in marks:
        if name == LOCK and way == "out":
            began, read, transfers_us = at, at, 0.0
        elif began is None:
            continue
        elif name == UNLOCK and way == "in":
            found.append(ScanTime(began, (at - began) * US, (at - read) * US, transfers_us))
            began = None
        elif name in (BUS, CONVERTER):
            if way == "in":
                entered = at
            else:
                read = at
                transfers_us += (at - entered) * US
    return found


def collections(marks: Iterable[list[Any]]) -> list[Collection]:
    """Returns the collections that begin and end among some marks."""
    found = []
    began = None
    for at, name, way, *heap in marks:
        if name == COLLECT and way == "in":
            began = at
        elif name == COLLECT and began is not None:
            found.append(Collection(at, at - began, *heap))
            began = None
    return found


def first(marks: Iterable[list[Any]], name: str) -> float:
    """Returns when a function was first entered [ms]."""
    return next(at for at, called, way, *_ in marks if (called, way) == (name, "in"))


def assert_real(live: dict[str, int], board: EmulatedBoard, boot: int) -> None:
    """Fails unless the keeper that answers is a whole one, with its journal, at its first try.

    live: its registers; boot: the number that this start must have in its journal.
    """
    kept = "last error: " + board.files().get("/last_error", b"none").decode()
    assert live["safe_reason"] == 0, f"safe mode {live['safe_reason']}, {kept}"
    assert board.resets == 0, f"{board.resets} restarts, {kept}"
    assert board.faults == []
    assert live["journal_state"] == RECORDING, f"no journal: {live['journal_state']}, {kept}"
    # A stand-in for the journal counts no starts and has no budget.
    assert live["boot"] == boot, f"start {live['boot']} where {boot} was due, {kept}"
    assert live["journal_budget_B"] > 0
    assert live["state"] != modes.MAINTENANCE
