"""The superloop: a scan every period, and between two scans the work that can wait.

Contract: a scan runs with the heap locked.  The watchdog is fed only after a
scan, and only if every task has run since it was fed before.  Whatever is
raised, anywhere, drives the board safe and goes on to the loader, which resets.
Ticks, rest, heap and watchdog are handed in as `system`; nothing here knows
the chip.
"""

from keeper.clock import PERIOD_MS, PERIODS_PER_S, TICKS_MASK
from keeper.health import MOST, SCAN_FAILED, SLACK_FAILED

# No task is begun with less than this left to the next scan: the longest piece
# of a driver takes about 7 ms.  Writing to flash takes longer and is measured.
GUARD_MS = 8
# Rest when nobody has anything to do: 512 bytes queue up meanwhile at most,
# which takes 44 ms at 115200 baud.
REST_MS = 5
# Rest while a line is in use, so that an answer is not kept waiting.
SHORT_REST_MS = 1
LINE_IN_USE_MS = 100
# A reply that leaves holds up the journal, but not for longer than this. So does a
# request that has come in part: a stall would look like the silence that ends it.
DEFER_MS = 500
# So does a motor that would run on during a stall of the flash, for most of the
# travel of a slow valve.
MOTION_DEFER_MS = 20000
COLLECT_PERIODS = PERIODS_PER_S
AWAKE_PERIODS = 60 * PERIODS_PER_S
# A start that has gone on for this long is healthy.
HEALTHY_PERIODS = 5 * 60 * PERIODS_PER_S


class Port:
    """One line to the outside: a link, and the stream that its bytes travel on."""

    def __init__(self, link, stream):
        """Take a `keeper.link.rtu.Link` and a stream (`keeper.drivers.streams`)."""
        self.link = link
        self.stream = stream
        self.heard_ms = 0        # ticks of the newest byte
        self.was_heard = False

    def is_busy(self):
        """Return whether a reply is still leaving."""
        return self.stream.is_busy()

    def is_hearing(self):
        """Return whether a request has come in part."""
        return self.link.is_hearing()

    def is_in_use(self, now_ms):
        """Return whether a byte came within LINE_IN_USE_MS or a reply is leaving."""
        if self.was_heard and (now_ms - self.heard_ms) & TICKS_MASK >= LINE_IN_USE_MS:
            self.was_heard = False
        return self.was_heard or self.stream.is_busy()

    def work(self, now_ms):
        """Move bytes at `now_ms` [ticks], answer what is whole; return whether more may come."""
        stream = self.stream
        stream.step(now_ms)
        if stream.is_busy():
            return False  # the line has to move first: rest a little
        if stream.receive(self.link, now_ms):
            self.heard_ms = now_ms
            self.was_heard = True
            if stream.quiet_ms:
                return True
        elif self.was_heard and (now_ms - self.heard_ms) & TICKS_MASK < stream.quiet_ms:
            return False
        reply = self.link.poll(now_ms)
        if reply is None:
            return False
        stream.send(reply, now_ms)
        return True


def _never():
    return 0


class Loop:
    """The loop of one start.

    Attributes: failure, the reason of the next start should this one end by an
    error (see `keeper.health`); retry, when it ends by itself.
    """

    def __init__(self, keeper, board, ports, system, on_healthy, retry=None):
        """Take the keeper, its board, ports [list], the system and what to do once healthy.

        system: ticks_ms, ticks_us, sleep_ms, heap_lock, heap_unlock, collect,
        feed, and mem_free where memory can be told.  on_healthy is called once,
        between scans.  retry: a `keeper.boards.retry.Retry`, None: never.  A board on
        which nothing runs on while nobody scans need not have `is_moving`, one
        without a light no `blink`.
        """
        self.keeper = keeper
        self.board = board
        self.ports = ports
        self.system = system
        self.on_healthy = on_healthy
        self.health = keeper.health
        self.is_moving = getattr(board, "is_moving", _never)
        self.blink = getattr(board, "blink", _never)
        self.mem_free = getattr(system, "mem_free", _never)
        self.retry = retry
        self.trying_again = False  # the retry is due, and no client is in the way
        self.failure = SLACK_FAILED
        # Of lines whose requests end by silence.
        self.hearing = [getattr(port, "is_hearing", _never) for port in ports]
        # Requests first, then what may write to flash.
        self.tasks = [port.work for port in ports] + [self._keep, self._look_after, self._collect]
        self.all_in = (1 << len(self.tasks)) - 1
        self.checked_in = 0      # bit i = task i has run since the watchdog was fed
        self.next_task = 0       # its place in tasks
        self.did_work = False    # whether the task before had something to do
        self.due_ms = 0          # ticks of the next scan
        self.periods = 0         # since the start, or since HEALTHY_PERIODS
        self.slack_ms = 0        # ticks of the keeper's last slack work
        self.collect_in_periods = COLLECT_PERIODS
        self.slept_us = 0        # in this minute
        self.minute_ms = 0       # ticks at which it began
        self.awake_in_periods = AWAKE_PERIODS

    def run(self):
        """Scan until maintenance is ordered and its answer has left, or a retry is due.

        Returns whether maintenance was ordered; raises whatever went wrong.
        The board is safe when this ends, either way.
        """
        try:
            self.due_ms = self.slack_ms = self.minute_ms = self.system.ticks_ms()
            self.health.first_scan_ms = min(MOST, self.due_ms)
            while not self._is_over():
                self._period()
        finally:
            self.board.safe()
        return not self.trying_again

    def _is_over(self):
        if self.keeper.stay_out:
            return not self._line_is_busy()
        self.trying_again = (self.retry is not None and self.retry.is_due()
                             and not self._line_is_in_use())
        return self.trying_again

    def _period(self):
        self.failure = SCAN_FAILED
        self._scan()
        self.failure = SLACK_FAILED
        if self.checked_in == self.all_in:
            self.checked_in = 0
            self.system.feed()
        self._count()
        self._work_until_due()

    def _scan(self):
        """Scan, late or not, with the heap locked; set the time of the next."""
        system = self.system
        now_ms = system.ticks_ms()
        late_ms = (now_ms - self.due_ms) & TICKS_MASK
        if late_ms > TICKS_MASK // 2:
            late_ms = 0  # before its time
        self.health.note_late(late_ms, PERIOD_MS)
        # Missed periods are not made up for: the scan counts them itself.
        self.due_ms = (self.due_ms + PERIOD_MS * (1 + late_ms // PERIOD_MS)) & TICKS_MASK
        began_us = system.ticks_us()
        system.heap_lock()
        try:
            self.keeper.scan(now_ms)
        finally:
            system.heap_unlock()
        self.health.note_scan((system.ticks_us() - began_us) & TICKS_MASK)

    def _count(self):
        """Count the period: is the start healthy, is a minute over?"""
        self.blink()
        self.collect_in_periods -= 1
        self.awake_in_periods -= 1
        if not self.awake_in_periods:
            self._close_minute()
        if self.periods < HEALTHY_PERIODS:
            self.periods += 1
            if self.periods == HEALTHY_PERIODS:
                self.on_healthy()

    def _close_minute(self):
        now_ms = self.system.ticks_ms()
        passed_ms = max(1, (now_ms - self.minute_ms) & TICKS_MASK)
        asleep = min(1000, self.slept_us // passed_ms)  # us / ms = permille
        self.health.awake_permille = 1000 - asleep
        self.minute_ms = now_ms
        self.slept_us = 0
        self.awake_in_periods = AWAKE_PERIODS

    def _work_until_due(self):
        """Give each task its turn, at least one; rest when none has anything to do."""
        idle = 0
        left_ms = self._work()
        while left_ms > GUARD_MS:
            if idle < len(self.tasks):
                idle = 0 if self.did_work else idle + 1
                left_ms = self._work()
            else:
                idle = 0
                left_ms = self._rest(min(left_ms, self._rest_ms()))
        while left_ms > 0:
            left_ms = self._rest(SHORT_REST_MS)

    def _left_ms(self):
        """Return the time to the next scan [ms], 0 if it is due."""
        left_ms = (self.due_ms - self.system.ticks_ms()) & TICKS_MASK
        return left_ms if left_ms <= TICKS_MASK // 2 else 0

    def _work(self):
        """Run the task whose turn it is; return the time left [ms]."""
        task = self.next_task
        self.did_work = self.tasks[task](self.system.ticks_ms())
        self.checked_in |= 1 << task
        self.next_task = (task + 1) % len(self.tasks)
        return self._left_ms()

    def _rest_ms(self):
        return SHORT_REST_MS if self._line_is_in_use() else REST_MS

    def _rest(self, rest_ms):
        """Sleep, which serves USB; return the time left [ms]."""
        system = self.system
        began_us = system.ticks_us()
        system.sleep_ms(rest_ms)
        self.slept_us += (system.ticks_us() - began_us) & TICKS_MASK
        return self._left_ms()

    def _line_is_in_use(self):
        now_ms = self.system.ticks_ms()
        for port in self.ports:
            if port.is_in_use(now_ms):
                return True
        return False

    def _line_is_busy(self):
        for port in self.ports:
            if port.is_busy():
                return True
        return False

    def _line_is_hearing(self):
        for is_hearing in self.hearing:
            if is_hearing():
                return True
        return False

    # The tasks beside the ports: each returns whether there was something to do.

    def _keep(self, now_ms):
        """The keeper's own work, which may write to flash: talk and motors go first."""
        waited_ms = (now_ms - self.slack_ms) & TICKS_MASK
        if waited_ms < DEFER_MS and (self._line_is_busy() or self._line_is_hearing()):
            return False
        if waited_ms < MOTION_DEFER_MS and self.is_moving():
            return False
        self.slack_ms = now_ms
        self.keeper.slack(now_ms)
        self.health.note_stall((self.system.ticks_ms() - now_ms) & TICKS_MASK)
        return False

    def _look_after(self, now_ms):
        """The slow side of the board's drivers."""
        did_work = self.board.slack(now_ms)
        self.health.bus_errors = min(MOST, self.board.faults)
        return did_work

    def _collect(self, now_ms):
        """Collect what was dropped, before the heap is full and does so by itself."""
        if self.collect_in_periods > 0:
            return False
        self.collect_in_periods = COLLECT_PERIODS
        system = self.system
        system.collect()
        self.health.note_collection((system.ticks_ms() - now_ms) & TICKS_MASK, self.mem_free())
        return True
