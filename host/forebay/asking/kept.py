"""What was answered or found in a sitting that is not at its end yet, so that it can go on.

One small file a rig and task in the user's folders, replaced whole at each answer.
"""

import json
import os
import tempfile
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import platformdirs

from forebay.errors import InputError

VERSION = 1


class Unfinished(InputError):
    """The file of an unfinished sitting that cannot be read or written: which, what to do."""


class Kept:
    """Findings by name, as plain data, in the order in which they came.

    Attributes: path; found: name -> data, of an earlier sitting too.
    """

    def __init__(self, path: Path):
        """Take the file; what it holds is gone on from.  Raises Unfinished."""
        self.path = path
        self.found: dict[str, Any] = {}
        try:
            document = json.loads(path.read_text(encoding="utf-8"))
        except FileNotFoundError:
            return
        except (OSError, ValueError) as error:
            raise Unfinished(f"{path}: cannot be read ({error}); remove it to begin anew"
                             ) from None
        found = document.get("found") if isinstance(document, Mapping) else None
        if not isinstance(found, dict) or document.get("version") != VERSION:
            raise Unfinished(f"{path}: is of another version, or no unfinished sitting; remove it"
                             " to begin anew")
        self.found = found

    @classmethod
    def of(cls, task: str, rig_id: int) -> "Kept":
        """Return what is kept of a task at a rig."""
        folder = Path(platformdirs.user_state_dir("forebay", appauthor=False))
        return cls(folder / "unfinished" / f"{task}-{rig_id:08x}.json")

    def keep(self, name: str, data: Any) -> None:
        """Keep a finding, whole or not at all.  Raises Unfinished."""
        self.found[name] = data
        self._write()

    def forget(self, name: str) -> None:
        """Take a finding back, to find it anew."""
        if self.found.pop(name, None) is not None:
            self._write()

    def end(self) -> None:
        """Let it go: the sitting is at its end."""
        self.path.unlink(missing_ok=True)

    def _write(self):
        try:
            self.path.parent.mkdir(parents=True, exist_ok=True)
            handle, aside = tempfile.mkstemp(dir=self.path.parent, suffix=".new")
            try:
                with os.fdopen(handle, "w", encoding="utf-8") as file:
                    json.dump({"version": VERSION, "found": self.found}, file, indent=1)
                    file.flush()
                    os.fsync(file.fileno())
                os.replace(aside, self.path)
            finally:
                Path(aside).unlink(missing_ok=True)
        except OSError as error:
            raise Unfinished(f"{self.path}: cannot be written ({error.strerror}); what was found"
                             " so far is in no file") from None
