"""Runs a rehearsal: simulate, serve, pull, balance, review."""

import signal
import threading
import time
from collections.abc import Callable
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, timezone
from pathlib import Path

from forebay.rehearse.options import DAY_S, MARK, Plan, RehearsalError
from forebay.rehearse.serving import Served
from forebay.review import Review, review_of
from forebay.shelf import Shelf
from forebay.twin.twin import Twin
from forebay.wire import PullReport, pull
from keeper import settings as st
from keeper.clock import PERIOD_MS, PERIODS_PER_S, TICKS_MASK
from keeper.opening import open_journal

CHUNK_PERIODS = 6000   # between two reports of progress: 10 min of the day
S_PER_H = 3600


@dataclass
class Rehearsal:
    """What a rehearsal left: the twin in its last state, the pull, the review, times [s].

    events: (code, argument, argument 2, time [s since 1970 UTC]) as pulled.
    """

    plan: Plan
    twin: Twin
    pulled: PullReport
    review: Review
    events: list[tuple[int, int, int, float]]
    simulated_s: float
    simulation_wall_s: float
    interrupted: bool

    @property
    def real_time_factor(self) -> float:
        """Simulated over wall time of the simulation [-]."""
        return self.simulated_s / self.simulation_wall_s if self.simulation_wall_s else 0.0


def rehearse(plan: Plan, progress: Callable[[float, float], None] | None = None,
             seed: int = 1) -> Rehearsal:
    """Run a plan; shelf and board's files are kept in its folder.

    progress: called with (hours done, hours in all) of the day; seed: of the
    instruments' errors [-].  An interrupt from the keyboard ends the
    simulation early, and what was recorded is still pulled and reviewed.
    """
    try:
        plan.out.mkdir(parents=True, exist_ok=True)
        (plan.out / MARK).touch()
    except OSError as error:
        raise RehearsalError(f"--out {plan.out}: cannot write there"
                             f" ({error.strerror}); name another folder") from error
    board = plan.out / "board"
    track, rig = plan.sun, plan.rig
    rig_id = plan.settings[st.index("rig_id")]
    twin = Twin(rig.plant(), plan.settings, (track.poa_w_m2, track.cell_degC, track.air_degC),
                lambda: open_journal(str(board), rig_id, st.VERSION), plan.faults, seed)
    begin = time.perf_counter()
    interrupted = not _simulate(twin, progress)
    wall_s = time.perf_counter() - begin
    with Shelf(plan.out / "shelf.sqlite") as shelf:
        shelf.add_rig(rig_id, rig.rig.name, rig.toml_text, rig.digest)
        pulled = _pull(twin, track.start_utc, shelf)
        zone = timezone(timedelta(hours=track.utc_offset_h))
        review = review_of(shelf, rig, rig_id, zone=zone, notes=plan.notes)
        events = _events(shelf, rig_id)
    return Rehearsal(plan, twin, pulled, review, events, twin.periods / PERIODS_PER_S, wall_s,
                     interrupted)


def _events(shelf, rig_id):
    journal = shelf.journal(rig_id)
    table = journal.events
    when = shelf.clock(rig_id).utc(table["life"], table["boot"], table["uptime_ds"])
    columns = [table[name].tolist() for name in ("code", "argument", "argument2")]
    return list(zip(*columns, when.tolist(), strict=True))


def _simulate(twin, progress):
    """Run the day; return whether it came to its end.

    An interrupt waits for the end of a chunk: in the middle of a scan or of a
    write it would leave a state that no board can be in.
    """
    periods = DAY_S * PERIODS_PER_S
    with _interrupts() as interrupts:
        while twin.periods < periods and not interrupts:
            twin.run(min(CHUNK_PERIODS, periods - twin.periods))
            if progress:
                progress(twin.periods / PERIODS_PER_S / S_PER_H, DAY_S / S_PER_H)
        return not interrupts


@contextmanager
def _interrupts():
    """Gather interrupts from the keyboard in a list instead of raising them."""
    seen: list[int] = []
    if threading.current_thread() is not threading.main_thread():
        yield seen  # only the main thread hears the keyboard
        return
    before = signal.signal(signal.SIGINT, lambda number, _: seen.append(number))
    try:
        yield seen
    finally:
        signal.signal(signal.SIGINT, before)


def _pull(twin, start_utc: datetime, shelf):
    """Fetch the journal over a real line, at the twin's own time of day."""
    while not twin.powered:
        twin.step()  # the board's supply is off: a person would wait for it too
    now = start_utc.astimezone(UTC) + timedelta(seconds=twin.periods / PERIODS_PER_S)
    now_ms = (twin.periods - twin.boot_period) * PERIOD_MS & TICKS_MASK
    with Served(twin.keeper, now_ms) as port:
        return pull(port, shelf, now_utc=lambda: now)


def files(plan: Plan) -> dict[str, Path]:
    """Return what a rehearsal leaves in its folder, by kind."""
    return {"review": plan.out / "review.html", "shelf": plan.out / "shelf.sqlite",
            "report": plan.out / MARK, "board": plan.out / "board"}
