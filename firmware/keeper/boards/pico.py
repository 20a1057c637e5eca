"""The plain board: what it has, as data for `keeper.boards.base`."""

BUILDS = ("RPI_PICO",)          # names of the interpreter's build that run on it
RESERVED = (23, 24, 25, 29)     # regulator mode, USB power, its own light, VSYS / 3
WATCHDOG_MOST_ms = 8388         # machine.WDT of the RP2040 takes no more
# State machines of the two flow meters: both in block 0, which holds the program once.
METER_MACHINES = (0, 1)
# The journal's share of 1408 KiB of files: the rest holds two slots of code and room to
# copy.  A guess.
JOURNAL_BYTES = 800000
