"""forebay prove"""

import queue
import sys
import textwrap
import threading
from pathlib import Path

import click

from forebay.cli.options import (
    Quantity,
    check_page,
    json_option,
    port_option,
    print_json,
    rig_option,
    shelf_option,
    write_whole,
)
from forebay.cli.saying import COLUMNS, folded, printable, say
from forebay.exits import Exit
from forebay.typed import typed_lines

CAUTION = ("Work at height, on the panel's and battery's leads and on the support belongs to two"
           " people, daylight, and where the local code says so to someone licensed. Before a hand"
           " goes near pump or turbine: isolator open, hand valve shut. A step that needs neither"
           " says so. Nothing here protects anybody.")


@click.command("prove")
@port_option
@click.option("--answers", "answers_path", metavar="FILE", type=click.Path(dir_okay=False),
              help='Answers from a file instead of the keyboard: NAME = "ANSWER" a line.')
@click.option("--only", multiple=True, metavar="STEP",
              help="Prove this step alone, which is no whole proof test; may be given"
              " again.")
@click.option("--anew", is_flag=True, help="Begin anew, not where the last sitting was left.")
@click.option("--list", "lists", is_flag=True, help="List this rig's steps, and end.")
@click.option("--patience", "patience_s", type=Quantity("time", 1, 3600), default="180 s",
              metavar="TIME", show_default=True, help="How long a step waits for its change.")
@click.option("--out", metavar="PAGE.html", type=click.Path(dir_okay=False),
              help="Where the record's page goes; without it, proof-test-DAY.html here.")
@shelf_option
@rig_option
@json_option
def command(port, answers_path, only, anew, lists, patience_s, out, shelf_path, rig_path,
            as_json) -> None:
    """Prove a rig step by step: floats, sensors, stop, valve, pump, lamps.

    For one person, and no laptop on a ladder: each step says what to do, and
    is accepted by itself once the board's own scan sees the change; the
    board's light then blinks. A wrong change is named. A step may be left
    out: type skip and the reason. Type leave, or Ctrl-C, to go on later.
    What was found wrong is mended, and the same command then does those
    steps again. It ends with 0 if all is as it must be, 3 if steps were left
    out or it was left by leave, 4 if any is not, 130 if it was left by
    Ctrl-C.

    \b
    Example:
      forebay prove
      forebay prove --only button --only stop
    """
    from forebay.asking import Left
    from forebay.prove.found import FAILED, SKIPPED
    from forebay.prove.session import Session

    with Session(port, shelf_path, rig_path) as session:
        if lists:
            _list(session.steps(), as_json)
            return
        page_path = Path(out or session.page_name())
        check_page(page_path)
        say(folded(CAUTION), err=True)
        looks = Looks()
        keyboard = None if answers_path else Keyboard(looks)
        try:
            record = session.prove(
                answers_path, keyboard, tell=looks.tell, show=looks.show,
                only=only, anew=anew, patience_s=patience_s)
        except Left:
            looks.tell("Left for now: what was found is kept, the same command goes on.")
            sys.exit(int(Exit.INCOMPLETE))
        write_whole(page_path, session.page(record))
        session.end(record, tell=looks.tell)
    if as_json:
        print_json({**record.as_json(), "page": str(page_path)})
    else:
        say("\n".join(record.lines()))
        say(f"page: {page_path}", err=True)
    if record.count(FAILED):
        sys.exit(int(Exit.DAMAGED))
    if record.count(SKIPPED):
        sys.exit(int(Exit.INCOMPLETE))


class Keyboard:
    """Lines as they are typed, whether somebody waits for one or not."""

    def __init__(self, looks: "Looks"):
        self._looks = looks
        self._lines: queue.SimpleQueue[str | None] = queue.SimpleQueue()
        threading.Thread(target=self._read, daemon=True).start()

    def _read(self):
        for line in typed_lines():
            self._lines.put(line)
        self._lines.put(None)

    def heard(self) -> str | None:
        """Return a line that was typed since, None for none."""
        try:
            line = self._lines.get_nowait()
        except queue.Empty:
            return None
        if line is None:
            self._lines.put(None)  # the end of input stays its end
        else:
            self._looks.left()
        return line

    def ask(self, text: str, hint: str) -> str:
        """Show a question and return the line that answers it; raises Left at the end of input."""
        from forebay.asking import Left

        self._looks.tell(f"{text} [{hint}]")
        line = self._lines.get()
        if line is None:
            self._lines.put(None)
            raise Left
        return line


def _list(steps, as_json):
    if as_json:
        print_json({"steps": [{"name": step.name, "title": step.title, "kind": step.kind}
                              for step in steps]})
        return
    for step in steps:
        say("\n".join(textwrap.wrap(f"{step.name:20}  {step.title}", COLUMNS,
                                    subsequent_indent=" " * 22, break_on_hyphens=False)))


class Looks:
    """What is told, and the line below it that shows the last look, where a person watches."""

    def __init__(self):
        self._is_there = False

    def tell(self, text: str) -> None:
        """Tell something for good; the last look is taken away before."""
        if self._is_there:
            click.echo(f"\r{'':{COLUMNS - 1}}\r", err=True, nl=False)
        self._is_there = False
        say(folded(text), err=True)

    def show(self, text: str) -> None:
        """Show a look in the place of the last one."""
        if not sys.stderr.isatty():
            return
        # The cursor rests behind the text: what is typed stands there, and not at the line's end.
        shown = printable(text, lines=False)[:COLUMNS - 1]
        click.echo(f"\r{shown:{COLUMNS - 1}}\r{shown} ", err=True, nl=False)
        self._is_there = True

    def left(self) -> None:
        """Take the last look for one that stays: what was typed has ended its line."""
        self._is_there = False
