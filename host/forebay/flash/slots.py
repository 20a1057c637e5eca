"""Which slot is written, and what must change in it: decisions only, nothing is done here.

A slot holds a program with the settings and wiring that it runs with, and
`whole`, which says that it was read back.  The loader (firmware/main.py)
reads two small files: `/slot`, the slot that is taken for good, and
`/slot_new`, the one on trial with the starts it had, or given up after TRIES.
Before a slot is written the other one is taken for good, so that whatever
happens meanwhile a whole one is there.

A slot that is taken for good and fails at each start gives way to the other
for a round of starts, unless that was given up; no file says so.

Slots of before held a tree, keeper/, and settings and wiring lay in /rig.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

SLOTS = ("a", "b")
POINTER, TRIAL = "/slot", "/slot_new"
FIRST_TRIAL = "0"  # starts it had
TRIES = 3  # starts that the loader gives it; a test compares
# Files of a slot.  WHOLE has two lines: the slot's digest, SHA-256 of PROGRAM.
PROGRAM, SETTINGS, WIRING, WHOLE = "program.mpy", "settings", "wiring", "whole"
# The tree that a slot of before held, and its name while it is removed.
OLD_TREE, GONE = "keeper", "gone"


@dataclass
class Tree:
    """Files [path -> SHA-256] and folders [paths] below some folder."""

    files: dict[str, str] = field(default_factory=dict)
    folders: list[str] = field(default_factory=list)

    def inside(self, folder: str) -> dict[str, str]:
        """Return path inside a folder -> SHA-256."""
        top = folder + "/"
        return {path.removeprefix(top): value for path, value in self.files.items()
                if path.startswith(top)}

    def moved(self, folder: str, target: str) -> "Tree":
        """Return the same with one folder under another name; what had that name is gone."""
        def new(path):
            return target + path.removeprefix(folder) if _is_in(path, folder) else path

        return Tree({new(path): value for path, value in self.files.items()
                     if not _is_in(path, target)},
                    [new(path) for path in self.folders if not _is_in(path, target)])


@dataclass(frozen=True)
class Status:
    """What a board holds: pointer and trial as the loader reads them, slots with a program."""

    pointer: str
    trial: str
    programs: tuple[str, ...]  # of "", "a", "b": "" is a tree of before at the root


@dataclass(frozen=True)
class Choice:
    """keep: the slot that stays, None if there is none; write: the slot to write."""

    keep: str | None
    write: str


def choose(status: Status) -> Choice:
    """Return which slot stays and which one is written.

    What stays is what the loader would run once it gave up any trial; a board
    that never took a program for good keeps the one on trial.
    """
    trial = maybe_trial(status)
    order = [status.pointer, "" if trial is None else trial, "", *SLOTS]
    keep = next((slot for slot in order if slot in status.programs), None)
    return Choice(keep, "b" if keep == "a" else "a")


def running(status: Status) -> str | None:
    """Return the slot that the loader runs at the next start, None if there is none."""
    trial = maybe_trial(status)
    return choose(status).keep if trial is None else trial


def maybe_given_up(status: Status) -> str | None:
    """Return the slot that was given up as an update, None if there is none."""
    slot, starts = status.trial[:1], status.trial[1:]
    return slot if slot in SLOTS and starts.isdecimal() and int(starts) >= TRIES else None


def in_place(status: Status, programs: Mapping[str, int], running_hash: int) -> Status:
    """Return the status of a board whose slot taken for good gave way to the other.

    programs: slot -> hash of its program; running_hash: of the one that runs.
    As the other is healthy it counts as the one taken for good.  Nothing changes
    where both hold the same, or the loader has moved the pointer already.
    """
    running_slots = [slot for slot in status.programs if programs.get(slot) == running_hash]
    if len(running_slots) != 1:
        return status
    return replace(status, pointer=running_slots[0])


def maybe_trial(status: Status) -> str | None:
    """Return the slot that has starts left on trial, None if there is none."""
    trial = status.trial
    has_starts = len(trial) == 2 and trial[1] in map(str, range(TRIES))
    return trial[0] if has_starts and trial[0] in status.programs else None


@dataclass(frozen=True)
class Change:
    """What makes a slot hold a program.

    folders: to make.  copy: path -> where the same file lies in the other
    slot.  write: path -> bytes.  remove, remove_folders: what does not belong.
    """

    folders: tuple[str, ...]
    copy: Mapping[str, str]
    write: Mapping[str, bytes]
    remove: tuple[str, ...]
    remove_folders: tuple[str, ...]


def change(slot: str, wanted: Mapping[str, bytes], wanted_hashes: Mapping[str, str],
           there: Tree, others: Mapping[str, str]) -> Change:
    """Return what must change below "/slot" to hold exactly the wanted files.

    wanted, wanted_hashes: path inside the slot -> bytes, SHA-256.  there:
    what the slot holds.  others: path on the board -> SHA-256 of files of the
    other slot, from which a file may be copied on the board itself.
    """
    top = f"/{slot}/"
    target = {top + path: path for path in sorted(wanted)}
    parents = {parent for path in target for parent in _parents(path)}
    lacking = {full: path for full, path in target.items()
               if there.files.get(full) != wanted_hashes[path]}
    sources = {value: path for path, value in others.items()}
    copy = {full: sources[wanted_hashes[path]] for full, path in lacking.items()
            if wanted_hashes[path] in sources}
    return Change(
        tuple(sorted(parents - set(there.folders), key=len)),
        copy,
        {full: wanted[path] for full, path in lacking.items() if full not in copy},
        tuple(sorted(set(there.files) - set(target))),
        tuple(sorted(set(there.folders) - parents, key=len, reverse=True)),
    )


def _is_in(path, folder):
    return path == folder or path.startswith(folder + "/")


def _parents(path):
    parts = path.split("/")
    return ["/".join(parts[:count]) for count in range(2, len(parts))]
