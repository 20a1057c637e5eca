"""From what a person says to a job: which rig, which board, what it lacks."""

import time
from collections.abc import Callable
from pathlib import Path

from forebay import lastused, ports
from forebay.dispatch import keys
from forebay.dispatch.sending import order
from forebay.flash import volume
from forebay.flash.errors import FlashError
from forebay.flash.job import Job, Report, Tell, flash
from forebay.flash.left import Confirm, confirm_read
from forebay.flash.replacing import past_of
from forebay.rig import load, load_text
from forebay.shelf import Shelf

# From the last block of an image to the serial port.  A guess.
PORT_S = 30.0
LOOK_S = 0.5


def flash_rig(rig_path: str | None, *, port: str | None, stop: bool, pull: bool,
              other_rig: bool, renew_loader: bool, interpreter: str | None,
              shelf_path: str | None, ask: Callable | None, tell: Tell,
              confirm: Confirm, hazards_read: bool = False, wait: bool = False,
              replaces: str | None = None, new_key: bool = False) -> Report:
    """Flash the board of a rig; return what was done.

    rig_path, port: None = what was used last, or is plugged in.  interpreter:
    image for a board without one.  ask: chooses among several boards.  confirm:
    has a person read what the rig leaves to hardware; hazards_read: that was done.  replaces:
    a board on the shelf that is gone.  new_key: orders are signed with another one
    from now on.
    """
    with Shelf(shelf_path) as shelf:
        past = past_of(shelf, replaces) if replaces is not None else None
        rig, described = _rig(rig_path, shelf, past)
        confirm_read(rig, hazards_read, confirm)
        if interpreter:
            port = _with_interpreter(interpreter, port, tell)
        port = _port(port, ask)
        key = keys.renew(rig.rig_id) if new_key else keys.ensure(rig.rig_id)
        report = flash(Job(port, rig, shelf if pull else None, order, stop, other_rig,
                           renew_loader, key.secret, wait=wait, past=past, tell=tell))
        shelf.add_rig(rig.rig_id, rig.rig.name, rig.toml_text, rig.digest)
    lastused.note(port=report.port, rig=described)
    return report


def _rig(path, shelf, past):
    """Return (rig, path of its description or None): of a board that is replaced, the shelf's.

    Calibration lies in the description, so the newest one that was flashed has it.
    """
    if path is None and past is not None:
        text = shelf.rig_toml(past.rig_id)
        if text is None:
            raise FlashError(f"the shelf holds no description of the rig of board {past.board}:"
                             " say forebay flash RIG.toml --replaces ...")
        return load_text(text, f"the description on the shelf {shelf.path}"), None
    path = path or lastused.rig()
    if not path:
        raise FlashError("say which rig: forebay flash RIG.toml")
    rig = load(path)
    if past is not None and rig.rig_id != past.rig_id:
        raise FlashError(f"board {past.board} was of rig {past.rig_id}, {path} is of rig"
                         f" {rig.rig_id}: flash without --replaces")
    return rig, Path(path)


def _port(named, ask):
    if named and ":" in named and not Path(named).exists():
        raise FlashError(f"{named} is a network address: a board is flashed over USB")
    try:
        return ports.choose(named, usb=True, ask=ask)
    except ports.PortError:
        waiting = volume.volumes()
        if waiting and not named:
            raise FlashError(f"the board at {waiting[0].folder} has no interpreter yet: give it"
                             " a MicroPython image with --interpreter FILE.uf2") from None
        raise


def _with_interpreter(image, port, tell):
    """Put an interpreter onto the one board that waits for it; return its port."""
    volume.check_image(image)
    waiting = volume.volumes()
    if len(waiting) != 1:
        where = ", ".join(str(found.folder) for found in waiting) or "none"
        raise FlashError(f"one board must wait for its interpreter (found: {where}): hold its"
                         " boot button while you plug it in, and mount its volume")
    before = {board.device for board in ports.candidates()}
    tell("interpreter", 0, 1)
    volume.copy_image(image, waiting[0])
    end = time.monotonic() + PORT_S
    while time.monotonic() < end:
        new = [board.device for board in ports.candidates() if board.device not in before]
        if new:
            return port or new[0]
        time.sleep(LOOK_S)
    raise FlashError(f"no serial port appeared within {PORT_S:.0f} s of the image: is it made"
                     " for this board?")
