"""Runs before boot.py at every start: only what a board has, and the rig's stand-ins."""
# The board's own library, which no desktop has.
# pyright: reportMissingImports=false, reportMissingModuleSource=false
# pyright: reportAttributeAccessIssue=false, reportArgumentType=false

import builtins
import os as _os
import sys
import time as _time

import _rig
import micropython as _micropython

sys.path[:] = ["", "/lib", "/bench"]
_NOT_ON_THE_BOARD = ("js", "jsffi", "string", "weakref")
_import = builtins.__import__


def _board_import(name, module_globals=None, module_locals=None, names=None, level=0):
    if level == 0 and name in _NOT_ON_THE_BOARD:
        raise ImportError("no module named '" + name + "' on the board")
    return _import(name, module_globals, module_locals, names, level)


builtins.__import__ = _board_import


class _Interpreter:
    """The module micropython, with a Ctrl-C that the rig can switch off."""

    def __getattr__(self, name):
        return getattr(_micropython, name)

    def kbd_intr(self, byte):
        _rig.interrupts(byte >= 0)


sys.modules["micropython"] = _Interpreter()


class _System:
    """The module os, with the source of chance that this build lacks."""

    def __getattr__(self, name):
        return getattr(_os, name)

    def urandom(self, count):
        return bytes([_rig.chance() for _ in range(count)])


sys.modules["os"] = _System()


class _Clock:
    """The module time, whose sleep leaves the processor to others."""

    def __getattr__(self, name):
        return getattr(_time, name)

    def sleep_ms(self, ms):
        _rig.rest(ms)


sys.modules["time"] = _Clock()
