"""A simulated board that goes on at the pace of a clock, with clients on its line.

Each scan has its time, and whether it came late is published as on a board
(`late_ms`, `late_scans`); clients have their turn between two scans.  The day
of the sun comes again and again.
"""

import os
import queue
import threading
import time

from forebay.rehearse.lines import opened
from forebay.rehearse.stage import STOP, journal_of
from forebay.twin.hands import Hands
from forebay.twin.twin import Twin
from keeper.clock import PERIOD_MS, PERIODS_PER_S, TICKS_MASK
from keeper.link.desk import Desk
from keeper.link.identity import Identity
from keeper.retained_files import RetainedFiles

DAY_MIN = 1440
# A start that knows nothing is locked out and takes the motor for hot: once that has
# passed, somebody presses the button for so long, as at a rig.
COOL_S, PRESS_S = 300, 2
READY_S = COOL_S + 60        # what a board is run for at least before it is served
SLICE_S = 0.005              # scans that are behind keep the line waiting for so long at most
# Further behind than that, the computer was asleep or cannot: the rig's time stands still.
BEHIND_MOST_S = 1.0
TELL_S = 1.0                 # between two words to whoever started this


class EveryDay(list):
    """A list of a day's minutes that comes again and again; it has no end."""

    def __getitem__(self, minute):
        return list.__getitem__(self, minute % DAY_MIN)

    def __len__(self):
        return 1 << 60


class Paced:
    """A twin at the pace of a clock, on a line.

    speed: of its time [-]; clock: gives wall time [s].  Attributes: twin, and the hands at
    it; said, what was read by hand and is to be told; scans, late_scans [-], late_most_s
    [s of wall time]: those since `begin`.
    """

    def __init__(self, twin, line, key, board_id, speed, clock=time.monotonic):
        """Take the twin, its line, the key of its orders and the board's number [bytes]."""
        self.twin = twin
        self.hands = Hands(twin)
        self.said = []
        self.line = line
        self.speed = speed
        self.clock = clock
        self.key, self.board_id = key, board_id
        self.period_s = 1 / (PERIODS_PER_S * speed)
        self.served = None       # the keeper on the line, None while the board has no power
        self.scans = self.late_scans = 0
        self.late_most_s = 0.0
        self.due_s = 0.0

    def begin(self):
        """Let the next scan be due now."""
        self.due_s = self.clock()

    def press(self, seconds):
        """Hold the rig's button for so long [s of the rig's time]."""
        self.hands.press(seconds)

    def do(self, verb, argument, number, seconds):
        """Do something by hand, as `forebay.twin.hands.parsed` gives it."""
        said = self.hands.do(verb, argument, number, seconds)
        if said:
            self.said.append(said)

    def bring_on(self, name):
        """Bring a fault of the catalogue on, in the next scan."""
        self.twin.faults.insert(0, (0.0, name))

    def turn(self):
        """Do the scans that are due, then serve the line until the next one is."""
        now_s = self.clock()
        end_s = now_s + SLICE_S
        if now_s - self.due_s > BEHIND_MOST_S:
            self.due_s = now_s
        while self.due_s <= now_s < end_s:
            self._scan(now_s)
            now_s = self.clock()
        self.line.work(int(now_s * 1000) & TICKS_MASK)
        self.line.wait(min(max(0.0, self.due_s - self.clock()), TELL_S))

    def _scan(self, now_s):
        late_s = now_s - self.due_s
        self.scans += 1
        self.late_scans += late_s > self.period_s
        self.late_most_s = max(self.late_most_s, late_s)
        self.due_s += self.period_s
        self.step(late_s)

    def step(self, late_s=0.0):
        """Let one scan period pass, whose scan came late by so much [s of wall time]."""
        twin = self.twin
        self.said += self.hands.step()
        twin.run(1)
        keeper = twin.keeper
        if twin.powered and keeper.stay_out:
            twin.cut()  # there is no interpreter to leave to: it starts anew
        if not twin.powered:
            self._detach()
            return
        keeper.health.note_late(int(late_s * self.speed * 1000), PERIOD_MS)
        if keeper is not self.served:
            self._attach(keeper)

    def _attach(self, keeper):
        self._detach()
        self.served = keeper
        self.line.attach(keeper, Desk(keeper, self.key, os.urandom, Identity(self.board_id)))

    def _detach(self):
        if self.served is not None:
            self.served = None
            self.line.detach()


def serve(job, caller):
    """Serve the board of a job until its caller has heard enough of it."""
    try:
        line = opened(job["serve"])
    except OSError as error:
        caller.tell(error=os.strerror(error.errno) if error.errno else str(error))
        return
    board = job["board"]
    twin = Twin(job["rig"], job["settings"], [EveryDay(minutes) for minutes in job["sun"]],
                lambda: journal_of(job),
                [(at_s, name) for at_s, name in job["faults"]], job["seed"],
                open_memory=lambda: RetainedFiles(board + "/rig"))
    paced = Paced(twin, line, bytes.fromhex(job["key"]), os.urandom(8), job["speed"])
    try:
        _run_ahead(paced, job["ahead_s"])
        _go(paced, caller)
    finally:
        line.close()


def _run_ahead(paced, seconds):
    """Bring a new board to a moment [s from the start]; somebody has looked and pressed."""
    while paced.twin.periods < max(seconds, READY_S) * PERIODS_PER_S:
        if paced.twin.periods == COOL_S * PERIODS_PER_S:
            paced.press(PRESS_S)
        paced.step()


def _go(paced, caller):
    """Go on at the clock's pace, do what is told, and say how it is, until told to stop."""
    said = queue.SimpleQueue()
    threading.Thread(target=_listen, args=(caller, said), daemon=True).start()
    caller.tell(port=paced.line.port, **_facts(paced))
    paced.begin()
    tell_s = paced.clock() + TELL_S
    while True:
        paced.turn()
        while not said.empty():
            what = said.get()
            if what == STOP:
                caller.tell(ended=True, **_facts(paced))
                return
            _do(paced, what)
        if paced.clock() >= tell_s or paced.said:
            tell_s = paced.clock() + TELL_S
            read, paced.said = paced.said, []
            caller.tell(said=read, **_facts(paced))


def _listen(caller, said):
    """Put down what is said; when nobody is there any more, that is the end."""
    try:
        while True:
            said.put(caller.hear())
    except SystemExit:
        said.put(STOP)


def _do(paced, what):
    if "fault" in what:
        paced.bring_on(what["fault"])
    elif "button_s" in what:
        paced.press(what["button_s"])
    elif "hands" in what:
        paced.do(*what["hands"])


def _facts(paced):
    return {"periods": paced.twin.periods, "state": paced.twin.keeper.state, "scans": paced.scans,
            "late_scans": paced.late_scans, "late_most_s": paced.late_most_s}
