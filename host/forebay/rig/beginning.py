"""A description of one's own, begun from a packaged one."""

import importlib.resources
import json
import re
from pathlib import Path

from forebay.errors import InputError
from forebay.rig import load_text, remaining

_NAME = re.compile(r'^name = ".*"$', re.MULTILINE)
_HEAD = ("# {name}: begun from the packaged rig {demo}, whose figures it has until you replace\n"
         "# them by what you measure.\n#\n")


def begin(name: str, demo: str, out: str | None = None) -> tuple[Path, int]:
    """Write a description; return (its path, how many hazards it leaves to hardware [-]).

    name: of the rig; demo: of `forebay.rig.DEMOS`; out: path, None = after the name, here.
    Raises InputError for a name that no rig can have, and for a file that is there or cannot
    be written.
    """
    packaged = importlib.resources.files("forebay") / "demo" / f"{demo}.toml"
    quoted = f"name = {json.dumps(name, ensure_ascii=False)}"
    text = _NAME.sub(lambda _: quoted, packaged.read_text(encoding="utf-8"), count=1)
    rig = load_text(text, "forebay new")  # the name alone can be at fault
    path = Path(out or f"{_plain(name)}.toml")
    try:
        with open(path, "x", encoding="utf-8") as file:
            file.write(_HEAD.format(name=" ".join(name.split()), demo=demo) + text)
    except FileExistsError:
        raise InputError(f"{path} is there: nothing is overwritten, name another file with"
                         " --out") from None
    except OSError as error:
        raise InputError(f"cannot write {path}: {error.strerror or error}") from error
    return path, len(remaining.left_to_hardware(rig.plant()))


def _plain(name):
    """Return a name as that of a file: letters, digits and hyphens."""
    found = re.sub(r"[^\w]+", "-", name.lower()).strip("-")
    if not found:
        raise InputError(f"no file can be named after {name!r}: say --out FILE.toml")
    return found
