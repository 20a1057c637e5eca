"""Every symbol of every drawing hangs by each of its pins on the net that its pins say."""

import functools
import itertools
import math
import xml.etree.ElementTree as ElementTree
from typing import Any

import pytest
import schemdraw

from forebay.docs.schematic import layout, symbols
from forebay.docs.sheets import circuits, interlocks
from forebay.hardware import tables
from forebay.hardware.netlist import GROUND, Part
from tests.hardware.tables import OTHERS, named

HAIR = 1e-6


RIGS = ("hillside", "orchard", *OTHERS)


@functools.cache
def drawings(rig):
    """Return every drawing of a rig by its name."""
    one, found = named(rig), {}
    points = {point.net: point.id for point in one.points}
    for sheet in tables.sheets():
        parts = circuits.there(one, tables.sheets()[sheet])
        if parts:
            for place, page in enumerate(layout.sheets(parts, points)):
                found[f"{sheet} {place + 1}"] = page
    for place, page in enumerate(interlocks.drawn(one)):
        found[f"ladder {place + 1}"] = page
    return found


def on_wire(point, wire):
    """Whether a point lies on a wire, which is level or upright."""
    (x, y), (x1, y1, x2, y2) = point, wire
    return (min(x1, x2) - HAIR <= x <= max(x1, x2) + HAIR
            and min(y1, y2) - HAIR <= y <= max(y1, y2) + HAIR)


def nets_at(sheet, x, y):
    """Return the nets whose names stand on what is wired to a point."""
    todo, seen = [(x, y)], set()
    points = {(x, y)}
    while todo:
        here = todo.pop()
        for place, wire in enumerate(sheet.wires):
            # A wire that ends on another's length joins it: so does one that it ends on.
            if place not in seen and on_wire(here, wire):
                seen.add(place)
                points |= {wire[:2], wire[2:]}
                todo += [wire[:2], wire[2:]]
                todo += [end for other in sheet.wires for end in (other[:2], other[2:])
                         if on_wire(end, wire)]

    def there(a, b):
        return any(on_wire((a, b), sheet.wires[place]) for place in seen) or any(
            math.dist((a, b), one) < HAIR for one in points)

    named = {net for net, a, b in (*sheet.dots, *sheet.rails) if there(a, b)}
    named |= {net for one in sheet.symbols for _, net, a, b in one.ports if there(a, b)}
    return named | ({GROUND} if any(there(a, b) for a, b in sheet.grounds) else set())


def symbols_of(rig):
    """Return (name of a drawing, its sheet, a symbol of it) for each symbol of a rig."""
    found = [(name, sheet, one) for name, sheet in drawings(rig).items() for one in sheet.symbols]
    assert found
    return found


@pytest.mark.parametrize("rig", RIGS)
def test_each_end_of_each_symbol_hangs_on_the_net_of_its_pin(rig):
    for name, sheet, one in symbols_of(rig):
        ends = layout.ends(one.part)

        assert ends, (name, one.part.id)
        first, second = ends
        assert nets_at(sheet, one.x1, one.y1) == {first}, (name, one.part.id)
        assert nets_at(sheet, one.x2, one.y2) == {second}, (name, one.part.id)


@pytest.mark.parametrize("rig", RIGS)
def test_each_other_pin_of_a_symbol_has_its_own_named_end(rig):
    for name, _, one in symbols_of(rig):
        ends = layout.ENDS.get(one.part.kind) or layout.THROUGH.get(one.part.kind) or ("1", "2")
        shown = {pin: net for pin, net, _, _ in one.ports} | ({"g": one.gate} if one.gate else {})
        wanted = {pin: net for pin, net in one.part.pins.items() if pin not in ends}

        assert shown == wanted, (name, one.part.id)


@pytest.mark.parametrize("rig", RIGS)
def test_where_three_leads_meet_there_is_a_dot(rig):
    for name, sheet in drawings(rig).items():
        dots = [*layout.joints(sheet), *((x, y) for _, x, y in sheet.dots)]
        for end in (end for wire in sheet.wires for end in (wire[:2], wire[2:])):
            # An end that lies on another's length is a T.
            through = [other for other in sheet.wires if on_wire(end, other)
                       and min(math.dist(end, other[:2]), math.dist(end, other[2:])) > 0.01]
            if through:
                assert min(math.dist(end, dot) for dot in dots) < 0.01, (name, end)


def test_the_stops_change_over_shows_both_of_its_throws():
    [one] = [one for one in drawings("hillside")["valves 1"].symbols if one.part.id == "S2b"]
    [(pin, net, x, _)] = one.ports

    assert (pin, net) == ("no", "valve close, from the stop")
    # Beside the other throw, not beside the blade's own end.
    assert abs(x - one.x2) < abs(x - one.x1)


def test_the_ladder_has_a_rung_for_each_kind_of_device_that_the_page_lists():
    pages = [page for name, page in drawings("hillside").items() if name.startswith("ladder")]
    drawn = {one.part.id for page in pages for one in (*page.symbols, *page.frames)}

    assert {"S2b", "D10", "Y1"} <= drawn
    assert "D9" not in drawn


# Width of a letter over the font's size: an ordinary sans-serif's mean, from memory.
LETTER_FRAC = 0.52
NS = "{http://www.w3.org/2000/svg}"


@pytest.mark.parametrize("rig", ["hillside", "orchard", "lead"])
def test_no_text_of_a_circuits_drawing_is_cut_off_at_the_pages_edge(rig):
    one = named(rig)
    count = 0
    for file, drawing in circuits.drawings(one).items():
        root = ElementTree.fromstring(circuits.svg(one, drawing))
        left, _, wide, _ = map(float, root.attrib["viewBox"].split())
        for text in root.iter(f"{NS}text"):
            words = "".join(text.itertext()).strip()
            width = LETTER_FRAC * float(text.attrib["font-size"]) * len(words)
            before = {"start": 0.0, "middle": width / 2, "end": width}[text.attrib["text-anchor"]]
            start = float(text.attrib["x"]) - before
            count += 1

            assert start >= left - HAIR, (file, words)
            assert start + width <= left + wide + HAIR, (file, words)
    assert count > 300


TURNS = {"right": ((0.0, 0.0), (2.2, 0.0)), "left": ((2.2, 0.0), (0.0, 0.0)),
         "down": ((0.0, 0.0), (0.0, -2.4)), "up": ((0.0, -2.4), (0.0, 0.0))}


def drawn(kind, start, end):
    """Return a symbol's lines (two points), triangles and texts (words, point)."""
    part = Part("Z1", kind, {})
    lines, triangles, texts = [], [], []
    schemdraw.use("svg")
    with schemdraw.Drawing(show=False, canvas="svg") as drawing:
        symbols._symbol(drawing, layout.Symbol(part, start[0], start[1], end[0], end[1],
                                                layout.Box(0, 0, 0, 0)))
    for element in drawing.elements:
        shapes: list[Any] = [segment.xform(element.transform) for segment in element.segments]
        for one in shapes:
            if hasattr(one, "text"):
                texts.append((one.text, one.xy))
            elif hasattr(one, "verts"):
                triangles.append(one.verts)
            elif hasattr(one, "path"):
                lines += [pair for pair in itertools.pairwise(one.path)
                          if not any(math.isnan(number) for point in pair for number in point)]
    return lines, triangles, texts


def plates(lines, start, end):
    """Return (length, middle) of the lines that lie square across the way from start to end."""
    way = (end[0] - start[0], end[1] - start[1])
    return [(math.dist(a, b), ((a[0] + b[0]) / 2, (a[1] + b[1]) / 2)) for a, b in lines
            if math.dist(a, b) > HAIR
            and abs((b[0] - a[0]) * way[0] + (b[1] - a[1]) * way[1]) < 1e-3]


def nearer(point, one, other):
    """Whether a point lies nearer to one than to another."""
    return math.dist(point, one) < math.dist(point, other)


@pytest.mark.parametrize("turn", TURNS)
@pytest.mark.parametrize("kind", ["diode", "tvs"])
def test_a_diodes_bar_is_at_its_cathode_and_its_arrow_comes_from_its_anode(kind, turn):
    start, end = TURNS[turn]
    anode, cathode = (start, end) if layout.ENDS[kind] == ("a", "k") else (end, start)
    lines, [triangle], _ = drawn(kind, start, end)
    [(_, bar)] = plates(lines, start, end)
    middle = [sum(numbers) / len(triangle) for numbers in zip(*triangle, strict=True)]

    # IEC 60617: the arrow points along the current, to the bar.
    assert nearer(bar, cathode, anode)
    assert math.dist(middle, anode) < math.dist(bar, anode)


@pytest.mark.parametrize("turn", TURNS)
@pytest.mark.parametrize("kind", ["battery", "panel"])
def test_the_long_plate_of_a_source_is_its_plus(kind, turn):
    start, end = TURNS[turn]
    plus, minus = (start, end) if layout.ENDS[kind] == ("plus", "minus") else (end, start)
    found = plates(drawn(kind, start, end)[0], start, end)
    longest = max(length for length, _ in found)
    long = [middle for length, middle in found if length > longest - HAIR]
    short = [middle for length, middle in found if length <= longest - HAIR]

    assert min(math.dist(one, plus) for one in long) < min(math.dist(one, plus) for one in short)
    assert min(math.dist(one, minus) for one in short) < min(math.dist(one, minus) for one in long)


@pytest.mark.parametrize("turn", TURNS)
def test_the_plus_of_a_capacitor_stands_at_its_plus(turn):
    start, end = TURNS[turn]
    [(words, at)] = drawn("polarised capacitor", start, end)[2]

    assert (words, layout.ENDS["polarised capacitor"]) == ("+", ("plus", "minus"))
    assert nearer(at, start, end)


@pytest.mark.parametrize("turn", ["down", "up"])
def test_a_mosfets_letters_stand_at_its_pins(turn):
    start, end = TURNS[turn]
    places = dict(drawn("n-mosfet", start, end)[2])

    assert layout.ENDS["n-mosfet"] == ("d", "s")
    assert nearer(places["d"], start, end)
    assert nearer(places["s"], end, start)


@pytest.mark.parametrize("rig", RIGS)
def test_a_mosfet_hangs_or_stands_as_its_symbol_can(rig):
    transistors = [one for _, _, one in symbols_of(rig) if one.part.kind == "n-mosfet"]

    assert transistors
    assert all(one.x1 == one.x2 for one in transistors)
