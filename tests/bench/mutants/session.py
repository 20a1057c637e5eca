"""One run over a group: what is not known yet is tried, in as many processes as there is room."""

import dataclasses
import pathlib
import time
from collections.abc import Callable

from tests.bench.mutants import known, making, trying
from tests.bench.mutants.groups import ROOT, Group
from tests.bench.mutants.making import Mutant

POLL_S = 0.01
# So many of the tests that have noticed most are asked before all others.
FIRST_ASKED = 12
UNLIMITED_S = 3600
TAIL_LINES = 15


class BenchError(Exception):
    """Nothing can be said of mutants: the tests fail without one, or a table is wrong."""


@dataclasses.dataclass
class Drawn:
    """The mutants of a group that are tried, and what their sources are known by."""

    group: Group
    mutants: list[Mutant]
    sources: dict[str, str]
    possible: list[Mutant]

    def source_digest(self, mutant: Mutant) -> str:
        """Returns what the source of a mutant is known by."""
        return known.digest(self.sources[mutant.file])


def draw(group: Group, count: int | None, seed: int) -> Drawn:
    """Draws a group's mutants, from each file as many as its size gives."""
    files = group.files()
    sources = {file: (ROOT / file).read_text(encoding="utf-8") for file in files}
    every = [making.mutants_of(file, sources[file]) for file in files]
    share = making.shares([len(mutants) for mutants in every], count or group.count())
    drawn = [one for file, mutants, number in zip(files, every, share, strict=True)
             for one in making.sample(mutants, sources[file], number, seed)]
    return Drawn(group, drawn, sources, [one for mutants in every for one in mutants])


class Attempt:
    """One mutant in one tree: stage after stage of tests until one notices it or none is left."""

    def __init__(self, tree: trying.Tree, mutant: Mutant, drawn: Drawn, stages, cpu_s: float):
        """Starts with the first stage."""
        self.tree = tree
        self.mutant = mutant
        self.stages = [stage for stage in stages if stage]
        self.cpu_s = cpu_s
        tree.write(mutant.file, mutant.applied(drawn.sources[mutant.file]))
        self._begin()

    def _begin(self) -> None:
        self.asked = self.stages.pop(0)
        self.run = trying.Run(self.tree, self.asked, self.cpu_s)

    def outcome(self) -> tuple[str, str] | None:
        """Returns the outcome and the test that noticed, None while there is none yet."""
        code = self.run.ended()
        if code is None:
            return None
        # A test that the mistake has renamed says nothing: all tests follow.
        if self.stages and code in (trying.PASSED, trying.NO_SUCH_TEST):
            self._begin()
            return None
        if code == trying.PASSED:
            return known.SURVIVED, ""
        if self.run.timed_out:
            return known.TIMED_OUT, ""
        return known.NOTICED, self.run.found().get("failed", "")


class Session:
    """Trees and processes, for group after group."""

    def __init__(self, folder: pathlib.Path, jobs: int, results: known.Results,
                 tell: Callable[[str], None]):
        """Prepares one tree a process in `folder`; `tell` takes lines of progress."""
        self.folder = folder
        self.results = results
        self.tell = tell
        self.jobs = jobs
        self.trees = [trying.Tree(folder / "0")]

    def baseline(self, tests: list[str]) -> tuple[float, list[str]]:
        """Returns the processor's time [s] of tests without a mutant, and their names.

        Raises BenchError if they do not all pass.
        """
        if not tests:
            return 0.0, []
        tree = self.trees[0]
        tree.restore()
        run = trying.Run(tree, tests, UNLIMITED_S)
        while (code := run.ended()) is None:
            time.sleep(POLL_S)
        if code != trying.PASSED:
            said = tree.said.read_text(encoding="utf-8", errors="replace").splitlines()
            raise BenchError("tests fail without a mutant: " + " ".join(tests) + "\n"
                             + "\n".join(said[-TAIL_LINES:]))
        note = run.found()
        trying.preload(note["modules"])
        return run.cpu_s, note["collected"]

    def work(self, drawn: Drawn, again: bool) -> None:
        """Tries what is not known yet; again: survivors too, though their tests stand."""
        group = drawn.group
        state = known.tests_digest(group)
        waiting = [one for one in drawn.mutants if self._is_open(drawn, one, state, again)]
        if not waiting:
            return
        self.tell(f"{group.name}: {len(waiting)} of {len(drawn.mutants)} mutants to be tried")
        first_s, names = self.baseline(list(group.tests))
        further_s, _ = self.baseline(list(group.further))
        self.tell(f"{group.name}: {len(names)} tests, {first_s:.1f} s without a mutant")
        cpu_s = max(trying.LEAST_TIMEOUT_S,
                    trying.TIMES_BASELINE * max(first_s, further_s))
        while len(self.trees) < self.jobs:
            folder = self.folder / str(len(self.trees))
            self.trees.append(trying.Tree(folder, self.trees[0].folder))
        self._through(drawn, waiting, state, set(names), cpu_s)

    def _is_open(self, drawn: Drawn, mutant: Mutant, state: str, again: bool) -> bool:
        row = self.results.of(mutant, drawn.source_digest(mutant), state)
        return row is None or (again and row["outcome"] == known.SURVIVED)

    def _through(self, drawn: Drawn, waiting: list[Mutant], state: str, names: set[str],
                 cpu_s: float) -> None:
        free, busy, done = list(self.trees[: self.jobs]), [], 0
        queue = list(waiting)
        try:
            while queue or busy:
                while queue and free:
                    first = [name for name in self.results.killers(drawn.group)
                             if name in names][:FIRST_ASKED]
                    stages = [first, list(drawn.group.tests), list(drawn.group.further)]
                    busy.append(Attempt(free.pop(), queue.pop(0), drawn, stages, cpu_s))
                time.sleep(POLL_S)
                for attempt in list(busy):
                    if (outcome := attempt.outcome()) is None:
                        continue
                    busy.remove(attempt)
                    free.append(attempt.tree)
                    done += 1
                    self._keep(drawn, attempt.mutant, state, outcome, f"{done}/{len(waiting)}")
        finally:
            for attempt in busy:
                attempt.run.kill()

    def _keep(self, drawn: Drawn, mutant: Mutant, state: str, outcome: tuple[str, str],
              place: str) -> None:
        what, by = outcome
        self.results.add(mutant, drawn.source_digest(mutant), state, what, by)
        self.tell(f"{place} {mutant.file}:{mutant.line} {what}{' by ' + by if by else ''}")
