"""What the tests flash: firmware folders of their own."""

import pathlib
import shutil
from collections.abc import Mapping

from forebay.flash import firmware as building

HERE = pathlib.Path(__file__).resolve().parent
FIRMWARE = HERE.parent.parent / "firmware"  # the tree: a wheel carries the loader elsewhere
BENCH_START = HERE / "bench_program" / "start.py"
# Of the rig that BENCH_START is at rest with.
PANEL_AT_REST, PANEL_IN_WEAK_SUN = "(channels.PANEL_MV, 10000)", "(channels.PANEL_MV, 11000)"
RUN = "def run(loader):\n"
# Where a start of a few lines begins.
START = (f"def let_go_opening():\n    pass\ndef let_go():\n    pass\n{RUN}"
         "    let_go_opening()\n    let_go()\n")


def firmware(folder: pathlib.Path) -> pathlib.Path:
    """Makes a folder like firmware/, whose start needs no pins; returns it."""
    shutil.copytree(FIRMWARE, folder, ignore=shutil.ignore_patterns("__pycache__"))
    shutil.copy(BENCH_START, folder / "keeper" / "boards" / "start.py")
    return folder


def change(folder: pathlib.Path, old: str = PANEL_AT_REST, new: str = PANEL_IN_WEAK_SUN) -> None:
    """Makes the program of such a folder another one: some text of its start is replaced."""
    start = folder / "keeper" / "boards" / "start.py"
    source = start.read_text()
    assert source.count(old) == 1
    start.write_text(source.replace(old, new))


def program_once(mpy: int, folder: pathlib.Path, rig: Mapping[str, int] | None = None
                 ) -> building.Program:
    """Gives what `forebay.flash.firmware.program` does; of the same sources it is made once."""
    sources = {path.relative_to(folder).as_posix(): path.read_bytes()
               for path in folder.rglob("*.py")}
    made_of = (mpy, building.digest(building.hashes(sources)), tuple((rig or {}).items()))
    if made_of not in _made:
        _made[made_of] = _make(mpy, folder, rig)
    return _made[made_of]


_make, _made = building.program, {}


def small(folder: pathlib.Path, version: int, extra: dict[str, str] | None = None
          ) -> pathlib.Path:
    """Makes a firmware folder with a program of a few files that only tells who it is.

    It notes the version that each of its files has, if they are as long as they
    were. extra: further modules of the program, name -> source.
    """
    (folder / "keeper" / "boards").mkdir(parents=True)
    for name in ("boot.py", "main.py"):
        shutil.copy(FIRMWARE / name, folder / name)
    names = [f"part{number}" for number in range(6)]
    modules = {name: f"VERSION = {version}\nTEXT = {name * 150!r}\n" for name in names}
    modules.update(extra or {})
    for name, source in modules.items():
        (folder / "keeper" / f"{name}.py").write_text(source)
    (folder / "keeper" / "__init__.py").write_text(f"VERSION = {version}\n")
    (folder / "keeper" / "boards" / "__init__.py").write_text("")
    start = "".join(f"from keeper import {name}\n" for name in modules)
    listed = ", ".join(f"{name}.VERSION * (len({name}.TEXT) // {len(name) * 150})"
                       for name in names)
    start += (f"{START}    found = sorted({{{listed}}})\n"
              "    with open('/seen', 'w') as file:\n        file.write(repr(found))\n")
    (folder / "keeper" / "boards" / "start.py").write_text(start)
    return folder
