"""A start of the keeper on a board: everything put together, then the loop.

The loader calls `run`.  Whatever cannot be read starts the keeper in its safe
mode, where everything stands, the line answers and nothing is written.  Want of
memory for the journal is no such reason: the rig then runs without one.  Whatever
cannot be made ends the start; a safe start does without it, if it is a part of the board.

Contract: what only `begin` and `open_files` call is let go before `make`, and what
only `make` calls before `go`, so nothing that lives on may name it.  The collections
on the way keep what stays together: where garbage lies between, it would end up far
apart, and leave no large block free.
"""

import gc
import os
import select
import sys
import time

import machine
import micropython
from machine import WDT, Pin

from keeper import settings as st
from keeper.boards import parts
from keeper.boards import wiring as wr
from keeper.boards.bare import Bare
from keeper.boards.base import Board
from keeper.boards.kinds import kind_of
from keeper.boards.lamp import NO_JOURNAL, STANDS_SAFE, WELL
from keeper.boards.pins import P_GPIO, outputs
from keeper.boards.quiet import QuietJournal
from keeper.boards.wiring import index as at
from keeper.channels import MONITORS, READ, VALVE_PERMILLE
from keeper.link.desk import Desk
from keeper.drivers.streams import UsbStream
from keeper.health import (
    BAD_SETTINGS, NO_BOARD, NO_FILES, NO_MEMORY, RECORDING, RESTARTING, SAFE_MODE, SOUND,
    TO_TRY_AGAIN, UNUSABLE, WATCHDOG)
from keeper.link.identity import Identity, firmware_hash
from keeper.keeper import Keeper
from keeper.link.rtu import Link
from keeper.loop import Loop, Port
from keeper.journal.opening import open_journal
from keeper.retained_files import RetainedFiles
from keeper.boards.retry import ENDING, LACKING_DS, Retry, is_safe_start, safe_wait_ds
from keeper.link.signing import read_key

WATCHDOG_ms = 8000      # within what each chip takes; a test compares
SETTINGS, WIRING = "/settings", "/wiring"   # beside the program
RETAINED, JOURNAL, KEY, NETWORK = "/rig", "/journal", "/rig/key", "/rig/network"
ERROR = "/last_error"   # as the loader writes it
# With less left once all is made, the first long answer (the list of a full
# journal's files, a guess) would end the start: then without a journal.
FREE_LEAST_B = 8192
# Held while the rest is made: what lives on finds its place beside it, and the loop begins
# with so much in one piece.
WHOLE_B = 16448


class System:
    """What the loop wants of the interpreter and the chip."""

    def __init__(self, watchdog):
        """Take the running watchdog."""
        self.ticks_ms = time.ticks_ms
        self.ticks_us = time.ticks_us
        self.sleep_ms = time.sleep_ms
        self.heap_lock = micropython.heap_lock
        self.heap_unlock = micropython.heap_unlock
        self.collect = gc.collect
        self.mem_free = gc.mem_free
        self.feed = watchdog.feed


class Unproven:
    """What is done once a start that lacks something has gone on for long enough."""

    def __init__(self, loader):
        """Take the loader."""
        self.loader = loader

    def settle(self):
        """End the row of quick restarts, but leave an update on trial."""
        self.loader.restarts = 0
        self.loader.mark(WATCHDOG, 0)


def make_board(kind, wiring, is_bare):
    """Return the board; whatever it raises, every output is low."""
    try:
        board = Board(kind, wiring, time, is_bare)
        return Bare(board) if is_bare else board
    except BaseException:
        for row in outputs():
            Pin(row[P_GPIO], Pin.OUT, value=0)
        raise


def read_settings(path):
    """Return (settings [list in table order], whether they are the rig's own)."""
    try:
        with open(path, "rb") as file:
            return st.unpack(file.read()), True
    except (OSError, ValueError):
        return st.fallback(), False


def open_files(making):
    """Open the journal and what outlives a restart, if nothing forbids it; else start safe.

    MemoryError goes on where lockouts could not be saved.
    """
    if making.reason != SOUND:
        return
    loader = making.loader
    making.watchdog.feed()
    try:
        making.memory = RetainedFiles(loader.root + RETAINED)
        gc.collect()
        making.why_quiet = NO_MEMORY
        making.journal = maybe_journal(loader.root + JOURNAL, making)
    except MemoryError:
        making.board.safe()
        raise
    except Exception as error:  # noqa: BLE001 - whatever it is, the rig stays safe and answers
        keep_error(loader.root + ERROR, error)
        making.memory, making.reason, making.why_quiet = None, NO_FILES, UNUSABLE
    making.watchdog.feed()


def maybe_journal(place, making):
    """Return the journal of what is made, None if there is no memory for it."""
    try:
        return open_journal(place, making.rig_id, st.VERSION, making.kind.journal_bytes,
                            making.settings[st.index("fitted")])
    except MemoryError:
        return None


def keep_error(path, error):
    """Keep the text of an error that does not end the start, for a person to read."""
    try:
        with open(path, "w") as file:
            sys.print_exception(error, file)
    except OSError:
        pass  # the files are the trouble; the reason is published


def open_ports(keeper, journal, wiring, serial, desk):
    """Return the lines to the outside as a list: USB, and RS-485 unless its stream is None.

    While the board has no key, orders pass on USB alone.
    """
    usb = UsbStream(sys.stdin.buffer, sys.stdout.buffer, select.poll, select.POLLIN,
                    select.POLLOUT)
    ports = []
    ports.append(Port(Link(keeper, journal, 1, desk, True), usb))
    if serial is not None:
        ports.append(Port(Link(keeper, journal, wiring[at("link_unit")], desk), serial))
    return ports


def maybe_serial(wiring, board, is_bare):
    """Return the RS-485 line as a stream; on a bare board None if it cannot be made."""
    try:
        return parts.serial_stream(wiring, board.line_enable)
    except Exception:  # noqa: BLE001 - why a bare start is one is kept already
        if not is_bare:
            raise
        return None


def open_radio(keeper, journal, desk, key, root):
    """Return the port of the wireless board's clients; the radio is off until asked for."""
    from keeper.boards.radio import Radio, modules, read_network
    from keeper.link.tcp import TcpPort
    port = TcpPort(keeper, journal, desk)
    return Radio(keeper, port, modules(), key, read_network(root + NETWORK))


class Making:
    """What a start has so far; only while it is made.

    Attributes that `open_files` changes: journal and memory, None without; reason, SOUND or
    why the rig stands safe; why_quiet, the reason if there is no journal.
    """

    def __init__(self, loader, watchdog, is_bare):
        """Read what the rig is and make its board; is_bare: without its parts."""
        self.loader = loader
        self.is_bare = is_bare
        self.watchdog = watchdog
        self.kind = kind_of(getattr(sys.implementation, "_build", ""))
        self.wiring, self.wiring_known = wr.load(loader.folder + WIRING)
        self.journal = self.memory = None
        self.why_quiet = SAFE_MODE
        gc.collect()
        self.board = make_board(self.kind, self.wiring, is_bare)
        gc.collect()

    def take_settings(self):
        """Read the settings; decide whether the rig stands safe."""
        self.settings, settings_known = read_settings(self.loader.folder + SETTINGS)
        self.rig_id = self.settings[st.index("rig_id")]
        self.identity = Identity(machine.unique_id(), firmware_hash(self.loader.folder),
                                 self.settings)
        self.reason = SOUND
        if self.is_bare:
            self.reason = NO_BOARD
        elif not (settings_known and self.wiring_known):
            self.reason = BAD_SETTINGS
        elif is_safe_start(self.loader.restarts):
            self.reason = RESTARTING

    def strip(self):
        """Go on with a bare board: with the whole one no loop could be made."""
        gc.collect()
        self.watchdog.feed()
        self.board = Bare(self.board)
        self.is_bare = True
        self.reason = NO_BOARD

    def loop(self):
        """Return the loop with all that it needs."""
        if self.journal is not None:
            found = self.maybe_with(self.journal)
            if found is not None:
                return found
            self.journal = None
            gc.collect()  # what was made of the journal until then
        return self.around(QuietJournal(self.loader.root + JOURNAL, self.rig_id, self.why_quiet))

    def maybe_with(self, journal):
        """Return the loop round a journal; None if that leaves too little memory."""
        for held_B in (WHOLE_B, 0):  # rather in pieces than no journal
            gc.collect()
            try:
                found = self.beside(held_B, journal)
            except MemoryError:
                continue
            gc.collect()
            return found if gc.mem_free() >= FREE_LEAST_B else None
        return None

    def beside(self, held_B, journal):
        """Return the loop round a journal, made beside a piece of memory that is free then."""
        below = bytearray(held_B // 8)
        held = bytearray(held_B)
        del below  # the room for what is longer than the gaps between small things
        gc.collect()
        found = self.around(journal)
        del held
        return found

    def look(self):
        """Read the board till contacts are believed and every monitor had its turn; return that.

        So the first scan judges what is there, not what nobody has looked at.
        """
        values = [0] * READ
        for _ in range(max(self.wiring[at("contact_scans")], len(MONITORS))):
            self.board.read(values)
        return values

    def around(self, journal):
        """Return the loop round the keeper and its lines."""
        loader, wiring, board, reason = self.loader, self.wiring, self.board, self.reason
        values = self.look()
        keeper = Keeper(self.settings, board, journal, self.memory, reason)
        keeper.core.positioner.begin(values[VALVE_PERMILLE])
        gc.collect()
        health = keeper.health
        health.restarts = max(0, loader.restarts)
        health.reset_reason = loader.reset_reason
        health.journal_state = getattr(journal, "why_quiet", RECORDING)
        health.error_path = loader.root + ERROR
        key = read_key(loader.root + KEY)
        desk = Desk(keeper, key, os.urandom, self.identity)
        gc.collect()
        self.watchdog.feed()
        serial = maybe_serial(wiring, board, self.is_bare)
        ports = open_ports(keeper, journal, wiring, serial, desk)
        if self.kind.has_radio:
            ports.append(open_radio(keeper, journal, desk, key, loader.root))
        lacks = reason != SOUND or health.journal_state != RECORDING
        if board.lamp is not None:
            board.lamp.show(STANDS_SAFE if reason != SOUND else NO_JOURNAL if lacks else WELL)
        on_healthy = Unproven(loader).settle if lacks else loader.confirm
        return Loop(keeper, board, ports, System(self.watchdog), on_healthy,
                    when_to_retry(keeper, reason, lacks, loader.restarts))


def when_to_retry(keeper, reason, lacks, restarts):
    """Return when this start ends by itself: a safe one that nobody has to mend, a lacking one."""
    if reason in ENDING:
        return Retry(keeper, safe_wait_ds(restarts), restarts)
    if lacks and reason == SOUND:
        return Retry(keeper, LACKING_DS)  # after an hour no restart is a quick one
    return Retry(keeper)


def begin(loader, watchdog):
    """Return what this start has: a board and its settings; if anything fails, all is safe.

    A safe start that fails is begun once more, with a bare board.
    """
    try:
        return begun(loader, watchdog, False)
    except Exception as error:  # noqa: BLE001 - whatever it is, the line should answer
        if not is_safe_start(loader.restarts):
            raise
        keep_error(loader.root + ERROR, error)
    gc.collect()
    watchdog.feed()
    return begun(loader, watchdog, True)


def begun(loader, watchdog, is_bare):
    """Return a whole or a bare board with its settings; if anything fails, it is safe."""
    making = Making(loader, watchdog, is_bare)
    try:
        making.take_settings()
    except BaseException:
        making.board.safe()
        raise
    return making


def make(making):
    """Return the loop of this start; if anything fails, its board is safe.

    A safe start that fails is made once more, round a bare board.
    """
    try:
        return made(making)
    except Exception as error:  # noqa: BLE001 - whatever it is, the line should answer
        if making.is_bare or not is_safe_start(making.loader.restarts):
            raise
        keep_error(making.loader.root + ERROR, error)
    making.strip()
    return made(making)


def made(making):
    """Return the loop round what a start has; if anything fails, its board is safe."""
    try:
        return making.loop()
    except BaseException:
        making.board.safe()
        raise


def let_go_opening():
    """Let go what only the opening of files needs, written likewise: `make` has its room."""


def let_go():
    """Let go what only the start needs: the artefact's builder writes here what that is."""


def go(loop, loader):
    """Run the loop; return False to be started anew.  What failed becomes the loader's reason."""
    try:
        if loop.run():
            return True
    except BaseException:
        loader.failure = loop.failure
        raise
    loader.failure = TO_TRY_AGAIN
    loader.restarts = loop.retry.restarts
    return False


def run(loader):
    """Run the keeper; return True once maintenance is ordered, False to be started anew.

    Raises whatever else ended it.  loader: attributes root, folder (of the
    running program, with its settings, wiring and `whole`), restarts,
    reset_reason; `confirm()` is called once the start is healthy and lacks
    nothing, `mark(reason, count)` once it is healthy otherwise; its `failure`
    is set for what may be raised or follow.
    """
    watchdog = WDT(timeout=WATCHDOG_ms)  # before the first thing that can hang
    making = begin(loader, watchdog)
    open_files(making)
    let_go_opening()
    gc.collect()
    loop = make(making)
    making = None  # what it was made with is no longer needed
    let_go()
    gc.collect()
    return go(loop, loader)
