"""What must survive a restart: lockout, retries, starts, heat, the learned night.

Two files take turns; the newest counts.  A cut while one is written leaves it
empty or as it was, so a file with anything else in it was damaged: then, as
without any file, the caller must take the worst for true (locked out, motor
hot, counter full).
"""

import binascii
import os
import struct

MAGIC = b"fbyr"
VERSION = 2
# Files of version 1 do not begin with the number of their fixed values: it is this.
FIXED_OF_1 = 11
FILES = ("state_a", "state_b")
HEAD = 12  # magic, version, count, sequence
SEQUENCE_MASK = 0x3FFFFFFF


class RetainedFiles:
    """A list of integers on flash."""

    def __init__(self, root):
        """Take the folder, which is made if it is missing."""
        self.root = root
        self.sequence = 0
        self.place = 0      # file that is written next
        self.failed = 0     # writes given up since the start
        self._make_room()

    def _make_room(self):
        path = ""
        for part in self.root.split("/"):
            path += part
            if part:
                try:
                    os.mkdir(path)
                except OSError:
                    pass  # it is there, or the first write will fail and be counted
            path += "/"

    def load(self):
        """Return the integers [list], or None if there is no file, or a damaged one."""
        best = None
        for place, name in enumerate(FILES):
            data = self._read(name)
            if not data:
                continue
            found = self._unpack(data)
            if found is None:
                return None
            newer = best is None or (found[0] - best[0]) & SEQUENCE_MASK < SEQUENCE_MASK // 2
            if newer:
                best = found
                self.place = 1 - place
        if best is None:
            return None
        self.sequence = best[0]
        return best[1]

    def _read(self, name):
        try:
            with open(self.root + "/" + name, "rb") as file:
                return file.read()
        except OSError:
            return b""

    def _unpack(self, data):
        """Return (number of the file, integers), None if it is not whole."""
        if len(data) < HEAD + 4 or data[:4] != MAGIC:
            return None
        if struct.unpack("<I", data[-4:])[0] != binascii.crc32(data[:-4]):
            return None
        version, found, sequence = struct.unpack("<HHI", data[4:HEAD])
        if not 1 <= version <= VERSION or len(data) != HEAD + 4 * found + 4:
            return None
        values = list(struct.unpack("<%di" % found, data[HEAD:-4]))
        return sequence, values if version > 1 else [FIXED_OF_1] + values

    def save(self, values):
        """Write integers [each 32 bits]; return whether they are on flash."""
        sequence = (self.sequence + 1) & SEQUENCE_MASK
        body = MAGIC + struct.pack("<HHI", VERSION, len(values), sequence)
        body += struct.pack("<%di" % len(values), *values)
        try:
            with open(self.root + "/" + FILES[self.place], "wb") as file:
                file.write(body + struct.pack("<I", binascii.crc32(body)))
        except OSError:
            self.failed += 1
            return False
        self.sequence = sequence
        self.place = 1 - self.place
        return True
