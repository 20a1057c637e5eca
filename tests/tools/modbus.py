"""Modbus masters that are not ours: a program (mbpoll) and a C library (libmodbus).

Neither is on a package index of Python or Node: they are the system's.  Where one
is missing the tests that need it say 'not run'; with CI set they fail.
"""

import ctypes
import ctypes.util
import pathlib
import shutil

from tests.tools.npm import ToolMissingError

INSTALL = "apt-get install --no-install-recommends mbpoll libmodbus5"


def mbpoll_path() -> pathlib.Path:
    """Returns the program mbpoll.  Raises ToolMissingError if it is not installed."""
    found = shutil.which("mbpoll")
    if found is None:
        raise ToolMissingError(f"mbpoll is not installed: {INSTALL}")
    return pathlib.Path(found)


def libmodbus() -> ctypes.CDLL:
    """Returns the library libmodbus.  Raises ToolMissingError if it is not installed."""
    name = ctypes.util.find_library("modbus") or "libmodbus.so.5"
    try:
        library = ctypes.CDLL(name, use_errno=True)
    except OSError:
        raise ToolMissingError(f"libmodbus is not installed: {INSTALL}") from None
    library.modbus_new_rtu.restype = ctypes.c_void_p
    library.modbus_new_rtu.argtypes = [ctypes.c_char_p, ctypes.c_int, ctypes.c_char,
                                       ctypes.c_int, ctypes.c_int]
    library.modbus_new_tcp.restype = ctypes.c_void_p
    library.modbus_new_tcp.argtypes = [ctypes.c_char_p, ctypes.c_int]
    for function in ("modbus_connect", "modbus_close", "modbus_free", "modbus_get_socket"):
        getattr(library, function).argtypes = [ctypes.c_void_p]
    library.modbus_set_slave.argtypes = [ctypes.c_void_p, ctypes.c_int]
    for function in ("read_bits", "read_registers", "read_input_registers", "write_registers"):
        getattr(library, "modbus_" + function).argtypes = [
            ctypes.c_void_p, ctypes.c_int, ctypes.c_int, ctypes.c_void_p]
    library.modbus_send_raw_request.argtypes = [ctypes.c_void_p, ctypes.c_void_p, ctypes.c_int]
    library.modbus_strerror.restype = ctypes.c_char_p
    return library
