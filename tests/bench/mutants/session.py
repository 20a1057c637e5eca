"""One run over a group: what is not known yet is tried, in as many processes as there is room."""

import dataclasses
import json
import pathlib
import time
from collections import Counter
from collections.abc import Callable

from tests.bench.mutants import known, making, trying
from tests.bench.mutants.groups import GROUPS, ROOT, Group
from tests.bench.mutants.making import Mutant
from tests.bench.mutants.watching import ALL, AT_IMPORT

POLL_S = 0.01
# So many of the tests that have noticed most are asked before all others.
FIRST_ASKED = 12
SLOW_S = 1.0  # a test that takes longer is asked when the others have noticed nothing
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


class Baseline:
    """A group's tests without a mutant: how long each takes and which functions it calls."""

    def __init__(self, note: dict):
        """Reads the note of a run that was watched."""
        self.calls = {test: set(calls) for test, calls in note["calls"].items()}
        self.at_import = self.calls.pop(AT_IMPORT)
        self.took: dict[str, float] = note["took"]

    def stages(self, mutant: Mutant, killers: list[str]) -> list[trying.Stage]:
        """Returns the tests that a mutant may concern: the best, the quick, the slow ones."""
        function = f"{mutant.file}::{mutant.within}"
        concerns_all = not mutant.in_function or function in self.at_import
        chosen = {test for test, calls in self.calls.items()
                  if concerns_all or calls & {function, ALL}}
        slow = {test for test in chosen if self.took[test] > SLOW_S}
        best = [test for test in killers if test in chosen - slow][:FIRST_ASKED]
        stages = [self._stage(best, set(best))]
        if concerns_all:
            # A mistake at a module's top may make cases that were not there before.
            files = self._files(chosen, killers)
            stages.append(trying.Stage(files, self._limit_s(chosen), None, slow))
        else:
            stages.append(self._stage(self._files(chosen - slow, killers), chosen - slow))
        stages.append(self._stage(self._files(slow, killers), slow))
        return [stage for stage in stages if stage.paths]

    def _stage(self, paths: list[str], chosen: set[str]) -> trying.Stage:
        return trying.Stage(paths, self._limit_s(chosen), chosen)

    def _limit_s(self, tests: set[str]) -> float:
        took_s = sum(self.took[test] for test in tests)
        return max(trying.LEAST_TIMEOUT_S, trying.TIMES_BASELINE * took_s)

    def _files(self, tests: set[str], killers: list[str]) -> list[str]:
        """Returns the files of tests: those that noticed most, then those that are quickest."""
        count = Counter(test.split("::")[0] for test in killers)
        took_s: dict[str, float] = {}
        for test in tests:
            file = test.split("::")[0]
            took_s[file] = took_s.get(file, 0.0) + self.took[test]
        return sorted(took_s, key=lambda file: (-count[file], took_s[file], file))


class Attempt:
    """One mutant in one tree: stage after stage of tests until one notices it or none is left."""

    def __init__(self, tree: trying.Tree, mutant: Mutant, drawn: Drawn,
                 stages: list[trying.Stage]):
        """Starts with the first stage."""
        self.tree = tree
        self.mutant = mutant
        self.stages = stages
        tree.write(mutant.file, mutant.applied(drawn.sources[mutant.file]))
        self.run = trying.Run(tree, self.stages.pop(0))

    def outcome(self) -> tuple[str, str] | None:
        """Returns the outcome and the test that noticed, None while there is none yet."""
        code = self.run.ended()
        if code is None:
            return None
        # A test that the mistake has renamed says nothing: all tests follow.
        if self.stages and code in (trying.PASSED, trying.NO_SUCH_TEST):
            self.run = trying.Run(self.tree, self.stages.pop(0))
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

    def baseline(self, paths: tuple[str, ...]) -> Baseline | None:
        """Returns what tests do without a mutant, None if none are named.

        It is the same for all groups, and for the next run while no file changes.
        Raises BenchError if they do not all pass.
        """
        if not paths:
            return None
        kept = self.results.path.with_name(f"without-{known.tree_digest(paths)}.json")
        if not kept.is_file():
            self.tell(f"without a mutant: {' '.join(paths)}")
            kept.parent.mkdir(parents=True, exist_ok=True)
            kept.write_text(json.dumps(self._watched(paths)))
        note = json.loads(kept.read_text())
        trying.preload(note["modules"])
        self.tell(f"{len(note['took'])} tests, {sum(note['took'].values()):.1f} s")
        return Baseline(note)

    def _watched(self, paths: tuple[str, ...]) -> dict:
        tree = self.trees[0]
        tree.restore()
        stage = trying.Stage(list(paths), UNLIMITED_S)
        run = trying.Run(tree, stage, [file for group in GROUPS for file in group.sources])
        try:
            while (code := run.ended()) is None:
                time.sleep(POLL_S)
        except KeyboardInterrupt:
            run.kill()
            raise
        if code != trying.PASSED:
            said = tree.said.read_text(encoding="utf-8", errors="replace").splitlines()
            raise BenchError("tests fail without a mutant: " + " ".join(paths) + "\n"
                             + "\n".join(said[-TAIL_LINES:]))
        return run.found()

    def work(self, drawn: Drawn, again: bool) -> None:
        """Tries what is not known yet; again: survivors too, though their tests stand."""
        group = drawn.group
        state = known.tests_digest(group)
        waiting = [one for one in drawn.mutants if self._is_open(drawn, one, state, again)]
        if not waiting:
            return
        self.tell(f"{group.name}: {len(waiting)} of {len(drawn.mutants)} mutants to be tried")
        baselines = [one for one in map(self.baseline, (group.tests, group.further)) if one]
        while len(self.trees) < self.jobs:
            folder = self.folder / str(len(self.trees))
            self.trees.append(trying.Tree(folder, self.trees[0].folder))
        self._through(drawn, waiting, state, baselines)

    def _is_open(self, drawn: Drawn, mutant: Mutant, state: str, again: bool) -> bool:
        row = self.results.of(mutant, drawn.source_digest(mutant), state)
        return row is None or (again and row["outcome"] == known.SURVIVED)

    def _through(self, drawn: Drawn, waiting: list[Mutant], state: str,
                 baselines: list[Baseline]) -> None:
        free, busy, done = list(self.trees[: self.jobs]), [], 0
        queue = list(waiting)
        try:
            while queue or busy:
                while queue and free:
                    mutant, killers = queue.pop(0), self.results.killers(drawn.group)
                    stages = [stage for baseline in baselines
                              for stage in baseline.stages(mutant, killers)]
                    if stages:
                        busy.append(Attempt(free.pop(), mutant, drawn, stages))
                    else:  # no test so much as runs the line
                        done += 1
                        self._keep(drawn, mutant, state, (known.SURVIVED, ""), f"{done}")
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
