"""One calibration from its beginning to the record; it must not print."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from forebay.calibrate import writing
from forebay.calibrate.fitting import NoFit
from forebay.calibrate.outcomes import Outcome
from forebay.calibrate.past import Past, maybe_past
from forebay.calibrate.sitting import CalibrateError, Sitting
from forebay.calibrate.tasks import TASKS, lacking
from forebay.rehearse.live import is_served_of
from forebay.rig import Rig, load
from forebay.rig.instruments import fitted
from forebay.shelf import Shelf


@dataclass(frozen=True)
class Whose:
    """Whose board it is: its rig's identity, and whether it is a simulated one."""

    rig_id: int
    is_practice: bool


def whose(rig: Rig, rig_id: int) -> Whose:
    """Return whose board it is that runs for a rig's identity; CalibrateError if another's."""
    if rig_id == rig.rig_id:
        return Whose(rig_id, False)
    if is_served_of(rig_id, rig.rig.name):
        return Whose(rig_id, True)
    raise CalibrateError(f"the board runs for another rig (identity {rig_id}) than"
                         f" {rig.rig.name!r}: name its description with --rig")


def found(name: str, sitting: Sitting) -> Outcome:
    """Carry a task out and return what it found.

    Raises CalibrateError where the rig has nothing to calibrate there, or the points give no
    figure; AskedError, Left and what the board's line raises, with all that was found kept.
    """
    task = TASKS[name]
    lacks = lacking(task, fitted(sitting.rig.sensors))
    if lacks:
        raise CalibrateError(f"{name}: the rig lacks what it needs in [sensors]:"
                             f" {', '.join(lacks)}")
    if task.cautions:
        sitting.tell(f"Caution: {task.cautions}")
    try:
        outcome = task.run(sitting)
    except NoFit as error:
        raise CalibrateError(f"{name}: {error}; measure more with --anew, or go on with the"
                             " questions that were left out") from None
    outcome.settle()
    outcome.notes += sitting.skipped()
    return outcome


@dataclass
class Report:
    """How it ended.

    after: the description with what was found, None = it changes nothing; written: where it
    was put, None = nowhere; record: its number on the shelf.
    """

    outcome: Outcome
    before: Rig
    after: Rig | None
    whose: Whose
    written: Path | None = None
    record: int | None = None

    def as_json(self) -> dict[str, Any]:
        """Return it as documented in docs/json.md."""
        return {"rig": self.before.rig.name, "rig_id": self.whose.rig_id,
                "practice": self.whose.is_practice,
                "written": str(self.written) if self.written else None, "record": self.record,
                **self.outcome.as_json()}


def report_of(outcome: Outcome, rig: Rig, of: Whose) -> Report:
    """Return what would be written; CalibrateError where it does not go with the rest."""
    after = writing.proposed(rig, outcome) if outcome.changes() else None
    return Report(outcome, rig, after, of)


def finish(report: Report, sitting: Sitting, target: Path | None, shelf: Shelf,
           write: Callable[[Path, str], None]) -> None:
    """Write the description, keep the record and end the sitting, in this order.

    target: None = the description is not written.  What is cut off in between is done again
    from what is kept, to the same end.
    """
    if target is not None and report.after is not None:
        write(target, report.after.toml_text)
        report.written = target
    written = report.after if report.written else None
    document = writing.document(sitting, report.outcome, report.before, written)
    report.record = shelf.add_record(writing.KIND, report.whose.rig_id, document).record_id
    sitting.kept.end()


def overview(shelf: Shelf | None, rig: Rig) -> list[dict[str, Any]]:
    """Return what can be calibrated at a rig, and when it last was: a row a task."""
    past = shelf.records(writing.KIND, rig.rig_id) if shelf else []
    last = {one.document.get("task"): one.utc_s for one in past}
    there = fitted(rig.sensors)
    return [{"task": name, "summary": task.summary, "by": task.by,
             "possible": not lacking(task, there),
             "last_utc": datetime.fromtimestamp(last[name], UTC).isoformat(timespec="seconds")
             if name in last else None} for name, task in TASKS.items()]


def described(path: Path | str) -> Rig:
    """Return the description in a file.  Raises InputError, RigError."""
    return load(path)


def past_of(shelf: Shelf, rig: Rig, period: tuple[float, float] | None,
            ) -> tuple[Past | None, Whose]:
    """Return past days on a shelf and whose they are: the rig's, else those of its rehearsal."""
    served = [(one, True) for one, _ in shelf.rigs() if is_served_of(one, rig.rig.name)]
    for rig_id, is_practice in [(rig.rig_id, False), *served]:
        found = maybe_past(shelf, rig_id, period)
        if found is not None:
            return found, Whose(rig_id, is_practice or bool(shelf.rehearsed(rig_id)))
    return None, Whose(rig.rig_id, False)
