"""The wireless board: what it has, as data for `keeper.boards.base`."""

BUILDS = ("RPI_PICO_W",)
RESERVED = (23, 24, 25, 29)     # all four belong to the radio
WATCHDOG_MOST_ms = 8388         # the same chip as the plain board
# The radio's own program takes block 1 if it can (from memory): stay in block 0.
METER_MACHINES = (0, 1)
# The journal's share of 848 KiB of files: the rest holds two slots of code and
# room to copy.  A guess.
JOURNAL_BYTES = 400000
HAS_RADIO = True
