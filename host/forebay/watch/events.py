"""The newest events of a board's journal, read as they grow.

Events are few: one file of them holds days, and of it only what is new is read.
"""

from forebay.review.words import sentence
from forebay.shelf import decode
from forebay.shelf.segments import file_number, split_file_number
from forebay.wire.client import MOST_FILE_WORDS, WORD_BYTES, Board, NoSuchRecord
from keeper.events import NOT_FITTED
from keeper.journal import records

EVENTS_MOST = 20  # for the view


class EventTail:
    """Attribute: newest, (boot, uptime [0.1 s], sentence) of the last events, oldest first."""

    def __init__(self):
        self.newest: list[tuple[int, int, str]] = []
        self._number = -1
        self._data = b""

    def update(self, board: Board, absent: int = 0) -> None:
        """Read what is new; absent: what the board's rig lacks, as bits.  Raises WireError."""
        files = {}
        for number, size in board.directory():
            stream, segment = split_file_number(number)
            if stream == records.EVENTS:
                files[segment] = size
        if not files:
            return
        newest = max(files)
        if newest != self._number:
            self._number, self._data = newest, b""
        if files[newest] == len(self._data):
            return
        try:
            self._read(board, files[newest])
        except NoSuchRecord:
            self._data = b""  # removed meanwhile, or made anew: the next look begins again
            return
        self._show(absent)

    def _read(self, board, size):
        at = len(self._data) // WORD_BYTES * WORD_BYTES
        data = bytearray(self._data[:at])
        while len(data) < size:
            words = min((size - len(data) + 1) // WORD_BYTES, MOST_FILE_WORDS)
            data += board.file(file_number(records.EVENTS, self._number),
                               len(data) // WORD_BYTES, words)
        self._data = bytes(data[:size])

    def _show(self, absent):
        table = decode([self._data]).events
        # What the rig lacks the view has elsewhere.
        table = table[table["code"] != NOT_FITTED][-EVENTS_MOST:]
        self.newest = [(int(event["boot"]), int(event["uptime_ds"]), text)
                       for event in table if (text := sentence(event, absent))]
