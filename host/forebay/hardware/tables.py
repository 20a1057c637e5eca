"""Where the tables of hardware/ lie, and their reading: a clone's, or the installed copy."""

import functools
import importlib.resources
import pathlib
import tomllib
from typing import Any

CIRCUITS = "circuits"
# The order in which circuits are read, drawn and listed.
SHEETS = ("panel", "generator", "supply", "board", "contacts", "sensors", "buses", "valves")
NAMES = ("pins", "parts", "places", "points", "commissioning", "cards", "hazards",
         *(f"{CIRCUITS}/{sheet}" for sheet in SHEETS))


def folder() -> pathlib.Path:
    """Return the folder of the tables: the wheel's own, else that of the clone around it."""
    packaged = pathlib.Path(str(importlib.resources.files("forebay"))) / "hardware" / "data"
    if packaged.is_dir():
        return packaged
    return pathlib.Path(__file__).resolve().parents[3] / "hardware"


@functools.cache
def load(name: str, at: pathlib.Path | None = None) -> dict[str, Any]:
    """Return one table by its name without `.toml`; at: another folder than `folder`."""
    path = (at or folder()) / f"{name}.toml"
    return tomllib.loads(path.read_text(encoding="utf-8"))


def sheets(at: pathlib.Path | None = None) -> dict[str, dict[str, Any]]:
    """Return the tables of the circuits by the name of their sheet, in their order."""
    return {sheet: load(f"{CIRCUITS}/{sheet}", at) for sheet in SHEETS}
