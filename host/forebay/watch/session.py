"""One session of watching: draws, prints or gives documents until it is ended."""

import json
import sys
from collections.abc import Callable, Iterator
from datetime import date
from typing import Any, TextIO

from forebay import lastused
from forebay.errors import InputError
from forebay.watch import lacking
from forebay.watch.follow import Follower, Snapshot
from forebay.watch.screen import Ended, Screen, can_draw, shows_blocks
from forebay.watch.view import changes, plain_line, view
from forebay.wire.line import port_of_board

SCREEN_S, LINES_S = 1.0, 10.0


def begin(port: str | None, every_s: float | None, draws: bool) -> Follower:
    """Return a follower of the board at a port; None = the one plugged in, or used last.

    Raises PortError if there is no such port, or none can be chosen.
    """
    chosen = port_of_board(port)
    lastused.note(port=chosen)
    return Follower(chosen, every_s or (SCREEN_S if draws else LINES_S))


def watch(port: str | None, *, every_s: float | None = None, once: bool = False,
          as_json: bool = False, proved: str | None = None, out: TextIO | None = None) -> None:
    """Watch a board until interrupted, on a stream.

    every_s: between two readings [s], None = a second on a terminal, ten
    elsewhere.  once: read once and return; raises WireError without an answer.
    as_json: a document a line.  proved: note this day [YYYY-MM-DD] as that of
    the rig's proof test.
    """
    stream: TextIO = out if out is not None else sys.stdout
    draws = can_draw(stream) and not once and not as_json
    follower = begin(port, every_s, draws)
    if proved is not None:
        _note(follower.once().live["rig_id"], proved)
    if once:
        snapshot = follower.once()
        _write(stream, [_document(snapshot)] if as_json else _view(snapshot, stream))
        return
    try:
        if draws:
            with Screen(stream) as screen:
                for snapshot in follower.run():
                    screen.draw(_view(snapshot, stream, screen.columns(), screen.rows()))
        else:
            _print(follower.run(), stream, _document if as_json else plain_line)
    except (KeyboardInterrupt, Ended):
        pass  # the only end there is


def _note(rig_id, day):
    try:
        date.fromisoformat(day)
    except ValueError:
        raise InputError(f"--proved {day!r}: write the day as YYYY-MM-DD") from None
    lastused.note_proof_test(rig_id, day)


def _view(snapshot, out, width=80, rows=None):
    rig_id = snapshot.live.get("rig_id", 0)
    return view(snapshot, width=width, rows=rows, fine=shows_blocks(out),
                proof_test=lastused.proof_test(rig_id))


def _print(snapshots: Iterator[Snapshot], out: TextIO, line: Callable[[Snapshot], str]) -> None:
    """Print a line a reading, and what happened between two; a silence is told once."""
    before: dict[str, int] = {}
    was_lost = False
    for snapshot in snapshots:
        if snapshot.lost and was_lost:
            continue
        was_lost = bool(snapshot.lost)
        lines = [line(snapshot)]
        if line is plain_line and not was_lost:
            lines = [f"  {text}" for text in changes(before, snapshot.live)] + lines
            before = snapshot.live
        _write(out, lines)


def _document(snapshot: Snapshot) -> str:
    document: dict[str, Any] = {"port": snapshot.port, "utc_s": round(snapshot.at_s, 3),
                                "lost": snapshot.lost or None,
                                "last_error": snapshot.error or None,
                                "live": lacking.known(snapshot.live)}
    return json.dumps(document, allow_nan=False)


def _write(out, lines):
    out.write("\n".join(lines) + "\n")
    out.flush()
