"""The page on the wiring: the drawing once more as text, test points and their readings."""

from typing import Any

from forebay.docs.sheets import text

DRAWING = "wiring.svg"
MODES = ("standstill", "pump", "turbine")
_HEAD = """\
# Wiring and test points

{drawn}

![Wiring of the demo rig]({drawing})

The drawing shows the demo rig without power and at rest: closed contacts are
those that are closed then. The same below as text, for a terminal. Nothing here
has been built yet: *not tried*.

Measure on the terminals of the box, with one hand, meter set to direct volts.
Black probe on TP0, the star point of every 0 V, unless a line says otherwise.
Open the isolator before you loosen a lead of the panel, take the fuse out
before one of the battery: an arc of direct current does not go out by itself.
Local codes and licensed practice come first.
"""


def page(circuits: dict[str, Any], pins: dict[str, Any]) -> str:
    """The page. circuits, pins: the tables of those names in hardware/."""
    head = _HEAD.format(drawn=text.DRAWN.format("wiring"), drawing=DRAWING)
    parts = [head, "## Circuits\n", "".join(_circuit(c) for c in circuits["circuit"])]
    parts += ["## What hangs in them\n", _devices(circuits)]
    parts += ["## Readings\n", text.paragraph(
        "Volts that a meter of 10 Mohm shows. Standstill: sun, all off, tanks between their "
        "floats. Pump: full sun. Turbine: dark, lamps at one of their steps. A window of 0 to "
        "3.3 V means that the point tells nothing in that mode."), _readings(circuits)]
    parts += ["## What is wrong if not\n", "".join(_otherwise(p) for p in circuits["test_point"])]
    parts += [text.paragraph(
        "Volts and no current: go along the circuit from plus to 0 V; the open lead lies "
        "between the last point that has volts and the first that has none."), ""]
    return "\n".join(parts).rstrip() + "\n"


def _circuit(circuit: dict[str, Any]) -> str:
    path = " - ".join(circuit["path"])
    return text.item(f"{circuit['name']}: {path}. {circuit['text']}")


def _devices(circuits: dict[str, Any]) -> str:
    rows = [(d["id"], d["label"], d.get("part", "")) for d in circuits["device"]]
    return text.table(("device", "is", "row of [parts.md](parts.md)"), rows)


def _readings(circuits: dict[str, Any]) -> str:
    lines = [f"{'':6}{'':36}{'standstill':>12}{'pump':>12}{'turbine':>12}"]
    for point in circuits["test_point"]:
        windows = "".join(f"{_window(point[mode]):>12}" for mode in MODES)
        lines.append(f"{point['id']:6}{point['at'][:36]:36}{windows}")
    return "```text\n" + "\n".join(lines) + "\n```\n"


def _window(window: list[float]) -> str:
    return f"{window[0]:g}..{window[1]:g}"


def _otherwise(point: dict[str, Any]) -> str:
    channel = f" The board reads it as `{point['channel']}`." if "channel" in point else ""
    return text.item(f"**{point['id']}**, {point['at']}: {point['otherwise']}.{channel}")

