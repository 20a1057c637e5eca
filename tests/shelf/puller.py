"""Pulls in a process of its own, to be killed at any moment."""

import os
import signal
import sqlite3

from forebay.shelf import Shelf
from forebay.wire import pull

connect = sqlite3.connect


def run(port, path, killed_at=None):
    """Pulls; kills itself (signal 9) after so many steps of the database's engine, if told to."""
    if killed_at is not None:
        sqlite3.connect = _mortal(killed_at)
    with Shelf(path) as shelf:
        pull(port, shelf)


def _mortal(steps):
    left = [steps]

    def step():
        left[0] -= 1
        if left[0] <= 0:
            os.kill(os.getpid(), signal.SIGKILL)
        return 0

    def open_mortal(*arguments, **options):
        db = connect(*arguments, **options)
        db.set_progress_handler(step, 1)
        return db

    return open_mortal
