"""Runs on the board's interpreter before a test's script: leaves only what a board has.

The WebAssembly build carries modules that the Pico's firmware lacks. Most are
frozen into it and go with '.frozen'; the few that are compiled in are refused.
"""

import builtins
import sys

# Left in place of '.frozen': the root of the file system and /lib.
sys.path[:] = ["", "/lib"]

_NOT_ON_THE_BOARD = ("js", "jsffi", "string", "weakref")
_import = builtins.__import__


# Defaults rather than *args: an import under heap_lock() must not start to allocate here.
def _board_import(name, module_globals=None, module_locals=None, names=None, level=0):
    if level == 0 and name in _NOT_ON_THE_BOARD:
        raise ImportError("no module named '" + name + "' on the board")
    return _import(name, module_globals, module_locals, names, level)


builtins.__import__ = _board_import
