"""The loader: lets a person in, chooses the program, and resets whatever ends it.

Contract: leaves for the prompt only if a person presses the button at the start,
if maintenance was ordered, or if there is no program; outputs are then off and
no watchdog runs.  It is not replaced by an ordinary update, so it knows of a
program only its `run`.

A slot is a folder that holds program.mpy and `whole`, which is written last and
removed first.  A tree keeper/, as slots had before, is still started.
"""

import gc
import io
import os
import sys
import time

import machine
import micropython

BUTTON_GPIO = 15        # as in the table of pins; a test compares them
# A press at the start: held for HOLD_MS, let go before HOLD_MOST_MS, then open for OPEN_MS.
# A pair that is crushed stays closed, or chatters: that is nobody's wish.
HOLD_MS, HOLD_MOST_MS, OPEN_MS = 3000, 10000, 500
LOOK_MS = 20            # between two looks at the button
INTERRUPT = 3           # Ctrl-C, which a person at the prompt wants back
TRIES = 3               # starts that an update gets to show itself healthy
# Quick restarts that a program gets before the other slot's has its turn; the last of them
# is a start in its safe mode, as in keeper.boards.retry: a test compares.
ROUND = 3
# Garbage is collected after so many bytes: left to itself the heap ends in
# pieces too small for the journal's buffers (seen on an emulated board).
COLLECT_BYTES = 16384
ERROR_BYTES = 1000      # what is kept of the error that ended the last run; a read takes 1024
# For an error that comes when no memory is left: its text and two places of its traceback.
SPARE_BYTES = 256

# Reasons of a start, as in keeper.health; a test compares them.
POWER_ON, UNKNOWN, ORDERED, START_FAILED, GAVE_WAY = 0, 1, 2, 5, 7

# The record of restarts: 10 bits of mark, 4 bits of reason, 8 bits of count,
# below 2**30.  It lies in word 0 of the memory that outlives a reset.
MARK = 0x2D3 << 20
COUNT_MOST = 255


class Tail(io.IOBase):
    """A file that keeps the last ERROR_BYTES written to it, without asking for more memory."""

    def __init__(self):
        """Begin empty."""
        self.ring = bytearray(ERROR_BYTES)
        self.count = 0

    def write(self, data):
        """Take bytes; return how many."""
        for byte in data:
            self.ring[self.count % ERROR_BYTES] = byte
            self.count += 1
        return len(data)

    def pieces(self):
        """Return what was kept, as pieces in their order."""
        at = self.count % ERROR_BYTES
        ring = memoryview(self.ring)
        return (ring[:at],) if self.count < ERROR_BYTES else (ring[at:], ring[:at])


class Loader:
    """One start.  Attributes: root, folder, reset_reason, restarts, failure.

    folder: of the program that runs, where its settings lie too.  restarts:
    quick ones in a row before.  failure: the reason to keep if the program
    ends by an error or by itself; the program sets it.
    """

    def __init__(self, root=""):
        """Take the folder above everything; "" on a board."""
        self.root = root
        self.folder = root
        self.candidate = ""      # slot that runs and is not yet taken for good
        self.failure = START_FAILED
        self.reset_reason = POWER_ON
        self.restarts = 0

    # Letting a person in

    def is_pressed(self):
        """Return whether a person presses the button, from now on."""
        button = machine.Pin(BUTTON_GPIO, machine.Pin.IN, machine.Pin.PULL_UP)
        held_ms = open_ms = 0
        while held_ms < HOLD_MOST_MS and open_ms < OPEN_MS:
            time.sleep_ms(LOOK_MS)
            if button.value():
                if held_ms < HOLD_MS:
                    return False
                open_ms += LOOK_MS
            elif open_ms:
                return False
            else:
                held_ms += LOOK_MS
        return open_ms > 0

    def takes_flag(self):
        """Return whether maintenance was ordered; the order holds for one start."""
        return self._remove("/stay_out")

    def leave_flag(self):
        """Order that the next start leaves for the prompt."""
        self._write("/stay_out", "1")
        self.mark(ORDERED, 0)

    # Which program

    def choose(self):
        """Return the folder to import the program from, None if there is none.

        Counts the starts of an update and gives it up after TRIES.  A program
        that is no update gives way to the other slot's, round after round.
        """
        order = [self._read("/slot"), "", "a", "b"]
        trial = self._read("/slot_new")
        if len(trial) != 2 or trial[0] not in "ab" or trial[1] not in "0123456789":
            trial = ""
        elif int(trial[1]) <= TRIES:
            note = trial[0] + str(int(trial[1]) + 1)
            self._write("/slot_new", note)
            if int(trial[1]) < TRIES:
                order.insert(0, trial[0])
                self.candidate = trial[0]
            elif self._read("/slot_new") == note:  # given up; the note stays till a new update
                self.restarts = 0  # what restarted was the update
                self.mark(UNKNOWN, 0)
        for slot in order:
            if slot in ("", "a", "b"):
                self.folder = self.root + ("/" + slot if slot else "")
                if self.is_slot(self.folder) or self._is_there(self.folder + "/keeper"):
                    if slot != self.candidate or not slot:
                        self.candidate = ""  # it holds no program: nothing of it was tried
                        self._change(slot, trial[:1])
                    return self.folder or "/"
        return None

    def _change(self, slot, given_up):
        """Run the other slot in place of this one, in every other round of quick restarts.

        But only if it is whole, was not given up as an update, and has the same
        wiring and settings: nobody is there to see a pin drive something else, or
        limits that were changed come back.  No file says whose turn it is.
        """
        other = "b" if slot == "a" else "a"
        folder = self.root + "/" + other
        if max(0, self.restarts - 1) // ROUND % 2 and other != given_up and self.is_slot(folder):
            for name in ("/wiring", "/settings"):
                if self._read("/" + slot + name, "rb") != self._read("/" + other + name, "rb"):
                    return
            self.folder = folder
            self.candidate = other
            self.reset_reason = GAVE_WAY

    def is_slot(self, folder):
        """Return whether a folder holds a program that was written to its end."""
        return self._is_there(folder + "/whole") and self._is_there(folder + "/program.mpy")

    def confirm(self):
        """Take the running program for good: it has been healthy for minutes.

        If the pointer cannot be written, an update stays on trial.
        """
        self.restarts = 0
        self.mark(UNKNOWN, 0)
        if not self.candidate:
            return
        self._write("/slot.tmp", self.candidate)
        if self._read("/slot.tmp") != self.candidate:
            return
        try:
            os.rename(self.root + "/slot.tmp", self.root + "/slot")
        except OSError:
            return
        self._remove("/slot_new")
        self.candidate = ""

    # How often it restarted

    def begin(self):
        """Read why this start came and how many quick ones came before; count this one."""
        reason, count = self._recall()
        self.reset_reason = reason
        self.restarts = count + 1 if reason not in (POWER_ON, ORDERED) else 0
        if self.restarts > COUNT_MOST:
            self.restarts -= 2 * ROUND  # both slots go on having their turns
        self.mark(UNKNOWN, self.restarts)

    def mark(self, reason, count):
        """Keep the reason of the next start, should it come now, and the count so far."""
        count = min(count, COUNT_MOST)
        memory = _memory()
        if memory is None:
            self._write("/restarts", "%d %d" % (reason, count))
        else:
            memory[0] = MARK | reason << 8 | count

    def _recall(self):
        memory = _memory()
        if memory is not None:
            word = memory[0]
            if word >> 20 << 20 != MARK:
                return POWER_ON, 0
            return word >> 8 & 15, word & COUNT_MOST
        words = self._read("/restarts").split()
        if len(words) == 2 and words[0].isdigit() and words[1].isdigit():
            return int(words[0]), int(words[1])
        return POWER_ON, 0

    def keep_error(self, error):
        """Keep where the error came from that ended the program, for a person to read."""
        self.mark(self.failure, self.restarts)
        gc.collect()  # what the program held is free by now
        try:
            tail = Tail()
            sys.print_exception(error, tail)
            text = b"".join([bytes(piece) for piece in tail.pieces()])
        except (MemoryError, AttributeError):  # CPython has no print_exception
            text = ("%s: %s" % (type(error).__name__, error))[:ERROR_BYTES].encode()
        try:
            # A program that fails every few seconds must not wear the flash with it.
            if self._read("/last_error", "rb") != text.strip():
                with open(self.root + "/last_error", "wb") as file:
                    file.write(text)
        except OSError:
            pass

    # Files: none of them is worth a start

    def _read(self, name, mode="r"):
        try:
            with open(self.root + name, mode) as file:
                return file.read().strip()
        except (OSError, ValueError):
            return ""

    def _write(self, name, text):
        try:
            with open(self.root + name, "w") as file:
                file.write(text)
        except OSError:
            pass

    def _remove(self, name):
        """Remove a file; return whether it was there."""
        if not self._is_there(self.root + name):
            return False
        try:
            os.remove(self.root + name)
        except OSError:
            pass
        return True

    @staticmethod
    def _is_there(path):
        try:
            os.stat(path)
            return True
        except OSError:
            return False


def _memory():
    """Return the words that outlive a reset, None where there are none."""
    open_memory = getattr(machine, "mem_backup", None)  # since release 1.29
    return None if open_memory is None else open_memory()


def start(loader):
    """Run the program; return whether to leave for the prompt."""
    if loader.is_pressed() or loader.takes_flag():
        return True
    loader.begin()
    folder = loader.choose()
    if folder is None:
        return True
    sys.path.insert(0, folder)
    if hasattr(gc, "threshold"):
        gc.threshold(COLLECT_BYTES)
    if loader.is_slot(loader.folder):
        from program import run  # pyright: ignore[reportMissingImports] - a slot's
    else:
        from keeper.boards.start import run
    if run(loader) is False:  # it wants another start, to try again
        loader.mark(loader.failure, loader.restarts)
    else:  # maintenance was ordered
        loader.leave_flag()
    return False


def main(root=""):
    """Do all of it; returns only for the prompt."""
    micropython.kbd_intr(-1)  # a byte 3 in a frame must not stop the keeper
    spare = getattr(micropython, "alloc_emergency_exception_buf", None)
    if spare is not None:
        spare(SPARE_BYTES)
    leave = False
    try:
        loader = Loader(root)
        try:
            leave = start(loader)
        except BaseException as error:  # noqa: BLE001 - whatever it was, the board restarts
            loader.keep_error(error)
    finally:
        try:
            import boot  # drives every output off
            boot.safe()
        finally:
            if not leave:
                machine.reset()
    micropython.kbd_intr(INTERRUPT)


if __name__ == "__main__":
    main()
