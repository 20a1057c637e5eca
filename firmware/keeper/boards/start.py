"""A start of the keeper on a board: everything put together, then the loop.

The loader calls `run`.  Whatever cannot be read starts the keeper in its safe
mode, where everything stands, the line answers and nothing is written.
"""

import gc
import os
import select
import sys
import time

import machine
import micropython
from machine import WDT

from keeper import settings as st
from keeper.boards import parts, pico, pico2, pico_w
from keeper.boards import wiring as wr
from keeper.boards.base import Board
from keeper.channels import TOTALS
from keeper.desk import Desk
from keeper.drivers.streams import UsbStream
from keeper.identity import Identity, firmware_hash
from keeper.opening import open_journal
from keeper.keeper import Keeper
from keeper.link import Link
from keeper.loop import Loop, Port
from keeper.remembered import Remembered
from keeper.segments import Segments
from keeper.signing import read_key

WATCHDOG_ms = 8000      # within what each chip takes; a test compares
QUICK_RESTARTS = 3      # in a row: then the keeper starts in its safe mode
SETTINGS, WIRING, REMEMBERED, JOURNAL = "/rig/settings", "/rig/wiring", "/rig", "/journal"
KEY, NETWORK = "/rig/key", "/rig/network"
# Why a keeper starts safe, as its Keeper takes it.
SOUND, BAD_SETTINGS, RESTARTING, NO_FILES = range(4)
VARIANTS = (pico, pico_w, pico2)


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
        self.feed = watchdog.feed


class QuietJournal:
    """Stands for the journal in the safe mode: reads what is there, writes nothing.

    Attributes as `keeper.journal.Journal` has them for the keeper and the link.
    """

    boot = 0
    newest_row = 0
    lost = 0

    def __init__(self, root, rig_id):
        """Look at what is in the folder."""
        self.restored_low = [0] * len(TOTALS)
        self.restored_high = [0] * len(TOTALS)
        self.segments = Segments(root, rig_id, 0)

    def slack(self, keeper, now_ms):
        """Do nothing."""

    def sync_is_due(self):
        """Return False: nothing is ever written."""
        return False

    def files(self):
        """Return (Modbus file number, bytes) of every segment."""
        return self.segments.files()

    def size_of(self, file_number):
        """Return the bytes of a file, -1 if there is none."""
        return self.segments.size_of(file_number)

    def read_file(self, file_number, offset_bytes, buffer):
        """Fill `buffer` from an offset of a file; return the bytes read.  Raises OSError."""
        return self.segments.read_file(file_number, offset_bytes, buffer)


def this_board():
    """Return the module of the board that this runs on; the plain one if it is not known.

    An unknown board of the family has at least the plain one's pins.
    """
    build = getattr(sys.implementation, "_build", "")
    for variant in VARIANTS:
        if build in variant.BUILDS:
            return variant
    return pico


def read_settings(path):
    """Return (settings [list in table order], whether they are the rig's own)."""
    try:
        with open(path, "rb") as file:
            return st.unpack(file.read()), True
    except (OSError, ValueError):
        return st.fallback(), False


def open_files(loader, variant, settings, reason):
    """Return (journal, memory, reason): quiet and None if the keeper must start safe."""
    rig_id = settings[st.index("rig_id")]
    root = loader.root
    if reason == SOUND:
        try:
            memory = Remembered(root + REMEMBERED)
            journal = open_journal(root + JOURNAL, rig_id, st.VERSION, variant.JOURNAL_BYTES)
            return journal, memory, reason
        except Exception:  # noqa: BLE001 - whatever it is, the rig stays safe and answers
            reason = NO_FILES
    return QuietJournal(root + JOURNAL, rig_id), None, reason


def open_desk(keeper, key):
    """Return the order desk that all lines share."""
    folder = __file__.rsplit("/boards/", 1)[0]  # the program that runs, of two on the board
    identity = Identity(machine.unique_id(), firmware_hash(folder))
    return Desk(keeper, key, os.urandom, identity)


def open_ports(keeper, journal, wiring, board, desk):
    """Return the lines to the outside as a list: USB, and RS-485.

    While the board has no key, orders pass on USB alone.
    """
    unit = parts.get(wiring, "link_unit")
    usb = UsbStream(sys.stdin.buffer, sys.stdout.buffer, select.poll, select.POLLIN,
                    select.POLLOUT)
    serial = parts.serial_stream(wiring, board.line_enable)
    ports = []
    ports.append(Port(Link(keeper, journal, unit, desk, True), usb))
    ports.append(Port(Link(keeper, journal, unit, desk), serial))
    return ports


def open_radio(keeper, journal, wiring, desk, key, root):
    """Return the port of the wireless board's clients; the radio is off until asked for."""
    from keeper.boards import radio
    from keeper.tcp import TcpPort
    port = TcpPort(keeper, journal, parts.get(wiring, "link_unit"), desk)
    return radio.Radio(keeper, port, radio.modules(), key, radio.read_network(root + NETWORK))


def run(loader):
    """Run the keeper until maintenance is ordered; raises whatever ended it otherwise.

    loader: attributes root, restarts, reset_reason; `confirm()` is called once
    the start is healthy; its `failure` is set for what may be raised.
    """
    watchdog = WDT(timeout=WATCHDOG_ms)  # before the first thing that can hang
    variant = this_board()
    wiring, wiring_known = wr.load(loader.root + WIRING)
    board = Board(variant, wiring, time)
    try:
        settings, settings_known = read_settings(loader.root + SETTINGS)
        reason = SOUND if settings_known and wiring_known else BAD_SETTINGS
        if loader.restarts >= QUICK_RESTARTS:
            reason = RESTARTING
        watchdog.feed()
        journal, memory, reason = open_files(loader, variant, settings, reason)
        watchdog.feed()
        keeper = Keeper(settings, board, journal, memory, reason)
        keeper.health.restarts = loader.restarts
        keeper.health.reset_reason = loader.reset_reason
        key = read_key(loader.root + KEY)
        desk = open_desk(keeper, key)
        watchdog.feed()
        ports = open_ports(keeper, journal, wiring, board, desk)
        if getattr(variant, "HAS_RADIO", False):
            ports.append(open_radio(keeper, journal, wiring, desk, key, loader.root))
        gc.collect()
        loop = Loop(keeper, board, ports, System(watchdog), loader.confirm)
    except BaseException:
        board.safe()
        raise
    _loop(loop, loader)


def _loop(loop, loader):
    """Run the loop; what it was doing when it failed becomes the loader's reason."""
    try:
        loop.run()
    except BaseException:
        loader.failure = loop.failure
        raise
