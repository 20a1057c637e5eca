"""Puts a program with its settings, the key and the loader onto a board, step by step.

Order is everything here.  Until the pointer moves the board runs what it ran;
the pointer moves by one rename, after everything has been read back.
"""

from collections.abc import Callable
from dataclasses import dataclass, field

from forebay.flash import loaders, rigfiles, slots
from forebay.flash.errors import FlashError
from forebay.flash.firmware import hashes
from forebay.flash.looking import Found, Wanted, sha256, whole_text
from forebay.flash.prompt import Prompt
from keeper.journal import segments

# Kept free beside what is written, for the file system's own moves [blocks]: half of
# what the journal leaves free, so that a program of the same size always fits.
SPARE_BLOCKS = segments.SPARE_BLOCKS // 2
FOLDER_BLOCKS = 2
# Files below this lie in their folder and take no block: littlefs with a cache of 1024 bytes
# and blocks of 4096 keeps files up to an eighth of a block there.
INLINE_BYTES = 512

Tell = Callable[[str, int, int], None]


@dataclass
class Done:
    """What was done: slot that holds the program, files and bytes sent, what else changed.

    copied: files copied on the board itself, from its other slot.  changes:
    paths inside the slot whose contents are another than in the slot that stays.
    is_on_trial: the loader has not taken that slot for good yet.
    """

    slot: str = ""
    files: int = 0
    sent_B: int = 0
    copied: int = 0
    removed: int = 0
    board_files: list[str] = field(default_factory=list)
    loader: list[str] = field(default_factory=list)
    moved_pointer: bool = False
    is_on_trial: bool = False
    notes: list[str] = field(default_factory=list)
    changes: list[str] = field(default_factory=list)

    @property
    def changed(self) -> bool:
        """Whether anything on the board is another than before."""
        return bool(self.files or self.copied or self.removed or self.board_files or self.loader
                    or self.moved_pointer)


def deploy(prompt: Prompt, wanted: Wanted, found: Found, tell: Tell) -> Done:
    """Make the board hold what is wanted; return what was done.

    Raises FlashError where it cannot be done, before the pointer has moved.
    """
    _check_loader(wanted, found)
    done = Done()
    runs_already = bool(found.status.programs)
    # An older loader cannot start the new program; the new one starts either.
    if runs_already:
        _write_loader(prompt, wanted, found, tell, done)
    left = _fill_slots(prompt, wanted, found, tell, done)
    _write_board_files(prompt, wanted, found, tell, done)
    if done.moved_pointer:
        tell("pointer", 1, 1)
        prompt.replace(slots.TRIAL, (done.slot + slots.FIRST_TRIAL).encode())
    # Without a program main.py comes last: until then the board waits at its prompt.
    if not runs_already:
        _write_loader(prompt, wanted, found, tell, done)
    if not left:
        _remove_shared(prompt, found, done)
    return done


def take_stand_in(prompt: Prompt, found: Found, running_hash: int) -> None:
    """Take for good the slot that runs in place of another, so that it is what stays.

    running_hash: of the program that ran [u64].
    """
    status = slots.in_place(found.status, found.programs(), running_hash)
    if status.pointer != found.status.pointer:
        prompt.replace(slots.POINTER, status.pointer.encode())
        found.status = status


def _check_loader(wanted, found):
    """Keep another program that somebody put on this board."""
    path = "/main.py"
    there = found.others.get(path)
    ours = there in (None, hashes(wanted.loader)[path]) or loaders.is_ours(path, there)
    if not ours and not wanted.renew_loader:
        raise FlashError("the board's main.py is no loader that this forebay knows: save it if"
                         " you need it, then flash with --loader to replace it")


def _fill_slots(prompt, wanted, found, tell, done):
    """Make a slot hold what is wanted; return which slots still hold a tree of before.

    The other slot, if it holds no program, is filled with the same: else the
    journal would take the room that the first update needs.
    """
    target = hashes(wanted.slot)
    held = slots.running(found.status)
    if found.holds(held, target):
        done.slot = held
        done.is_on_trial = slots.maybe_trial(found.status) == held
    else:
        choice = slots.choose(found.status)
        _keep(prompt, found.status, choice)
        tree = found.trees.get(choice.keep or "", slots.Tree())
        stays = tree.inside(f"/{choice.keep}")
        done.changes = [path for path in target if stays.get(path) != target[path]]
        done.slot, done.moved_pointer, done.is_on_trial = choice.write, True, True
        _fill(prompt, choice.write, wanted, found, tree.files, tell, done)
    other = next(slot for slot in slots.SLOTS if slot != done.slot)
    if other not in found.status.programs:
        written = {f"/{done.slot}/{path}": value for path, value in target.items()}
        _fill(prompt, other, wanted, found, written, tell, done)
        if not done.moved_pointer and slots.maybe_given_up(found.status) == other:
            prompt.remove(slots.TRIAL)  # what it says is of a program that is gone
    written = {done.slot} if done.moved_pointer else set()
    return set(found.before) - written


def _fill(prompt, slot, wanted, found, sources, tell, done):
    """Make one slot hold what is wanted; sources: files on the board that may be copied."""
    target = hashes(wanted.slot)
    if found.holds(slot, target):
        return
    prompt.remove(f"/{slot}/{slots.WHOLE}")
    there = _retire(prompt, slot, found.trees[slot], done)
    change = slots.change(slot, wanted.slot, target, there, sources)
    _clear(prompt, change, there)
    _check_room(prompt, change, wanted.slot, slot)
    for path in change.folders:
        prompt.make_folder(path)
    for place, (path, source) in enumerate(change.copy.items()):
        tell("copy on the board", place, len(change.copy))
        prompt.copy(source, path)
    total = sum(map(len, change.write.values()))
    sent_B = 0
    for path, data in change.write.items():
        tell("copy", sent_B, total)
        prompt.write(path, data)
        sent_B += len(data)
    done.files += len(change.write)
    done.sent_B += sent_B
    done.copied += len(change.copy)
    done.removed += len(change.remove)
    tell("verify", 0, 1)
    _verify_slot(prompt, slot, target)


def _retire(prompt, slot, tree, done):
    """Take a tree of before out of the loader's sight at once; return what the slot holds."""
    old, gone = f"/{slot}/{slots.OLD_TREE}", f"/{slot}/{slots.GONE}"
    if old not in tree.folders:
        return tree
    rest = slots.Tree({path: value for path, value in tree.files.items()
                       if path.startswith(gone + "/")},
                      [path for path in tree.folders if (path + "/").startswith(gone + "/")])
    _clear(prompt, slots.change(slot, {}, {}, rest, {}), rest)  # of a flash that was cut off
    done.removed += len(rest.files)
    prompt.rename(old, gone)
    return tree.moved(old, gone)


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
    """Compare what the slot holds with what was sent; say that it is whole."""
    there = prompt.tree(f"/{slot}").inside(f"/{slot}")
    if there != target:
        wrong = sorted(path for path in there.keys() | target.keys()
                       if there.get(path) != target.get(path))
        raise FlashError(f"/{slot}/{wrong[0]} is not on the board as it was sent ({len(wrong)}"
                         " files): nothing was switched over; try again")
    whole = f"/{slot}/{slots.WHOLE}"
    prompt.replace(whole, whole_text(target))
    _verify(prompt, {whole: sha256(whole_text(target))})


def _keep(prompt, status, choice):
    """Take the slot that stays for good, and end any trial, before the other is written.

    That the other was given up is said until its new program is on trial.
    """
    if choice.keep is None:
        prompt.remove(slots.TRIAL)
        return
    if status.pointer != choice.keep:
        prompt.replace(slots.POINTER, choice.keep.encode())
    if status.trial and slots.maybe_given_up(status) != choice.write:
        prompt.remove(slots.TRIAL)


def _check_room(prompt, change, files, slot):
    """Refuse what does not fit, before anything of it is written."""
    identity = prompt.identity()
    if not identity.block_bytes:
        return
    top = f"/{slot}/"
    sizes = [len(files[path.removeprefix(top)]) for path in [*change.copy, *change.write]]
    needed = SPARE_BLOCKS + FOLDER_BLOCKS * len(change.folders) + sum(
        -(-size // identity.block_bytes) for size in sizes if size > INLINE_BYTES)
    if needed > identity.free_blocks:
        kib = identity.block_bytes / 1024
        raise FlashError(
            f"the board has {identity.free_blocks * kib:.0f} KiB free, the program needs"
            f" {needed * kib:.0f} KiB: its other program and its journal take the rest; pull the"
            " journal, then remove the oldest files in /journal")


def _write_board_files(prompt, wanted, found, tell, done):
    """Write what no slot holds, each file whole, those that differ."""
    target = hashes(wanted.board_files)
    changed = [path for path in target if found.others.get(path) != target[path]]
    for folder in sorted({path.rpartition("/")[0] for path in changed} - {""}):
        prompt.make_folder(folder)
    for path in changed:
        tell("key", len(done.board_files), len(changed))
        prompt.replace(path, wanted.board_files[path])
        done.board_files.append(path)
    _verify(prompt, {path: target[path] for path in changed})


def _write_loader(prompt, wanted, found, tell, done):
    """Write the loader where it is missing or an older one, or if asked for; main.py last."""
    target = hashes(wanted.loader)
    for path in sorted(wanted.loader):
        there = found.others.get(path)
        if there == target[path]:
            continue
        if there and not wanted.renew_loader and not loaders.is_ours(path, there):
            done.notes.append(f"the board's {path} is another than this forebay's; --loader"
                              " replaces it")
            continue
        tell("loader", len(done.loader), len(wanted.loader))
        prompt.write(path + ".new", wanted.loader[path])
        _verify(prompt, {path + ".new": target[path]})
        prompt.rename(path + ".new", path)
        done.loader.append(path)


def _remove_shared(prompt, found, done):
    """Remove the settings that trees of before shared, as no such tree is left."""
    for path in rigfiles.OLD_PATHS:
        if path in found.others:
            prompt.remove(path)
            done.removed += 1


def _verify(prompt, target):
    there = prompt.hashes(target)
    for path, value in target.items():
        if there.get(path) != value:
            raise FlashError(f"{path} is not on the board as it was sent; try again")
