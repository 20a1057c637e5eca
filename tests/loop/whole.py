# pyright: reportMissingImports=false, reportMissingModuleSource=false
# pyright: reportAttributeAccessIssue=false
"""A whole start: real loop, keeper, journal, link and drivers on the fake chip.

Read by both interpreters: it imports nothing of CPython's.
"""

from machine import CHIP

from keeper import settings as st
from keeper.boards import start


class Ended(Exception):
    """Ends a start from inside, after its time."""


class Usb:
    """Both ends of the USB port."""

    def __init__(self):
        self.incoming = bytearray()
        self.taken = bytearray()

    def readinto(self, buffer):
        """Gives one byte."""
        buffer[0] = self.incoming[0]
        self.incoming = self.incoming[1:]
        return 1

    def write(self, data):
        """Takes a byte."""
        self.taken.extend(bytes(data))
        return len(data)


USB = Usb()


class Poll:
    """`select.poll` over the port."""

    def register(self, end, flag):
        """Remembers what is asked."""
        self.end = end
        self.flag = flag

    def ipoll(self, timeout):
        """Gives one entry if a byte can move."""
        if self.flag == Select.POLLOUT or self.end.incoming:
            return iter([(self.end, self.flag)])
        return iter([])


class Select:
    """Stands for the module `select`."""

    POLLIN, POLLOUT = 1, 4
    poll = Poll


class End:
    """sys.stdin or sys.stdout."""

    buffer = USB


class Sys:
    """Stands for the module `sys`."""

    stdin = stdout = End

    class implementation:
        """The plain board's build."""

        _build = "RPI_PICO"

    @staticmethod
    def print_exception(error, file):
        """Writes its name, as the last line of the real one."""
        file.write(type(error).__name__)


class Gc:
    """Stands for the module `gc`: collecting all that a test run holds takes long."""

    free_B = 50000

    @staticmethod
    def collect():
        """Does nothing."""

    @staticmethod
    def mem_free():
        """Says what the test wants [bytes]."""
        return Gc.free_B


class Loader:
    """The loader as the program sees it."""

    def __init__(self, root, restarts=0):
        self.root = root
        self.folder = root + "/a"
        self.restarts = restarts
        self.reset_reason = 0
        self.failure = 5
        self.confirmed = 0
        self.marked = []

    def mark(self, reason, count):
        """Keeps what was marked."""
        self.marked.append((reason, count))

    def confirm(self):
        """Counts."""
        self.confirmed += 1


class Whole:
    """One start in a folder.

    program: what holds `run`, with the names of its module; as sources, or as
    the artefact.  Attributes: keeper, once the start has made it; ended, what
    `run` returned.
    """

    def __init__(self, root, restarts=0, program=start):
        self.program = program
        self.loader = Loader(root, restarts)
        self.keeper = None
        USB.incoming = bytearray()
        USB.taken = bytearray()
        program.time = CHIP.clock
        program.select = Select
        program.sys = Sys
        program.gc = Gc
        self.ended = None
        self.make = program.Keeper
        self.at = []             # (ms, function) to be called in the course of the run

    def _keep(self, *parts):
        self.keeper = self.make(*parts)
        return self.keeper

    def run(self, run_ms):
        """Runs for a time; returns whether it ended by itself."""
        end_ms = CHIP.clock.ticks_ms() + run_ms

        def each_sleep():
            now_ms = CHIP.clock.ticks_ms()
            while self.at and now_ms >= self.at[0][0]:
                self.at.pop(0)[1]()
            if now_ms >= end_ms:
                raise Ended

        CHIP.clock.on_sleep = each_sleep
        self.program.Keeper = self._keep
        try:
            self.ended = self.program.run(self.loader)
            return True
        except Ended:
            return False
        finally:
            self.program.Keeper = self.make
            CHIP.clock.on_sleep = None


def settings_file():
    """Returns the bytes of a settings file that is legal."""
    return st.pack(st.fallback())
