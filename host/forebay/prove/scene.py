"""What a step works with: the board's live values, orders, the person's word, the clock.

A step watches; what it sees is judged by functions of its own.  Nothing here prints or exits.
"""

import time
from collections.abc import Callable, Mapping
from typing import Any

from forebay.asking import Answers, Kept, Question, Skipped
from forebay.asking.questions import LEAVE, SKIP, Left
from forebay.dispatch.errors import DispatchError
from forebay.dispatch.sending import send
from forebay.prove.found import Result, failed
from forebay.rig import Rig
from forebay.si import is_trusted
from forebay.wire import Board
from keeper.channels import CH_NAME, CHANNELS, CONTACTS, OUTPUTS
from keeper.operation import orders, proving
from keeper.protection.elements import number

POLL_S = 0.1
BLINKS = 4
STEADY = 3               # looks in a row that must say the same
NAMES = tuple(dict.fromkeys([
    *("state", "acting", "lockouts", "contacts", "held", "inhibited", "proved_element",
      "uptime_ds", "first_out", "cause_present"),
    *(str(row[CH_NAME]) for row in CHANNELS), *("out_" + row[0] for row in OUTPUTS)]))
Live = Mapping[str, int]


class StepSkipped(Exception):
    """The person leaves a step out."""

    def __init__(self, reason: str):
        super().__init__(reason)
        self.reason = reason


class Scene:
    """One sitting at one board.

    heard: gives a line that was typed since, None for none; tell: shows a line; show: shows
    what is seen now, in one line that the next replaces; patience_s: how long a step waits for
    a change [s]; kept: what a search that is left goes on with.
    """

    def __init__(self, board: Board, rig: Rig, answers: Answers, tell: Callable[[str], None],
                 kept: Kept, *,
                 heard: Callable[[], str | None] = lambda: None,
                 show: Callable[[str], None] = lambda text: None, patience_s: float = 180.0,
                 clock: Callable[[], float] = time.monotonic,
                 sleep: Callable[[float], None] = time.sleep):
        self.board, self.rig, self.answers, self.tell = board, rig, answers, tell
        self.kept = kept
        self.heard, self.show = heard, show
        self.patience_s, self.clock, self.sleep = patience_s, clock, sleep
        self.values = rig.plant()
        self._blinks = True

    def look(self) -> dict[str, int]:
        """Return the live values of now.  Raises WireError."""
        return self.board.values(*NAMES)

    def watch(self, judge: Callable[[Live], Result | None], otherwise: Callable[[Live], Result],
              patience_s: float | None = None,
              why: Callable[[Live], str] = lambda live: "") -> Result:
        """Look until `judge` says something, or time is out: then what `otherwise` says.

        why: what is waited for, shown beside the time.  Raises StepSkipped or Left as the
        person types.
        """
        end_s = self.clock() + (self.patience_s if patience_s is None else patience_s)
        shown = ""
        while True:
            live = self.look()
            found = judge(live)
            if found is not None:
                return found
            left_s = end_s - self.clock()
            if left_s <= 0:
                return otherwise(live)
            self._listen()
            if shown != (shown := f"{left_s:4.0f} s left{why(live)}"):
                self.show(shown)
            self.sleep(POLL_S)

    def until(self, condition: Callable[[Live], bool], patience_s: float,
              why: Callable[[Live], str] = lambda live: "") -> dict[str, int] | None:
        """Look until a condition holds; return what was read then, None if it never did.

        why: as in `watch`.
        """
        seen: list[dict[str, int]] = []

        def judge(live):
            if condition(live):
                seen.append(dict(live))
                return failed("", "")
            return None

        self.watch(judge, lambda live: failed("", ""), patience_s, why)
        return seen[0] if seen else None

    def _listen(self):
        line = self.heard()
        if line is None:
            return
        word, _, rest = line.strip().partition(" ")
        if word.lower() == LEAVE:
            raise Left
        if word.lower() == SKIP and rest.strip():
            raise StepSkipped(rest.strip())
        if word:
            self.tell(f"waiting for the change itself; else type: {SKIP} REASON, or {LEAVE}")

    def ask(self, question: Question) -> Any:
        """Return the answer.  Raises StepSkipped, Left, AskedError."""
        answer = self.answers.to(question)
        if isinstance(answer, Skipped):
            raise StepSkipped(answer.reason)
        return answer

    def order(self, code: int, a: int = 0, b: int = 0) -> int:
        """Send an order; return 0 or the number of the refusal.  Raises DispatchError."""
        return send(self.board, code, a, b).result

    def blink(self) -> None:
        """Let the board's light say that a step is accepted; once told where it cannot."""
        if not self._blinks:
            return
        try:
            if self.order(orders.PROVE, proving.BLINK, BLINKS):
                self._blinks = False
        except DispatchError as error:
            self._blinks = False
            self.tell(f"the board's light cannot blink: {error}")


def is_closed(live: Live, contact: str) -> bool:
    """Return whether a contact is closed."""
    return bool(live["contacts"] >> CONTACTS.index(contact) & 1)


def acts(live: Live, element_id: str) -> bool:
    """Return whether an element acts."""
    return bool(live["acting"] >> number(element_id) - 1 & 1)


def reads(live: Live, name: str) -> int | None:
    """Return a reading, None if it cannot be trusted."""
    return live[name] if is_trusted(live[name]) else None
