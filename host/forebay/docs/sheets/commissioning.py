"""The page on commissioning: bench sheet, first steps in order, yearly proof test."""

from collections.abc import Mapping
from typing import Any

from forebay.docs.sheets import looks, text
from forebay.hardware import fitting, tables
from forebay.hardware.build import Build

_HEAD = """\
# Bench sheet and first commissioning: {name}

{drawn}

{gate}
Test points and what each should read: [wiring.md](wiring.md). What each part
must stand: [parts.md](parts.md). Work at height, on the panel's and battery's
leads and on the support belongs to two people, daylight, and where the local
code says so to someone licensed.
"""


def page(build: Build) -> str:
    """The page of a rig: the lines and steps for what it has."""
    commissioning = tables.load("commissioning")
    holds = fitting.conditions(build.rig)
    head = _HEAD.format(name=build.name, drawn=text.MADE,
                        gate=text.paragraph(commissioning["gate"]["text"]))
    parts = [head, "## Bench sheet\n", _bench(_there(commissioning["bench"], holds, build))]
    numbered = list(enumerate(_there(commissioning["step"], holds, build), start=1))
    for stage in commissioning["stage"]:
        parts += [f"## {stage['name'].capitalize()}\n", text.paragraph(stage["text"])]
        parts.append("".join(_step(number, step, build) for number, step in numbered
                             if step["stage"] == stage["name"]))
    proofs = ", ".join(str(number) for number, step in numbered if step["proof"])
    parts += ["## Proof test\n", text.paragraph(
        f"Each spring, and after any work on the rig, steps {proofs} again. It is the only "
        "thing that finds a crushed cable, a stuck float or a contact that has welded.")]
    return "\n".join(parts)


def _there(rows: list[dict[str, Any]], holds: Mapping[str, bool],
           build: Build) -> list[dict[str, Any]]:
    """Return the rows that a rig has, with its own figures in them."""
    return [{key: value.format(**build.named) if isinstance(value, str) else value
             for key, value in row.items()}
            for row in rows if fitting.is_there(row.get("when", ()), holds)]


def _bench(lines: list[dict[str, Any]]) -> str:
    return "".join(map(_bench_line, lines))


def _bench_line(line: dict[str, Any]) -> str:
    without = f" Without an oscilloscope: {line['without']}." if "without" in line else ""
    return text.item(f"**{line['id']}**, {line['what']}. How: {line['how']}.{without} Passes if: "
                     f"{line['pass']}. Result: *not tried*.")


def _step(number: int, step: dict[str, Any], build: Build) -> str:
    there = looks.there(build, step["look"])
    look = f" Look at: {', '.join(there)}." if there else ""
    return text.item(f"{step['do']}.{look} Expect: {step['expect']}. Otherwise: "
                     f"{step['otherwise']}.", f"{number}. ")
