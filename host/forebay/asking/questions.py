"""What a person at a rig can be asked, and how an answer is read.

An answer is typed at a terminal or stands in a file, under the question's name; each can be
left out with a reason.  It must not know what is asked for, and neither prints nor reads.
"""

import tomllib
from abc import ABC, abstractmethod
from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, NamedTuple, Protocol

from forebay import units
from forebay.errors import InputError

SKIP, LEAVE = "skip", "leave"
YES = "yes"


class AskedError(InputError):
    """An answer that cannot be used: to which question, what is allowed, what to do."""


class Left(Exception):
    """The person leaves for now; what was answered is kept."""


class Skipped(NamedTuple):
    """An answer that was left out, and why."""

    reason: str


@dataclass(frozen=True)
class Question(ABC):
    """What all questions have: a name of its own in a sitting, and its text."""

    name: str
    text: str

    @property
    @abstractmethod
    def hint(self) -> str:
        """What an answer looks like."""

    @abstractmethod
    def read(self, text: str) -> Any:
        """Return the answer that a text gives; AskedError if it gives none."""

    def refused(self, text: object, why: str) -> AskedError:
        """Return the error about a text that is no answer."""
        return AskedError(f"{self.name}: {text!r} {why}; or: {SKIP} REASON, {LEAVE}")


@dataclass(frozen=True)
class Done(Question):
    """Something to be done by hand, then Enter."""

    @property
    def hint(self) -> str:
        """What an answer looks like."""
        return "Enter when done"

    def read(self, text: str) -> bool:
        """Return True; AskedError if something else was written."""
        if text.strip().lower() not in ("", YES, "done"):
            raise self.refused(text, "is not understood: press Enter when it is done")
        return True


@dataclass(frozen=True)
class Choice(Question):
    """One of a few words; choices: word -> what it says."""

    choices: Mapping[str, str]

    @property
    def hint(self) -> str:
        """What an answer looks like."""
        return " | ".join(self.choices)

    def read(self, text: str) -> str:
        """Return the word; the begin of one is enough where it fits one alone."""
        word = text.strip().lower()
        found = [one for one in self.choices if one == word] or [
            one for one in self.choices if word and one.startswith(word)]
        if len(found) != 1:
            raise self.refused(text, f"is none of {', '.join(self.choices)}")
        return found[0]


@dataclass(frozen=True)
class Quantity(Question):
    """A reading; dimension: of `forebay.units`; unit: of a bare number; least, most [SI]."""

    dimension: str
    unit: str
    least: float
    most: float

    def _shown(self, value: float) -> str:
        text = f"{units.convert(value, self.dimension, self.unit):.6g}"
        if "e-" in text:  # no power of ten for somebody with a meter in the other hand
            text = f"{float(text):.9f}".rstrip("0").rstrip(".")
        return f"{text} {self.unit}".strip()

    @property
    def hint(self) -> str:
        """What an answer looks like."""
        return f"{self._shown(self.least)} to {self._shown(self.most)}"

    def read(self, text: str) -> float:
        """Return the reading [SI]."""
        written = text.strip()
        if not written:
            raise AskedError(f"a reading is wanted, {self.hint}; or: {SKIP} REASON, {LEAVE}")
        try:
            value = units.parse(written if units.has_unit(written) else f"{written} {self.unit}",
                                self.dimension)
        except units.UnitError as error:
            raise self.refused(text, f"cannot be read: {error.reason}") from None
        if not self.least <= value <= self.most:
            raise self.refused(text, f"must be {self.hint}")
        return value


class Answers(Protocol):
    """Where answers come from."""

    @property
    def unused(self) -> Collection[str]:
        """Names of answers that stand ready and that nobody has asked for yet."""
        ...

    def to(self, question: Question) -> Any:
        """Return the answer, or Skipped; raises Left or AskedError."""


def read_answer(question: Question, text: str) -> Any:
    """Return what a line answers to a question, or Skipped; raises Left or AskedError."""
    word, _, rest = text.strip().partition(" ")
    if word.lower() == LEAVE and not rest:
        raise Left
    if word.lower() == SKIP:
        if not rest.strip():
            raise question.refused(text, "wants a reason, such as: skip no ladder today")
        return Skipped(rest.strip())
    return question.read(text)


class Typed:
    """Answers of a person at a terminal, who is asked again where a line cannot be used.

    ask: shows (text, hint) and returns a line; tell: shows a line.
    """

    unused: Collection[str] = ()  # nobody types ahead

    def __init__(self, ask: Callable[[str, str], str], tell: Callable[[str], None]):
        self._ask, self._tell = ask, tell

    def to(self, question: Question) -> Any:
        """Return the answer, or Skipped; raises Left."""
        while True:
            line = self._ask(question.text, question.hint)
            try:
                return read_answer(question, line)
            except AskedError as error:
                self._tell(str(error))


class Filed:
    """Answers of a TOML file: name = "answer"."""

    def __init__(self, answers: Mapping[str, Any], where: str):
        self._answers, self._where = answers, where
        self._unused = set(answers)

    @property
    def unused(self) -> Collection[str]:
        """Names that nobody has asked for yet."""
        return frozenset(self._unused)

    @classmethod
    def of(cls, path: Path | str) -> "Filed":
        """Return the answers of a file.  Raises AskedError if it cannot be read."""
        try:
            return cls(tomllib.loads(Path(path).read_text(encoding="utf-8")), str(path))
        except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
            why = getattr(error, "strerror", None) or error
            raise AskedError(f"{path}: cannot be read as answers ({why});"
                             ' a line of it is: NAME = "ANSWER"') from None

    def to(self, question: Question) -> Any:
        """Return the answer, or Skipped; raises Left, or AskedError where it cannot be used."""
        if question.name not in self._answers:
            raise AskedError(f"{self._where}: no answer to {question.name} ({question.text});"
                             f" add: {question.name} = \"...\" ({question.hint})")
        self._unused.discard(question.name)
        given = self._answers[question.name]
        if isinstance(given, bool):
            given = YES if given else ""
        if isinstance(given, dict | list):
            raise AskedError(f"{self._where}: {question.name}: must be one text or number"
                             f" ({question.hint})")
        try:
            return read_answer(question, str(given))
        except AskedError as error:
            raise AskedError(f"{self._where}: {error}") from None
