"""Export: from a shelf to files, in bounded memory, whole or not at all."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import tzinfo
from pathlib import Path

from forebay.export.aside import Aside, ExportError
from forebay.export.csvfile import CsvFile
from forebay.export.parquet import BY_DAY, ParquetFolder, arrow
from forebay.export.tables import EVENTS, NO_DAY, ROWS, TOTALS, pieces
from forebay.shelf import Shelf
from forebay.shelf.columns import EVENT_COLUMNS, ROW_COLUMNS, TOTAL_COLUMNS, chosen
from forebay.shelf.decode import said_not_pulled
from forebay.shelf.local import iso_local, maybe_iso, period_of
from forebay.shelf.query import no_rows
from forebay.shelf.told import rehearsal_said

CSV, PARQUET = "csv", "parquet"
FORMATS = (CSV, PARQUET)


@dataclass
class Wish:
    """What to export: to where, which lines and columns.

    out: a file whose name ends in .csv, else a folder for Parquet; zone: of
    local days and times; begin, end: local days or times as text (end is not
    included); day: one local day instead; columns: names with commas, None =
    all; events: events instead of rows; totals: what stands between them instead;
    force: replace what is there; by: of what time a file of Parquet is, BY_DAY or BY_MONTH
    of `forebay.export.parquet`.
    """

    out: Path
    zone: tzinfo
    columns: str | None = None
    begin: str | None = None
    end: str | None = None
    day: str | None = None
    events: bool = False
    force: bool = False
    totals: bool = False
    by: str = BY_DAY

    @property
    def what(self) -> str:
        """What is written: ROWS, EVENTS or TOTALS."""
        return EVENTS if self.events else TOTALS if self.totals else ROWS

    @property
    def form(self) -> str:
        """The format: one of FORMATS."""
        return CSV if self.out.suffix == ".csv" else PARQUET


@dataclass
class Exported:
    """What was written: lines [-], the files, and the local days; "" among them = unknown.

    period_s: times of the first and last line that has one [s since 1970 UTC],
    None = none has; zone: of local times; not_pulled: names of files of which
    the board has more than the shelf; rehearsed: that nobody measured it, in a line;
    each: of what time a file of several is.
    """

    rig_id: int
    form: str
    lines: int
    files: list[Path]
    days: list[str]
    columns: list[str]
    period_s: tuple[float, float] | None
    zone: tzinfo
    not_pulled: list[str]
    rehearsed: list[str]
    each: str

    def as_json(self) -> dict:
        """Return the report as documented in docs/json.md."""
        begin_s, end_s = self.period_s or (None, None)
        return {"rig_id": self.rig_id, "format": self.form, "lines": self.lines,
                "begin_utc": maybe_iso(begin_s), "end_utc": maybe_iso(end_s),
                "columns": self.columns, "local_days": self.days,
                "not_wholly_pulled": self.not_pulled, "rehearsed": self.rehearsed,
                "files": [str(path) for path in self.files]}

    def summary(self) -> list[str]:
        """Return the report as lines for a terminal."""
        what = "CSV" if self.form == CSV else "Parquet"
        begin_s, end_s = self.period_s or (None, None)
        span = f"{iso_local(begin_s, self.zone)} to {iso_local(end_s, self.zone)}"
        if begin_s is None:
            span = "time unknown"
        lines = [f"{what}: {self.lines} lines of {len(self.columns)} columns, {span}"]
        lines += self.rehearsed
        if self.not_pulled:
            lines.append(said_not_pulled(self.not_pulled))
        if len(self.files) == 1:
            return [*lines, f"written: {self.files[0]}"]
        return [*lines, f"written: {len(self.files)} files, a folder for each local {self.each},"
                f" in {self.files[0].parents[1]}"]


def export(shelf: Shelf, rig_id: int, wish: Wish,
           progress: Callable[[int, int], None] | None = None) -> Exported:
    """Write what is wished for of one rig; every file whole, or none at all.

    progress: called with (segments done, segments in all).  Raises InputError
    for a wish that cannot be met: bad times, unknown columns, a file that is
    there, Parquet without pyarrow, nothing in the period.
    """
    what = wish.what
    columns = chosen({ROWS: ROW_COLUMNS, EVENTS: EVENT_COLUMNS, TOTALS: TOTAL_COLUMNS}[what],
                     wish.columns)
    period = period_of(wish.begin, wish.end, wish.day, wish.zone)
    _check(wish, shelf)
    lines, days, times_s = 0, [], []
    with Aside(wish.out if wish.form == PARQUET else wish.out.parent, wish.force) as aside:
        writer = None
        try:
            for piece in pieces(shelf, rig_id, columns, wish.zone, period, what,
                                progress or (lambda done, total: None)):
                # Only now, so that an empty period leaves nothing.
                writer = writer or _writer(wish, rig_id, what, columns, aside)
                writer.write(piece)
                lines += piece.lines
                day = "" if piece.day == NO_DAY else piece.day
                days += [day] if day not in days[-1:] else []
                times_s += [at_s for at_s in (piece.begin_s, piece.end_s) if at_s == at_s]
        except OSError as error:
            raise ExportError(f"cannot write to {wish.out}: {error.strerror or error}") from error
        finally:
            if writer:
                writer.close()
        if not lines:
            raise no_rows(shelf, rig_id, wish.zone, what)
        files = aside.put_in_place()
    return Exported(rig_id, wish.form, lines, files, list(dict.fromkeys(days)),
                    [one.name for one in columns],
                    (min(times_s), max(times_s)) if times_s else None, wish.zone,
                    shelf.not_pulled(rig_id), rehearsal_said(shelf, rig_id),
                    "day" if wish.by == BY_DAY else "month")


def _writer(wish, rig_id, what, columns, aside):
    if wish.form == PARQUET:
        return ParquetFolder(wish.out, rig_id, f"{what}.parquet", columns, aside, wish.by)
    return CsvFile(wish.out, columns, aside)


def _check(wish, shelf):
    """Refuse what can be refused before anything is read."""
    if wish.out.exists() and shelf.path.exists() and wish.out.samefile(shelf.path):
        raise ExportError(f"--out {wish.out} is the shelf itself: name another file")
    if wish.form == PARQUET:
        arrow()
        if wish.out.exists() and not wish.out.is_dir():
            raise ExportError(f"--out {wish.out} is a file: Parquet is written to a folder")
    elif wish.out.is_dir():
        raise ExportError(f"--out {wish.out} is a folder: CSV is written to one file")
    elif wish.out.exists() and not wish.force:
        raise ExportError(f"{wish.out} is there: nothing is overwritten without --force")
