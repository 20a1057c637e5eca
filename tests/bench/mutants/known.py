"""What is known of mutants: results of earlier runs, and the survivors that are excused.

Results lie in one file of JSON lines that is only ever appended to, so that a run can be
broken off at any time. A mutant that was noticed stays so while its source stands; one that
survived may be noticed by other tests, so it counts only for the tests that it survived.
"""

import dataclasses
import hashlib
import json
import pathlib
import tomllib

from tests.bench.mutants.groups import COPIED, ROOT, Group
from tests.bench.mutants.making import Mutant

RESULTS = ROOT / ".mutants" / "results.jsonl"
BENCH = pathlib.Path(__file__).resolve().parent
EXCUSES = BENCH / "excused.toml"
NOTICED, TIMED_OUT, SURVIVED = "noticed", "timed out", "survived"


class KnownError(Exception):
    """A file of ours says what cannot be; the text names the place."""


@dataclasses.dataclass(frozen=True)
class Excuse:
    """A survivor that no test can tell from the original, and why."""

    file: str
    within: str
    line: str
    becomes: str
    why: str

    def fits(self, mutant: Mutant) -> bool:
        """True if this is the mutant's excuse."""
        return (mutant.file, mutant.within, mutant.before, mutant.after) == (
            self.file, self.within, self.line, self.becomes)


def excuses(path: pathlib.Path = EXCUSES) -> list[Excuse]:
    """Returns the excuses. Raises KnownError if a row lacks something or says too much."""
    keys = [field.name for field in dataclasses.fields(Excuse)]
    found = []
    for row in tomllib.loads(path.read_text(encoding="utf-8")).get("excuse", []):
        if sorted(row) != sorted(keys) or not all(isinstance(row[key], str) for key in keys):
            raise KnownError(f"{path.name}: a row has {sorted(row)}, wanted are texts {keys}")
        texts = {key: row[key].strip() for key in keys}
        if not texts["why"]:
            raise KnownError(f"{path.name}: no reason is given for {texts['line']!r}")
        found.append(Excuse(**texts))
    return found


def unused(rows: list[Excuse], mutants: list[Mutant]) -> list[Excuse]:
    """Returns the excuses for which there is no such mutant any longer."""
    there = {(one.file, one.within, one.before, one.after) for one in mutants}
    return [row for row in rows if (row.file, row.within, row.line, row.becomes) not in there]


class Results:
    """Outcomes by mutant and source; `tests` is the state of a group's tests."""

    def __init__(self, path: pathlib.Path = RESULTS):
        """Reads what is there."""
        self.path = path
        self.by_key: dict[tuple[str, str], dict] = {}
        if path.is_file():
            for line in path.read_text(encoding="utf-8").splitlines():
                try:
                    row = json.loads(line)
                except ValueError:
                    continue  # a line that was broken off: its mutant is run again
                self.by_key[row["source"], row["name"]] = row

    def of(self, mutant: Mutant, source: str, tests: str | None) -> dict | None:
        """Returns the outcome, None if it must be run; tests=None: whatever the tests were."""
        row = self.by_key.get((source, mutant.name))
        if row and row["outcome"] == SURVIVED and tests not in (None, row["tests"]):
            return None
        return row

    def killers(self, group: Group) -> list[str]:
        """Returns the tests that noticed a mutant of the group, those that noticed most first."""
        files, count = set(group.files()), {}
        for row in self.by_key.values():
            if row["by"] and row["name"].split("\x1f")[0] in files:
                count[row["by"]] = count.get(row["by"], 0) + 1
        return sorted(count, key=lambda test: -count[test])

    def add(self, mutant: Mutant, source: str, tests: str, outcome: str, by: str) -> None:
        """Keeps an outcome; by: the test that noticed, '' if none can be named."""
        row = {"source": source, "name": mutant.name, "tests": tests, "outcome": outcome,
               "by": by}
        self.by_key[source, mutant.name] = row
        self.path.parent.mkdir(parents=True, exist_ok=True)
        with self.path.open("a", encoding="utf-8") as file:
            file.write(json.dumps(row) + "\n")


def digest(text: str) -> str:
    """Returns what a text is known by."""
    return hashlib.sha256(text.encode()).hexdigest()[:16]


def tests_digest(group: Group) -> str:
    """Returns what the state of a group's tests is known by, with all that lies beside them."""
    folders = {path if path.is_dir() else path.parent
               for path in (ROOT / name for name in (*group.tests, *group.further))}
    return _state(folders, (group.tests, group.further))


def tree_digest(paths: tuple[str, ...]) -> str:
    """Returns what some tests are known by, together with all that they may look at."""
    return _state({ROOT / name for name in COPIED}, paths)


def _state(places: set[pathlib.Path], beside: tuple) -> str:
    files = sorted({path for place in places for path in (place, *place.rglob("*"))
                    if path.is_file() and "__pycache__" not in path.parts
                    and BENCH not in path.parents})
    state = hashlib.sha256(repr(beside).encode())
    for path in files:
        state.update(path.relative_to(ROOT).as_posix().encode() + path.read_bytes())
    return state.hexdigest()[:16]
