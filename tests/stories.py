"""Stories of very many steps, under an interpreter that compiles what runs often, such as PyPy.

A story is a function of a module that imports neither pytest nor what that interpreter cannot
read: it steps a twin, asserts what must hold in each step, and returns plain data, of which a
test judges the rest. That the twin is the same there to the last bit is held by
tests/rehearse. Each worker has one such process for all its stories: it has to learn what runs
often only once. Where there is none the story is told here. This file, run by its path, is the
other side.
"""

import atexit
import functools
import os
import pickle
import runpy
import shutil
import subprocess
import sys
import tempfile
import traceback
from pathlib import Path

ROOT = Path(__file__).parents[1]
FASTER = "pypy3"
PROTOCOL = 4     # of pickle: what Python 3.9 reads
DRAWN = (8,)     # seeds of the random rigs of which stories are told


def told(story, *arguments, **named):
    """Returns story(*arguments, **named), all of it plain data.

    Raises AssertionError with the other side's traceback for whatever is raised there.
    """
    teller = _teller()
    if teller is None:
        return story(*arguments, **named)
    assert teller.stdin
    assert teller.stdout
    pickle.dump((story, arguments, named), teller.stdin, PROTOCOL)
    teller.stdin.flush()
    try:
        is_told, answer = pickle.load(teller.stdout)
    except EOFError:
        raise AssertionError(f"{FASTER} ended by itself, code {teller.wait()}") from None
    if not is_told:
        raise AssertionError(answer)
    return answer


@functools.cache
def _teller():
    """Returns this worker's process, None where there is no faster interpreter."""
    path = shutil.which(FASTER)
    if path is None:
        return None
    import keeper
    from forebay.rehearse import stage
    from tests.campaign import given, lesser

    file = Path(tempfile.mkdtemp()) / "given.json"
    given.write(file, DRAWN, (lesser.ORCHARD,))
    process = subprocess.Popen(
        [path, __file__, stage.__file__, str(Path(keeper.__file__).parent),
         str(Path(stage.__file__).parents[1])],
        env={**os.environ, given.FILE: str(file), "PYTHONPATH": ""},
        stdin=subprocess.PIPE, stdout=subprocess.PIPE)
    atexit.register(_end, process, file.parent)
    return process


def _end(process, folder):
    process.stdin.close()
    process.wait()
    process.stdout.close()
    shutil.rmtree(folder)


def main(stage, keeper, forebay):
    """Tells stories until nobody asks any more; stage: the file that can import the twin."""
    runpy.run_path(stage)["packages"](keeper, forebay)
    sys.path[0] = str(ROOT)
    answers = os.fdopen(os.dup(1), "wb")
    os.dup2(2, 1)   # whatever is printed must not come between the answers
    while True:
        try:
            story, arguments, named = pickle.load(sys.stdin.buffer)
        except EOFError:
            return
        try:
            answer = True, story(*arguments, **named)
        except BaseException:  # noqa: BLE001 - it is raised again where it was asked for
            answer = False, traceback.format_exc()
        pickle.dump(answer, answers, PROTOCOL)
        answers.flush()


if __name__ == "__main__":
    main(*sys.argv[1:])
