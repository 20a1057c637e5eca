"""The journal's folder: which segments there are, appending, reading, removing.

Every append is opened, written, flushed and closed: what it returned for is
on flash.  Errors of the filesystem are counted in `errors` and end the
segment that they hit; they never leave this module.
"""

import os

from keeper.journal.records import (
    DETAIL, EVENTS, LETTERS, SEGMENT_HEAD, STREAMS, SUMMARY, TAIL, segment_head)

SEGMENT_MOST = 20000   # one Modbus file: 10 000 registers
# Of events and summaries, which are given up in smaller portions: what two
# blocks of flash hold beside the filesystem's own 4 bytes.
SMALL_SEGMENT_MOST = 8188
NUMBERS = 16383        # segment numbers are 1 to NUMBERS, then 1 again
STREAM_FILES = 16384   # Modbus file number = stream * STREAM_FILES + segment
FLASH_BLOCK = 4096     # the filesystem's unit of space
NO_SPACE = 28          # ENOSPC of POSIX, the same on both interpreters
# Left free for the filesystem: every append copies a block first, folders
# grow, and below about 4 free blocks even a removal may fail.
SPARE_BLOCKS = 8
# A segment in the table is one number: its own, and its size in the low bits.
# A list a segment would take nine times the memory, and there are hundreds.
SIZE_BITS = 15
SIZE_MOST = (1 << SIZE_BITS) - 1  # what is larger is no file of Modbus, nor this journal's
# Most of the budget that a stream may hold while detail is given up for it [%].
SHARES_PERCENT = ((EVENTS, 11), (SUMMARY, 41))


def _in_order(entries):
    """Return a stream's segments oldest first, although numbers begin anew after NUMBERS."""
    ordered = sorted(entries)
    if ordered and number_of(ordered[-1]) - number_of(ordered[0]) > NUMBERS // 2:
        late = [one for one in ordered if number_of(one) <= NUMBERS // 2]
        ordered = [one for one in ordered if number_of(one) > NUMBERS // 2] + late
    return ordered


def _listed(folder):
    """Yield (name, size [bytes]) of what a folder holds.

    A board's filesystem lists the sizes too; asked for them one by one it
    searches the folder for each name, 4 ms a file.
    """
    rows = os.ilistdir(folder) if hasattr(os, "ilistdir") else zip(os.listdir(folder))
    for row in rows:
        yield row[0], row[3] if len(row) > 3 else os.stat("%s/%s" % (folder, row[0]))[6]


def _blocks(size):
    return (size + FLASH_BLOCK - 1) // FLASH_BLOCK


def entry(number, size):
    """Return a segment as the table has it."""
    return number << SIZE_BITS | size


def number_of(one):
    """Return the number of a segment of the table [1 to NUMBERS]."""
    return one >> SIZE_BITS


def bytes_of(one):
    """Return its size [bytes]."""
    return one & SIZE_MOST


class Segments:
    """The segments of one journal.

    Attributes: table, for each stream a list of its segments [each an `entry`],
    oldest first; aside, such of the tail that this writer cannot read and leaves alone;
    blocks, for each stream what it takes on flash [blocks]; errors, filesystem
    calls that failed; full, the last of them was for want of space; fresh, the
    last write began a new segment.
    """

    def __init__(self, root, rig_id, budget_bytes):
        """Open the folder `root`, make it if need be; keep it within a budget [bytes].

        The budget is no more than what the journal has and the filesystem has left.
        """
        self.root = root.rstrip("/")
        self.rig_id = rig_id
        self.errors = 0
        self.full = False
        self.fresh = False
        self.table = [[] for _ in range(STREAMS)]
        self.aside = []
        self.blocks = [0] * STREAMS
        self.budget_blocks = budget_bytes // FLASH_BLOCK
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
        self.budget_blocks = min(self.budget_blocks, self._room_blocks())

    def _look(self):
        try:
            os.mkdir(self.root)
        except OSError:
            pass  # it is there; if not, the next line says so
        for name, size in _listed(self.root):
            stream = LETTERS.find(name[:1])
            if stream >= 0 and len(name) == 6 and name[1:].isdigit():
                number = int(name[1:])
                if 1 <= number <= NUMBERS:
                    self.table[stream].append(entry(number, min(size, SIZE_MOST)))
        for stream in range(STREAMS):
            self.table[stream] = _in_order(self.table[stream])
            self.blocks[stream] = sum(_blocks(bytes_of(one)) for one in self.table[stream])

    def _room_blocks(self):
        """Return the blocks that the journal may take, by what the filesystem has left."""
        try:
            state = os.statvfs(self.root)
        except (AttributeError, OSError):
            return 1 << 29  # it does not say
        return sum(self.blocks) + state[0] * state[3] // FLASH_BLOCK - SPARE_BLOCKS

    def _resize(self, stream, size):
        """Note the size of the newest segment of a stream."""
        size = min(size, SIZE_MOST)
        newest = self.table[stream][-1]
        self.blocks[stream] += _blocks(size) - _blocks(bytes_of(newest))
        self.table[stream][-1] = entry(number_of(newest), size)

    def count(self, error):
        """Count an OSError of the filesystem."""
        self.errors += 1
        self.full = error.errno == NO_SPACE
        if self.full:  # something else has taken of the room
            self.budget_blocks = min(self.budget_blocks, self._room_blocks())

    def path(self, stream, number):
        """Return the path of a segment."""
        return "%s/%s%05d" % (self.root, LETTERS[stream], number)

    def next_number(self, stream):
        """Return the number that the next new segment of a stream gets."""
        table = self.table[stream]
        number = number_of(table[-1]) % NUMBERS + 1 if table else 1
        if stream == TAIL:
            taken = [number_of(left) for left in self.aside]
            while number in taken:
                number = number % NUMBERS + 1
        return number

    def set_aside(self, number):
        """Leave a segment of the tail as it is: it holds rows that this writer cannot read."""
        for left in self.table[TAIL]:
            if number_of(left) == number:
                self.table[TAIL].remove(left)
                self.aside.append(left)
                self.open[TAIL] = False
                return

    def has_room(self, stream, count):
        """Return whether the newest segment can take `count` more bytes."""
        most = SEGMENT_MOST if stream in (DETAIL, TAIL) else SMALL_SEGMENT_MOST
        return self.open[stream] and bytes_of(self.table[stream][-1]) + count <= most

    def append(self, stream, data, count):
        """Write data[:count] to a stream and sync it; return whether it is on flash.

        One attempt: a segment that fails is not used again, the next call
        begins a new one.  MemoryError, if a file cannot be opened for want of
        memory, is raised with nothing written.
        """
        if self.has_room(stream, count):
            return self._write(stream, None, data, count)
        return self.append_new(stream, data, count)

    def append_new(self, stream, data, count):
        """Begin the next segment of a stream with data[:count], synced; return whether it is."""
        if not self.usable:
            self.fresh = True
            return False
        number = self.next_number(stream)
        # The head names the stream and the number: a segment that was copied
        # or renamed shows.
        head = segment_head(stream, number, self.rig_id)
        self.table[stream].append(entry(number, 0))
        return self._write(stream, head, data, count)

    def _write(self, stream, head, data, count):
        """Write to the newest segment of a stream; with a head it is a new one."""
        self.open[stream] = False
        self.fresh = head is not None
        newest = self.table[stream][-1]
        try:
            with open(self.path(stream, number_of(newest)), "wb" if self.fresh else "ab") as file:
                if head is not None:
                    file.write(head)
                if count:
                    file.write(memoryview(data)[:count])
                file.flush()
        except OSError as error:
            self.count(error)
            self._measure(stream)
            return False
        except MemoryError:
            self.errors += 1
            self.full = False
            self._measure(stream)
            raise
        self._resize(stream, bytes_of(newest) + count + (SEGMENT_HEAD if self.fresh else 0))
        self.open[stream] = True
        return True

    def _measure(self, stream):
        """See how much of a failed write is there; a file that is not is forgotten."""
        newest = self.table[stream][-1]
        try:
            self._resize(stream, os.stat(self.path(stream, number_of(newest)))[6])
        except OSError:
            if bytes_of(newest) == 0:
                self.table[stream].pop()

    def remove_oldest(self, stream):
        """Remove the oldest segment of a stream; return its number."""
        oldest = self.table[stream].pop(0)
        number = number_of(oldest)
        self.blocks[stream] -= _blocks(bytes_of(oldest))
        try:
            os.remove(self.path(stream, number))
        except OSError as error:
            self.count(error)  # if it is still there, the next start finds it
        return number

    def surplus_stream(self):
        """Return the stream that must give up its oldest segment, -1 if the budget holds.

        The newest segment of a stream is never given up.
        """
        if sum(self.blocks) <= self.budget_blocks:
            return -1
        return self.expendable_stream()

    def expendable_stream(self):
        """Return the first stream with a segment to give up, -1 if there is none.

        Detail, unless events or summary hold more than their share.
        """
        for stream, percent in SHARES_PERCENT:
            if (len(self.table[stream]) > 1
                    and self.blocks[stream] * 100 > percent * self.budget_blocks):
                return stream
        for stream in (DETAIL, SUMMARY, EVENTS):
            if len(self.table[stream]) > 1:
                return stream
        return -1

    def _all(self, stream):
        return self.aside + self.table[stream] if stream == TAIL else self.table[stream]

    def files(self):
        """Return (Modbus file number, bytes) of every segment, streams in order, oldest first."""
        return [(stream * STREAM_FILES + number_of(one), bytes_of(one))
                for stream in range(STREAMS) for one in self._all(stream)]

    def size_of(self, file_number):
        """Return the bytes of a Modbus file, -1 if there is none."""
        stream = file_number // STREAM_FILES
        if stream < STREAMS:
            number = file_number % STREAM_FILES
            for one in self._all(stream):
                if one >> SIZE_BITS == number:  # not by a call each: requests wait for it
                    return bytes_of(one)
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
