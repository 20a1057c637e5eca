"""One sitting at a rig: its questions, readings and what was kept of an earlier beginning.

Every answer and every reading is kept under a name as soon as it is there, so that a sitting
that was ended anywhere goes on behind it.
"""

from collections.abc import Callable
from typing import Any, Protocol

from forebay.asking import Answers, Choice, Done, Kept, Quantity, Question, Skipped
from forebay.calibrate.past import Past
from forebay.errors import InputError
from forebay.rig import Rig, load_text

DESCRIPTION = "description"
SKIPPED = "skipped"


class CalibrateError(InputError):
    """What a calibration cannot go on without: what, where, what to do."""


class Line(Protocol):
    """A board that answers now."""

    def values(self, *names: str) -> dict[str, int]:
        """Return registers by name."""
        ...

    def rest(self, seconds: float) -> None:
        """Let the board's own time pass [s]."""
        ...

    def order(self, code: int, a: int = 0, b: int = 0) -> int:
        """Send an order of `keeper.operation.orders`; return 0 or the number of a refusal."""
        ...


class Sitting:
    """What a task works with.

    rig: the description as it was when the sitting began; line: None = no board is asked;
    past: days on the shelf, None = none; tell: shows a line.
    """

    def __init__(self, rig: Rig, answers: Answers, kept: Kept, tell: Callable[[str], None],
                 line: Line | None = None, past: Past | None = None):
        if DESCRIPTION not in kept.found:
            kept.keep(DESCRIPTION, rig.toml_text)
        # What was read so far was read under the figures of then.
        self.rig = load_text(kept.found[DESCRIPTION], rig.source_name, is_kept=True)
        self.answers, self.kept, self.tell = answers, kept, tell
        self._line, self._past = line, past

    @property
    def line(self) -> Line:
        """The board; raises CalibrateError where none is asked."""
        if self._line is None:
            raise CalibrateError("no board is asked: name its port with --port")
        return self._line

    @property
    def past(self) -> Past:
        """Past days; raises CalibrateError where there are none."""
        if self._past is None:
            raise CalibrateError("no past days are at hand: pull the board first, or name a shelf"
                                 " with --shelf")
        return self._past

    def ask(self, question: Question) -> Any:
        """Return the answer, None where it is skipped; an earlier one where it was given."""
        if question.name not in self.kept.found:
            answer = self.answers.to(question)
            self.kept.keep(question.name, {SKIPPED: answer.reason}
                           if isinstance(answer, Skipped) else answer)
        return None if self.is_skipped(question.name) else self.kept.found[question.name]

    def read(self, name: str, look: Callable[[], Any]) -> Any:
        """Return what a look at the board gives, as plain data; once, and then as kept."""
        if name not in self.kept.found:
            self.kept.keep(name, look())
        return self.kept.found[name]

    def is_kept(self, name: str) -> bool:
        """Return whether an answer or a reading is there already."""
        return name in self.kept.found

    def is_skipped(self, name: str) -> bool:
        """Return whether a question was left out."""
        found = self.kept.found.get(name)
        return isinstance(found, dict) and SKIPPED in found

    def forget(self, *names: str) -> None:
        """Ask and read anew what has these names."""
        for name in names:
            self.kept.forget(name)

    def do(self, name: str, text: str) -> bool:
        """Have something done by hand; return False where it is skipped."""
        return self.ask(Done(name, text)) is not None

    def choose(self, name: str, text: str, choices: dict[str, str]) -> str | None:
        """Return one of some words, None where it is skipped."""
        return self.ask(Choice(name, text, choices))

    def number(self, name: str, text: str, dimension: str, unit: str, least: float,
               most: float) -> float | None:
        """Return a reading [SI], None where it is skipped; least, most [SI]."""
        return self.ask(Quantity(name, text, dimension, unit, least, most))

    def needed(self, name: str, text: str, dimension: str, unit: str, least: float,
               most: float) -> float:
        """Return a reading [SI] that cannot be skipped; arguments as for `number`."""
        found = self.number(name, text, dimension, unit, least, most)
        if found is None:
            self.forget(name)
            raise CalibrateError(f"{name}: nothing can be fitted without it: {text}")
        return found

    def count(self, name: str, text: str, choices: tuple[int, ...]) -> int:
        """Return one of some whole numbers, the first of them where it is skipped."""
        found = self.choose(name, text, {str(one): str(one) for one in sorted(choices)})
        return int(found or choices[0])

    def skipped(self) -> list[str]:
        """Return what was left out and why, a sentence each."""
        return [f"Left out: {name} ({found[SKIPPED]})." for name, found in self.kept.found.items()
                if isinstance(found, dict) and SKIPPED in found]
