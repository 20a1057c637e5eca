"""Reads the docstrings of keeper.physics: summary, equation, units, range, source.

The form is fixed, so that a page and tests can be drawn from it:

    One line.

    Equation, over as many lines as it takes.

    Args:
        name: what it is [unit], low to high
    Returns:
        what it is [unit]
    Raises:
        ValueError: when
    Source: where the equation is from
    Kept for: what will need it, where nothing calls it yet
    Example:
        >>> ...
"""

import dataclasses
import inspect
import re

_SECTIONS = ("Args", "Returns", "Raises", "Source", "Kept for", "Example")
_UNIT = re.compile(r"\[([^\]]+)\]")
_RANGE = re.compile(r"\], (\S+) to (\S+)$")
_QUALIFIED = re.compile(r"at most|at least|below|not (?:above|below)|lower level|tank's|panel's")


class DocstringError(ValueError):
    """A docstring is not in the fixed form. Says which part and why."""


@dataclasses.dataclass(frozen=True)
class Argument:
    """One argument: its name, text, and bounds where the text ends in numbers.

    qualified: the text sets a further bound by another argument.
    """

    name: str
    text: str
    bounds: tuple[float, float] | None
    qualified: bool

    @property
    def units(self) -> list[str]:
        """Every unit in brackets."""
        return _UNIT.findall(self.text)


@dataclasses.dataclass(frozen=True)
class Docstring:
    """The parts of one docstring."""

    summary: str
    equation: str
    arguments: tuple[Argument, ...]
    returns: str
    raises: str
    source: str
    kept_for: str
    example: str

    @property
    def return_units(self) -> list[str]:
        """Every unit in brackets in the result's text."""
        return _UNIT.findall(self.returns)


def parse(text: str) -> Docstring:
    """Takes a docstring apart. Raises DocstringError if a part is missing or misplaced."""
    lines = inspect.cleandoc(text).splitlines()
    head, sections = _split(lines)
    if len(head) < 3 or head[1] != "":
        raise DocstringError("needs one summary line, an empty line and an equation")
    for needed in ("Args", "Returns", "Source", "Example"):
        if needed not in sections:
            raise DocstringError(f"has no section {needed}")
    return Docstring(
        summary=head[0],
        equation=" ".join(line.strip() for line in head[2:]).strip(),
        arguments=tuple(_arguments(sections["Args"])),
        returns=_join(sections["Returns"]),
        raises=_join(sections.get("Raises", [])),
        source=_join(sections["Source"]),
        kept_for=_join(sections.get("Kept for", [])),
        example="\n".join(line[4:] for line in sections["Example"]),
    )


def _split(lines: list[str]) -> tuple[list[str], dict[str, list[str]]]:
    head: list[str] = []
    sections: dict[str, list[str]] = {}
    current = head
    for line in lines:
        name, colon, rest = line.partition(":")
        if colon and name in _SECTIONS:
            if name in sections:
                raise DocstringError(f"has section {name} twice")
            current = sections[name] = [rest.strip()] if rest.strip() else []
        else:
            current.append(line)
    order = [name for name in _SECTIONS if name in sections]
    if list(sections) != order:
        raise DocstringError(f"has its sections out of order: {', '.join(sections)}")
    return head, sections


def _join(lines: list[str]) -> str:
    return " ".join(line.strip() for line in lines).strip()


def _arguments(lines: list[str]):
    entries: list[list[str]] = []
    for line in lines:
        if line.startswith("     "):  # deeper than an argument's own line
            entries[-1].append(line)
        else:
            entries.append([line])
    for entry in entries:
        name, colon, text = _join(entry).partition(": ")
        if not colon:
            raise DocstringError(f"argument line without a colon: {name}")
        yield Argument(name, text, _bounds(text), bool(_QUALIFIED.search(text)))


def _bounds(text: str) -> tuple[float, float] | None:
    found = _RANGE.search(text)
    if not found:
        return None
    try:
        return float(found.group(1)), float(found.group(2))
    except ValueError:
        return None
