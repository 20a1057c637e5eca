"""The wiring drawing: circuits as rungs with symbols and numbered test points, in SVG.

Owns where things stand on the sheet and how they look; what there is comes from
hardware/wiring.toml. No script, no font and no picture from elsewhere.
"""

from typing import Any
from xml.sax.saxutils import escape

_WIDTH = 1180
_LEFT, _TOP = 24, 96
_CELL, _POINT_CELL, _END_CELL = 98, 56, 70
_RUNG = 118  # height of one rung: heading, wire, label
_WIRE_Y = 58  # of the wire below the top of its rung
_HALF = 26  # half the width of a symbol
_STYLE = """\
text { font-family: sans-serif; font-size: 13px; fill: #111; }
.name { font-weight: bold; font-size: 14px; }
.small { font-size: 12px; fill: #444; }
.w { stroke: #111; stroke-width: 1.6; fill: none; }
.b { stroke: #111; stroke-width: 1.6; fill: #fff; }
.t { stroke: #a40000; stroke-width: 1.8; fill: #fff; }
.tn { fill: #a40000; font-size: 12px; font-weight: bold; }
"""


def svg(circuits: dict[str, Any], pins: dict[str, Any]) -> str:
    """The whole drawing as one SVG file."""
    devices = {device["id"]: device for device in circuits["device"]}
    devices |= {f"GP{p['gpio']}": {"kind": "pin", "label": p["name"]} for p in pins["pin"]}
    rungs = [_rung(circuit, devices) for circuit in circuits["circuit"]]
    bottoms = [_TOP, _TOP]
    body = []
    for width, parts in rungs:
        wide = width > (_WIDTH - 3 * _LEFT) / 2
        column = 0 if wide else bottoms.index(min(bottoms))
        top = max(bottoms) if wide else bottoms[column]
        left = _LEFT + (0 if wide else column * (_WIDTH - _LEFT) // 2)
        body.append(f'<g transform="translate({left},{top})">{parts}</g>')
        for touched in (0, 1) if wide else (column,):
            bottoms[touched] = top + _RUNG
    height = max(bottoms) + _LEFT
    return "\n".join([_head(height), *body, "</svg>", ""])


def _head(height: int) -> str:
    lines = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {_WIDTH} {height}" '
        f'width="{_WIDTH}" height="{height}" role="img" '
        'aria-label="Wiring of the demo rig with test points">',
        f"<style>\n{_STYLE}</style>",
        f'<rect width="{_WIDTH}" height="{height}" fill="#fff"/>',
        _text(_LEFT, 32, "Wiring of the demo rig, all at rest and without power", "name"),
        _text(_LEFT, 54, "Red circles are test points; readings and what is wrong: wiring.md. "
              "Every 0 V is one star point, TP0. GP numbers are the board's pins.", "small"),
        _text(_LEFT, 74, "Low voltage only. Hobby-grade, not a safety-rated system; local codes "
              "and licensed practice come first.", "small"),
    ]
    return "\n".join(lines)


def _rung(circuit: dict[str, Any], devices: dict[str, Any]) -> tuple[int, str]:
    """Width and content of one circuit."""
    parts = [_text(0, 12, circuit["name"], "name")]
    x = 0
    wires = []
    for name in circuit["path"]:
        width, shape = _place(name, x, devices)
        wires.append((x, x + width, name))
        parts.append(shape)
        x += width
    line = f'<path class="w" d="M{_centre(wires[0])} {_WIRE_Y}H{_centre(wires[-1])}"/>'
    return x, "".join([parts[0], line, *parts[1:]])


def _centre(place: tuple[int, int, str]) -> int:
    return (place[0] + place[1]) // 2


def _place(name: str, x: int, devices: dict[str, Any]) -> tuple[int, str]:
    """Width of a place on the rung and what stands there."""
    if name.startswith("TP"):
        return _POINT_CELL, _point(x + _POINT_CELL // 2, name)
    if name not in devices:
        return _END_CELL, _end(x + _END_CELL // 2, name)
    device = devices[name]
    middle = x + _CELL // 2
    y = _WIRE_Y - 26 if device["kind"] == "down" else _WIRE_Y + 31
    label = _text(middle, y, name, "", "middle")
    label += _text(middle, y + 15, device["label"], "small", "middle")
    return _CELL, _SYMBOLS[device["kind"]](middle, name) + label


def _point(x: int, name: str) -> str:
    circle = f'<circle class="t" cx="{x}" cy="{_WIRE_Y}" r="14"/>'
    return circle + _text(x, _WIRE_Y + 4, name.removeprefix("TP"), "tn", "middle")


def _end(x: int, name: str) -> str:
    if name != "0 V":
        return _cover(x, 20) + _text(x, _WIRE_Y + 4, name, "", "middle")
    return f'<path class="w" d="M{x} {_WIRE_Y}v10"/>' + _ground(x, _WIRE_Y + 10)


def _ground(x: int, y: int) -> str:
    return "".join(
        f'<path class="w" d="M{x - half} {y + row * 5}h{2 * half}"/>'
        for row, half in enumerate((12, 8, 3))
    )


def _text(x: int, y: int, words: str, style: str, anchor: str = "start") -> str:
    return f'<text class="{style}" x="{x}" y="{y}" text-anchor="{anchor}">{escape(words)}</text>'


def _cover(x: int, half: int) -> str:
    """White over the wire, where a symbol interrupts it."""
    return f'<rect x="{x - half}" y="{_WIRE_Y - 12}" width="{2 * half}" height="24" fill="#fff"/>'


def _block(x: int, name: str) -> str:
    return f'<rect class="b" x="{x - _HALF}" y="{_WIRE_Y - 15}" width="{2 * _HALF}" height="30"/>'


def _round(x: int, name: str) -> str:
    circle = f'<circle class="b" cx="{x}" cy="{_WIRE_Y}" r="17"/>'
    return circle + _text(x, _WIRE_Y + 5, name[0], "", "middle")


def _pin(x: int, name: str) -> str:
    y = _WIRE_Y
    return (f'<path class="b" d="M{x - _HALF} {y - 12}h{2 * _HALF - 10}l10 12l-10 12'
            f'h{10 - 2 * _HALF}z"/>')


def _resistor(x: int, name: str) -> str:
    return f'<rect class="b" x="{x - 22}" y="{_WIRE_Y - 8}" width="44" height="16"/>'


def _down(x: int, name: str) -> str:
    """A resistor that hangs from the wire to 0 V."""
    y = _WIRE_Y
    return (f'<path class="w" d="M{x} {y}v40"/>' + _ground(x, y + 40)
            + f'<rect class="b" x="{x - 7}" y="{y + 8}" width="14" height="26"/>')


def _up(x: int, name: str) -> str:
    """A resistor from 3.3 V down to the wire."""
    y = _WIRE_Y
    return (f'<path class="w" d="M{x} {y}v-38h6"/>'
            f'<rect class="b" x="{x - 7}" y="{y - 32}" width="14" height="24"/>'
            + _text(x + 10, y - 33, "3.3 V", "small"))


def _bridged(x: int, name: str) -> str:
    """A closed contact with a resistor across it."""
    y = _WIRE_Y
    return (_closed(x, name) + f'<path class="w" d="M{x - 30} {y}v-28h60v28"/>'
            f'<rect class="b" x="{x - 16}" y="{y - 35}" width="32" height="14"/>')


def _fuse(x: int, name: str) -> str:
    return _resistor(x, name) + f'<path class="w" d="M{x - 22} {_WIRE_Y}h44"/>'


def _closed(x: int, name: str) -> str:
    y = _WIRE_Y
    return (_cover(x, 20) + f'<path class="w" d="M{x - 20} {y}L{x + 20} {y - 9}'
            f'M{x + 16} {y}v-14M{x + 16} {y}h6"/>')


def _open(x: int, name: str) -> str:
    y = _WIRE_Y
    return _cover(x, 20) + f'<path class="w" d="M{x - 20} {y}L{x + 16} {y - 14}M{x + 20} {y}h2"/>'


def _diode(x: int, name: str) -> str:
    y = _WIRE_Y
    return (f'<path class="b" d="M{x - 11} {y - 11}v22l22 -11z"/>'
            f'<path class="w" d="M{x + 11} {y - 11}v22"/>')


def _battery(x: int, name: str) -> str:
    y = _WIRE_Y
    return (_cover(x, 6) + f'<path class="w" d="M{x - 6} {y - 14}v28M{x + 6} {y - 7}v14"/>'
            + _text(x - 16, y - 8, "+", "", "middle"))


def _panel(x: int, name: str) -> str:
    return _block(x, name) + f'<path class="w" d="M{x - _HALF} {_WIRE_Y + 15}l26 -30l26 30"/>'


_SYMBOLS = {
    "block": _block,
    "round": _round,
    "pin": _pin,
    "resistor": _resistor,
    "down": _down,
    "up": _up,
    "fuse": _fuse,
    "closed": _closed,
    "bridged": _bridged,
    "open": _open,
    "diode": _diode,
    "battery": _battery,
    "panel": _panel,
}
