"""Puts a program, the rig's files and the loader onto a board at its prompt, step by step.

Order is everything here.  Until the pointer moves the board runs what it ran;
the pointer moves by one rename, after everything has been read back.
"""

import hashlib
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

from forebay.flash import slots
from forebay.flash.errors import FlashError
from forebay.flash.firmware import Program, digest, hashes
from forebay.flash.prompt import Prompt
from keeper import segments

# Lies in a slot that was read back, and says what it held then: a slot that was cut off
# in the middle, or changed since, does not fit it.
WHOLE = "whole"
# Kept free beside what is written, for the file system's own moves [blocks]: half of
# what the journal leaves free, so that a program of the same size always fits.
SPARE_BLOCKS = segments.SPARE_BLOCKS // 2
FOLDER_BLOCKS = 2
# Files below this lie in their folder and take no block: littlefs with a cache of 1024 bytes
# and blocks of 4096 keeps files up to an eighth of a block there.
INLINE_BYTES = 512

Tell = Callable[[str, int, int], None]


@dataclass
class Wanted:
    """What the board shall hold.

    rig_files: path -> bytes, of settings, wiring and key; loader: path -> bytes.
    """

    program: Program
    rig_files: Mapping[str, bytes]
    loader: Mapping[str, bytes]
    renew_loader: bool = False


@dataclass
class Found:
    """What the board holds before anything is changed."""

    standing: slots.Standing
    slot_files: dict[str, slots.Tree]
    others: dict[str, str]  # path -> SHA-256 of loader and rig files

    def program(self, slot: str) -> dict[str, str]:
        """Return path inside a slot -> SHA-256."""
        top = f"/{slot}/"
        return {path.removeprefix(top): value
                for path, value in self.slot_files[slot].files.items()}


@dataclass
class Done:
    """What was done: slot that holds the program, files and bytes sent, what else changed.

    copied: files copied on the board itself, from its other slot.  before: the
    rig's files as they were, None where there was none.
    """

    slot: str = ""
    files: int = 0
    sent_B: int = 0
    copied: int = 0
    removed: int = 0
    rig_files: list[str] = field(default_factory=list)
    loader: list[str] = field(default_factory=list)
    moved_pointer: bool = False
    notes: list[str] = field(default_factory=list)
    before: dict[str, bytes | None] = field(default_factory=dict, repr=False)

    @property
    def changed(self) -> bool:
        """Whether anything on the board is another than before."""
        return bool(self.files or self.copied or self.removed or self.rig_files or self.loader
                    or self.moved_pointer)


def look(prompt: Prompt, wanted: Wanted) -> Found:
    """Return what the board holds of what is wanted."""
    trees = {slot: prompt.tree(f"/{slot}") for slot in slots.SLOTS}
    pointer = _small(prompt, slots.POINTER)
    trial = _small(prompt, slots.TRIAL)
    programs = [slot for slot, tree in trees.items()
                if _is_whole(slot, tree) or slot in (pointer, trial[:1])
                and f"/{slot}/keeper" in tree.folders]
    if prompt.tree("/keeper").files:
        programs.append("")
    others = prompt.hashes([*wanted.loader, *wanted.rig_files])
    return Found(slots.Standing(pointer, trial, tuple(programs)), trees, others)


def _small(prompt, path):
    return (prompt.maybe_read(path) or b"").decode(errors="replace").strip()


def _is_whole(slot, tree):
    """Return whether a slot holds what it held when it was read back; forget its mark."""
    said = tree.files.pop(f"/{slot}/{WHOLE}", "")
    top = f"/{slot}/"
    held = {path.removeprefix(top): value for path, value in tree.files.items()}
    return said == hashlib.sha256(digest(held).encode()).hexdigest()


def deploy(prompt: Prompt, wanted: Wanted, found: Found, tell: Tell) -> Done:
    """Make the board hold what is wanted; return what was done.

    Raises FlashError where it cannot be done, before the pointer has moved.
    """
    _check_owner(wanted, found)
    done = Done()
    held = slots.running(found.standing)
    target = hashes(wanted.program.files)
    if held in slots.SLOTS and found.program(held) == target:
        done.slot = held
    else:
        _fill_slots(prompt, wanted, found, target, tell, done)
    _write_rig_files(prompt, wanted, found, tell, done)
    if done.moved_pointer:
        tell("pointer", 1, 1)
        prompt.replace(slots.TRIAL, (done.slot + slots.FIRST_TRIAL).encode())
    _write_loader(prompt, wanted, found, tell, done)
    return done


def _check_owner(wanted, found):
    """Keep another program that somebody put on this board."""
    main = "/main.py"
    strange = main in found.others and found.others[main] != hashes(wanted.loader)[main]
    if strange and not found.standing.programs and not wanted.renew_loader:
        raise FlashError("the board holds another program (main.py) and no keeper: save it if"
                         " you need it, then flash with --loader to replace it")


def _fill_slots(prompt, wanted, found, target, tell, done):
    """Make the slot that does not stay hold the program, and read it back.

    On a board without any program both slots are filled: else the journal
    would take the room that the first update needs.
    """
    choice = slots.choose(found.standing)
    _keep(prompt, found.standing, choice.keep)
    kept = found.slot_files.get(choice.keep or "", slots.Tree()).files
    _fill(prompt, choice.write, wanted, found.slot_files[choice.write], kept, tell, done)
    if choice.keep is None:
        written = {f"/{choice.write}/{path}": value for path, value in target.items()}
        other = next(slot for slot in slots.SLOTS if slot != choice.write)
        _fill(prompt, other, wanted, found.slot_files[other], written, tell, done)
    done.slot = choice.write
    done.moved_pointer = True


def _fill(prompt, slot, wanted, there, sources, tell, done):
    """Make one slot hold the program; sources: files on the board that may be copied."""
    target = hashes(wanted.program.files)
    change = slots.change(slot, wanted.program.files, target, there, sources)
    _clear(prompt, change, there)
    _check_room(prompt, change, wanted, slot)
    for path in change.folders:
        prompt.make_folder(path)
    for place, (path, source) in enumerate(change.copy.items()):
        tell("copy on the board", place, len(change.copy))
        prompt.copy(source, path)
    total = sum(map(len, change.write.values()))
    for path, data in change.write.items():
        tell("copy", done.sent_B, total)
        prompt.write(path, data)
        done.files += 1
        done.sent_B += len(data)
    done.copied += len(change.copy)
    done.removed += len(change.remove)
    tell("verify", 0, 1)
    _verify_slot(prompt, slot, target)


def _clear(prompt, change, there):
    """Make room: what does not belong goes, and what will be written anew."""
    for path in change.remove:
        prompt.remove(path)
    for path in [*change.copy, *change.write]:
        if path in there.files:
            prompt.remove(path)
    for path in change.remove_folders:
        prompt.remove_folder(path)


def _verify_slot(prompt, slot, target):
    top = f"/{slot}/"
    there = {path.removeprefix(top): value
             for path, value in prompt.tree(f"/{slot}").files.items() if path != top + WHOLE}
    if there != target:
        wrong = sorted(path for path in there.keys() | target.keys()
                       if there.get(path) != target.get(path))
        raise FlashError(f"{wrong[0]} is not on the board as it was sent ({len(wrong)} files):"
                         " nothing was switched over; try again")
    prompt.replace(top + WHOLE, digest(target).encode())


def _keep(prompt, standing, keep):
    """Take the slot that stays for good, and end any trial, before the other is written."""
    if keep is None:
        prompt.remove(slots.TRIAL)
        return
    if standing.pointer != keep:
        prompt.replace(slots.POINTER, keep.encode())
    if standing.trial:
        prompt.remove(slots.TRIAL)


def _check_room(prompt, change, wanted, slot):
    """Refuse what does not fit, before anything of it is written."""
    identity = prompt.identity()
    if not identity.block_bytes:
        return
    top = f"/{slot}/"
    sizes = [len(wanted.program.files[path.removeprefix(top)])
             for path in [*change.copy, *change.write]]
    needed = SPARE_BLOCKS + FOLDER_BLOCKS * len(change.folders) + sum(
        -(-size // identity.block_bytes) for size in sizes if size > INLINE_BYTES)
    if needed > identity.free_blocks:
        kib = identity.block_bytes / 1024
        raise FlashError(
            f"the board has {identity.free_blocks * kib:.0f} KiB free, the program needs"
            f" {needed * kib:.0f} KiB: its other program and its journal take the rest; pull the"
            " journal, then remove the oldest files in /journal")


def _write_rig_files(prompt, wanted, found, tell, done):
    """Write what the rig is, each file whole, those that differ."""
    target = hashes(wanted.rig_files)
    changed = [path for path in target if found.others.get(path) != target[path]]
    for folder in sorted({path.rpartition("/")[0] for path in changed} - {""}):
        prompt.make_folder(folder)
    for path in changed:
        tell("settings", len(done.rig_files), len(changed))
        done.before[path] = prompt.maybe_read(path)
        prompt.replace(path, wanted.rig_files[path])
        done.rig_files.append(path)
    _verify(prompt, {path: target[path] for path in changed})


def _write_loader(prompt, wanted, found, tell, done):
    """Write the loader where it is missing, or if it was asked for; main.py last."""
    target = hashes(wanted.loader)
    for path in sorted(wanted.loader):
        there = found.others.get(path)
        if there == target[path]:
            continue
        if there is not None and not wanted.renew_loader:
            done.notes.append(f"the board's {path} is another than this forebay's; --loader"
                              " replaces it")
            continue
        tell("loader", len(done.loader), len(wanted.loader))
        prompt.write(path + ".new", wanted.loader[path])
        _verify(prompt, {path + ".new": target[path]})
        prompt.rename(path + ".new", path)
        done.loader.append(path)


def _verify(prompt, target):
    there = prompt.hashes(target)
    for path, value in target.items():
        if there.get(path) != value:
            raise FlashError(f"{path} is not on the board as it was sent; try again")
