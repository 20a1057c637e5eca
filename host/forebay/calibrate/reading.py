"""What the board reads, seen through its line: means over some seconds, totals, orders.

Time is the board's own, so that a simulated one may run faster.
"""

import math
import time
from collections.abc import Callable
from typing import NamedTuple

from forebay.calibrate.sitting import CalibrateError, Line
from forebay.dispatch.sending import send
from forebay.si import is_trusted, reason_of, unit_of
from forebay.wire import Board
from forebay.words.operation import REFUSALS
from keeper.clock import PERIODS_PER_S
from keeper.operation import orders

EVERY_S = 0.5        # between two looks while a mean is taken
LOOK_S = 0.05        # of this computer's, between two looks at the board's clock
STUCK_S = 60.0       # of this computer's, that the board's clock may stand


class Mean(NamedTuple):
    """A mean of some readings [SI unit]; u: its standard uncertainty by their scatter."""

    value: float
    u: float


class WireLine:
    """A board on the wire, as a task sees it."""

    def __init__(self, board: Board):
        self._board = board

    @property
    def port(self) -> str:
        """The port of the board."""
        return self._board.port

    def values(self, *names: str) -> dict[str, int]:
        """Return registers by name."""
        return self._board.values(*names)

    def rest(self, seconds: float) -> None:
        """Let the board's own time pass [s]."""
        end_ds = self._uptime_ds() + math.ceil(seconds * PERIODS_PER_S)
        give_up_s = time.monotonic() + seconds + STUCK_S
        while self._uptime_ds() < end_ds:
            if time.monotonic() > give_up_s:
                raise CalibrateError(f"the clock of the board at {self._board.port} stands: look"
                                     " at it with forebay watch")
            time.sleep(LOOK_S)

    def _uptime_ds(self):
        return self.values("uptime_ds")["uptime_ds"]

    def order(self, code: int, a: int = 0, b: int = 0) -> int:
        """Send an order of `keeper.operation.orders`; return 0 or the number of a refusal."""
        return send(self._board, code, a, b).result


def means(line: Line, names: tuple[str, ...], seconds: float,
          rest_first: bool = False) -> dict[str, Mean]:
    """Return the mean of some readings over so long [s], by name [SI units].

    Raises CalibrateError for one that the board does not trust.
    """
    count = max(2, round(seconds / EVERY_S))
    found: dict[str, list[float]] = {name: [] for name in names}
    for place in range(count):
        if place or rest_first:
            line.rest(seconds / count)
        for name, value in line.values(*names).items():
            if not is_trusted(value):
                raise CalibrateError(f"the board does not trust its reading {name}"
                                     f" ({reason_of(value)}): mend that first")
            found[name].append(value * unit_of(name).factor)
    return {name: _mean(values) for name, values in found.items()}


def _mean(values):
    mean = math.fsum(values) / len(values)
    squares = math.fsum((one - mean) ** 2 for one in values)
    return Mean(mean, math.sqrt(squares / (len(values) - 1) / len(values)))


def until(line: Line, names: tuple[str, ...], is_so: Callable[[dict[str, int]], bool],
          most_s: float, why: str) -> dict[str, int]:
    """Wait until registers are so, and return them; CalibrateError after so long [s]."""
    waited_s = 0.0
    while True:
        found = line.values(*names)
        if is_so(found):
            return found
        if waited_s >= most_s:
            raise CalibrateError(why)
        line.rest(EVERY_S)
        waited_s += EVERY_S


def ordered(line: Line, code: int, a: int = 0, b: int = 0) -> None:
    """Send an order; raises CalibrateError where the board refuses it."""
    refusal = line.order(code, a, b)
    if refusal != orders.DONE:
        raise CalibrateError(f"the board refuses: {REFUSALS[refusal]}")
