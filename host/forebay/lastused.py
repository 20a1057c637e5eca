"""What a person used or said last, so that it need not be said again: port, rig, proof tests.

Also which rigs a rehearsal made up, so that a pull to any shelf marks them as that.

One small file in the user's folders.  None of it is needed: what cannot be
read counts as never used, what cannot be written is left.
"""

import json
import os
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import platformdirs


def path() -> Path:
    """Return where it is kept."""
    return Path(platformdirs.user_state_dir("forebay", appauthor=False)) / "last.json"


def _read() -> dict[str, Any]:
    try:
        found = json.loads(path().read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return {}
    return found if isinstance(found, dict) else {}


def _text(name: str) -> str | None:
    found = _read().get(name)
    return found if isinstance(found, str) and found else None


def port() -> str | None:
    """Return the port used last, None if none is known."""
    return _text("port")


def rig() -> str | None:
    """Return the path of the rig's description used last, None if none is known or it is gone."""
    found = _text("rig")
    return found if found and Path(found).is_file() else None


def proof_test(rig_id: int) -> str | None:
    """Return the day [YYYY-MM-DD] of the last proof test of a rig, None if none is noted."""
    days = _read().get("proof_tests")
    found = days.get(str(rig_id)) if isinstance(days, dict) else None
    return found if isinstance(found, str) else None


def hazards_read(rig_id: int) -> str | None:
    """Return the digest of the hazards that were last confirmed as read of a rig, None if none."""
    read = _read().get("hazards_read")
    found = read.get(str(rig_id)) if isinstance(read, dict) else None
    return found if isinstance(found, str) else None


def rehearsed(rig_id: int) -> str | None:
    """Return what was kept of a rig that `rehearse --serve` made up, None if it is none."""
    rigs = _read().get("rehearsed")
    found = rigs.get(str(rig_id)) if isinstance(rigs, dict) else None
    return found if isinstance(found, str) else None


def note(port: str | None = None, rig: Path | str | None = None) -> None:
    """Keep a port, or the path of a rig's description, as used last."""
    found = _read()
    if port:
        found["port"] = port
    if rig:
        found["rig"] = str(Path(rig).resolve())
    _write(found)


@contextmanager
def port_for_now(port: str) -> Iterator[None]:
    """Keep a port as used last while it is there, then what was kept before."""
    before = _text("port")
    note(port=port)
    try:
        yield
    finally:
        found = _read()
        if found.get("port") == port:
            found["port"] = before
            _write(found)


def note_proof_test(rig_id: int, day: str) -> None:
    """Keep the day [YYYY-MM-DD] of a proof test of a rig."""
    _note_of("proof_tests", rig_id, day)


def note_hazards_read(rig_id: int, digest: str) -> None:
    """Keep the digest of the hazards that were confirmed as read of a rig."""
    _note_of("hazards_read", rig_id, digest)


def note_rehearsed(rig_id: int, told: str) -> None:
    """Keep of a rig that it is made up, and what was asked of it."""
    _note_of("rehearsed", rig_id, told)


def _note_of(name, rig_id, text):
    """Keep a text of a rig under a name."""
    found = _read()
    kept = found.get(name)
    found[name] = {**(kept if isinstance(kept, dict) else {}), str(rig_id): text}
    _write(found)


def _write(found: dict[str, Any]) -> None:
    place = path()
    try:
        place.parent.mkdir(parents=True, exist_ok=True)
        handle, aside = tempfile.mkstemp(dir=place.parent, prefix="last", suffix=".new")
        with os.fdopen(handle, "w", encoding="utf-8") as file:
            json.dump(found, file, indent=2)
        os.replace(aside, place)
    except OSError:
        pass
