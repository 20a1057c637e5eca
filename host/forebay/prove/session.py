"""What a proof test needs around its steps: the board, its rig's description, what is kept.

Owns their order: nothing is taken away before its successor is whole.
"""

from collections.abc import Callable
from contextlib import ExitStack
from datetime import date
from typing import Any, Protocol

from forebay import lastused
from forebay.asking import Answers, Filed, Kept, Typed
from forebay.described import SHELF_NAME
from forebay.prove.found import PASSED
from forebay.prove.record import Record, keep, page
from forebay.prove.scene import Scene
from forebay.prove.sitting import BEGUN, ProveError, prove
from forebay.prove.steps import Step, steps_of
from forebay.rig import Rig, load, load_text
from forebay.shelf import Shelf
from forebay.shelf.local import zone_at
from forebay.wire import Board
from forebay.wire.line import held_line, port_of_board

TASK, TASK_ONLY = "prove", "prove-only"


class Keys(Protocol):
    """Whoever types."""

    def heard(self) -> str | None:
        """Return a line that was typed since, None for none."""

    def ask(self, text: str, hint: str) -> str:
        """Show a question; return the line that answers it."""
        ...


class Session:
    """A board, its rig and the shelf, for one proof test; use it in a `with` block."""

    def __init__(self, port: str | None, shelf_path: str | None, rig_path: str | None):
        self._port, self._shelf_path, self._rig_path = port, shelf_path, rig_path

    def __enter__(self) -> "Session":
        with ExitStack() as stack:
            self.shelf = stack.enter_context(Shelf(self._shelf_path))
            port = port_of_board(self._port)
            self.board = stack.enter_context(Board(port))
            self.rig_id = self.board.values("rig_id")["rig_id"]
            lastused.note(port=port)
            self.rig = self._rig()
            self._stack = stack.pop_all()
        return self

    def __exit__(self, *error):
        return self._stack.__exit__(*error)

    def _rig(self) -> Rig:
        """Return the description of the board's rig.  Raises ProveError if there is none."""
        toml = None if self._rig_path else self.shelf.rig_toml(self.rig_id)
        if toml:
            return load_text(toml, SHELF_NAME, is_kept=True)
        path = self._rig_path or lastused.rig()
        if path is None:
            raise ProveError(f"neither the shelf {self.shelf.path} nor what was used last"
                             f" describes the rig {self.rig_id}: name its description by"
                             " --rig RIG.toml")
        rig = load(path)
        if rig.rig_id != self.rig_id and lastused.rehearsed(self.rig_id) is None:
            raise ProveError(f"{path} describes the rig {rig.rig_id}, the board is of"
                             f" {self.rig_id}: name its description by --rig, or the shelf that"
                             " knows it by --shelf")
        return rig

    def steps(self) -> list[Step]:
        """Return the steps of the rig."""
        return steps_of(self.rig)

    def page_name(self) -> str:
        """Return the name of today's page."""
        return f"proof-test-{date.today().isoformat()}.html"

    def prove(self, answers_path: str | None, keys: Keys | None, *, tell: Callable[[str], None],
              show: Callable[[str], None], only: tuple[str, ...] = (), anew: bool = False,
              patience_s: float = 180.0) -> Record:
        """Go through the steps; arguments as the command's and `forebay.prove.scene.Scene`'s."""
        answers = _answers(answers_path, keys, tell)
        if keys and (held := held_line(self.board.port)):
            tell(held)
        # Single steps do not end a whole sitting that was left, nor count as one.
        task = TASK_ONLY if only else TASK
        self.kept = Kept.of(task, self.rig_id)
        if anew:
            self.kept.end()
            self.kept = Kept.of(task, self.rig_id)
        elif done := sum(step.name in self.kept.found for step in self.steps()):
            steps = "1 step is" if done == 1 else f"{done} steps are"
            tell(f"going on with what was begun on {_day(self.kept.found[BEGUN])}: {steps} done"
                 " (--anew begins anew)")
        options: dict[str, Any] = {"heard": keys.heard} if keys else {}
        scene = Scene(self.board, self.rig, answers, tell, self.kept, show=show,
                      patience_s=patience_s, **options)
        return prove(scene, self.rig_id, self._name(), only=only)

    def _name(self):
        return dict(self.shelf.rigs()).get(self.rig_id) or self.rig.rig.name

    def page(self, record: Record) -> str:
        """Return a record's page."""
        return page(record, zone_at(self.rig.site))

    def end(self, record: Record, tell: Callable[[str], None]) -> None:
        """Keep the record; only then is the sitting over.  tell: shows a line.

        Steps that failed or were left out are to be done again, the others of a whole sitting
        stay as found, and only a sitting in which all passed counts as the yearly test.
        Single steps are put into a whole sitting that is not over.
        """
        is_whole = len(record.steps) == len(self.steps())
        keep(self.shelf, record, is_whole)
        if is_whole and record.is_proven:
            lastused.note_proof_test(self.rig_id, _day(record.ended_s))
        whole = self.kept
        if not is_whole:
            self.kept.end()
            whole = Kept.of(TASK, self.rig_id)
            if not whole.found:
                return
            for step in record.steps:
                whole.keep(step["name"], step)
        again = [step["name"] for step in record.steps if step["outcome"] != PASSED]
        for name in again:
            whole.forget(name)
        if is_whole and not again:
            whole.end()
        elif is_whole:
            tell("forebay prove does again what is not as it must be or was left out, and that"
                 " alone; --anew begins anew. Till all is proven the yearly test stays due.")


def _day(utc_s):
    return date.fromtimestamp(utc_s).isoformat()


def _answers(path: str | None, keys: Keys | None, tell: Callable[[str], None]) -> Answers:
    if path:
        return Filed.of(path)
    if keys is None:
        raise ProveError("nobody can answer here: name a file by --answers")
    return Typed(keys.ask, tell)
