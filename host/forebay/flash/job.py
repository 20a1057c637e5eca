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
from forebay.flash import deploy, firmware, rigfiles, running
from forebay.flash.errors import FlashError
from forebay.flash.prompt import Prompt
from forebay.shelf import Shelf
from forebay.wire import pull
from keeper import VERSION
from keeper.identity import tree_hash

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
    the board's stays.  folder: firmware to take instead of forebay's own.
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
    tell: Tell = lambda stage, done, total: None


@dataclass
class Report:
    """What a flash did: see docs/json.md.  Numbers are [-] where their name has no unit."""

    port: str
    rig_id: int
    interpreter: str
    build: str
    slot: str
    compiled: bool
    firmware_version: int
    firmware_digest: str
    changed: bool
    files: int
    bytes_B: int
    copied: int
    removed: int
    rig_files: list[str]
    loader: list[str]
    pulled: dict[str, Any] | None
    boot: int
    safe_reason: int
    away_s: float
    time_s: float
    notes: list[str]

    def as_json(self) -> dict[str, Any]:
        """Return the report as documented in docs/json.md."""
        return asdict(self)

    def lines(self) -> list[str]:
        """Return the report as lines for a terminal."""
        major, minor, patch = VERSION
        how = "byte code" if self.compiled else "source"
        found = [f"board: rig {self.rig_id} at {self.port}, interpreter {self.interpreter}"]
        if self.changed:
            found.append(f"firmware {major}.{minor}.{patch} in slot {self.slot} as {how}:"
                         f" {self.files} files, {self.bytes_B} bytes sent,"
                         f" {self.copied} files copied on the board")
        else:
            found.append(f"firmware {major}.{minor}.{patch} in slot {self.slot}: nothing had to"
                         " change")
        written = [*self.rig_files, *self.loader]
        if written:
            found.append("written: " + ", ".join(written))
        if self.pulled:
            found.append(f"pulled before: {self.pulled['new_rows']} rows,"
                         f" {self.pulled['new_events']} events")
        found.append(f"healthy: start {self.boot}; nobody watched the rig for"
                     f" {self.away_s:.0f} s, with its outputs off")
        return found + self.notes


def flash(job: Job) -> Report:
    """Flash a board; return what was done once its keeper runs again.

    Raises FlashError, WireError or PortError in one line.
    """
    began_s = time.monotonic()
    ports.check(job.port)
    rig_files = rigfiles.of_rig(job.rig, job.key)
    number = ports.serial_number(job.port)
    pulled = _leave_program(job)
    away_s = time.monotonic()
    prompt = _open_prompt(ports.same_board(job.port, number), pulled is not None)
    done, identity, wanted = _deploy(job, prompt, rig_files)
    port, live = running.wait_healthy(prompt.port, number, job.tell)
    try:
        _check_start(live, wanted, done)
    except FlashError as failure:
        _put_back(job, port, live, done, failure)
        raise
    return Report(
        port=port,
        rig_id=live["rig_id"],
        interpreter=identity.version,
        build=identity.build,
        slot=done.slot,
        compiled=wanted.program.compiled,
        firmware_version=live["firmware_version"],
        firmware_digest=wanted.program.digest,
        changed=done.changed,
        files=done.files,
        bytes_B=done.sent_B,
        copied=done.copied,
        removed=done.removed,
        rig_files=done.rig_files,
        loader=done.loader,
        pulled=pulled or None,
        boot=live["boot"],
        safe_reason=live["safe_reason"],
        away_s=round(time.monotonic() - away_s - live["uptime_ds"] / 10, 1),
        time_s=round(time.monotonic() - began_s, 1),
        notes=done.notes,
    )


def _leave_program(job):
    """Bring a running keeper to the prompt; return what was pulled, None if none ran."""
    job.tell("looking", 0, 1)
    live = running.maybe_greeting(job.port)
    if live is None:
        return None
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


def _deploy(job, prompt, rig_files):
    """Deploy and restart; whatever goes wrong, the board is restarted if it is still there."""
    try:
        identity = prompt.identity()
        loader = firmware.loader(job.folder)
        wanted = deploy.Wanted(firmware.program(identity.mpy, job.folder), rig_files, loader,
                               job.renew_loader)
        found = deploy.look(prompt, wanted)
        done = deploy.deploy(prompt, wanted, found, job.tell)
    except BaseException:
        prompt.restart()
        raise
    _note_interpreter(identity, wanted, done)
    prompt.restart()
    return done, identity, wanted


def _note_interpreter(identity, wanted, done):
    numbers = tuple(int(part) for part in identity.version.split(".")[:2])
    if numbers < INTERPRETER_LEAST:
        least = ".".join(map(str, INTERPRETER_LEAST))
        done.notes.append(f"its interpreter is {identity.version}; the keeper is made for"
                          f" {least} and later")
    if not wanted.program.compiled:
        done.notes.append("sent as source, as no mpy-cross here writes what the board reads:"
                          " it starts more slowly and takes more room")


def _put_back(job, port, live, done, failure):
    """Give an old program that came back its own settings, if it cannot use the new ones.

    Raises FlashError with both reasons if it does not take them.
    """
    before = {path: data for path, data in done.before.items()
              if path in (rigfiles.SETTINGS, rigfiles.WIRING) and data is not None}
    if not live["safe_reason"] or not before:
        return
    job.tell("putting the old settings back", 0, 1)
    number = ports.serial_number(port)
    try:
        running.leave(port, True, job.order, job.tell)
        with _open_prompt(ports.same_board(port, number), True) as prompt:
            for path, data in before.items():
                prompt.replace(path, data)
            prompt.restart()
        running.wait_healthy(port, number, job.tell)
    except InputError as error:
        raise FlashError(f"{failure}; it stands in its safe mode, as its old settings could not"
                         f" be put back: {error}") from error


def expected_hash(program: firmware.Program) -> int:
    """Return the hash [u64] that the board publishes of a program: of what is below keeper/."""
    files = [(path.removeprefix("keeper/"), bytes.fromhex(value))
             for path, value in firmware.hashes(program.files).items()]
    return tree_hash(files)


def _check_start(live, wanted, done):
    """Raise FlashError if what runs is not what was deployed; note what else is wrong."""
    published = live["firmware_hash"]
    if published:
        is_new = published == expected_hash(wanted.program)
    else:
        is_new = running.is_first_start(live) or not done.moved_pointer
    if not is_new:
        raise FlashError("the new program did not stay up: the board went back to the one it"
                         " had, and runs it; its last error is in /last_error")
    if live["settings_crc"] != rigfiles.settings_crc(dict(wanted.rig_files)):
        done.notes.append("the keeper does not run with the settings that were sent: it found"
                          " them unusable")
    if live["safe_reason"]:
        done.notes.append("the keeper stands in its safe mode, everything off: see `forebay"
                          " watch`")
