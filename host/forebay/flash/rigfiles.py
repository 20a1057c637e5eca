"""What a board must know of its rig, as the files that it reads at a start."""

import struct
from typing import Any

from forebay.dispatch.keys import BOARD_PATH
from keeper import settings
from keeper.boards import wiring

SETTINGS, WIRING = "/rig/settings", "/rig/wiring"
CRC_BYTES = 4


def of_rig(rig: Any, key: bytes | None = None) -> dict[str, bytes]:
    """Return path on the board -> bytes, for a `forebay.rig.Rig`.

    key: the board's, None = none is written.  Whoever comes as far as the
    prompt had the board's key or its button, so another key is replaced.

    Raises RigError in one line for each value that the board would refuse.
    """
    files = {SETTINGS: settings.pack(rig.settings()), WIRING: wiring.pack(rig.wiring())}
    return files if key is None else {**files, BOARD_PATH: key}


def settings_crc(files: dict[str, bytes]) -> int:
    """Return the CRC-32 [-] that the board publishes of its settings."""
    return struct.unpack("<I", files[SETTINGS][-CRC_BYTES:])[0]
