"""What the results of a group come to, as figures, as text and as a table of a page."""

import dataclasses
import datetime
import pathlib
import subprocess

from tests.bench.mutants import known
from tests.bench.mutants.groups import BY_NAME, ROOT, WITH_BAR
from tests.bench.mutants.making import Mutant
from tests.bench.mutants.session import BenchError, Drawn

PAGE = pathlib.Path(__file__).resolve().parent.parent / "mutants.md"
HEAD = """# Mutants: what the tests notice

Small mistakes, put into the sources one at a time, each against the tests that own the file.
Noticed are those that make a test fail or never end; excused are those of which
[excused.toml](mutants/excused.toml) says why no input can tell. The bar is on those that are
not excused. Written by `python -m tests.bench.mutants --write`; a group's row is of the day
and the commit that it names, and its sources are named as they were then.

"""
TABLE = """\
| group | sources | mutants | not tried yet | noticed | excused | survived | noticed | bar | met |\
 day | commit | seed |
|---|---|---|---|---|---|---|---|---|---|---|---|---|"""


@dataclasses.dataclass
class Verdict:
    """The figures of a group."""

    group: str
    bar: int | None
    mutants: int
    noticed: int
    excused: int
    open: int  # not tried yet
    survivors: list[Mutant]

    @property
    def percent(self) -> float:
        """Of the mutants that were tried and change behaviour, those that were noticed [%]."""
        counted = self.noticed + len(self.survivors)
        return 100 * self.noticed / counted if counted else 100.0

    @property
    def is_met(self) -> bool:
        """True if all were tried and the bar is reached, or none is set."""
        return self.open == 0 and (self.bar is None or self.percent >= self.bar)

    def line(self) -> str:
        """Returns the figures in one line."""
        bar = "no bar" if self.bar is None else f"bar {self.bar} %"
        left = f", {self.open} not tried yet" if self.open else ""
        return (f"{self.group:10} {self.mutants:4} mutants, {self.noticed} noticed,"
                f" {self.excused} excused, {len(self.survivors)} survived:"
                f" {self.percent:.1f} % ({bar}){left}")

    def as_json(self) -> dict:
        """Returns the figures with the survivors spelled out."""
        return {"group": self.group, "bar_percent": self.bar, "mutants": self.mutants,
                "noticed": self.noticed, "excused": self.excused, "open": self.open,
                "percent": round(self.percent, 1), "met": self.is_met,
                "survivors": [{"file": one.file, "line": one.line, "within": one.within,
                               "before": one.before, "after": one.after,
                               "operator": one.operator} for one in self.survivors]}


def verdict(drawn: Drawn, results: known.Results, rows: list[known.Excuse]) -> Verdict:
    """Returns what is known of a group. Raises BenchError for an excuse that does not hold."""
    ours = [row for row in rows if row.file in drawn.sources]
    for row in known.unused(ours, drawn.possible):
        raise BenchError(f"{known.EXCUSES.name}: no mutant of {row.file} turns {row.line!r}"
                         f" in {row.within or 'the module'} into {row.becomes!r}: take it out")
    found = Verdict(drawn.group.name, drawn.group.bar, len(drawn.mutants), 0, 0, 0, [])
    for mutant in drawn.mutants:
        row = results.of(mutant, drawn.source_digest(mutant), None)
        excuse = next((one for one in ours if one.fits(mutant)), None)
        if row is None:
            found.open += 1
        elif row["outcome"] != known.SURVIVED:
            found.noticed += 1
            if excuse:
                raise BenchError(f"{known.EXCUSES.name}: {row['by'] or 'a test'} notices"
                                 f" {mutant.file}:{mutant.line} {mutant.after!r}: take it out")
        elif excuse:
            found.excused += 1
        else:
            found.survivors.append(mutant)
    return found


def survivors_text(found: Verdict) -> str:
    """Returns the survivors of a group, each with its place and its change."""
    return "\n\n".join([found.line(), *(one.diff() for one in found.survivors)]) + "\n"


def page(verdicts: list[Verdict], seed: int, before: str) -> str:
    """Returns the page of the last results; before: the page that has the other groups' rows."""
    kept = {line.split(" | ")[0][2:]: line for line in before.splitlines() if line[:2] == "| "}
    now = f"{datetime.date.today()} | {commit()}"
    rows = kept | {one.group: f"{row(one)} {now} | {seed} |" for one in verdicts}
    table = [TABLE, *(rows[group.name] for group in WITH_BAR if group.name in rows)]
    return HEAD + "\n".join(table) + "\n"


def row(found: Verdict) -> str:
    """Returns a group's row of the table, but for when it was found."""
    bar = "-" if found.bar is None else f"{found.bar} %"
    met = "-" if found.bar is None else "yes" if found.is_met else "no"
    sources = ", ".join(f"`{text}`" for text in BY_NAME[found.group].sources)
    percent = f"{found.percent:.1f} %" if found.open < found.mutants else "-"
    return (f"| {found.group} | {sources} | {found.mutants} | {found.open or '-'} |"
            f" {found.noticed} | {found.excused} | {len(found.survivors)} | {percent} |"
            f" {bar} | {met} |")


def commit() -> str:
    """Returns the commit that the tree is at, and whether it has changes beside it."""
    def git(*words: str) -> str:
        command = ["git", "-c", "safe.directory=*", *words]
        return subprocess.run(command, cwd=ROOT, capture_output=True, text=True,
                              check=True).stdout.strip()

    changes = git("status", "--porcelain", "--untracked-files=no")
    return git("rev-parse", "--short", "HEAD") + (" with changes" if changes else "")
