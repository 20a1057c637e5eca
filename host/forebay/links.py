"""Unit and speed that a board is asked with: on an RS-485 line those of [link] of its rig.

Over USB and TCP a board answers whichever unit it is called, at any speed.
"""

import os
from typing import NamedTuple

from serial.tools import list_ports

from forebay import lastused, ports
from forebay.rig import load

RTU_PREFIX = "rtu:"  # RTU frames over a network: a line that somebody lends to it


class Asked(NamedTuple):
    """unit: Modbus address [-], 1 to 247; speed_baud [Bd]."""

    unit: int = 1
    speed_baud: int = 115200


def asked_at(port: str) -> Asked:
    """Return how a board at a port is asked.

    On a line: as the rig used last says, or as a rig does that says nothing.
    Raises InputError if that rig's description cannot be used.
    """
    if not _is_line(port):
        return Asked()
    link = load(lastused.rig()).link
    return Asked(link.unit, link.speed_baud)


def _is_line(port):
    """Return whether a port is an adapter or a network that leads to a line."""
    if port.startswith(RTU_PREFIX):
        return True
    real = os.path.realpath(port) if os.path.exists(port) else port
    return any(found.device in (port, real) and found.vid != ports.VENDOR
               for found in list_ports.comports())
