"""One simulation's process for all replays of a worker: it learns only once what runs often."""

import atexit
import functools

from forebay.rehearse.process import AUTO, Stage


@functools.cache
def stage() -> Stage:
    """Returns the process; it ends with the worker."""
    one = Stage(AUTO)
    atexit.register(one.close)
    return one
