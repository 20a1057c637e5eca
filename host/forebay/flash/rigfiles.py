"""What a board must know of its rig, as the files that it reads at a start."""

import struct
from typing import Any

from forebay.dispatch.keys import BOARD_PATH
from forebay.flash.errors import FlashError
from keeper import settings
from keeper.boards import wiring

SETTINGS, WIRING = "/rig/settings", "/rig/wiring"
CRC_BYTES = 4
S_TO_MS = 1000


def of_rig(rig: Any, key: bytes | None = None) -> dict[str, bytes]:
    """Return path on the board -> bytes, for a `forebay.rig.Rig`.

    key: the board's, None = none is written.  Whoever comes as far as the
    prompt had the board's key or its button, so another key is replaced.

    Raises FlashError or RigError in one line for each value that the board
    would refuse.
    """
    files = {SETTINGS: settings.pack(rig.settings()), WIRING: _wiring(rig)}
    return files if key is None else {**files, BOARD_PATH: key}


def _wiring(rig):
    """The wiring where the description says something of it, its defaults elsewhere."""
    values = wiring.defaults()

    def put(name, value):
        values[wiring.index(name)] = value

    put("level_sensor", int(rig.sensors.level == "fitted"))
    if rig.sensors.water_temperature == "absent":
        put("water_sensor", wiring.NO_SENSOR)
    put("valve_travel_ms", round(rig.valve.travel_s * S_TO_MS))
    try:
        return wiring.pack(values)
    except ValueError as error:
        raise FlashError(f"{rig.source_name}: the board cannot be wired so: {error}") from error


def settings_crc(files: dict[str, bytes]) -> int:
    """Return the CRC-32 [-] that the board publishes of its settings."""
    return struct.unpack("<I", files[SETTINGS][-CRC_BYTES:])[0]
