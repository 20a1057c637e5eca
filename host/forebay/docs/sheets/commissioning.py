"""The page on commissioning: bench sheet, first steps in order, yearly proof test."""

from typing import Any

from forebay.docs.sheets import text

_HEAD = """\
# Bench sheet and first commissioning

{drawn}

{gate}
Test points and what each should read: [wiring.md](wiring.md). What each part
must stand: [parts.md](parts.md). Work at height, on the panel's and battery's
leads and on the support belongs to two people, daylight, and where the local
code says so to someone licensed.
"""


def page(commissioning: dict[str, Any]) -> str:
    """The page. commissioning: hardware/commissioning.toml."""
    head = _HEAD.format(drawn=text.DRAWN.format("commissioning"),
                        gate=text.paragraph(commissioning["gate"]["text"]))
    parts = [head, "## Bench sheet\n", _bench(commissioning["bench"])]
    numbered = list(enumerate(commissioning["step"], start=1))
    for stage in commissioning["stage"]:
        parts += [f"## {stage['name'].capitalize()}\n", text.paragraph(stage["text"])]
        parts.append("".join(_step(n, s) for n, s in numbered if s["stage"] == stage["name"]))
    proofs = ", ".join(str(number) for number, step in numbered if step["proof"])
    parts += ["## Proof test\n", text.paragraph(
        f"Each spring, and after any work on the rig, steps {proofs} again. It is the only "
        "thing that finds a crushed cable, a stuck float or a contact that has welded.")]
    return "\n".join(parts)


def _bench(lines: list[dict[str, Any]]) -> str:
    return "".join(map(_bench_line, lines))


def _bench_line(line: dict[str, Any]) -> str:
    without = f" Without an oscilloscope: {line['without']}." if "without" in line else ""
    return text.item(f"**{line['id']}**, {line['what']}. How: {line['how']}.{without} Passes if: "
                     f"{line['pass']}. Result: *not tried*.")


def _step(number: int, step: dict[str, Any]) -> str:
    look = f" Look at: {', '.join(step['look'])}." if step["look"] else ""
    return text.item(f"{step['do']}.{look} Expect: {step['expect']}. Otherwise: "
                     f"{step['otherwise']}.", f"{number}. ")
