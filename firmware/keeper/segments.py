"""The journal's folder: which segments there are, appending, reading, removing.

Every append is opened, written, flushed and closed: what it returned for is
on flash.  Errors of the filesystem are counted in `errors` and end the
segment that they hit; they never leave this module.
"""

import os

from keeper.records import (
    DETAIL, EVENTS, LETTERS, SEGMENT_HEAD, STREAMS, SUMMARY, segment_head)

SEGMENT_MOST = 20000   # one Modbus file: 10 000 registers
NUMBERS = 16383        # segment numbers are 1 to NUMBERS, then 1 again
STREAM_FILES = 16384   # Modbus file number = stream * STREAM_FILES + segment
FLASH_BLOCK = 4096     # the filesystem's unit of space
NO_SPACE = 28          # ENOSPC of POSIX, the same on both interpreters
# What makes room when the budget is full, first to go first.
GIVEN_UP = (DETAIL, SUMMARY, EVENTS)


def _in_order(numbers):
    """Return segment numbers oldest first, although they begin anew after NUMBERS."""
    ordered = sorted(numbers)
    if ordered and ordered[-1] - ordered[0] > NUMBERS // 2:
        late = [number for number in ordered if number <= NUMBERS // 2]
        ordered = [number for number in ordered if number > NUMBERS // 2] + late
    return ordered


class Segments:
    """The segments of one journal.

    Attributes: table, for each stream a list of [number, bytes], oldest first;
    errors, filesystem calls that failed; full, the last of them was for want of space.
    """

    def __init__(self, root, rig_id, budget_bytes):
        """Open the folder `root`, make it if need be; keep it within a budget [bytes]."""
        self.root = root
        self.rig_id = rig_id
        self.budget_bytes = budget_bytes
        self.errors = 0
        self.full = False
        self.table = [[] for _ in range(STREAMS)]
        # Whether the newest segment of a stream may grow; recovery finds out.
        self.open = [False] * STREAMS
        # A folder that cannot be listed is left alone: what one would write
        # could replace what is there.
        self.usable = True
        try:
            self._look()
        except OSError:
            self.errors += 1
            self.usable = False

    def _look(self):
        name = self.root.rstrip("/")
        try:
            os.mkdir(name)
        except OSError:
            pass  # it is there; if not, the next line says so
        found = [[] for _ in range(STREAMS)]
        for entry in os.listdir(name):
            stream = LETTERS.find(entry[:1])
            if stream >= 0 and len(entry) == 6 and entry[1:].isdigit():
                found[stream].append(int(entry[1:]))
        for stream in range(STREAMS):
            for number in _in_order(found[stream]):
                if 1 <= number <= NUMBERS:
                    size = os.stat(self.path(stream, number))[6]
                    self.table[stream].append([number, size])

    def path(self, stream, number):
        """Return the path of a segment."""
        return "%s/%s%05d" % (self.root.rstrip("/"), LETTERS[stream], number)

    def next_number(self, stream):
        """Return the number that the next new segment of a stream gets."""
        rows = self.table[stream]
        return rows[-1][0] % NUMBERS + 1 if rows else 1

    def has_room(self, stream, count):
        """Return whether the newest segment can take `count` more bytes."""
        return self.open[stream] and self.table[stream][-1][1] + count <= SEGMENT_MOST

    def append(self, stream, data, count):
        """Write data[:count] to a stream and sync it; return whether it is on flash.

        A segment that fails is not used again: the next one is tried once.
        """
        if self.has_room(stream, count):
            row = self.table[stream][-1]
            if self._write(stream, row, "ab", None, data, count):
                return True
        return self.append_new(stream, data, count)

    def append_new(self, stream, data, count):
        """Begin the next segment of a stream with data[:count], synced; return whether it is."""
        if not self.usable:
            return False
        row = [self.next_number(stream), 0]
        self.table[stream].append(row)
        head = segment_head(stream, row[0], self.rig_id)
        return self._write(stream, row, "wb", head, data, count)

    def _write(self, stream, row, how, head, data, count):
        self.open[stream] = False
        try:
            with open(self.path(stream, row[0]), how) as file:
                if head is not None:
                    file.write(head)
                if count:
                    file.write(memoryview(data)[:count])
                file.flush()
        except OSError as error:
            self.errors += 1
            self.full = error.errno == NO_SPACE
            self._measure(stream, row)
            return False
        row[1] += count + (SEGMENT_HEAD if head is not None else 0)
        self.open[stream] = True
        return True

    def _measure(self, stream, row):
        """See how much of a failed write is there; a file that is not is forgotten."""
        try:
            row[1] = os.stat(self.path(stream, row[0]))[6]
        except OSError:
            if row[1] == 0:
                self.table[stream].remove(row)

    def remove_oldest(self, stream):
        """Remove the oldest segment of a stream; return its number."""
        number = self.table[stream].pop(0)[0]
        try:
            os.remove(self.path(stream, number))
        except OSError:
            self.errors += 1  # if it is still there, the next start finds it
        return number

    def used_bytes(self):
        """Return the space on flash [bytes], in whole blocks of the filesystem."""
        used = 0
        for rows in self.table:
            for row in rows:
                used += (row[1] + FLASH_BLOCK - 1) // FLASH_BLOCK * FLASH_BLOCK
        return used

    def surplus_stream(self):
        """Return the stream that must give up its oldest segment, -1 if the budget holds.

        The newest segment of a stream is never given up.
        """
        if self.used_bytes() <= self.budget_bytes:
            return -1
        return self.expendable_stream()

    def expendable_stream(self):
        """Return the first stream with a segment to give up, -1 if there is none."""
        for stream in GIVEN_UP:
            if len(self.table[stream]) > 1:
                return stream
        return -1

    def files(self):
        """Return (Modbus file number, bytes) of every segment, streams in order, oldest first."""
        return [(stream * STREAM_FILES + row[0], row[1])
                for stream in range(STREAMS) for row in self.table[stream]]

    def size_of(self, file_number):
        """Return the bytes of a Modbus file, -1 if there is none."""
        stream = file_number // STREAM_FILES
        if stream < STREAMS:
            for row in self.table[stream]:
                if row[0] == file_number % STREAM_FILES:
                    return row[1]
        return -1

    def read_file(self, file_number, offset_bytes, buffer):
        """Fill `buffer` from an offset of a Modbus file; return the bytes read.

        Reads nothing that is not synced.  Raises OSError if the file is not there.
        """
        size = self.size_of(file_number)
        count = min(len(buffer), size - offset_bytes)
        if count <= 0:
            return 0
        stream = file_number // STREAM_FILES
        with open(self.path(stream, file_number % STREAM_FILES), "rb") as file:
            file.seek(offset_bytes)
            return file.readinto(memoryview(buffer)[:count])
