"""Jobs of days, played in processes of their own under an interpreter that is fast at it.

PyPy where it is found; it cannot import forebay, nor needs it: this file, run by its path, is
the other side, which reads a job a line and answers with what came of it.
"""

import json
import os
import runpy
import shutil
import subprocess
import sys
from collections import deque
from collections.abc import Iterable, Iterator
from concurrent.futures import ThreadPoolExecutor
from itertools import islice
from pathlib import Path
from queue import SimpleQueue
from typing import Any

ROOT = Path(__file__).parents[2]
FASTER = "pypy3"
NICE = 5        # others work on the same machine


class Player:
    """One such process; `play` gives it a job and waits."""

    def __init__(self) -> None:
        """Starts it."""
        import keeper
        from forebay.rehearse import stage

        self.process = subprocess.Popen(
            [shutil.which(FASTER) or sys.executable, __file__, stage.__file__,
             str(Path(keeper.__file__).parent), str(Path(stage.__file__).parents[1])],
            stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True,
            env={**os.environ, "PYTHONPATH": ""})

    def play(self, job: Any) -> Any:
        """Returns what came of a job."""
        assert self.process.stdin
        assert self.process.stdout
        self.process.stdin.write(json.dumps(job) + "\n")
        self.process.stdin.flush()
        return json.loads(self.process.stdout.readline())

    def close(self) -> None:
        """Ends it."""
        assert self.process.stdin
        self.process.stdin.close()
        self.process.wait()


def played(jobs: Iterable[tuple[Any, Any]], workers: int) -> Iterator[tuple[Any, Any]]:
    """Yields (what was asked, what came of it) of pairs (what is asked, job), in their order."""
    free: SimpleQueue[Player] = SimpleQueue()
    players = [Player() for _ in range(workers)]
    for one in players:
        free.put(one)

    def play(pair):
        player = free.get()
        try:
            return pair[0], player.play(pair[1])
        finally:
            free.put(player)

    try:
        with ThreadPoolExecutor(workers) as pool:
            given = iter(jobs)      # no more of them are made than are soon needed
            waiting = deque(pool.submit(play, one) for one in islice(given, 2 * workers))
            while waiting:
                yield waiting.popleft().result()
                waiting.extend(pool.submit(play, one) for one in islice(given, 1))
    finally:
        for one in players:
            one.close()


def main(stage: str, keeper: str, forebay: str) -> None:
    """Plays what comes on stdin."""
    runpy.run_path(stage)["packages"](keeper, forebay)
    sys.path[0] = str(ROOT)
    if hasattr(os, "nice"):
        os.nice(NICE)
    from tests.bench.other_plant import lived

    for line in sys.stdin:
        print(json.dumps(lived(json.loads(line))), flush=True)


if __name__ == "__main__":
    main(*sys.argv[1:])
