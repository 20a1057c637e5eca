"""What a board must know of its rig, as the files that it reads at a start."""

import struct
from collections.abc import Mapping
from typing import Any

from forebay.dispatch.keys import BOARD_PATH
from forebay.flash.slots import SETTINGS, WIRING
from keeper import settings
from keeper.boards import wiring

# Where they lay while slots held trees (forebay.flash.slots): both programs shared them.
OLD_PATHS = ("/rig/settings", "/rig/wiring")
CRC_BYTES = 4


def of_slot(rig: Any) -> dict[str, bytes]:
    """Return path inside a slot -> bytes, for a `forebay.rig.Rig`.

    Raises RigError in one line for each value that the board would refuse.
    """
    return {SETTINGS: settings.pack(rig.settings()), WIRING: wiring.pack(rig.wiring())}


def numbers_of(files: Mapping[str, bytes]) -> dict[str, int]:
    """Return settings and wiring by name, from the files of a slot."""
    return {**dict(zip(settings.NAMES, settings.unpack(files[SETTINGS]), strict=True)),
            **dict(zip(wiring.NAMES, wiring.unpack(files[WIRING]), strict=True))}


def of_board(key: bytes | None) -> dict[str, bytes]:
    """Return path on the board -> bytes of what no slot holds: the key, unless it is None.

    Whoever comes as far as the prompt had the board's key or its button, so
    another key is replaced.
    """
    return {} if key is None else {BOARD_PATH: key}


def settings_crc(files: Mapping[str, bytes]) -> int:
    """Return the CRC-32 [-] that the board publishes of the settings of a slot."""
    return struct.unpack("<I", files[SETTINGS][-CRC_BYTES:])[0]
