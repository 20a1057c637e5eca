"""The kinds of board that the keeper runs on: what each has, as data.

All have the same pins where a rig hangs on them.  The sizes of the files are
those of the interpreter's builds of release 1.29.
"""

from keeper.journal.segments import FLASH_BLOCK, SPARE_BLOCKS

KIB = 1024
# What the files hold beside the journal, in blocks of flash:
SLOTS = 2
SLOT_BLOCKS = 26        # one program of about 100 kB with its settings
LOADER_BLOCKS = 8       # boot.py, main.py, the text of the last error; a spare
# The root, two slots, /rig, and the journal's folder with the names of some
# 200 files in it: pairs of blocks each, the last some of them (a guess).
FOLDER_BLOCKS = 18
BESIDE_BLOCKS = SLOTS * SLOT_BLOCKS + LOADER_BLOCKS + FOLDER_BLOCKS + SPARE_BLOCKS

RESERVED = (23, 24, 25, 29)     # regulator, USB power, own light, VSYS / 3; or all the radio's
NO_LIGHT = -1
# What machine.WDT takes at most [ms].
RP2040_WATCHDOG_ms, RP2350_WATCHDOG_ms = 8388, 16777


class Kind:
    """One kind of board.

    Attributes: builds, names of the interpreter's build that run on it;
    light_gpio, its own light, NO_LIGHT if the radio has it; watchdog_most_ms;
    files_blocks, of its file system; journal_bytes, of them the journal's;
    has_radio; meter_machines, valve_machines, state machines of the two flow
    meters and of the valve's two directions: all in block 0, which holds each
    program once, as a radio's own takes block 1 if it can (from memory).
    """

    def __init__(self, builds, light_gpio, watchdog_most_ms, files_KiB, has_radio=False):
        """Take what the data sheets and the builds say."""
        self.builds = builds
        self.light_gpio = light_gpio
        self.watchdog_most_ms = watchdog_most_ms
        self.files_blocks = files_KiB * KIB // FLASH_BLOCK
        self.journal_bytes = (self.files_blocks - BESIDE_BLOCKS) * FLASH_BLOCK
        self.has_radio = has_radio
        self.meter_machines = (0, 1)
        self.valve_machines = (2, 3)


PICO = Kind(("RPI_PICO",), 25, RP2040_WATCHDOG_ms, 1408)
PICO2 = Kind(("RPI_PICO2",), 25, RP2350_WATCHDOG_ms, 3072)
PICO2_W = Kind(("RPI_PICO2_W",), NO_LIGHT, RP2350_WATCHDOG_ms, 2560, True)
KINDS = (PICO, PICO2, PICO2_W)
# A board that nobody knows: at least the plain one's pins, but what hangs on
# its own light's is unknown; the least room for files of any build of the family.
OTHER = Kind((), NO_LIGHT, RP2040_WATCHDOG_ms, 848)


def kind_of(build):
    """Return the kind of the board that a build of the interpreter is for."""
    for kind in KINDS:
        if build in kind.builds:
            return kind
    return OTHER
