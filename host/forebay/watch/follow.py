"""Follows one board: reads it again and again, and finds it again when it was away.

It must not know how what it reads is shown.
"""

import time
from collections import deque
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field

from forebay import ports
from forebay.flash import last_error
from forebay.si import maybe_power_W, maybe_si
from forebay.watch.events import EventTail
from forebay.watch.known import Known, known_of
from forebay.wire import Board, WireError
from keeper.channels import ALL_FITTED
from keeper.health import GAVE_WAY, NO_BOARD, NO_FILES, SCAN_FAILED, SLACK_FAILED, START_FAILED

ANSWER_S = 1.0
# Between two tries to find the board again: short at first, as a restart takes seconds.
RETRY_S, RETRY_MOST_S = 0.5, 5.0
# How often the list of files is read for new events.
EVENTS_S = 10.0
READINGS_MOST = 600  # for the sparklines


@dataclass
class Snapshot:
    """What is known of a board at one moment.

    live: registers by name, those of the last answer; at_s: wall clock of
    that answer [s]; lost: why there is none now, "" if there is; events: as
    `EventTail.newest`; error: text of the last error that ended a start, ""
    for none; known: what this computer's shelf knows of the board; pump_W,
    lamp_W, level_m: histories, oldest first, None where a reading cannot be
    trusted.
    """

    port: str
    live: dict[str, int] = field(default_factory=dict)
    at_s: float = 0.0
    lost: str = ""
    events: list[tuple[int, int, str]] = field(default_factory=list)
    error: str = ""
    known: Known = field(default_factory=Known)
    pump_W: deque[float | None] = field(default_factory=lambda: deque(maxlen=READINGS_MOST))
    lamp_W: deque[float | None] = field(default_factory=lambda: deque(maxlen=READINGS_MOST))
    level_m: deque[float | None] = field(default_factory=lambda: deque(maxlen=READINGS_MOST))


class Follower:
    """A board that is read every `every_s` seconds.

    Attribute: snapshot.  clock, wait: of the host, for tests.
    """

    def __init__(self, port: str, every_s: float, wait: Callable[[float], None] = time.sleep,
                 clock: Callable[[], float] = time.monotonic,
                 now: Callable[[], float] = time.time):
        self.snapshot = Snapshot(port)
        self._every_s = every_s
        self._wait = wait
        self._clock = clock
        self._now = now
        self._number = ports.serial_number(port)
        self._events = EventTail()
        self._events_due_s = 0.0

    def once(self) -> Snapshot:
        """Read once; raises WireError if the board does not answer."""
        with Board(self.snapshot.port, timeout_s=ANSWER_S) as board:
            self._read(board)
            self._read_error(board)
        return self.snapshot

    def run(self) -> Iterator[Snapshot]:
        """Give a snapshot after every reading, and one when the board is lost; never ends."""
        retry_s = RETRY_S
        while True:
            self.snapshot.port = ports.same_board(self.snapshot.port, self._number)
            try:
                with Board(self.snapshot.port, timeout_s=ANSWER_S) as board:
                    is_new = True  # a start has a line of its own
                    while True:
                        began_s = self._clock()
                        self._read(board)
                        if is_new:
                            self._read_error(board)
                        is_new = False
                        retry_s = RETRY_S
                        yield self.snapshot
                        self._wait(max(0.0, self._every_s - (self._clock() - began_s)))
            except WireError as error:
                self.snapshot.lost = str(error)
                yield self.snapshot
                self._wait(retry_s)
                retry_s = min(2 * retry_s, RETRY_MOST_S)

    def _read_error(self, board):
        self.snapshot.error = last_error.readable(board.last_error())

    def _read(self, board):
        snapshot = self.snapshot
        snapshot.live = live = board.live()
        snapshot.at_s = self._now()
        if self._clock() >= self._events_due_s:
            self._events.update(board, ALL_FITTED & ~live["fitted"])
            self._events_due_s = self._clock() + EVENTS_S
            snapshot.events = self._events.newest
            snapshot.known = known_of(live)
        snapshot.lost = ""
        snapshot.pump_W.append(maybe_power_W(live, "panel_mV", "pump_mA"))
        snapshot.lamp_W.append(maybe_power_W(live, "generator_mV", "lamp_mA"))
        snapshot.level_m.append(maybe_si(live, "level_mm"))


def tells_why(live: dict[str, int]) -> bool:
    """Return whether the last error is why the board started or stands."""
    ended = live["reset_reason"] in (SCAN_FAILED, SLACK_FAILED, START_FAILED, GAVE_WAY)
    return ended or live["safe_reason"] in (NO_FILES, NO_BOARD)
