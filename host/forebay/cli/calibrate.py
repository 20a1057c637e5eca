"""forebay calibrate"""

import sys
from contextlib import ExitStack
from datetime import UTC, datetime
from pathlib import Path

import click

from forebay.cli.options import (
    check_page,
    json_option,
    local_zone,
    period_options,
    port_option,
    print_json,
    shelf_option,
    write_whole,
    zone_option,
)
from forebay.cli.saying import COLUMNS, folded, say


@click.command("calibrate")
@click.argument("what", required=False)
@click.option("--rig", "rig_path", metavar="RIG.toml", type=click.Path(dir_okay=False),
              help="Description of the rig, into which the figures go; without it, the one used"
              " last.")
@port_option
@period_options
@zone_option
@click.option("--answers", "answers_path", metavar="FILE.toml", type=click.Path(dir_okay=False),
              help='Take the answers from a file, a line each: NAME = "ANSWER".')
@click.option("--anew", is_flag=True, help="Begin anew, not where an earlier sitting ended.")
@click.option("--dry-run", is_flag=True, help="Show what is found; write nothing.")
@click.option("--yes", is_flag=True, help="Write the figures without asking.")
@click.option("--out", metavar="FILE.toml", type=click.Path(dir_okay=False),
              help="Write the new description there and leave the old one.")
@click.option("--page", "page_path", metavar="FILE.html", type=click.Path(dir_okay=False),
              help="Write a page with the fits, too.")
@shelf_option
@json_option
def command(what, rig_path, page_path, as_json, **given) -> None:
    """Measure figures of a rig at the rig, and write them down.

    WHAT is one of those that the command lists without it. You are asked
    step by step; an answer may be `skip REASON`, or `leave` to go on another
    day. The board is read meanwhile, or past days on the shelf. What is found
    stands beside the figure that stood, with uncertainties, and is written
    into the description when you say so: its comments stay, the figure counts
    as measured from then on, and a dated record is kept on the shelf. At a
    board of `rehearse --serve` it is practice: only --out writes.

    \b
    Example:
      forebay calibrate
      forebay calibrate flow --rig rig.toml
      forebay calibrate level --rig rig.toml --answers dips.toml --dry-run
    """
    rig_path = _rig_path(rig_path)
    if what is None:
        _list(rig_path, given["shelf_path"], as_json)
        return
    if page_path:
        check_page(page_path)
    report = _calibrated(what, Path(rig_path).resolve(), page_path=page_path, **given)
    if report is None:
        return
    if as_json:
        print_json(report.as_json())
    else:
        _tell(report)


def _rig_path(named):
    from forebay import lastused

    found = named or lastused.rig()
    if found is None:
        raise click.UsageError("which rig: name its description with --rig")
    return found


def _list(rig_path, shelf_path, as_json):
    """List what can be calibrated."""
    from forebay.calibrate import work
    from forebay.shelf import Shelf

    rig = work.described(rig_path)
    with Shelf(shelf_path) as shelf:
        rows = work.overview(shelf, rig)
    if as_json:
        print_json({"rig": rig.rig.name, "tasks": rows})
        return
    for one in rows:
        state = (one["last_utc"] or "not yet")[:10] if one["possible"] else "no instrument"
        say(f"{one['task']:12} {one['summary']:50} {state:>14}"[:COLUMNS])


def _calibrated(what, rig_path, *, port, shelf_path, begin, end, day, zone, answers_path, anew,
                dry_run, yes, out, page_path):
    """Carry a task out; return its report, None where the person leaves."""
    from forebay.asking import Left
    from forebay.calibrate import work
    from forebay.calibrate.sitting import Sitting
    from forebay.shelf import Shelf
    from forebay.shelf.local import period_of
    from forebay.wire.line import held_line

    rig, task = work.described(rig_path), _task(what)
    with ExitStack() as stack:
        shelf = stack.enter_context(Shelf(shelf_path))
        line, past, of = None, None, work.Whose(rig.rig_id, False)
        if task.by == "board":
            line, of = _line(stack, rig, port)
            if held := "" if answers_path else held_line(line.port):
                _said(held)
        else:
            past, of = work.past_of(shelf, rig, period_of(begin, end, day,
                                                          local_zone(zone, rig)))
        answers = _answers(answers_path)
        sitting = Sitting(rig, answers, _kept(what, of, anew), _said, line, past)
        try:
            report = work.report_of(work.found(what, sitting), rig, of)
            if page_path:
                _write_page(report, page_path)
            if dry_run:
                return report
            target = Path(out).resolve() if out else None if of.is_practice else rig_path
            if target is not None and report.after is not None and not yes:
                _show(report)
                target = target if _is_wanted(answers, report, target) else None
        except Left:
            _said("Left for now: what was found is kept, the same command goes on.")
            return None
        work.finish(report, sitting, target, shelf, write_whole)
    return report


def _kept(what, of, anew):
    """Return what an earlier sitting left, and say so; nothing of it where it begins anew."""
    from forebay.asking import Kept

    kept = Kept.of(f"calibrate-{what}", of.rig_id)
    if anew:
        kept.end()
        kept = Kept.of(f"calibrate-{what}", of.rig_id)
    if kept.found:
        _said("Going on from an earlier sitting, whose answers and readings are kept; --anew"
              " begins anew.")
    return kept


def _task(what):
    import difflib

    from forebay.calibrate.tasks import TASKS

    if what not in TASKS:
        near = difflib.get_close_matches(what, list(TASKS), 1)
        like = f"did you mean {near[0]}? " if near else ""
        raise click.UsageError(f"{what!r}: {like}One of: {', '.join(TASKS)}")
    return TASKS[what]


def _line(stack, rig, port):
    """Open the board's line; return it and whose board it is."""
    from forebay import lastused
    from forebay.calibrate import work
    from forebay.calibrate.reading import WireLine
    from forebay.wire import Board
    from forebay.wire.line import port_of_board

    port = port_of_board(port)
    board = stack.enter_context(Board(port))
    of = work.whose(rig, board.values("rig_id")["rig_id"])
    lastused.note(port=port)
    return WireLine(board), of


def _answers(path):
    from forebay.asking import Filed, Typed

    if path:
        return Filed.of(path)
    if not sys.stdin.isatty():
        raise click.UsageError("nobody can be asked here: give the answers with --answers FILE")
    return Typed(_ask, _said)


def _ask(text, hint):
    for line in folded(text).splitlines():
        say(line, err=True)
    return click.prompt(f"  [{hint}]", default="", show_default=False, err=True)


def _said(text):
    say(folded(text), err=True)


def _is_wanted(answers, report, target):
    """Ask whether to write; a skipped question is a no."""
    from forebay.asking import Choice

    count = len(report.outcome.changes())
    question = Choice("write", f"Write {count} figure{'' if count == 1 else 's'} into {target}?",
                      {"yes": "write", "no": "leave it as it is"})
    return answers.to(question) == "yes"


def _show(report):
    from forebay.calibrate import drawing

    for line in drawing.text(report.outcome):
        say(line, err=True)
    for note in report.outcome.notes:
        _said(note)


def _write_page(report, path):
    from forebay.calibrate import drawing

    when = datetime.now(UTC).date().isoformat()
    write_whole(path, drawing.page(report.before.rig.name, report.outcome, when))
    say(f"page: {path}", err=True)


def _tell(report):
    """Say what was found and done, and what comes next."""
    from forebay.calibrate import drawing

    say("\n".join(drawing.text(report.outcome)))
    for note in report.outcome.notes:
        say(folded(note))
    if report.whose.is_practice:
        say("Practice at a simulated board: the rig's own description is left alone.")
    if report.written:
        say(f"written: {report.written}")
        say(f"next, to bring the board's settings up to date:\n  forebay flash {report.written}")
        say("What was recorded before was read by the figures of then: balance those days"
            "\nwith the description of then (--rig).")
    else:
        say("nothing was written")
