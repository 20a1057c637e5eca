"""A word that outlives a reset, though not a loss of power.

`machine.mem_backup` gives the watchdog's scratch registers as 32-bit words.
A word is kept below 2**30, so that reading it allocates nothing, and carries a
mark: after power comes the registers hold anything.
"""

import machine

# 10 bits over 20 bits of content; any number that rubbish is unlikely to show.
MARK = 0x2D3 << 20
CONTENT = (1 << 20) - 1
NONE = -1


class Word:
    """One word by its place; always NONE where the port has no such memory."""

    def __init__(self, place):
        """Take the place of the word [0 to 3]."""
        self.place = place
        self.memory = None
        open_memory = getattr(machine, "mem_backup", None)  # since release 1.29
        if open_memory is not None:
            self.memory = open_memory()

    def get(self):
        """Return the content [0 to 2**20 - 1], NONE if none was put since power came."""
        if self.memory is None:
            return NONE
        word = self.memory[self.place]
        return word & CONTENT if word & ~CONTENT == MARK else NONE

    def put(self, content):
        """Keep the content [0 to 2**20 - 1]; allocates nothing."""
        if self.memory is not None:
            self.memory[self.place] = MARK | content & CONTENT
