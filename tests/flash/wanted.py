"""What the tests on littlefs deploy: programs of random bytes, settings of a version."""

import random

from forebay.flash import deploy, firmware, looking, slots
from tests.flash import rigs

KEY = "/rig/key"
SMALL_BYTES = 20000
FULL_BYTES = 115000  # of a whole program, rounded up


def program(version: int, size: int = SMALL_BYTES) -> firmware.Program:
    """Returns a program of some size [bytes]; versions differ in every block."""
    return firmware.Program({slots.PROGRAM: random.Random(version).randbytes(size)})


def settings(version: int) -> dict[str, bytes]:
    """Returns settings and wiring of a version, about as long as a rig's."""
    return {slots.SETTINGS: f"settings of {version}, ".encode() * 30,
            slots.WIRING: f"wiring of {version}, ".encode() * 10}


def wanted(version: int, settings_of: int | None = None, size: int = SMALL_BYTES
           ) -> looking.Wanted:
    """Returns what a flash of a version asks for, with a key of its own.

    settings_of: the version that the settings are from.
    """
    of = version if settings_of is None else settings_of
    return looking.Wanted(program(version, size), settings(of), {KEY: bytes([version]) * 32},
                         firmware.loader(rigs.FIRMWARE))


def put_on(prompt, what: looking.Wanted) -> deploy.Done:
    """Deploys; returns what was done."""
    return deploy.deploy(prompt, what, looking.look(prompt, what), lambda *_: None)
