"""The description of one rig: rig.toml, its values in SI units, the board's settings.

- All faults of a file are reported at once, one line each.
- A value is named by section, key and SI unit: `rig.upper.full_volume_m3`.
- One table (schema.SCHEMA) drives loading, errors and the page docs/rig.md.
"""

import hashlib
import importlib.resources
import json
from functools import cached_property
from pathlib import Path
from types import SimpleNamespace
from typing import Any

from forebay.errors import InputError
from forebay.rig import assumed, compiling, governing, machines, recipes, wired
from forebay.rig.loading import RigError, parse
from forebay.rig.schema import SCHEMA

__all__ = ["DEMOS", "Rig", "RigError", "load", "load_text"]

# The packaged demonstrations by name, each a file of the folder `demo`; the first is meant
# where none is named.
DEMOS = ("hillside", "orchard")
_MOST_BYTES = 1000000  # a description has a few kilobytes; more is another file


class Rig:
    """One rig; each section is an attribute that holds its values [SI], None = absent."""

    def __init__(self, values: dict[str, Any], toml_text: str, name: str):
        """Take checked values by "section.key_unit" [SI], their source and its name."""
        self.toml_text = toml_text
        self.source_name = name
        self._values = values
        for section in SCHEMA:
            held = {key.attribute: values.get(f"{section.name}.{key.attribute}")
                    for key in section.keys}
            setattr(self, section.name, SimpleNamespace(**held))

    def __getattr__(self, name: str) -> Any:
        # Reached only for a name that is neither a section nor set above.
        raise AttributeError(f"a rig has no section {name!r}")

    @property
    def rig_id(self) -> int:
        """Identity [-], 1 to 0x3FFFFFFF, from the rig's name."""
        return governing.identity(self._values["rig.name"])

    @property
    def digest(self) -> str:
        """SHA-256 of the content, in hexadecimal: the same for "1 m" and 1.0."""
        content = json.dumps(self.plant(), sort_keys=True)
        return hashlib.sha256(content.encode()).hexdigest()

    def plant(self) -> dict[str, Any]:
        """Return all values as a flat dict "section.key_unit" [SI]; absent ones left out."""
        return {name: list(value) if isinstance(value, list) else value
                for name, value in self._values.items() if value is not None}

    @cached_property
    def marked(self) -> frozenset[str]:
        """The "section.key" of each figure that the file's [assumed] lists as not measured."""
        return assumed.marked(self.toml_text) & frozenset(self.figures)

    @cached_property
    def assumed(self) -> frozenset[str]:
        """`marked`, and each figure that the file leaves to a default that is a guess."""
        return self.marked | assumed.unstated(self.toml_text, self._values)

    @cached_property
    def figures(self) -> list[str]:
        """The "section.key" of each figure of the real world that the rig has."""
        return recipes.figures(self._values)

    def assumed_line(self) -> str:
        """Return how many of the figures are assumed, in a sentence; "" where none is marked.

        A file without marks, as the packaged rigs have, counts as stated: its defaults alone
        are no news.
        """
        if not self.marked:
            return ""
        return (f"{len(self.assumed)} of {len(self.figures)} figures of the rig"
                " are assumed, not measured (forebay plan says which matter most).")

    def settings(self) -> list[int]:
        """Return the board's settings [integers in the order of keeper.settings]."""
        return list(self._settings)

    @cached_property
    def _settings(self) -> list[int]:
        return compiling.compiled(self._values)

    def wiring(self) -> list[int]:
        """Return the board's wiring [integers in the order of keeper.boards.wiring]."""
        return wired.entries(self._values)

    def notices(self) -> list[str]:
        """Return one line for each thing that is allowed, but promised less than usual."""
        return machines.notices(self._values)


def load_text(text: str, name: str, is_kept: bool = False) -> Rig:
    """Return the rig that a TOML text describes; name: of its source, for errors.

    is_kept: the text was taken by an earlier forebay and stands beside what its board
    measured: what only later checks refuse is let pass.
    Raises RigError, an InputError, with one line for each fault.
    """
    return Rig(parse(text, name, is_kept), text, name)


def load(path: Path | str | None = None, demo: str = DEMOS[0]) -> Rig:
    """Return the rig that a file describes; path: None = the packaged demo of a name.

    Raises InputError if the file cannot be read, RigError with one line for each fault.
    """
    if path is None:
        file = importlib.resources.files("forebay") / "demo" / f"{demo}.toml"
        return load_text(file.read_text(encoding="utf-8"), file.name)
    return load_text(_text_of(Path(path)), str(path))


def _text_of(path: Path) -> str:
    try:
        with path.open("rb") as file:
            data = file.read(_MOST_BYTES + 1)
    except (OSError, ValueError) as error:  # ValueError: a null character in the path
        reason = getattr(error, "strerror", None) or error
        raise InputError(f"{path}: cannot be read: {reason}; check the path") from None
    if len(data) > _MOST_BYTES:
        raise InputError(f"{path}: longer than {_MOST_BYTES} bytes: not a rig's description")
    try:
        return data.decode("utf-8")
    except UnicodeDecodeError:
        raise InputError(f"{path}: not UTF-8 text; save it as UTF-8") from None
