"""What the loop works with, each part doing as it is told and keeping a record."""

from keeper.health import Health
from keeper.loop import Loop, Port


class Stop(Exception):
    """Ends a run of the loop from inside, when a test has seen enough."""


class Script:
    """Time, the record of what happened, and what shall happen at a call.

    `costs` maps the name of a call to the milliseconds that it takes,
    `faults` to the error that it raises; `hooks` to a function called then.
    """

    def __init__(self, start_ms=0):
        self.us = start_ms * 1000
        self.record = []         # (ms, name)
        self.costs = {}
        self.faults = {}
        self.hooks = {}
        self.depth = 0           # of the heap's lock
        self.free_B = 50000

    def ms(self):
        """Milliseconds since the beginning."""
        return self.us // 1000

    def call(self, name):
        """A call of that name happens."""
        self.record.append((self.ms(), name))
        self.us += int(1000 * self.costs.get(name, 0))
        if name in self.hooks:
            self.hooks[name]()
        if name in self.faults:
            raise self.faults[name]

    def times(self, name):
        """When a call happened [ms]."""
        return [ms for ms, other in self.record if other == name]

    # As the loop's `system`

    def ticks_ms(self):
        return self.us // 1000 & 0x3FFFFFFF

    def ticks_us(self):
        return self.us & 0x3FFFFFFF

    def sleep_ms(self, ms):
        self.call("sleep")
        self.us += ms * 1000

    def heap_lock(self):
        self.depth += 1

    def heap_unlock(self):
        self.depth -= 1

    def collect(self):
        self.call("collect")

    def mem_free(self):
        return self.free_B

    def feed(self):
        self.call("feed")


class Keeper:
    """Scans and works as the script says."""

    def __init__(self, script):
        self.script = script
        self.health = Health()
        self.leaving = False

    def scan(self, now_ms):
        assert self.script.depth == 1, "the heap is not locked"
        self.script.call("scan")

    def slack(self, now_ms):
        assert self.script.depth == 0, "the heap is locked"
        self.script.call("keep")

    @property
    def stay_out(self):
        if "stay_out" in self.script.faults:
            raise self.script.faults["stay_out"]
        return self.leaving


class Retry:
    """Is due when it is told so."""

    def __init__(self):
        self.due = False

    def is_due(self):
        return self.due


class Board:
    """Counts how often it was driven safe."""

    def __init__(self, script):
        self.script = script
        self.faults = 0
        self.moves = False

    def is_moving(self):
        return self.moves

    def slack(self, now_ms):
        self.script.call("board")
        return False

    def blink(self):
        self.script.call("blink")

    def safe(self):
        self.script.call("safe")


class Stream:
    """A line that is busy for `busy_ms` after a reply; `incoming` bytes wait on it."""

    def __init__(self, script, name, quiet_ms=0):
        self.script = script
        self.name = name
        self.quiet_ms = quiet_ms
        self.incoming = 0
        self.busy_ms = 0
        self.busy_until = -1

    def is_busy(self):
        return self.script.ms() < self.busy_until

    def step(self, now_ms):
        self.script.call(self.name)

    def receive(self, link, now_ms):
        count, self.incoming = self.incoming, 0
        link.held += count
        return count

    def send(self, view, now_ms):
        self.script.call(self.name + " reply")
        self.busy_until = self.script.ms() + self.busy_ms


class Link:
    """Answers once eight bytes came."""

    REQUEST = 8

    def __init__(self):
        self.held = 0

    def is_hearing(self):
        return self.held > 0

    def poll(self, now_ms):
        if self.held < self.REQUEST:
            return None
        self.held = 0
        return memoryview(b"reply")


class Bench:
    """A loop on a script, with two lines."""

    def __init__(self, start_ms=0):
        self.script = Script(start_ms)
        self.keeper = Keeper(self.script)
        self.board = Board(self.script)
        self.usb = Stream(self.script, "usb")
        self.serial = Stream(self.script, "serial", quiet_ms=4)
        ports = [Port(Link(), self.usb), Port(Link(), self.serial)]
        self.retry = Retry()
        self.loop = Loop(self.keeper, self.board, ports, self.script, self._healthy, self.retry)
        self.health = self.keeper.health

    def _healthy(self):
        self.script.call("healthy")

    def run(self, scans, at=()):
        """Runs for some scans; at: pairs of a scan's number and what to do in it."""
        seen = [0]

        def count():
            seen[0] += 1
            for number, change in at:
                if number == seen[0]:
                    change()
            if seen[0] > scans:
                raise Stop

        self.script.hooks["scan"] = count
        try:
            self.loop.run()
        except Stop:
            # The last scan only ended the run, and so did `safe`.
            self.script.record = self.script.record[:-2]

    def stall(self, scan, name, ms):
        """Returns, for `run`, that a call takes long in the period of one scan."""
        costs = self.script.costs
        return ((scan, lambda: costs.update({name: ms})), (scan + 1, costs.clear))


def gaps(times):
    """Returns the differences of neighbours."""
    return [later - earlier for earlier, later in zip(times, times[1:], strict=False)]
