"""Runs a rehearsal: simulate in a process of its own, pull, balance, review."""

import signal
import threading
import time
from collections.abc import Callable
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, timedelta
from pathlib import Path

from forebay.described import Descriptions
from forebay.links import Asked
from forebay.rehearse.options import DAY_S, MARK, Plan, RehearsalError
from forebay.rehearse.process import AUTO, Stage
from forebay.rehearse.stage import GO_ON, STOP
from forebay.review import Review, review_of, with_judgement
from forebay.shelf import Rehearsed, Shelf
from forebay.twin.twin import PRESSED, RELEASED
from forebay.wire import PullReport, WireError, pull
from keeper import settings as st
from keeper.clock import PERIODS_PER_S

S_PER_H = 3600
PRESS_S = 0.5   # a short press is about the light


@dataclass
class Rehearsal:
    """What a rehearsal left: what was true of the twin, the pull, the review, times [s].

    truth: as `forebay.rehearse.stage.truth`; events: (code, argument, argument
    2, time [s since 1970 UTC]) as pulled; interpreter: what the simulation ran
    under; interpreter_note: why not under the first choice, or "".
    """

    plan: Plan
    truth: dict
    pulled: PullReport
    review: Review
    events: list[tuple[int, int, int, float]]
    simulated_s: float
    simulation_wall_s: float
    interrupted: bool
    interpreter: str
    interpreter_note: str

    @property
    def real_time_factor(self) -> float:
        """Simulated over wall time of the simulation [-]."""
        return self.simulated_s / self.simulation_wall_s if self.simulation_wall_s else 0.0


def rehearse(plan: Plan, progress: Callable[[float, float], None] | None = None,
             seed: int = 1, python: str = AUTO, hours: float = DAY_S / S_PER_H) -> Rehearsal:
    """Run a plan; shelf and board's files are kept in its folder.

    progress: called with (hours done, hours in all) of the day; seed: of the
    instruments' errors [-]; python: see `forebay.rehearse.process.Stage`; hours: how much of
    the day is played [h], at most all of it.  An
    interrupt from the keyboard ends the simulation early, and what was
    recorded is still pulled and reviewed.  Raises RehearsalError.
    """
    rig_id = plan.settings[st.index("rig_id")]
    begin = time.perf_counter()
    with Stage(python) as stage, Shelf(folder_of(plan) / "shelf.sqlite") as shelf:
        stage.tell({**job(plan, rig_id, seed), "periods": round(hours * S_PER_H * PERIODS_PER_S)})
        served, interrupted = _simulate(stage, progress)
        wall_s = time.perf_counter() - begin
        shelf.add_rig(rig_id, plan.rig.rig.name, plan.rig.toml_text, plan.rig.digest)
        pulled = _pull(stage, served, plan.sun.start_utc, shelf)
        stage.tell(STOP)
        truth = stage.hear()["truth"]
        hours = truth["periods"] / PERIODS_PER_S / S_PER_H
        shelf.note_rehearsal(rig_id, mark_of(plan, seed, plan.sun.start_utc.timestamp(), hours),
                             shelf.generations(rig_id)[-1])
        review = with_judgement(review_of(shelf, plan.rig, rig_id, zone=plan.zone), shelf,
                                Descriptions(rig_id, plan.rig))
        return Rehearsal(plan, truth, pulled, review, _events(shelf, rig_id),
                         truth["periods"] / PERIODS_PER_S, wall_s, interrupted,
                         stage.interpreter, stage.note)


def folder_of(plan: Plan) -> Path:
    """Return the folder of a plan, made if it is not there.  Raises RehearsalError."""
    out = plan.out
    try:
        out.mkdir(parents=True, exist_ok=True)
        (out / MARK).touch()
    except OSError as error:
        raise RehearsalError(f"--out {out}: cannot write there"
                             f" ({error.strerror}); name another folder") from error
    return out


def job(plan: Plan, rig_id: int, seed: int) -> dict:
    """Return what the simulation of a plan needs, as data."""
    track = plan.sun
    sun = [[float(value) for value in values]
           for values in (track.poa_w_m2, track.cell_degC, track.air_degC)]
    return {"rig": plan.rig.plant(), "settings": plan.settings, "sun": sun,
            "board": str(plan.out / "board"), "rig_id": rig_id, "settings_version": st.VERSION,
            "faults": sorted([*plan.faults, *_deeds(plan)]), "seed": seed,
            "periods": DAY_S * PERIODS_PER_S}


def mark_of(plan: Plan, seed: int, start_s: float, hours: float | None,
            speed: float = 1.0) -> Rehearsed:
    """Return what the shelf keeps of a rehearsal, so that nobody takes its rows for measured.

    start_s: time [s since 1970 UTC] at which its rows begin; hours: how much was played [h],
    None = it goes on; speed: of its time against the one that its rows are dated by [-].
    """
    return Rehearsed(
        day=str(plan.sun.day), sun=Path(str(plan.sun.source)).name, demo=plan.demo, seed=seed,
        faults=tuple((start_s + at_s / speed, name) for at_s, name in plan.faults),
        presses=tuple(start_s + at_s / speed for at_s in plan.presses),
        setpoint_W=plan.setpoint_W, assumed=tuple(plan.notes), hours=hours,
        place=(plan.sun.station.latitude_deg, plan.sun.station.longitude_deg),
        digest=plan.rig.digest)


def _deeds(plan):
    """Return what somebody does at the rig, as faults: (seconds from the start, name)."""
    return [(at_s + late_s, deed) for at_s in plan.presses
            for late_s, deed in ((0.0, PRESSED), (PRESS_S, RELEASED))]


def _events(shelf, rig_id):
    journal = shelf.journal(rig_id)
    table = journal.events
    when = shelf.clock(rig_id).utc(table["generation"], table["boot"], table["uptime_ds"])
    columns = [table[name].tolist() for name in ("code", "argument", "argument2")]
    return list(zip(*columns, when.tolist(), strict=True))


def _simulate(stage, progress):
    """Let the day be played; return what then serves the board's line, and if it ended early.

    An interrupt waits for the end of a piece of the day: in the middle of a
    scan or of a write it would leave a state that no board can be in.
    """
    with _interrupts() as interrupts:
        while "port" not in (said := stage.hear()):
            stage.tell(STOP if interrupts else GO_ON)
            if progress:
                progress(said["periods"] / PERIODS_PER_S / S_PER_H, DAY_S / S_PER_H)
        return said, bool(interrupts)


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


def _pull(stage, served, start_utc, shelf):
    """Fetch the journal over a real line, at the twin's own time of day."""
    now = start_utc.astimezone(UTC) + timedelta(seconds=served["periods"] / PERIODS_PER_S)
    try:
        return pull(served["port"], shelf, now_utc=lambda: now, unit=Asked().unit)
    except WireError:
        stage.check()  # a board that is no more is the reason, not its line
        raise


def files(plan: Plan) -> dict[str, Path]:
    """Return what a rehearsal leaves in its folder, by kind."""
    return {"review": plan.out / "review.html", "shelf": plan.out / "shelf.sqlite",
            "report": plan.out / MARK, "board": plan.out / "board"}
