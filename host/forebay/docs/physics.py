"""Draws host/docs/physics.md: every formula with units, range, source, check and residual.

The words come from the docstrings of keeper.physics, the figures from running
the repository's checks, so this needs a clone of the repository, not only the
installed program: `python -m forebay.docs.physics` in a folder of the clone
(add --check to compare only).
"""

import importlib
import inspect
import math
import pathlib
import sys
import textwrap
from typing import Any

from forebay.docs import uses, writing
from forebay.docs.docstring import Docstring, parse

PAGE = pathlib.Path("host", "docs", "physics.md")  # inside the repository
_CHECKS = pathlib.Path("tests", "reference", "evidence.py")
COMMAND = "python -m forebay.docs.physics"
_WIDTH = 88
_ROUNDING = 1e-9  # a smaller residual differs from one mathematical library to the next

_HEAD = f"""\
# Physics: formula, units, range, source, check, residual

Drawn from the code by `{COMMAND}`; do not edit.

All quantities are SI, scalars, in pure functions, and machines composed of them,
that run unmodified on CPython and MicroPython. An argument outside its range
raises ValueError with its name, value and range. *Check* names a value from
outside the project: RUN, that library was run; READ, it stands on that page;
TEST, it stands in that library's own tests; CALC, the same closed form worked
out apart, which checks arithmetic, not the model; MEM, from memory; PRACTICE,
common practice, no source.
*Residual* is the worst deviation over the check's values, relative unless it
says otherwise, beside the tolerance that the tests allow and its reason. *Used by*
names modules outside the physics and names of the physics; what nothing calls yet
says what it is kept for.

*Single precision* is the worst relative error (temperatures: of the kelvin) over
the same calls and a set of hard ones (thin slices, small differences, weak sun)
when every operation is rounded to the 24-bit mantissa of the board's floats. A
desktop build of MicroPython with single-precision floats, tried by hand, gave the
same worst errors and refused the same arguments in the same words; on the board
itself: not tried.

These are the models of this project, not a design service: pressure vessels,
structures that carry water, wiring and water supply belong to the local code
and to licensed people.
"""


def main(
    arguments: list[str], start: pathlib.Path | None = None, target: pathlib.Path | None = None
) -> int:
    """Writes the page, or with --check says whether it is current. Returns the exit code.

    start: a folder of the repository, the working folder if None.
    target: the page's file, its place in the repository if None.
    """
    return writing.write(arguments, start, COMMAND, _CHECKS,
                         lambda root: {target or PAGE: page(root)})


def page(root: pathlib.Path) -> str:
    """Text of the whole page. root: the repository."""
    if str(root) not in sys.path:
        sys.path.insert(0, str(root))
    evidence = importlib.import_module("tests.reference.evidence").evidence()
    model: Any = importlib.import_module("tests.reference.model")
    used_by = uses.users(root)
    parts = [_HEAD, _reach(evidence), _worst_table(evidence)]
    module_name = ""
    for target, found in evidence.items():
        first = target.split(".")[0]
        if first != module_name:
            module_name = first
            parts.append(_module_head(model.module_of(target)))
        parts.append(_entry(target, model.find(target), found, used_by[target]))
    return "\n".join(parts)


def _reach(evidence) -> str:
    groups = [found.groups for found in evidence.values() if found.groups]
    values = sum(group.count for part in groups for group in part)
    apart = sum(all(group.source.startswith("CALC") for group in part) for part in groups)
    text = (
        f"{values} values check {len(groups)} functions, classes and methods. {apart} of these "
        "have CALC alone: definitions and closed forms for which no printed example was found."
    )
    return "\n".join([*_wrap(text), ""])


def _worst_table(evidence) -> str:
    errors = [(found.single_error or 0.0, target) for target, found in evidence.items()]
    worst = sorted(errors, reverse=True)[:8]
    rows = [f"| `{target}` | {_size(error)} |" for error, target in worst]
    head = ["Largest losses in single precision:", "", "| function | error |", "|---|---|"]
    return "\n".join([*head, *rows, ""])


def _module_head(module) -> str:
    name = module.__name__.rpartition(".")[2]
    return f"## {name}\n\n{inspect.cleandoc(module.__doc__ or '')}\n"


def _entry(target: str, thing, found, used_by: set[str]) -> str:
    doc = parse(thing.__doc__ or "")
    name = target.partition(".")[2]
    lines = [f"### `{name}`", "", doc.summary, "", "```text", *_wrap(doc.equation), "```", ""]
    lines += _argument_rows(doc)
    lines += _item("Source", doc.source)
    for group in found.groups:
        lines += _item("Check", _group_text(group))
    if found.excuse:
        lines += _item("Check", f"none: {found.excuse}")
    if found.single_error is not None:
        lines += _item("Single precision", _size(found.single_error))
    if used_by:
        lines += _item("Used by", ", ".join(f"`{user}`" for user in sorted(used_by)))
    if doc.kept_for:
        lines += _item("Kept for", doc.kept_for)
    return "\n".join([*lines, ""])


def _argument_rows(doc: Docstring) -> list[str]:
    rows = ["| name | what, unit, range |", "|---|---|"]
    rows += [f"| `{argument.name}` | {_cell(argument.text)} |" for argument in doc.arguments]
    return [*rows, f"| result | {_cell(doc.returns)} |", ""]


def _cell(text: str) -> str:
    return text.replace("|", "\\|")


def _group_text(group) -> str:
    unit = " in the source's unit" if group.absolute else ""
    values = "1 value" if group.count == 1 else f"{group.count} values"
    allowed = "exact" if group.tolerance == 0 else f"allowed {_size(group.tolerance)}"
    return (
        f"{group.source}: {values}, residual {_size(group.residual)}{unit} "
        f"({allowed}: {group.why})"
    )


def _size(error: float) -> str:
    if error == 0:
        return "0"
    return "< 1e-9" if error < _ROUNDING else _two_digits(error)


def _two_digits(value: float) -> str:
    exponent = math.floor(math.log10(value))
    if -3 <= exponent < 3:
        return f"{value:.2g}"
    mantissa, _, power = f"{value:.1e}".partition("e")
    return f"{mantissa}e{int(power)}"


def _item(label: str, text: str) -> list[str]:
    return textwrap.wrap(f"- {label}: {text}", _WIDTH, subsequent_indent="  ")


def _wrap(text: str) -> list[str]:
    return textwrap.wrap(text, _WIDTH)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
