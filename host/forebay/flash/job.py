"""One flash from beginning to end: ask, pull, leave, deploy, restart, wait.

Whatever ends it, the board runs a whole program again, or waits at its prompt
with its outputs off for the next flash.
"""

import time
from collections.abc import Callable
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Any

from forebay import ports
from forebay.errors import InputError
from forebay.flash import deploy, firmware, looking, replacing, rigfiles, running, slots
from forebay.flash.errors import FlashError
from forebay.flash.firmware import expected_hash
from forebay.flash.last_error import LAST_ERROR, in_one_line, readable
from forebay.flash.prompt import Prompt
from forebay.shelf import Shelf
from forebay.wire import pull
from keeper import VERSION, health

# How long a board takes from leaving its program to its prompt: a start.  A guess.
PROMPT_S = 20.0
RETRY_S = 0.5
INTERPRETER_LEAST = (1, 29)

Tell = Callable[[str, int, int], None]


@dataclass
class Job:
    """What is to be flashed, and how.

    port: of the board.  rig: a `forebay.rig.Rig`.  shelf: where the journal
    is pulled to, None = not pulled.  order: see `running.Order`.  stop: end
    what runs.  other_rig: the board may have been another rig's.  renew_loader:
    replace boot.py and main.py.  key: what orders will be signed with, None =
    the board's stays.  folder: firmware to take instead of forebay's own.  wait:
    stay till the slot is taken for good.  past: of the board that this one replaces.
    """

    port: str
    rig: Any
    shelf: Shelf | None
    order: running.Order
    stop: bool = False
    other_rig: bool = False
    renew_loader: bool = False
    key: bytes | None = field(default=None, repr=False)
    folder: Path | None = None
    wait: bool = False
    past: replacing.Past | None = None
    tell: Tell = lambda stage, done, total: None


@dataclass
class Report:
    """What a flash did: see docs/json.md.  Numbers are [-] where their name has no unit."""

    port: str
    rig_id: int
    interpreter: str
    build: str
    slot: str
    firmware_version: int
    firmware_digest: str
    changed: bool
    files: int
    bytes_B: int
    copied: int
    removed: int
    board_files: list[str]
    loader: list[str]
    pulled: dict[str, Any] | None
    replaces: str | None
    boot: int
    safe_reason: int
    trial_s: float
    away_s: float
    time_s: float
    notes: list[str]

    def as_json(self) -> dict[str, Any]:
        """Return the report as documented in docs/json.md."""
        return asdict(self)

    def lines(self) -> list[str]:
        """Return the report as lines for a terminal."""
        major, minor, patch = VERSION
        found = [f"board: rig {self.rig_id} at {self.port}, interpreter {self.interpreter}"]
        if self.changed:
            found.append(f"firmware {major}.{minor}.{patch} with its settings in slot"
                         f" {self.slot}: {self.files} files, {self.bytes_B} bytes sent,"
                         f" {self.copied} files copied on the board")
        else:
            found.append(f"firmware {major}.{minor}.{patch} in slot {self.slot}: nothing had to"
                         " change")
        written = [*self.board_files, *self.loader]
        if written:
            found.append("written: " + ", ".join(written))
        if self.pulled:
            found.append(f"pulled before: {self.pulled['new_rows']} rows,"
                         f" {self.pulled['new_events']} events")
        found.append(f"healthy: start {self.boot}; nobody watched the rig for"
                     f" {self.away_s:.0f} s, with its outputs off")
        if self.trial_s:
            found.append(f"on trial for {self.trial_s / 60:.0f} min: a program that does not stay"
                         f" up so long in {slots.TRIES} starts is given up with its settings and"
                         " wiring for the slot before; `forebay flash --wait` stays for it")
        return found + self.notes


def flash(job: Job) -> Report:
    """Flash a board; return what was done once its keeper runs again.

    Raises FlashError, WireError or PortError in one line.
    """
    began_s = time.monotonic()
    ports.check(job.port)
    slot_files = rigfiles.of_slot(job.rig)
    number = ports.serial_number(job.port)
    job.tell("looking", 0, 1)
    live = running.maybe_greeting(job.port)
    pulled = None if live is None else _leave_program(job, live)
    away_s = time.monotonic()
    prompt = _open_prompt(ports.same_board(job.port, number), pulled is not None)
    done, identity, wanted = _deploy(job, prompt, slot_files, live)
    port, live = _wait_start(job, prompt.port, number, done)
    _check_start(job, port, live, wanted, done)
    away_s = round(time.monotonic() - away_s - live["uptime_ds"] / 10, 1)
    _note_past(job, port, done)
    port, live, trial_s = _stay(job, port, live, wanted, done)
    return Report(
        port=port,
        rig_id=live["rig_id"],
        interpreter=identity.version,
        build=identity.build,
        slot=done.slot,
        firmware_version=live["firmware_version"],
        firmware_digest=firmware.hashes(wanted.program.files)[slots.PROGRAM],
        changed=done.changed,
        files=done.files,
        bytes_B=done.sent_B,
        copied=done.copied,
        removed=done.removed,
        board_files=done.board_files,
        loader=done.loader,
        pulled=pulled or None,
        replaces=job.past and job.past.board,
        boot=live["boot"],
        safe_reason=live["safe_reason"],
        trial_s=trial_s,
        away_s=away_s,
        time_s=round(time.monotonic() - began_s, 1),
        notes=done.notes,
    )


def _leave_program(job, live):
    """Bring the running keeper to the prompt; return what was pulled.  live: its GREETING."""
    is_other = live["rig_id"] != job.rig.rig_id
    knows_itself = not live["safe_reason"]
    if is_other and knows_itself and not job.other_rig:
        raise FlashError(f"the board at {job.port} belongs to rig {live['rig_id']}, the"
                         f" description {job.rig.source_name} to rig {job.rig.rig_id}: if it"
                         " shall move, say --other-rig")
    pulled = {}
    # A board without its settings does not know whose journal it holds: pulled afterwards.
    if job.shelf is not None and (knows_itself or not is_other):
        pulled = pull(job.port, job.shelf, lambda done, total: job.tell("pull", done, total)
                      ).as_json()
    running.leave(job.port, job.stop, job.order, job.tell)
    return pulled


def _open_prompt(port, ran):
    """Return the board's prompt; a board that has just left its program takes a while."""
    end = time.monotonic() + (PROMPT_S if ran else 0)
    while True:
        try:
            return Prompt(port)
        except FlashError as error:
            if time.monotonic() > end:
                if ran:
                    raise
                raise FlashError(f"no keeper answers at {port}, and {error}") from error
        time.sleep(RETRY_S)


def _deploy(job, prompt, slot_files, live):
    """Deploy and restart; whatever goes wrong, the board is restarted if it is still there.

    live: GREETING of the keeper that ran, None if none did.
    """
    try:
        identity = prompt.identity()
        loader = firmware.loader(job.folder)
        wanted = looking.Wanted(firmware.program(identity.mpy, job.folder,
                                                rigfiles.numbers_of(slot_files)), slot_files,
                               rigfiles.of_board(job.key), loader, job.renew_loader)
        found = looking.look(prompt, wanted)
        stands_in = 0 if live is None or live["reset_reason"] != health.GAVE_WAY else (
            live["firmware_hash"])
        if job.past is not None:
            replacing.give(prompt, identity.chip, job.past)
        if stands_in:
            deploy.take_stand_in(prompt, found, stands_in)
        done = deploy.deploy(prompt, wanted, found, job.tell)
        if stands_in:
            done.notes.append("before, one of the board's two programs did not stay up: the other"
                              " ran in its place")
        if done.moved_pointer:  # else an error of the program before would look like its own
            prompt.remove(LAST_ERROR)
    except BaseException:
        prompt.restart()
        raise
    _note_interpreter(identity, done)
    prompt.restart()
    return done, identity, wanted


def _note_interpreter(identity, done):
    numbers = tuple(int(part) for part in identity.version.split(".")[:2])
    if numbers < INTERPRETER_LEAST:
        least = ".".join(map(str, INTERPRETER_LEAST))
        done.notes.append(f"its interpreter is {identity.version}; the keeper is made for"
                          f" {least} and later")


def _wait_start(job, port, number, done):
    """Return (port, live values) of the keeper once it has run for a while.

    Raises FlashError, which says what is on the board all the same, if it
    does not say hello.
    """
    try:
        return running.wait_healthy(port, number, job.tell)
    except running.NoHelloError as failure:
        what = "was written and read back" if done.changed else "had to change nowhere"
        try:
            with Prompt(ports.same_board(port, number)) as prompt:
                error = f"; {_last_error(prompt)}"
        except FlashError:  # it gives no prompt, so it may still start: that is for `watch`
            error = ""
        raise FlashError(f"the program with its settings {what} (slot {done.slot}), but {failure}"
                         f"{error}: see `forebay watch`") from failure


def _note_past(job, port, done):
    """Let the shelf know the board that took another's place, and from when on."""
    if job.past is None:
        return
    if job.shelf is not None:
        pull(port, job.shelf)
    done.notes.append(job.past.said())


def _stay(job, port, live, wanted, done):
    """Return (port, live values, time that the slot is still on trial [s]), waited for if asked.

    Raises FlashError if what was written did not stay up.
    """
    if not done.is_on_trial:
        return port, live, 0.0
    if not job.wait:
        return port, live, max(1.0, running.TRIAL_S - live["uptime_ds"] / 10)
    number, notes = ports.serial_number(port), list(done.notes)
    try:
        port, live = running.wait_trial(port, number, job.tell,
                                        lambda found: _is_deployed(found, wanted, done))
    except running.NoHelloError as failure:
        raise FlashError(f"the program in slot {done.slot} started, but was not taken for good:"
                         f" {failure}; see `forebay watch`") from failure
    done.notes.clear()  # of its safe mode, as it was then
    _check_start(job, port, live, wanted, done)
    done.notes[:0] = [note for note in notes if note not in done.notes]
    if not running.lacks(port):
        return port, live, 0.0
    done.notes.append("the slot stays on trial, as its keeper lacks something: it is taken for"
                      " good by a start that has its rig and its journal")
    return port, live, float(running.TRIAL_S)


def _last_error(prompt):
    """Return, in words, the error that a board kept of the new program; it is restarted."""
    data = prompt.maybe_read(LAST_ERROR)
    prompt.restart()
    if not data:
        return "it kept no error"
    return f"its last error: {in_one_line(readable(data.decode(errors='replace')))}"


def _check_start(job, port, live, wanted, done):
    """Raise FlashError if what runs is not what was deployed; note what else is wrong."""
    if not _is_deployed(live, wanted, done):
        raise FlashError("the new program did not stay up: the board went back to the one it"
                         f" had, and runs it; {_error_of_running(job, port)}")
    if live["settings_crc"] != rigfiles.settings_crc(wanted.slot_files):
        done.notes.append("the keeper does not run with the settings that were sent: it found"
                          " them unusable")
    if live["safe_reason"]:
        done.notes.append("the keeper stands in its safe mode, everything off: see `forebay"
                          " watch`")


def _is_deployed(live, wanted, done):
    """Return whether the slot that was written is the one that runs.

    Program and settings are told by their hashes, unless only the wiring
    changed: then by the start, as the loader gives a slot up after restarts.
    """
    if live["firmware_hash"] not in (0, expected_hash(wanted.program)):
        return False
    if not done.moved_pointer:
        return True
    has_settings = live["settings_crc"] == rigfiles.settings_crc(wanted.slot_files)
    shows_it = (slots.PROGRAM in done.changes and live["firmware_hash"]) or (
        slots.SETTINGS in done.changes and has_settings)
    return bool(shows_it) or running.is_first_start(live)


def _error_of_running(job, port):
    """Return, in words, the error of the new program on a board whose old one runs again.

    That program leaves for a moment to have it read, if nothing of the rig runs.
    """
    number = ports.serial_number(port)
    said = f"its last error is in {LAST_ERROR}"
    try:
        running.leave(port, False, job.order, job.tell)
        with _open_prompt(ports.same_board(port, number), True) as prompt:
            said = _last_error(prompt)
        running.wait_healthy(port, number, job.tell)
    except InputError as failure:
        return f"{said}; {failure}"
    return said
