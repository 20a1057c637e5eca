"""What a board shall hold, and what it holds: told apart before anything is changed."""

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass

from forebay.flash import rigfiles, slots
from forebay.flash.firmware import Program, digest, short_hash
from forebay.flash.prompt import Prompt


@dataclass
class Wanted:
    """What the board shall hold.

    slot_files: path inside the slot -> bytes, of settings and wiring.
    board_files: path -> bytes, of the key.  loader: path -> bytes.
    """

    program: Program
    slot_files: Mapping[str, bytes]
    board_files: Mapping[str, bytes]
    loader: Mapping[str, bytes]
    renew_loader: bool = False

    @property
    def slot(self) -> dict[str, bytes]:
        """Path inside the slot -> bytes of all that it shall hold, `whole` excepted."""
        return {**self.program.files, **self.slot_files}


@dataclass
class Found:
    """What the board holds before anything is changed.

    trees: of each slot, `whole` excepted; whole: SHA-256 of that, "" = none.
    A slot whose files are not what they were when they were read back counts as
    empty.  before: slots of `status.programs` that hold a tree of before.  others:
    path -> SHA-256 of loader and files below /rig.
    """

    status: slots.Status
    trees: dict[str, slots.Tree]
    whole: dict[str, str]
    before: tuple[str, ...]
    others: dict[str, str]

    def programs(self) -> dict[str, int]:
        """Return slot -> hash of its program file, as a keeper publishes it [u64]."""
        paths = {slot: f"/{slot}/{slots.PROGRAM}" for slot in slots.SLOTS}
        return {slot: short_hash(self.trees[slot].files[path]) for slot, path in paths.items()
                if path in self.trees[slot].files}

    def holds(self, slot: str | None, target: Mapping[str, str]) -> bool:
        """Return whether a slot holds exactly files of these SHA-256, and says so."""
        return (slot in slots.SLOTS and self.trees[slot].inside(f"/{slot}") == target
                and self.whole[slot] == sha256(whole_text(target)))


def whole_text(target: Mapping[str, str]) -> bytes:
    """Return what `whole` says of a slot; target: path inside it -> SHA-256."""
    return f"{digest(target)}\n{target[slots.PROGRAM]}\n".encode()


def look(prompt: Prompt, wanted: Wanted) -> Found:
    """Return what the board holds of what is wanted."""
    trees = {slot: prompt.tree(f"/{slot}") for slot in slots.SLOTS}
    whole = {slot: tree.files.pop(f"/{slot}/{slots.WHOLE}", "") for slot, tree in trees.items()}
    pointer = _small(prompt, slots.POINTER)
    trial = _small(prompt, slots.TRIAL)
    programs, before = [], []
    for slot, tree in trees.items():
        inside = tree.inside(f"/{slot}")
        if slots.PROGRAM in inside and whole[slot] == sha256(whole_text(inside)):
            programs.append(slot)
        elif f"/{slot}/{slots.OLD_TREE}" in tree.folders and (
                slot in (pointer, trial[:1]) or _was_whole(slot, tree, whole[slot])):
            before.append(slot)
    if prompt.tree(f"/{slots.OLD_TREE}").files:
        before.append("")
    others = prompt.hashes([*wanted.loader, *wanted.board_files, *rigfiles.OLD_PATHS])
    status = slots.Status(pointer, trial, tuple(sorted([*programs, *before])))
    return Found(status, trees, whole, tuple(before), others)


def _small(prompt, path):
    return (prompt.maybe_read(path) or b"").decode(errors="replace").strip()


def _was_whole(slot, tree, said):
    """Return whether a tree of before is what it was when it was read back."""
    return said == sha256(digest(tree.inside(f"/{slot}")).encode())


def sha256(data: bytes) -> str:
    """Return the SHA-256 of bytes, in hexadecimal."""
    return hashlib.sha256(data).hexdigest()
