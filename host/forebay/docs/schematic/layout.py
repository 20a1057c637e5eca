"""Where the parts of a circuit stand on its sheet: lines of parts, what hangs on them, boxes.

A circuit is drawn as lines from left to right: the longest chain of its nets first, then
what is left. What lies between a net and 0 V hangs below the line, what goes to a rail
stands above it, what bridges several nets lies over it. Owns places and sizes, in units
of the drawing; knows no symbol.
"""

import textwrap
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

from forebay.hardware.netlist import GROUND, Part

RAILS = ("3.3 V", "5 V", "sensors' 5 V", "sensors' 3.3 V", "board supply")
# The two pins by which a part stands in a line; every other kind is drawn as a box.
ENDS = {
    "shunt": ("in", "out"), "change-over": ("c", "nc"), "n-mosfet": ("d", "s"),
    "polarised capacitor": ("plus", "minus"), "diode": ("a", "k"), "tvs": ("k", "a"),
    "motor": ("plus", "minus"), "lamps": ("plus", "minus"), "panel": ("plus", "minus"),
    "battery": ("plus", "minus"),
}
TWO = ("resistor", "link", "capacitor", "contact", "button", "fuse", "ptc", "coil", "two-way tvs",
       "thermistor", "generator", "reversed motor")
# Boxes that stand in a line: signal in at the left, out at the right.
THROUGH = {"gate driver": ("in", "out"), "buck": ("in", "out"), "charger": ("in", "out"),
           "high-side switch": ("in", "out")}
# Pins beside the two ends: where each leaves its symbol, along it from its middle, and how far
# below the line its named end is.
_SUPPLIED = (("supply", -0.35), ("0V", 0.35))
PORTS = {"change-over": (("no", 0.45),), "shunt": (("sense_in", -0.35), ("sense_out", 0.35)),
         "gate driver": _SUPPLIED, "high-side switch": _SUPPLIED, "buck": (("0V", 0.0),),
         "charger": (("0V", 0.0),)}
PORT_DOWN, PORT_FROM = 0.9, 0.25
BOX_HALF = 0.45                   # height of a box in a line, from its middle
CHAR, LINE = 0.185, 0.36          # width of a letter, height of a line of text
SYMBOL = 2.2                      # length of a symbol in a line
DOWN, UP = 2.4, 2.4               # length of what hangs and of what stands
INSET = 0.3                       # of a symbol's ends, which are wire
LEVEL = 1.5                       # between bridging parts
NOTE = 16                         # letters of a part's note in a line
NAME = 17                         # letters of a net's name in a line
GAP = 0.5
STUB = 0.7                        # of a box's pin
PITCH = 0.62                      # between a box's pins
TITLE = 0.9
SHORTEST = 2                      # nets of a line: one part between them
# Of a sheet: printed on A4, lying, its smallest text is 2 mm high (9 of 36 px a unit).
WIDTH, HEIGHT = 33.0, 20.0
# In a line stands rather what carries current than what only suppresses.
WEIGHTS = {"diode": 0.9, "tvs": 0.5, "two-way tvs": 0.5, "capacitor": 0.8,
           "polarised capacitor": 0.8}


class Box(NamedTuple):
    """A rectangle on the sheet; y grows upwards."""

    left: float
    bottom: float
    right: float
    top: float

    def moved(self, x: float, y: float) -> "Box":
        """Return it moved by x and y."""
        return Box(self.left + x, self.bottom + y, self.right + x, self.top + y)

    def overlaps(self, other: "Box") -> bool:
        """Whether two rectangles share more than an edge."""
        hair = 1e-6
        return (self.left < other.right - hair and other.left < self.right - hair
                and self.bottom < other.top - hair and other.bottom < self.top - hair)


class Text(NamedTuple):
    """Lines of text; x, y: left end of the first line's base, or its middle."""

    words: tuple[str, ...]
    x: float
    y: float
    anchor: str = "start"
    style: str = "note"

    @property
    def box(self) -> Box:
        """The space that it takes."""
        width = CHAR * max(map(len, self.words))
        left = self.x - {"start": 0.0, "middle": width / 2, "end": width}[self.anchor]
        return Box(left, self.y - LINE * (len(self.words) - 1) - 0.1, left + width,
                   self.y + LINE - 0.08)


class Symbol(NamedTuple):
    """A part between two points, the first its first end's; `box` is the space of its symbol.

    ports: (pin, net, x, y) of the named end of each pin that is neither end.
    """

    part: Part
    x1: float
    y1: float
    x2: float
    y2: float
    box: Box
    gate: str = ""
    ports: tuple[tuple[str, str, float, float], ...] = ()


class Frame(NamedTuple):
    """A part as a box: its corners and its pins (name, x, y, side, net)."""

    part: Part
    box: Box
    pins: tuple[tuple[str, float, float, str, str], ...]


@dataclass
class Sheet:
    """Everything on a sheet."""

    symbols: list[Symbol] = field(default_factory=list)
    frames: list[Frame] = field(default_factory=list)
    texts: list[Text] = field(default_factory=list)
    wires: list[tuple[float, float, float, float]] = field(default_factory=list)
    grounds: list[tuple[float, float]] = field(default_factory=list)
    rails: list[tuple[str, float, float]] = field(default_factory=list)
    dots: list[tuple[str, float, float]] = field(default_factory=list)
    points: list[tuple[str, float, float]] = field(default_factory=list)
    bottom: float = 0.0
    right: float = 0.0

    def note(self, text: Text) -> None:
        """Take a text, and the room that it needs."""
        self.texts.append(text)
        self.reach(text.box)

    def take(self, other: "Sheet", x: float, y: float) -> None:
        """Take what stands on another sheet, moved by x and y."""
        self.symbols += [one._replace(x1=one.x1 + x, x2=one.x2 + x, y1=one.y1 + y, y2=one.y2 + y,
                                      box=one.box.moved(x, y), ports=tuple(
            (pin, net, px + x, py + y) for pin, net, px, py in one.ports))
            for one in other.symbols]
        self.frames += [one._replace(box=one.box.moved(x, y), pins=tuple(
            (pin, px + x, py + y, side, net) for pin, px, py, side, net in one.pins))
            for one in other.frames]
        self.texts += [one._replace(x=one.x + x, y=one.y + y) for one in other.texts]
        self.wires += [(a + x, b + y, c + x, d + y) for a, b, c, d in other.wires]
        self.grounds += [(a + x, b + y) for a, b in other.grounds]
        self.rails += [(net, a + x, b + y) for net, a, b in other.rails]
        self.dots += [(net, a + x, b + y) for net, a, b in other.dots]
        self.points += [(name, a + x, b + y) for name, a, b in other.points]
        self.reach(Box(x, y + other.bottom, x + other.right, y))

    def reach(self, box: Box) -> None:
        """Let the sheet be as large as a box asks."""
        self.right = max(self.right, box.right)
        self.bottom = min(self.bottom, box.bottom)


def ends(part: Part) -> tuple[str, str] | None:
    """Return the nets between which a part stands in a line; None: it is a box."""
    pins = ENDS.get(part.kind) or THROUGH.get(part.kind)
    if part.kind in TWO:
        pins = ("1", "2")
    if pins is None or any(pin not in part.pins for pin in pins):
        return None
    return part.pins[pins[0]], part.pins[pins[1]]


def joints(sheet: Sheet) -> list[tuple[float, float]]:
    """Return where three leads or more meet, beside the nets' own dots."""
    ends = [(one[place], one[place + 1]) for one in sheet.wires for place in (0, 2)]
    ends += [point for one in sheet.symbols for point in ((one.x1, one.y1), (one.x2, one.y2))]
    counts: dict[tuple[float, float], int] = {}
    for x, y in ends:
        key = (round(x, 3), round(y, 3))
        counts[key] = counts.get(key, 0) + 1
    known = {(round(x, 3), round(y, 3)) for _, x, y in sheet.dots}
    return [point for point, count in counts.items() if point not in known
            and count + 2 * sum(_passes(wire, point) for wire in sheet.wires) > 2]


def _passes(wire: tuple[float, float, float, float], point: tuple[float, float]) -> bool:
    """Whether a level or upright wire goes on both ways from a point."""
    (x1, y1, x2, y2), (x, y), hair = wire, point, 2e-3
    if abs(y1 - y2) < hair:
        return abs(y - y1) < hair and min(x1, x2) + hair < x < max(x1, x2) - hair
    return abs(x - x1) < hair and min(y1, y2) + hair < y < max(y1, y2) - hair


def is_rail(net: str) -> bool:
    """Whether a net is drawn as a mark at each of its places."""
    return net == GROUND or net in RAILS


def sheets(circuits: Mapping[str, Sequence[Part]], points: Mapping[str, str],
           height: float = HEIGHT) -> list[Sheet]:
    """Return where all of some circuits stands: sheets no higher than a page, or of one circuit.

    points: test point by net.
    """
    blocks = [_titled(name, _packed(_items(parts, points, WIDTH), WIDTH))
              for name, parts in circuits.items()]
    pages: list[list[Sheet]] = []
    for block in blocks:
        if pages and -_packed([*pages[-1], block], WIDTH).bottom <= height:
            pages[-1].append(block)
        else:
            pages.append([block])
    return [_packed(blocks, WIDTH) for blocks in pages]


def _items(parts: Sequence[Part], points: Mapping[str, str], width: float) -> list[Sheet]:
    """Return the lines and boxes of a circuit, each at the origin.

    A line that is too long ends at a net, whose name begins another.
    """
    items = []
    left = [part for part in parts if ends(part) is not None]
    while lines := [part for part in left if not all(map(is_rail, _nets(part)))]:
        chain = _longest(lines)
        one = Sheet()
        used = _line(one, chain, lines, points)
        while one.right > width and len(chain) > SHORTEST:
            chain, one = chain[:-1], Sheet()
            used = _line(one, chain, lines, points)
        items.append(one)
        left = [part for part in left if part.id not in used]
    return items + [_between(part) for part in left] + [
        _frame(part, points) for part in parts if ends(part) is None]


def _packed(items: Sequence[Sheet], width: float) -> Sheet:
    """Return items in rows from left to right, rows from top to bottom."""
    found, x, top, lowest = Sheet(), 0.0, 0.0, 0.0
    for item in items:
        if x > 0.0 and x + item.right > width:
            x, top = 0.0, lowest - GAP
        found.take(item, x, top)
        x += item.right + 2 * GAP
        lowest = min(lowest, top + item.bottom)
    return found


def _titled(name: str, body: Sheet) -> Sheet:
    found = Sheet()
    found.note(Text((name,), 0.0, -TITLE + 0.4, "start", "title"))
    found.take(body, 0.0, -TITLE)
    found.bottom -= GAP
    return found


def note_of(part: Part) -> tuple[str, ...]:
    """Return what stands beside a part: its id, its value, its place if not the box."""
    lines = [part.id, *(line for line in textwrap.wrap(part.value, NOTE))]
    return tuple(lines + ([f"({part.at})"] if part.at != "box" else []))


def _nets(part: Part) -> tuple[str, str]:
    found = ends(part)
    assert found is not None
    return found


def _longest(parts: Sequence[Part]) -> list[tuple[str, Part | None]]:
    """Return the longest chain: (net, the part that leads to it), the first without one."""
    links = [(part, *_nets(part)) for part in parts
             if part.kind in THROUGH or not any(map(is_rail, _nets(part)))]
    nets = list(dict.fromkeys(net for part in parts for net in _nets(part) if not is_rail(net)))
    best: list[tuple[str, Part | None]] = []

    def worth(chain: list[tuple[str, Part | None]]) -> float:
        return sum(WEIGHTS.get(part.kind, 1.0) if part else 1.0 for _, part in chain)

    def walk(chain: list[tuple[str, Part | None]], seen: set[str]) -> None:
        nonlocal best
        if worth(chain) > worth(best):
            best = list(chain)
        for part, one, other in links:
            here = chain[-1][0]
            # Signal goes to the right: a box that has a direction is not turned round.
            ways = [(one, other)] if part.kind in THROUGH else [(one, other), (other, one)]
            for start, end in ways:
                if start == here and end not in seen:
                    walk([*chain, (end, part)], seen | {end})

    for net in nets:
        walk([(net, None)], {net})
    return best


def _line(found: Sheet, chain, parts: Sequence[Part], points: Mapping[str, str]) -> set[str]:
    """Draw one line; return the ids of the parts that are on it."""
    nets = [net for net, _ in chain]
    series = {part.id for _, part in chain if part}
    over = [part for part in parts if part.id not in series and set(_nets(part)) <= set(nets)]
    up = {net: [] if is_rail(net) else _hanging(parts, net, series, RAILS) for net in nets}
    down = {net: [] if is_rail(net) else _hanging(parts, net, series, (GROUND,)) for net in nets}
    head = max([0.0, *(UP + 0.8 for net in nets if up[net])])
    y = -max(head + 0.3, 1.4) - LEVEL * len(over)
    x, places = 0.3, {}
    for net, part in chain:
        if part:
            x = _series(found, part, net, x, y)
        places[net] = x
        x = _node(found, net, x, y, up[net], down[net], points)
    # The lowest bridge is above all names and notes of the line.
    base = y + max(head + 0.6, 1.5)
    # Short bridges lie under long ones.
    over.sort(key=lambda part: abs(places[_nets(part)[0]] - places[_nets(part)[1]]))
    for level, part in enumerate(over):
        _bridge(found, part, places, y, base + LEVEL * level)
    return series | {p.id for p in over} | {p.id for net in nets for p in (*up[net], *down[net])}


def _hanging(parts: Iterable[Part], net: str, series: set[str],
             others: tuple[str, ...]) -> list[Part]:
    """Return the parts beside the line that lie between a net and one of others."""
    return [part for part in parts if part.id not in series and net in _nets(part)
            and _nets(part)[_nets(part)[0] == net] in others]


def _series(found: Sheet, part: Part, net: str, x: float, y: float) -> float:
    """Draw a part in the line from x on, towards a net at its right; return where it ends."""
    note = note_of(part)
    names = {pin: textwrap.wrap(part.pins[pin], NAME) for pin, _ in PORTS.get(part.kind, ())
             if pin in part.pins}
    longest = max((len(line) for lines in names.values() for line in lines), default=0)
    width = max(SYMBOL, CHAR * max(map(len, note)) + 0.3, 2 * CHAR * longest + 1.5)
    begin = x + (width - SYMBOL) / 2
    found.wires.append((x, y, begin, y))
    found.wires.append((begin + SYMBOL, y, x + width, y))
    box = Box(begin + INSET, y - 0.45, begin + SYMBOL - INSET, y + 0.45)
    # A part whose first end is the net at its right is turned round.
    turned = _nets(part)[0] == net
    x1, x2 = (begin + SYMBOL, begin) if turned else (begin, begin + SYMBOL)
    ports = tuple((pin, part.pins[pin], x + width / 2 + (-along if turned else along),
                   y - PORT_DOWN) for pin, along in PORTS.get(part.kind, ()) if pin in names)
    found.symbols.append(Symbol(part, x1, y, x2, y, box, part.pins.get("g", ""), ports))
    below = 0.95
    for pin, _, at, end_y in ports:
        found.wires.append((at, y - (BOX_HALF if part.kind in THROUGH else PORT_FROM), at, end_y))
        lean = at - x - width / 2
        found.note(Text(tuple(names[pin]), at + (0.25 if lean > 0 else -0.25), end_y - 0.4,
                        "start" if lean > 0 else "end", "net"))
        below = max(below, PORT_DOWN + 0.4 + LINE * len(names[pin]) + 0.1)
    found.note(Text(note, x + width / 2, y - below, "middle"))
    return x + width


def _node(found: Sheet, net: str, x: float, y: float, up, down, points) -> float:
    """Draw a net's place with what hangs on it; return where the line goes on."""
    name = tuple(textwrap.wrap(net, NAME))
    width = max(CHAR * max(map(len, name)), 0.9) + 0.2
    found.dots.append((net, x, y))
    begin = x + (0.75 if net in points else 0.1)
    if net in points:
        found.points.append((points[net], x + 0.42, y + 0.5))
    found.note(Text(name, begin + 0.2, y + 0.35 + LINE * (len(name) - 1), "start", "net"))
    at = x + 0.5
    right = begin + width
    for part in down:
        at = _vertical(found, part, net, at, y, y - DOWN)
    right = max(right, at)
    at = begin + width + 0.45 if up else at
    for part in up:
        at = _vertical(found, part, net, at, y, y + UP)
    right = max(right, at)
    found.wires.append((x, y, right, y))
    found.reach(Box(x, y - 1.2, right, y + 1))
    return right


def _vertical(found: Sheet, part: Part, net: str, x: float, y: float, end_y: float) -> float:
    """Draw a part from a net at y to its other net; return where the next may be."""
    note = note_of(part)
    gate = part.pins.get("g", "")
    if gate:
        lead = CHAR * len(gate) + 0.4
        found.note(Text((gate,), x + lead - 0.15, (y + end_y) / 2 + 0.12, "end", "net"))
        x += lead + 0.6
        found.wires.append((x - lead - 0.6, y, x, y))
    begins = _nets(part)[0] == net
    far = _nets(part)[begins]
    one, other = (y, end_y) if begins else (end_y, y)
    low, high = min(y, end_y), max(y, end_y)
    box = Box(x - 0.45, low + INSET, x + 0.45, high - INSET)
    found.symbols.append(Symbol(part, x, one, x, other, box, gate))
    if far == GROUND:
        found.grounds.append((x, end_y))
    else:
        found.rails.append((far, x, end_y))
        found.note(Text((far,), x, end_y + (0.25 if end_y > y else -0.45), "middle", "net"))
    found.reach(Box(x, low - 0.7, x, high))
    width = max(0.55 + CHAR * max(map(len, note)), 1.2)
    found.note(Text(note, x + 0.55, (y + end_y) / 2 + LINE * (len(note) - 1) / 2 - 0.1))
    return x + width + 0.5


def _bridge(found: Sheet, part: Part, places: Mapping[str, float], y: float,
            over_y: float) -> None:
    one, other = _nets(part)
    x1, x2 = places[one], places[other]
    found.symbols.append(Symbol(part, x1, over_y, x2, over_y,
                                Box((x1 + x2) / 2 - 0.6, over_y - 0.45, (x1 + x2) / 2 + 0.6,
                                    over_y + 0.45)))
    found.wires += [(x1, y, x1, over_y), (x2, y, x2, over_y)]
    # What does not fit over its span stands in the list of parts alone.
    note = " ".join(note_of(part))
    words = note if CHAR * len(note) < abs(x2 - x1) - 0.4 else part.id
    found.note(Text((words,), (x1 + x2) / 2, over_y + 0.6, "middle"))


def _between(part: Part) -> Sheet:
    """Return a part that lies between two rails: the one that is not 0 V at its top."""
    found = Sheet()
    top = next((net for net in _nets(part) if net != GROUND), GROUND)
    x = CHAR * max(len(net) for net in _nets(part)) / 2 + 0.1
    found.rails.append((top, x, -0.9))
    found.note(Text((top,), x, -0.65, "middle", "net"))
    _vertical(found, part, top, x, -0.9, -0.9 - DOWN)
    return found


def _frame(part: Part, points: Mapping[str, str]) -> Sheet:
    """Return a part as a box with a name at each pin."""
    found = Sheet()
    # A rail has no line of its own on which its test point could stand.
    pins = [(pin, f"{net}, {points[net]}" if is_rail(net) and net in points else net)
            for pin, net in part.pins.items()]
    half = (len(pins) + 1) // 2
    sides = (pins[:half], pins[half:])
    leads = [STUB + CHAR * max([len(net) for _, net in side] or [0]) + 0.2 for side in sides]
    note = note_of(part)
    inner = max(1.2 + CHAR * sum(max([len(pin) for pin, _ in side] or [0]) for side in sides),
                CHAR * max(map(len, note)) + 0.4)
    top = -LINE * len(note) - 0.4
    box = Box(leads[0], top - PITCH * half - 0.4, leads[0] + inner, top)
    found.note(Text(note, box.left, top + LINE * (len(note) - 1) + 0.12))
    rows = []
    for side, edge, out in ((0, box.left, -STUB), (1, box.right, STUB)):
        for place, (pin, net) in enumerate(sides[side]):
            y = top - 0.5 - PITCH * place
            rows.append((pin, edge, y, "left" if side == 0 else "right", net))
            found.wires.append((edge, y, edge + out, y))
            found.note(Text((net,), edge + out * 1.15, y - 0.1, "end" if side == 0 else "start",
                            "net"))
    found.frames.append(Frame(part, box, tuple(rows)))
    found.reach(Box(0.0, box.bottom - 0.3, box.right + leads[1], 0.0))
    return found
