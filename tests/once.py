"""What takes seconds to make and is the same for every worker: made once in a run of the tests."""

import hashlib
import os
import pickle
from collections.abc import Callable
from pathlib import Path
from typing import TypeVar

FOLDER = "TESTS_MADE_ONCE"     # in the environment, which the workers inherit

Made = TypeVar("Made")


def once(name: str, make: Callable[[], Made]) -> Made:
    """Returns what `make` returns: whichever worker asks first makes it, others wait for it.

    name: tells it from everything else that is made so; make: returns plain data. A program
    that runs no tests makes it for itself.
    """
    folder = os.environ.get(FOLDER)
    if folder is None or os.name == "nt":
        return make()
    import fcntl  # where there is one

    path = Path(folder) / hashlib.sha256(name.encode()).hexdigest()
    with open(path.with_suffix(".lock"), "w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        if not path.exists():
            path.with_suffix(".new").write_bytes(pickle.dumps(make()))
            path.with_suffix(".new").replace(path)
    return pickle.loads(path.read_bytes())
