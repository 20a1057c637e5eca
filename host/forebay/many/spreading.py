"""Spreads the work over processes of this computer, or over a running scheduler of Dask's.

Owns what is asked of Dask.  The workers must see the store's folder under the same path, and
have this forebay.
"""

import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

from forebay.export.aside import ExportError
from forebay.many.balancing import rows_of
from forebay.many.store import Store, StoreError

HERE = "127.0.0.1"
FINDS_WITHIN_S = 10.0    # a scheduler


def _dask() -> Any:
    """Return the module of Dask that is needed; ExportError if it is not installed."""
    try:
        import distributed
    except ImportError as error:
        raise ExportError("many rigs need the packages dask and distributed: install them with"
                          f" {sys.executable} -m pip install dask distributed pyarrow") from error
    return distributed


def balanced(folder: Path, workers: int = 1, scheduler: str | None = None,
             progress: Callable[[int, int], None] | None = None) -> list[dict[str, Any]]:
    """Return one row a rig and day of a store, by rig and day.

    workers: processes of this computer; scheduler: address of a running one instead, such as
    tcp://host:8786; progress: called with (months of rigs done, all).  Raises StoreError and
    ExportError.
    """
    store = Store(folder)
    tasks = store.tasks()
    if not tasks:
        raise StoreError(f"{folder} holds no month of any rig: export its rigs into it again"
                         " with forebay export --whole")
    for rig_id, months in store.rigs().items():
        store.check(rig_id, months)    # what cannot be read is told before anything is begun
    distributed, rows = _dask(), []
    with _client(distributed, workers, scheduler) as client:
        waiting = client.map(rows_of, [str(Path(folder).absolute())] * len(tasks), tasks,
                             pure=False)
        for done, (_, found) in enumerate(
                distributed.as_completed(waiting, with_results=True), 1):
            rows += found
            if progress:
                progress(done, len(tasks))
    return sorted(rows, key=lambda one: (one["rig_id"], one["day"]))


def _client(distributed, workers, scheduler):
    """Return a client: of a scheduler, or of one made for this work alone."""
    if scheduler is None:
        # Nothing of this leaves the computer; port 0: whichever is free.
        return distributed.Client(n_workers=workers, threads_per_worker=1, processes=True,
                                  dashboard_address=f"{HERE}:0", host=HERE)
    try:
        return distributed.Client(scheduler, timeout=FINDS_WITHIN_S)
    except (OSError, TimeoutError, ValueError) as error:
        raise StoreError(f"--scheduler {scheduler}: none answers there ({error}); start one with"
                         " dask scheduler, or leave the option out") from error
