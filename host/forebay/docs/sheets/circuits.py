"""The page on the wiring: the drawings, the circuits as text, test points and their readings."""

from collections.abc import Mapping
from typing import NamedTuple

from forebay.docs.schematic import layout, symbols
from forebay.docs.sheets import looks, text
from forebay.hardware import tables
from forebay.hardware.build import Build
from forebay.hardware.netlist import BOX, GROUND, Part
from forebay.hardware.readings import MODES, Point

_HEAD = """\
# Wiring and test points: {name}

{drawn}

The drawings show the rig without power and at rest: a blade that lies on its
stop is a contact that is closed then, of a change-over c is its blade, nc the
throw that is closed at rest, no the other. Ends that bear one name are
joined. A MOSFET's pins are d, g and s. A circle with a number is a test point;
a place in brackets says what does not stand in the box. 0 V is one star point
in the box, TP0: a bolt or a bus bar, to which power and signals are led apart
(strips.md). The same follows as text, for a terminal. Nothing here has been
built yet: *not tried*.

Measure on the terminals of the box, with one hand, meter set to direct volts.
Black probe on TP0 unless a line says otherwise. Open the isolator before you
loosen a lead of the panel, take the fuse out before one of the battery: an arc
of direct current does not go out by itself. Local codes and licensed practice
come first.
"""
_BELOW = ("Without power and at rest: a blade that lies on its stop is a closed contact; nc is"
          " closed, no open at rest. Ends with one name are joined. Circles are test points;"
          " a place in brackets is outside the box. Low voltage only; hobby-grade; local codes and"
          " licensed practice come first.")


class Drawing(NamedTuple):
    """One page of a sheet's drawing."""

    sheet: str  # of tables.SHEETS
    title: str
    layout: layout.Sheet


def drawings(build: Build) -> dict[str, Drawing]:
    """Return every page of every drawing of a rig's circuits by its file's name."""
    found = {}
    for name, table in tables.sheets().items():
        pages = drawn(build, name)
        for place, file in enumerate(text.pages(f"circuit-{name}", len(pages))):
            found[file] = Drawing(name, f"{table['title']}: {build.name}"
                                  f"{text.of_pages(place, len(pages))}", pages[place])
    return found


def drawn(build: Build, name: str) -> list[layout.Sheet]:
    """Return what stands on each page of a sheet; empty: the rig has nothing of it."""
    points = {point.net: point.id for point in build.points}
    return layout.sheets(there(build, tables.sheets()[name]), points)


def svg(_: Build, drawing: Drawing) -> str:
    """Return a page as an SVG file."""
    return symbols.svg(drawing.layout, drawing.title, _BELOW)


def there(build: Build, table: Mapping) -> dict[str, list[Part]]:
    """Return the parts of each circuit of a sheet, as they are drawn together."""
    names = {block["name"] for block in table["circuit"]}
    return {name: parts for name, parts in build.netlist.drawn().items() if name in names}


def page(build: Build) -> str:
    """The page."""
    parts = [_HEAD.format(name=build.name, drawn=text.MADE)]
    files = drawings(build)
    for name, table in tables.sheets().items():
        if there(build, table):
            parts += [f"## {table['title']}\n", *(
                f"![{table['title']}]({file})\n" for file, one in files.items()
                if one.sheet == name)]
            own = build.netlist.circuits()
            parts += [_circuit(build, block["name"], own[block["name"]])
                      for block in table["circuit"] if block["name"] in own]
    parts += ["## Pins of this rig\n", _pins(build)]
    parts += ["## Readings\n", text.paragraph(
        "Volts that a meter of 10 Mohm shows. Standstill: sun, all off, tanks between their "
        "floats; wait a second after a contact was opened and a minute after the isolator "
        "was: so long R9 takes to empty C2, and C1. Pump: full sun. Turbine: dark, lamps at "
        "one of their steps. A window of 0 to 3.4 V means that the point tells nothing in that "
        "mode."), _readings(build.points)]
    parts += ["## Where the probes go\n", text.paragraph(
        "Red probe; the black one is on TP0 unless the line says otherwise. Terminals are those "
        "of the box (cables.md); what has none is measured at the pin."), _probes(build)]
    parts += ["## What is wrong if not\n",
              "".join(_otherwise(build, point) for point in build.points)]
    parts += [text.paragraph(
        "Volts and no current: go along the circuit from plus to 0 V; the open lead lies "
        "between the last point that has volts and the first that has none."), ""]
    return "\n".join(parts).rstrip() + "\n"


def _pins(build: Build) -> str:
    """Return which pin of the board leads where in this rig."""
    board = build.netlist.of_kind("board")[0]
    rows = []
    for row in tables.load("pins")["pin"]:
        name = f"GP{row['gpio']}"
        beside = list(dict.fromkeys(part.id for part, _ in build.netlist.on(name)
                                    if part is not board))
        rows.append((name, f"`{row['name']}`", ", ".join(beside) or board.open[name],
                     row["reset"] if beside else "-"))
    return text.table(("pin", "name", "on it", "in reset"), rows)


def _circuit(build: Build, name: str, parts: list[Part]) -> str:
    lines = [_row(part) for part in parts]
    return (f"### {name[:1].upper()}{name[1:]}\n\n" + text.paragraph(build.netlist.texts[name])
            + "\n```text\n" + "\n".join(line for rows in lines for line in rows) + "\n```\n")


def _row(part: Part) -> list[str]:
    """Return a part and its nets, in lines that a terminal of 80 columns shows."""
    what = ", ".join(filter(None, (part.kind, part.value,
                                   "" if part.at == "box" else f"at {part.at}")))
    pins = [f"{pin}: {net}" for pin, net in part.pins.items()]
    pins += [f"{pin}: open, {why}" for pin, why in part.open.items()]
    return text.hung(f"{part.id:6}{what}", "; ".join(pins))


def _readings(points: list[Point]) -> str:
    lines = [f"{'':6}{'':38}{'standstill':>11}{'pump':>11}{'turbine':>11}"]
    for point in points:
        windows = "".join(f"{_window(point.windows[mode]):>11}" for mode in MODES)
        lines.append(f"{point.id:6}{point.at[:37]:38}{windows}")
    return "```text\n" + "\n".join(lines) + "\n```\n"


def _probes(build: Build) -> str:
    """Return where each test point is reached: at terminals of the box, else at a part's pin."""
    rows = [("TP0", GROUND, _reached(build, GROUND), "-")]
    rows += [(point.id, point.net, _reached(build, point.net),
              "TP0" if point.against == GROUND else
              f"{point.against}: {_reached(build, point.against)}") for point in build.points]
    return text.table(("point", "net", "red probe", "black probe"), rows)


def _reached(build: Build, net: str) -> str:
    terminals = [core.terminal for cable in build.cables for core in cable.cores
                 if core.net == net and core.terminal]
    if net == GROUND:
        return "the star point: a bolt in the box"
    if terminals:
        return ", ".join(terminals)
    part, pin = next(((part, pin) for part, pin in build.netlist.on(net) if part.at == BOX),
                     build.netlist.on(net)[-1])
    return f"{part.id} {pin}" + ("" if part.at == BOX else f", at {part.at}")


def _window(window: tuple[float, float]) -> str:
    return f"{window[0]:.3g}..{window[1]:.3g}"


def _otherwise(build: Build, point: Point) -> str:
    there = looks.there(build, [point.channel] if point.channel else [])
    channel = f" The board reads it as `{point.channel}`." if there else ""
    return text.item(f"**{point.id}**, {point.at}: {point.otherwise}.{channel}")
