"""Stands for keeper.boards.start on the interpreter behind a terminal: no pins, the rest real.

Keeper, journal, desk, link and loop are the firmware's own; the rig is one at
rest whose readings are healthy, and the line is the terminal.
"""
# The board's own library, which no desktop has.
# pyright: reportMissingImports=false, reportMissingModuleSource=false
# pyright: reportAttributeAccessIssue=false, reportArgumentType=false

import gc
import os
import time

import _rig
import micropython

from keeper import channels
from keeper import settings as st
from keeper.journal.opening import open_journal
from keeper.keeper import Keeper
from keeper.link.desk import Desk
from keeper.link.identity import Identity
from keeper.link.rtu import Link
from keeper.link.signing import read_key
from keeper.loop import Loop, Port

HEALTHY = (
    (channels.PANEL_MV, 10000), (channels.SUPPLY_MV, 12800), (channels.SUPPLY_MA, 100),
    (channels.LEVEL_MM, 400), (channels.MOTOR_MDEGC, 20000), (channels.WATER_MDEGC, 12000),
    (channels.C_71H_UP, 1), (channels.C_71HH_UP, 1), (channels.C_71L_UP, 1),
    (channels.C_71L_LO, 1), (channels.C_71H_LO, 1), (channels.C_STOP, 1))


class RestingBoard:
    """A rig at rest."""

    faults = 0

    def __init__(self):
        self.outputs = [0] * len(channels.OUTPUTS)
        self.readings = [0] * channels.READ
        for place, value in HEALTHY:
            self.readings[place] = value

    def read(self, values):
        for place in range(channels.READ):
            values[place] = self.readings[place]
        values[channels.VALVE_PERMILLE] = self.outputs[channels.OUT_VALVE]

    def write(self, outputs):
        for place in range(len(outputs)):
            self.outputs[place] = outputs[place]

    def safe(self):
        for place in range(len(self.outputs)):
            self.outputs[place] = 0

    def slack(self, now_ms):
        return False


class System:
    ticks_ms = time.ticks_ms
    ticks_us = time.ticks_us
    sleep_ms = time.sleep_ms
    heap_lock = micropython.heap_lock
    heap_unlock = micropython.heap_unlock
    collect = gc.collect

    @staticmethod
    def feed():
        pass


class Terminal:
    """The line as a stream."""

    quiet_ms = 0

    def is_busy(self):
        return False

    def receive(self, link, now_ms):
        count = 0
        while count < 64:
            byte = _rig.read()
            if byte < 0:
                break
            link.feed(byte, now_ms)
            count += 1
        return count

    def send(self, view, now_ms):
        for byte in view:
            _rig.write(byte)
        _rig.flush()

    def step(self, now_ms):
        pass


def let_go_opening():
    """As in keeper.boards.start."""


def let_go():
    """As in keeper.boards.start."""


def run(loader):
    settings, reason = st.fallback(), 1
    try:
        with open(loader.folder + "/settings", "rb") as file:
            settings, reason = st.unpack(file.read()), 0
    except (OSError, ValueError):
        pass
    journal = open_journal("/journal", settings[st.index("rig_id")], st.VERSION, 800000)
    let_go_opening()
    board = RestingBoard()
    keeper = Keeper(settings, board, journal, None, reason)
    keeper.health.restarts = loader.restarts
    keeper.health.reset_reason = loader.reset_reason
    with open(loader.folder + "/whole") as file:
        program = int(file.read().split()[1][:16], 16)
    desk = Desk(keeper, read_key("/rig/key"), os.urandom,
                Identity(b"\1\2\3\4\5\6\7\x08", program, settings))
    link = Link(keeper, journal, 1, desk, True)
    loop = Loop(keeper, board, [Port(link, Terminal())], System, loader.confirm)
    let_go()
    loop.run()
