"""A board on the wire: Modbus client for live values and journal files.

Owns the line: opening it, one request at a time, what to do when an answer
is late or missing.  It must not know what a file holds.  The addresses come
from `forebay.wire.registers`; the client of pymodbus does the framing.

The answer to a file read names neither file nor record, so that a late answer
could be taken for the next one: after a missing answer the line is left to
fall silent and is emptied before the question is put again.
"""

import logging
import stat
import time
from pathlib import Path
from typing import Any

from pymodbus import ModbusException
from pymodbus.pdu.file_message import FileRecord
from serial.tools import list_ports

from forebay.links import asked_at
from forebay.wire.line import WireError, client, maybe_tcp
from forebay.wire.registers import INPUT_REGISTERS, LACKING
from keeper.link.layout import DIRECTORY_FILE, ERROR_FILE, MAP_VERSION

TIMEOUT_S = 2.0  # longer than the worst write to flash, 1.2 s: a late answer fits another question
TRIES = 4
# How long the line must say nothing before it counts as silent.
SILENCE_S = 0.2
LONGEST_DRAIN_S = 5.0
# Modbus Application Protocol V1.1b3: 6.4 (registers), 6.14 (file records), 7 (exceptions).
# The standard allows 125; half of it takes the board 6 ms, so that no scan waits.
MOST_REGISTERS = 62
ILLEGAL_ADDRESS = 2
SERVER_BUSY = 6
BUSY_WAIT_S = 0.25
# A board that syncs its flash says so for at most a few stalls of 1.2 s (a guess).
LONGEST_BUSY_S = 10.0
# 121 words are the most that the reply's length byte allows.
MOST_FILE_WORDS = 121
RECORDS = 10000  # words of a file, the last record being 9999
FILE_MOST_BYTES = 2 * RECORDS
WORD_BYTES = 2
EXCEPTIONS = {
    1: "it does not know this function",
    2: "it has no such address or file",
    3: "it refuses the length of the request",
    4: "it failed while it answered",
    6: "it is busy",
}

logging.getLogger("pymodbus").addHandler(logging.NullHandler())


class NoAnswer(WireError):
    """The board said nothing, or was busy for too long."""


class NoSuchRecord(WireError):
    """The board has no such file, or it ends before the words asked for."""


class Board:
    """A keeper at the other end of a line; use it in a `with` block.

    port: a serial device ("/dev/ttyACM0", "COM3"), "HOST:PORT" for Modbus
    over TCP, or "rtu:HOST:PORT" for RTU frames over a TCP stream.
    unit: Modbus address [-], 1 to 247, None = as the rig's line has it
    (`forebay.links`).  timeout_s: longest wait for an answer [s], TIMEOUT_S if None.
    Every method raises WireError in one line when the line or the board fails.
    """

    def __init__(self, port: str, unit: int | None = None, timeout_s: float | None = None):
        self.port = port
        asked = asked_at(port)
        self.unit = asked.unit if unit is None else unit
        self.requests = 0
        self._map = 0  # its version, 0 = not asked for yet
        self._client = client(port, timeout_s or TIMEOUT_S, asked.speed_baud)
        if not self._client.connect():
            raise WireError(_why_not(port))

    def __enter__(self) -> "Board":
        return self

    def __exit__(self, *_):
        self._client.close()

    def live(self) -> dict[str, int]:
        """Return the input registers by name, each in the unit that the table states.

        Raises WireError too if the board has another register map.
        """
        self._check_map(row.name for row in INPUT_REGISTERS)
        return self._read(INPUT_REGISTERS)

    def values(self, *names: str) -> dict[str, int]:
        """Return some of the input registers by name, as `live` does.

        A board of before answers too where its map has these names.  Raises
        ValueError for a name that is none.
        """
        self._check_map(names)
        rows = [row for row in INPUT_REGISTERS if row.name in names]
        if len(rows) != len(set(names)):
            raise ValueError(f"no such register among {names}")
        return self._read(rows)

    def has(self, name: str) -> bool:
        """Return whether the board's register map has a name, as one of before may not."""
        return name not in LACKING.get(self._map_version(), ())

    def _map_version(self):
        self._map = self._map or self._read(INPUT_REGISTERS[:1])["map_version"]
        return self._map

    def _check_map(self, names):
        """See that the board's register map has these names where this forebay looks for them."""
        self._map_version()
        lacking = LACKING.get(self._map)
        if self._map != MAP_VERSION and (lacking is None or set(names) & set(lacking)):
            raise WireError(
                f"the board at {self.port} speaks register map {self._map}, this"
                f" forebay {MAP_VERSION}: use the forebay that it was flashed with"
                + ("" if lacking is None else ", or bring it over with `forebay flash`")
            )

    def write(self, first: int, words: list[int]) -> None:
        """Write holding registers [0 to 65535 each] from an address on, in one request.

        It is sent once only: whoever gets NoAnswer must see whether it arrived.
        """
        self._ask(
            lambda: self._client.write_registers(first, words, device_id=self.unit),
            f"registers {first} to {first + len(words) - 1}, to write",
            tries=1,
        )

    def _read(self, rows):
        values = {}
        for run in _runs(rows):
            first = run[0].address
            words = self._registers(first, run[-1].end - first)
            for row in run:
                values[row.name] = _value(
                    words[row.address - first : row.end - first], row.type)
        return values

    def file(self, number: int, first_word: int, words: int) -> bytes:
        """Return `words` [-] words of a file from `first_word` [-] on, as bytes.

        Raises NoSuchRecord if the file is not there or ends before.
        """
        record = FileRecord(
            file_number=number, record_number=first_word, record_length=words * WORD_BYTES
        )
        answer: Any = self._ask(
            lambda: self._client.read_file_record([record], device_id=self.unit),
            f"word {first_word} of file {number}",
            fits=lambda answer: sum(
                len(part.record_data) for part in getattr(answer, "records", ())
            ) == words * WORD_BYTES,
        )
        return b"".join(part.record_data for part in answer.records)

    def directory(self) -> list[tuple[int, int]]:
        """Return (file number, size [bytes]) of every file of the journal.

        Raises WireError too for a list that no keeper gives.
        """
        words = memoryview(self._to_its_end(DIRECTORY_FILE, 2))
        numbers = [int.from_bytes(words[at : at + 2]) for at in range(0, len(words), 2)]
        files = [pair for pair in zip(numbers[::2], numbers[1::2], strict=True) if pair[0]]
        self._check_files(files)
        return files

    def _check_files(self, files):
        seen = set()
        for number, size in files:
            if number in seen:
                raise self._no_keeper(f"lists file {number} twice")
            seen.add(number)
            if size > FILE_MOST_BYTES:
                raise self._no_keeper(f"says that file {number} has {size} bytes, more than the"
                                      f" {FILE_MOST_BYTES} of any")

    def _no_keeper(self, what):
        return WireError(f"the board at {self.port} {what}: that is no sound keeper; is another"
                         " device on this line?")

    def last_error(self) -> str:
        """Return the text of the error that last ended a start of the board, "" for none."""
        text = self._to_its_end(ERROR_FILE, 1)
        return text.rstrip(b"\0").decode(errors="replace").strip()

    def _to_its_end(self, number, unit):
        """Return a file whose length nobody knows, in whole units of words."""
        found = b""
        step = MOST_FILE_WORDS // unit * unit
        while step:
            if len(found) // WORD_BYTES + step > RECORDS:
                raise self._no_keeper(f"gives a file {number} without an end")
            try:
                found += self.file(number, len(found) // WORD_BYTES, step)
            except NoSuchRecord:
                # It may end inside what was asked for: ask for less.
                step = step // 2 // unit * unit
        return found

    def _registers(self, first, count):
        answer = self._ask(
            lambda: self._client.read_input_registers(first, count=count, device_id=self.unit),
            f"registers {first} to {first + count - 1}",
            fits=lambda answer: len(getattr(answer, "registers", ())) == count,
        )
        return answer.registers

    def _ask(self, request, what, tries=None, fits=lambda answer: True):
        """Return the answer to one request; wait while busy, ask again when none comes.

        fits: whether an answer can be the one to this question.
        """
        reason = "no answer"
        busy_until_s = time.monotonic() + LONGEST_BUSY_S
        tried = tries = tries or TRIES
        while tries:
            tries -= 1
            self.requests += 1
            try:
                answer = request()
            except (ModbusException, OSError) as error:
                reason = "no answer" if self._client.connected else str(error)
                self._drain()
                continue
            if not answer.isError():
                if fits(answer):
                    return answer
                reason = "the answer to another question"
                self._drain()
                continue
            if answer.exception_code != SERVER_BUSY:
                raise self._refusal(answer.exception_code, what)
            reason = EXCEPTIONS[SERVER_BUSY]
            # Busy is an answer: it costs time, not a try.
            tries += time.monotonic() < busy_until_s
            time.sleep(BUSY_WAIT_S)
        raise NoAnswer(
            f"the board at {self.port} does not give {what}: {reason}"
            f" ({tried} tries); is it running, is the port the right one?"
        )

    def _refusal(self, code, what):
        kind = NoSuchRecord if code == ILLEGAL_ADDRESS else WireError
        why = EXCEPTIONS.get(code, f"exception {code}")
        return kind(f"the board at {self.port} does not give {what}: {why}")

    def _drain(self):
        """Throw away what still arrives, until the line is silent."""
        end = time.monotonic() + LONGEST_DRAIN_S
        while time.monotonic() < end and self._client.drain(SILENCE_S):
            pass


def _why_not(port):
    """Return one line that says why a port did not open, and what to try."""
    if maybe_tcp(port):
        return f"nothing answers at {port}: is the board on, is the address right?"
    there = [found.device for found in list_ports.comports()]
    if not Path(port).exists() and port not in there:
        seen = ", ".join(there) or "none"
        return f"there is no port {port} (serial ports here: {seen}): is the board plugged in?"
    if Path(port).exists() and not stat.S_ISCHR(Path(port).stat().st_mode):
        return f"{port} is not a serial port: name one such as /dev/ttyACM0 or COM3"
    return f"port {port} cannot be opened: is it in use, may this user open it?"


def _runs(rows):
    """Return the rows cut into runs of at most MOST_REGISTERS; no value is cut.

    Reserved registers between them read 0.
    """
    runs = [[rows[0]]]
    for row in rows[1:]:
        if row.end - runs[-1][0].address > MOST_REGISTERS:
            runs.append([])
        runs[-1].append(row)
    return runs


def _value(words, kind):
    data = b"".join(word.to_bytes(WORD_BYTES) for word in words)
    return int.from_bytes(data, signed=kind.startswith("i"))
