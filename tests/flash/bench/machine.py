"""The little of the chip that loader and prompt use, on the interpreter behind a terminal."""
# The board's own library, which no desktop has.
# pyright: reportMissingImports=false, reportAttributeAccessIssue=false, reportArgumentType=false

import time

import _rig


class Pin:
    """A pin; inputs read high, as a button that nobody presses."""

    IN, OUT, PULL_UP = 0, 1, 2

    def __init__(self, number, mode=0, pull=-1, value=None):
        self.level = 1 if value is None else value

    def value(self, level=None):
        if level is not None:
            self.level = level
        return self.level


class _Memory:
    """Words that outlive a reset."""

    def __getitem__(self, place):
        return _rig.word(place)

    def __setitem__(self, place, value):
        _rig.keep(place, value)


def mem_backup():
    return _Memory()


def reset():
    """Restart; never returns."""
    _rig.reset()
    while True:
        time.sleep_ms(1)


def bootloader():
    reset()


def unique_id():
    return b"\x01\x02\x03\x04\x05\x06\x07\x08"
