"""Runs tests against a mutant: one forked process of pytest in a copy of the tree.

The process that forks has what the tests want from elsewhere in memory, and nothing of the
project: the child reads sources and tests from the copy, and so do processes that it starts.
"""

import dataclasses
import gc
import importlib
import json
import os
import pathlib
import resource
import shutil
import signal
import sys
import time

import pytest

from tests.bench.mutants.groups import COPIED, ROOT
from tests.bench.mutants.watching import OURS, Chosen, Watch

# Not started from a process that has threads of its own.
LEFT_TO_CHILDREN = ("pyarrow",)
QUIET = ["-x", "-q", "--no-header", "--tb=short", "-p", "no:cacheprovider",
         "-p", "no:xdist", "-p", "no:faulthandler"]
MEMORY_MOST_BYTES = 6 << 30
# What a mutant's tests may take, against the same without a mistake: the processor's time,
# since other work on the machine must not look like a mutant that was noticed.
LEAST_TIMEOUT_S, TIMES_BASELINE = 10, 5
WAITING_TIMES = 12  # the wall's time, for one that waits for ever
PASSED, NO_SUCH_TEST = 0, 4


class Tree:
    """A copy of the repository in which one file at a time has a mistake in it."""

    written = 0  # files written in all trees: each gets a time of its own

    def __init__(self, folder: pathlib.Path, copy_of: pathlib.Path = ROOT):
        """Copies the tree `copy_of` into a new folder."""
        self.folder = folder
        self.note = folder / "note.json"
        self.said = folder / "said.txt"
        self.changed: pathlib.Path | None = None
        folder.mkdir()
        for name in COPIED:
            source = copy_of / name
            if source.is_dir():
                shutil.copytree(source, folder / name, symlinks=True)
            else:
                shutil.copy2(source, folder / name)
        # As in the wheel: the loader's files are data of the companion.
        loader = folder / "host" / "forebay" / "loader"
        loader.mkdir(exist_ok=True)
        for path in (folder / "firmware").glob("*.py"):
            if not (loader / path.name).is_symlink():
                (loader / path.name).symlink_to(path)

    def write(self, file: str, text: str) -> None:
        """Puts a text into one file, and what was there before into the one changed last."""
        self.restore()
        path = self.folder / file
        path.write_text(text, encoding="utf-8")
        # Python takes compiled code for current by the source's second and size.
        Tree.written += 1
        os.utime(path, (Tree.written, Tree.written))
        self.changed = path

    def restore(self) -> None:
        """Puts back what the repository has."""
        if self.changed is not None:
            shutil.copy2(ROOT / self.changed.relative_to(self.folder), self.changed)
            self.changed = None


@dataclasses.dataclass
class Stage:
    """Tests that are asked together, and the processor's time that they may take [s].

    paths: files, folders or names of tests; of what is in them only `chosen`, `but` some.
    """

    paths: list[str]
    cpu_s: float
    chosen: set[str] | None = None
    but: set[str] | None = None


class Run:
    """A child that runs tests in a tree."""

    def __init__(self, tree: Tree, stage: Stage, watched: list[str] | None = None):
        """Starts it; watched: patterns of files whose calls are noted."""
        self.tree = tree
        self.began = time.monotonic()
        self.wall_s = stage.cpu_s * WAITING_TIMES
        self.timed_out = False
        tree.note.unlink(missing_ok=True)
        sys.stdout.flush()
        sys.stderr.flush()
        self.pid = os.fork()
        if self.pid == 0:
            code = 1
            try:
                _enter(tree, stage.cpu_s)
                code = _pytest(tree, stage.paths, Watch(tree.note, tree.folder, watched)
                               if watched else Chosen(tree.note, stage.chosen, stage.but))
            finally:
                os._exit(code)

    def ended(self) -> int | None:
        """Returns the exit code once the child has ended, -1 if it took too long, else None."""
        pid, status, used = os.wait4(self.pid, os.WNOHANG)
        if not pid:
            if time.monotonic() - self.began > self.wall_s and not self.timed_out:
                self.timed_out = True
                self.kill()
            return None
        self.kill()  # whatever it has started goes with it
        self.cpu_s = used.ru_utime + used.ru_stime
        if os.WIFSIGNALED(status):
            self.timed_out |= os.WTERMSIG(status) in (signal.SIGXCPU, signal.SIGKILL)
            return -1
        return os.WEXITSTATUS(status)

    def kill(self) -> None:
        """Ends the child and all that it has started."""
        try:
            os.killpg(self.pid, signal.SIGKILL)
        except (ProcessLookupError, PermissionError):
            pass

    def found(self) -> dict:
        """Returns the child's note, empty if it left none."""
        try:
            return json.loads(self.tree.note.read_text())
        except (OSError, ValueError):
            return {}


def _enter(tree: Tree, cpu_s: float) -> None:
    """Makes this process one that knows the project only by the tree."""
    os.setsid()
    signal.signal(signal.SIGINT, signal.SIG_DFL)
    said = os.open(tree.said, os.O_WRONLY | os.O_CREAT | os.O_TRUNC)
    nothing = os.open(os.devnull, os.O_RDONLY)
    for number, stream in ((nothing, 0), (said, 1), (said, 2)):
        os.dup2(number, stream)
    resource.setrlimit(resource.RLIMIT_CPU, (int(cpu_s) + 1, int(cpu_s) + 2))
    resource.setrlimit(resource.RLIMIT_DATA, (MEMORY_MOST_BYTES, MEMORY_MOST_BYTES))
    os.chdir(tree.folder)
    paths = [str(tree.folder / "firmware"), str(tree.folder / "host")]
    os.environ["PYTHONPATH"] = os.pathsep.join(paths)
    for name in [name for name in sys.modules if name.split(".")[0] in OURS]:
        del sys.modules[name]
    sys.path[:] = paths + [path for path in sys.path
                           if path and pathlib.Path(path).resolve() != ROOT]
    importlib.invalidate_caches()


def _pytest(tree: Tree, tests: list[str], plugin: Chosen) -> int:
    """Runs the tests; returns pytest's exit code."""
    options = [*QUIET, "-c", str(tree.folder / "pyproject.toml"), "--rootdir", str(tree.folder),
               "--basetemp", str(tree.folder / "tmp")]
    return int(pytest.main([*options, *tests], plugins=[plugin]))


def preload(names: list[str]) -> None:
    """Imports what a run of the tests had imported from elsewhere, so that forks have it."""
    for name in names:
        if name.split(".")[0] in LEFT_TO_CHILDREN or name in sys.modules:
            continue
        try:
            importlib.import_module(name)
        except Exception:  # noqa: BLE001 - only haste is lost; the child imports it itself
            continue
    gc.collect()
    gc.freeze()
