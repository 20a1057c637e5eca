"""The board with the RP2350, with and without radio: as data for `keeper.boards.base`."""

BUILDS = ("RPI_PICO2", "RPI_PICO2_W")
RESERVED = (23, 24, 25, 29)     # as on the plain board; the radio's on the wireless one
WATCHDOG_MOST_ms = 16777        # machine.WDT of the RP2350 takes no more
METER_MACHINES = (0, 1)
# The journal's share of 2560 KiB of files or more: the rest holds two slots of code and room to
# copy.  A guess.
JOURNAL_BYTES = 1600000
