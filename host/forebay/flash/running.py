"""The keeper that runs: its greeting, the way out of it, the greeting afterwards.

All of it by Modbus.  How an order is signed is the business of whoever hands
in `order`.
"""

import time
from collections.abc import Callable

from forebay import ports
from forebay.flash.errors import FlashError
from forebay.flash.slots import TRIES
from forebay.wire.client import Board, NoAnswer, WireError
from forebay.words.operation import REFUSALS, WAY_IN
from keeper import health
from keeper.clock import PERIODS_PER_S
from keeper.loop import HEALTHY_PERIODS
from keeper.operation import orders

# Waits for an answer while it is not known whether anybody answers; the short one
# where the board is about to leave and a silence is what is waited for.
GREETING_S, PARTING_S = 1.0, 0.4
# How long a valve may take to shut before the keeper leaves: the slowest travel
# that a rig may have, and a start.  A guess.
LEAVE_S = 150.0
# From a reset to the first greeting: USB, the journal's recovery.  A guess.
START_S = 60.0
LOOK_S = 0.3
# A start that has lived so long did not fail at once.
STEADY_DS = 50
# What a start must live for till the loader takes its slot for good; the board does not
# count the scans that stalls of its flash swallow: a guess of their most.
STALLS_S = 10
TRIAL_S = HEALTHY_PERIODS // PERIODS_PER_S + STALLS_S
TRIAL_LOOK_S = 2.0


# What a keeper says of itself, one of before too.
GREETING = ("rig_id", "settings_crc", "boot", "uptime_ds", "firmware_version", "firmware_hash",
            "safe_reason", "restarts", "reset_reason")


class NoHelloError(FlashError):
    """No keeper has answered in time."""


# order(port, code, a, b) -> 0 or the number of the refusal.
Order = Callable[[str, int, int, int], int]


def maybe_greeting(port: str, patience_s: float = GREETING_S) -> dict[str, int] | None:
    """Return the GREETING of the keeper at a port, None if none answers.

    Raises FlashError if one answers that this forebay cannot talk to.
    """
    try:
        board = Board(port, timeout_s=patience_s)
    except WireError:
        return None  # gone for the moment, as in a restart
    with board:
        try:
            return board.values(*GREETING)
        except NoAnswer:
            return None
        except WireError as error:
            raise FlashError(f"{error}; or {WAY_IN} and flash again") from error


def leave(port: str, stop: bool, order: Order, tell: Callable[[str, int, int], None]) -> None:
    """Have the keeper make everything safe and leave for the prompt.

    stop: end what runs.  Raises FlashError if it refuses, in its own words,
    or does not leave in time.
    """
    refusal = order(port, orders.MAINTAIN, 2 if stop else 1, 1)
    if refusal:
        why = REFUSALS.get(refusal, f"reason {refusal}")
        advice = ": wait for its end, or stop it with --stop" if refusal == orders.RUNS else ""
        raise FlashError(f"the board stays as it is: {why}{advice}")
    end = time.monotonic() + LEAVE_S
    while time.monotonic() < end:
        live = maybe_greeting(port, PARTING_S)
        if live is None:
            return
        tell("waiting till everything stands", 0, 1)
        time.sleep(LOOK_S)
    raise FlashError(f"the board did not leave its program within {LEAVE_S:.0f} s: see whether"
                     " the valve moves")


def wait_healthy(port: str, serial_number: str,
                 tell: Callable[[str, int, int], None]) -> tuple[str, dict[str, int]]:
    """Return (port, GREETING) of the keeper once it has run for STEADY_DS.

    The port may be another than before the restart.  Raises FlashError if
    nobody greets in time.
    """
    end = time.monotonic() + START_S
    strange = None
    while time.monotonic() < end:
        port = ports.same_board(port, serial_number)
        try:
            live, strange = maybe_greeting(port), None
        except FlashError as error:
            # A late answer to an earlier question looks like a strange board.
            live, strange = None, error
        if live is None:
            tell("waiting for the start", 0, 1)
        elif live["uptime_ds"] >= STEADY_DS:
            return port, live
        else:
            tell("watching the start", live["uptime_ds"], STEADY_DS)
        time.sleep(LOOK_S)
    raise strange or NoHelloError(
        f"the board did not say hello within {START_S:.0f} s of its restart")


def wait_trial(port: str, serial_number: str, tell: Callable[[str, int, int], None],
               is_deployed: Callable[[dict[str, int]], bool]) -> tuple[str, dict[str, int]]:
    """Return (port, GREETING) of a keeper that has run for TRIAL_S, over its restarts.

    is_deployed: whether a GREETING is of what was written; of anything else it is
    returned at once.  Raises NoHelloError if nobody greets in time, or if no start
    lives long enough.
    """
    now_s = time.monotonic()
    end_s, silent_s = now_s + TRIES * (TRIAL_S + START_S), now_s + START_S
    while now_s < min(end_s, silent_s):
        port = ports.same_board(port, serial_number)
        try:
            live = maybe_greeting(port)
        except FlashError:  # a late answer to an earlier question
            live = None
        if live is not None:
            silent_s = time.monotonic() + START_S
            lived_s = live["uptime_ds"] // PERIODS_PER_S
            if lived_s >= TRIAL_S or not is_deployed(live):
                return port, live
            tell("on trial", lived_s, TRIAL_S)
        time.sleep(TRIAL_LOOK_S)
        now_s = time.monotonic()
    raise NoHelloError(f"no start of it ran on for {TRIAL_S // 60} min" if silent_s > now_s else
                       f"the board has said nothing for {START_S:.0f} s")


def lacks(port: str) -> bool:
    """Return whether a keeper lacks what the loader wants of a slot: a rig, its journal.

    Raises WireError.
    """
    with Board(port) as board:
        live = board.values("safe_reason", "journal_state")
    return bool(live["safe_reason"]) or live["journal_state"] != health.RECORDING


def is_first_start(live: dict[str, int]) -> bool:
    """Return whether a keeper runs since the ordered restart, without having failed since."""
    return live["reset_reason"] == health.ORDERED and live["restarts"] == 0
