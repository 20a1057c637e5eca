"""Tries whether the tests notice small mistakes: `python -m tests.bench.mutants [GROUP ...]`.

Without groups all that have a bar are tried. What was found is kept in `.mutants/`, so that
a run that was broken off goes on, and only what may have changed is tried again. The last
line of each group says how many of its mutants were noticed. Ends with 1 if a bar is missed.

  python -m tests.bench.mutants protection         one group
  python -m tests.bench.mutants                    all, after a change of sources or tests
  python -m tests.bench.mutants --again kept       also the survivors that nothing has touched
  python -m tests.bench.mutants --list kept        which mutants are drawn
  python -m tests.bench.mutants --write            all, then the table tests/bench/mutants.md
  python -m tests.bench.mutants --write kept       one, then its row of the table
"""

import argparse
import json
import os
import pathlib
import sys
import tempfile

from tests.bench.mutants import groups, judged, known
from tests.bench.mutants.session import BenchError, Drawn, Session, draw

SEED = 1
OK, NOT_REACHED, USAGE, BROKEN_OFF = 0, 1, 2, 130


class Arguments(argparse.ArgumentParser):
    """Says what is wrong in one line."""

    def error(self, message: str):
        """Ends with the exit code of wrong usage."""
        sys.stderr.write(f"mutants: {message} (--help shows how)\n")
        sys.exit(USAGE)


def positive(text: str) -> int:
    """Returns a whole number from 1 up."""
    number = int(text)
    if number < 1:
        raise ValueError
    return number


positive.__name__ = "whole number from 1 up"


def arguments(words: list[str] | None = None) -> argparse.Namespace:
    """Reads the command line; ends with 2 if it cannot be."""
    parser = Arguments(prog="python -m tests.bench.mutants", description=__doc__,
                       formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("group", nargs="*", help="of: " + ", ".join(groups.BY_NAME))
    parser.add_argument("--count", type=positive, help="mutants a group (60, 15 a file)")
    parser.add_argument("--seed", type=int, default=SEED, help="of the draw (1)")
    parser.add_argument("--jobs", type=positive, default=os.cpu_count() or 1,
                        help="processes at a time (one a core)")
    parser.add_argument("--again", action="store_true", help="try every survivor again")
    parser.add_argument("--afresh", action="store_true", help="try all again")
    parser.add_argument("--list", action="store_true", help="show the mutants, try none")
    parser.add_argument("--known", action="store_true", help="say what is known, try none")
    parser.add_argument("--json", action="store_true", help="the result as JSON")
    parser.add_argument("--survivors", type=pathlib.Path, metavar="FOLDER",
                        help="write each group's survivors into a text file there")
    parser.add_argument("--write", action="store_true", help="write the groups into the table")
    given = parser.parse_args(words)
    for name in given.group:
        if name not in groups.BY_NAME:
            parser.error(f"there is no group {name}: " + ", ".join(groups.BY_NAME))
    if given.write and given.count:
        parser.error("--write takes groups at their own count")
    return given


def say(text: str) -> None:
    """Shows a line of progress."""
    sys.stderr.write(text + "\n")
    sys.stderr.flush()


def listed(drawn: Drawn) -> None:
    """Shows the mutants of a group."""
    print(f"{drawn.group.name}: {len(drawn.mutants)} of {len(drawn.possible)} possible\n")
    print("\n\n".join(one.diff() for one in drawn.mutants) + "\n")


def judge_all(given: argparse.Namespace) -> list[judged.Verdict]:
    """Tries group after group and shows what each comes to."""
    results, rows, verdicts = known.Results(), known.excuses(), []
    if given.afresh:
        results.by_key.clear()
    with tempfile.TemporaryDirectory(prefix="mutants-", ignore_cleanup_errors=True) as name:
        session = None
        for group in [groups.BY_NAME[one] for one in given.group] or groups.WITH_BAR:
            drawn = draw(group, given.count, given.seed)
            if given.list:
                listed(drawn)
                continue
            if not given.known:
                session = session or Session(pathlib.Path(name), given.jobs, results, say)
                session.work(drawn, given.again)
            found = judged.verdict(drawn, results, rows)
            verdicts.append(found)
            if given.survivors:
                given.survivors.mkdir(parents=True, exist_ok=True)
                (given.survivors / f"{group.name}.txt").write_text(judged.survivors_text(found))
            if not given.json:
                print(judged.survivors_text(found), flush=True)
    return verdicts


def main() -> int:
    """Runs the command; returns its exit code."""
    given = arguments()
    try:
        verdicts = judge_all(given)
        if given.write:
            before = judged.PAGE.read_text(encoding="utf-8") if judged.PAGE.is_file() else ""
            judged.PAGE.write_text(judged.page(verdicts, given.seed, before), encoding="utf-8")
    except (BenchError, known.KnownError) as error:
        say(f"mutants: {error}")
        return NOT_REACHED
    except KeyboardInterrupt:
        say("\nmutants: broken off; start again to go on")
        return BROKEN_OFF
    if given.json:
        print(json.dumps([one.as_json() for one in verdicts], indent=1))
    return OK if all(one.is_met for one in verdicts) else NOT_REACHED


if __name__ == "__main__":
    sys.exit(main())
