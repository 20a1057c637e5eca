"""Runs project code on the real MicroPython 1.29: its WebAssembly build, under Node.

The interpreter sees a file system in memory laid out like the board's. What
`import keeper.scan` finds there is the artefact that a board is flashed with,
in thin modules (tests/micropython/artefact.py); the rest of firmware/ comes as
source, and the twin as `forebay.twin`. Modules that the Pico's firmware lacks
are refused.

What it cannot show: the board's 32-bit floats (here 64), its little memory,
its speed, its file system (this one keeps everything ever written), threads.
Do not let an exception leave a script's top level while the heap is locked:
the interpreter then spins until the time is up. Lock inside a function, and
unlock in a `finally`.
"""

import dataclasses
import json
import pathlib
import subprocess
import tempfile
from collections.abc import Mapping, Sequence

from tests.micropython import artefact
from tests.tools import npm

PACKAGE = "@micropython/micropython-webassembly-pyscript"
HERE = pathlib.Path(__file__).resolve().parent
ROOT = HERE.parent.parent
# Folder of this repository -> folder on the simulated board.
BOARD_TREES = {"firmware": "/", "host/forebay/twin": "/forebay/twin"}


class MicroPythonError(AssertionError):
    """The script failed, or did not end in time.

    Attributes: stdout (what it printed before), traceback (MicroPython's own,
    or the reason why there is none).
    """

    def __init__(self, traceback: str, stdout: str):
        super().__init__(f"{traceback.strip()}\n--- printed before ---\n{stdout}")
        self.traceback = traceback
        self.stdout = stdout


@dataclasses.dataclass(frozen=True)
class Run:
    """What a script left: the text it printed, the files that were asked for by name."""

    stdout: str
    files: dict[str, bytes]

    @property
    def lines(self) -> list[str]:
        """The printed text, line by line."""
        return self.stdout.splitlines()


def run_micropython(
    script: str,
    *,
    files: Mapping[str, str | bytes] | None = None,
    fetch: Sequence[str] = (),
    steps: bool = False,
    sources: bool = False,
    timeout_s: float = 60.0,
) -> Run:
    """Runs a script on MicroPython and returns what it printed and wrote.

    script: source; project code is imported from there (`import keeper.scan`).
    files: further files, absolute board path -> content; they come after the
    project's and may stand in for hardware ("/machine.py": "...").
    fetch: files or folders of the board's file system to bring back afterwards,
    folders with all that is below them; what does not exist is left out.
    steps: after the script, call its `step(n)` with n = 0, 1, 2... until it
    returns something false. Memory is collected only between such calls, so a
    long run is cut into steps (1000 scans in each is a good size).
    sources: the keeper comes as its sources, not as what is made of them.
    timeout_s: wall time after which the run is ended [s].

    Raises MicroPythonError if the script raises or the time is up, and
    ToolMissingError if Node or the interpreter is not there.
    """
    with tempfile.TemporaryDirectory(prefix="forebay-board-") as name:
        folder = pathlib.Path(name)
        job = {
            "package": str(npm.package_path(PACKAGE)),
            "prelude": str(HERE / "prelude.py"),
            "script": str(folder / "script.py"),
            "files": _project_files() + _extra_files(
                {**({} if sources else artefact.files()), **(files or {})}, folder),
            "steps": steps,
            "fetch": list(fetch),
            "out": str(folder),
        }
        (folder / "script.py").write_text(script, encoding="utf-8")
        (folder / "job.json").write_text(json.dumps(job), encoding="utf-8")
        stdout = _run_node(folder / "job.json", timeout_s)
        names = json.loads((folder / "names.json").read_text(encoding="utf-8"))
        fetched = {path: (folder / str(n)).read_bytes() for n, path in enumerate(names)}
        return Run(stdout, fetched)


def board_sources() -> dict[str, pathlib.Path]:
    """Returns the project's files as the simulated board has them: board path -> source."""
    found = {}
    for tree, board_folder in BOARD_TREES.items():
        top = ROOT / tree
        for path in sorted(top.rglob("*.py")):
            found[f"{board_folder.rstrip('/')}/{path.relative_to(top).as_posix()}"] = path
    return found


def _project_files() -> list[tuple[str, str]]:
    # The host's own package would pull in numpy; the twin needs only the name above it.
    files = [("/forebay/__init__.py", str(HERE / "empty.py"))]
    files += [(name, str(path)) for name, path in board_sources().items()]
    return files


def _extra_files(files: Mapping[str, str | bytes], folder: pathlib.Path) -> list[tuple[str, str]]:
    staged = []
    for n, (name, content) in enumerate(files.items()):
        if not name.startswith("/"):
            raise ValueError(f"board path must be absolute: {name!r}")
        path = folder / f"extra-{n}"
        path.write_bytes(content.encode() if isinstance(content, str) else content)
        staged.append((name, str(path)))
    return staged


def _run_node(job: pathlib.Path, timeout_s: float) -> str:
    try:
        done = subprocess.run(
            [npm.node_path(), HERE / "run.mjs", job],
            stdin=subprocess.DEVNULL,
            capture_output=True,
            timeout=timeout_s,
        )
    except subprocess.TimeoutExpired as late:
        raise MicroPythonError(
            f"no end within {timeout_s} s (an exception that left the script while the "
            "heap was locked looks like this too)",
            (late.stdout or b"").decode(errors="replace"),
        ) from None
    stdout = done.stdout.decode(errors="replace")
    if done.returncode != 0:
        raise MicroPythonError(done.stderr.decode(errors="replace"), stdout)
    return stdout
