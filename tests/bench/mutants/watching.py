"""What the bench sees of a run of pytest: which test failed, and which tests call which function.

Without a mutant each test is watched once. A mutant in a function is then put only to the
tests that call it, or that were handed what it made; one at the top of a module to all.
"""

import ast
import builtins
import fnmatch
import importlib.machinery
import json
import pathlib
import sys
import time

import pytest

# Names that belong to the project, not to what is imported from elsewhere.
OURS = ("keeper", "forebay", "tests", "boot", "main", "program", "conftest")
ALL = "*"  # of a test that starts processes, into which nobody looks
AT_IMPORT = ""  # what is called outside of any test
MARK = "__seen__"  # what a watched function calls first


class Chosen:
    """Takes part in a run against a mutant: only some tests, and a note of which one failed."""

    def __init__(self, note: pathlib.Path, tests: set[str] | None = None,
                 but: set[str] | None = None):
        """Chooses `tests`, all if None, `but` some; leaves a note in the file `note`."""
        self.note = note
        self.tests = tests
        self.but = but or set()
        self.failed = ""

    def pytest_sessionstart(self) -> None:
        """No shrinking: that a case fails is enough."""
        import hypothesis
        from hypothesis import Phase

        hypothesis.settings.register_profile(
            "mutants", parent=hypothesis.settings(), phases=(Phase.explicit, Phase.generate),
            report_multiple_bugs=False)
        hypothesis.settings.load_profile("mutants")

    def pytest_collection_modifyitems(self, items) -> None:
        """Leaves out what was not chosen."""
        items[:] = [item for item in items if item.nodeid not in self.but
                    and (self.tests is None or item.nodeid in self.tests)]

    def pytest_runtest_logreport(self, report) -> None:
        """Notes the first test that fails."""
        if report.failed and not self.failed:
            self.failed = report.nodeid

    def pytest_sessionfinish(self) -> None:
        """Leaves the note."""
        self.note.write_text(json.dumps({"failed": self.failed}))


class Watch(Chosen):
    """Takes part in the run without a mutant and notes what each test calls and takes."""

    def __init__(self, note: pathlib.Path, root: pathlib.Path, patterns: list[str]):
        """Looks at calls of functions of files below `root` that match a pattern."""
        super().__init__(note)
        self.calls: dict[str, set[str]] = {AT_IMPORT: set()}
        self.now = self.calls[AT_IMPORT]
        self.took: dict[str, float] = {}
        self.fixtures: dict[object, set[str]] = {}
        sys.addaudithook(self._audit)
        setattr(builtins, MARK, lambda name: self.now.add(name))
        mark_functions(root, patterns)

    def _audit(self, event: str, _) -> None:
        if event in ("subprocess.Popen", "os.fork", "os.posix_spawn"):
            self.now.add(ALL)

    @pytest.hookimpl(wrapper=True)
    def pytest_fixture_setup(self, fixturedef):
        """What a fixture calls counts for every test that it is handed to."""
        before, self.now = self.now, self.fixtures.setdefault(fixturedef, set())
        try:
            return (yield)
        finally:
            self.now = before

    @pytest.hookimpl(wrapper=True)
    def pytest_runtest_protocol(self, item):
        """Notes what one test calls, and the processor's time that it takes."""
        self.now = self.calls[item.nodeid] = set()
        began = time.process_time()
        try:
            return (yield)
        finally:
            self.took[item.nodeid] = time.process_time() - began
            for definitions in item._fixtureinfo.name2fixturedefs.values():
                for definition in definitions:
                    self.now |= self.fixtures.get(definition, set())
            self.now = self.calls[AT_IMPORT]

    def pytest_sessionfinish(self) -> None:
        """Leaves the note."""
        elsewhere = sorted(name for name in sys.modules if name.split(".")[0] not in OURS)
        self.note.write_text(json.dumps({
            "calls": {test: sorted(calls) for test, calls in self.calls.items()},
            "took": self.took, "modules": elsewhere}))


class Marker(ast.NodeTransformer):
    """Lets each function of a file say that it is called, before all that it does."""

    def __init__(self, file: str):
        """Names functions as 'file::class.function'."""
        self.file = file
        self.path: list[str] = []

    def visit_ClassDef(self, node):
        """Goes into a class."""
        return self._inside(node)

    def visit_FunctionDef(self, node):
        """Goes into a function and marks it; what stands first may be its docstring."""
        self._inside(node)
        name = f"{self.file}::{'.'.join([*self.path, node.name])}"
        mark = ast.parse(f"{MARK}({name!r})").body[0]
        node.body.insert(0 if ast.get_docstring(node) is None else 1, mark)
        return node

    def _inside(self, node):
        self.path.append(node.name)
        self.generic_visit(node)
        self.path.pop()
        return node


def mark_functions(root: pathlib.Path, patterns: list[str]) -> None:
    """Marks from now on the functions of files below `root` in the moment of their import."""
    unmarked = importlib.machinery.SourceFileLoader.get_code

    def get_code(loader, fullname):
        path = loader.get_filename(fullname)
        file = path.removeprefix(f"{root}/")
        if not any(fnmatch.fnmatch(file, pattern) for pattern in patterns):
            return unmarked(loader, fullname)
        tree = Marker(file).visit(ast.parse(loader.get_data(path)))
        return compile(ast.fix_missing_locations(tree), path, "exec", dont_inherit=True)

    setattr(importlib.machinery.SourceFileLoader, "get_code", get_code)  # noqa: B010
