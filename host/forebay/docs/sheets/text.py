"""Markdown for the pages of hardware/: wrapped paragraphs, items and tables."""

import textwrap
from collections.abc import Iterable, Sequence

WIDTH = 79
MADE = "Made by `forebay hardware` for this rig; do not edit."
DRAWN = "Drawn from `hardware/{}.toml` by `python -m forebay.docs.hardware`; do not edit."


def paragraph(text: str) -> str:
    """Text wrapped to the width of the pages, with a line feed at its end."""
    return "\n".join(textwrap.wrap(_one_line(text), WIDTH, break_on_hyphens=False)) + "\n"


def item(text: str, mark: str = "- ") -> str:
    """A list item, wrapped and indented under its mark."""
    lines = textwrap.wrap(
        _one_line(text),
        WIDTH,
        initial_indent=mark,
        subsequent_indent=" " * len(mark),
        break_on_hyphens=False,
    )
    return "\n".join(lines) + "\n"


def table(heads: Sequence[str], rows: Iterable[Sequence[object]]) -> str:
    """A Markdown table with a line feed at its end."""
    lines = [list(heads), ["---"] * len(heads), *rows]
    return "".join(f"| {' | '.join(_cell(cell) for cell in line)} |\n" for line in lines)


def _cell(value: object) -> str:
    return _one_line(str(value)).replace("|", "\\|")


def _one_line(text: str) -> str:
    return " ".join(text.split())


def pages(name: str, count: int) -> list[str]:
    """The names of the files of a drawing that has some pages."""
    return [f"{name}{'' if place == 0 else f'-{place + 1}'}.svg" for place in range(count)]


def of_pages(place: int, count: int) -> str:
    """What a drawing's title says of its place among its pages."""
    return f", {place + 1} of {count}" if count > 1 else ""


def number(value: float) -> str:
    """A figure in three digits, never with an exponent below a million."""
    return f"{float(f'{value:.3g}'):g}"


def hung(head: str, tail: str) -> list[str]:
    """Lines of plain text: a head, and its tail below it, indented and wrapped."""
    return [head, *textwrap.wrap(tail, WIDTH, initial_indent=" " * 6, subsequent_indent=" " * 6,
                                 break_on_hyphens=False)]
