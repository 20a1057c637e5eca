"""Water and instruments of a rig on one sheet: tanks, pipes, pump, valves, wheel, tags, heights.

Symbols after ISO 10628 (pump, valve, strainer), instruments as circles with their tags after
ISA-5.1; only what the rig has. Owns where they stand; not to scale.
"""

from collections.abc import Mapping
from typing import Any
from xml.sax.saxutils import escape

from forebay.docs.schematic.layout import Box
from forebay.docs.sheets.heights import drowned, marks
from forebay.hardware.build import Build
from forebay.rig.instruments import is_fitted
from keeper.boards import wiring

WIDTH, HEIGHT = 1120, 880
_mm_PER_m = 1e3
_LETTER = 7.2                     # width of small text, capitals among it [px]
_BUBBLE = 21                      # radius of an instrument's circle [px]
# Upper and lower tank: left, top, right, bottom [px].
UPPER, LOWER = (400, 150, 700, 330), (190, 630, 400, 750)
MAIN_X, PENSTOCK_X = 1000, 470
# Which part of the circuit stands behind a tag: the first of them that the rig has.
TAGS = {
    "LSHH-UP": ("B1a",), "LSH-UP": ("B3",), "LSL-UP": ("B4",), "LSL-LO": ("B5",),
    "LSH-LO": ("B6",), "LT-UP": ("LT1",), "FI-UP": ("FT1",), "FI-DN": ("FT2",),
    "TI-MOT": ("TT1", "RT1"), "TI-WTR": ("TT2",), "TSH-MOT": ("B2",), "ZI-VLV": ("ZT1",),
}
TAGS_PER_LINE = 4
_STYLE = """\
text { font-family: sans-serif; font-size: 12px; fill: #111; }
.h { font-size: 18px; } .s { fill: #444; }
.p { stroke: #111; stroke-width: 3; fill: none; }
.l { stroke: #111; stroke-width: 1.4; fill: none; }
.f { stroke: #111; stroke-width: 1.4; fill: #fff; }
.d { stroke: #111; stroke-width: 1.2; fill: none; stroke-dasharray: 5 4; }
.w { stroke: #111; stroke-width: 1.2; fill: none; stroke-dasharray: 2 3; }
"""


class Picture:
    """Shapes and texts; the space of each text is kept."""

    def __init__(self):
        self.shapes: list[str] = []
        self.boxes: list[tuple[str, Box]] = []
        self.tags: list[str] = []

    def path(self, style: str, data: str) -> None:
        """Draw a path."""
        self.shapes.append(f'<path class="{style}" d="{data}"/>')

    def circle(self, x: float, y: float, radius: float) -> None:
        """Draw a circle."""
        self.shapes.append(f'<circle class="f" cx="{x:g}" cy="{y:g}" r="{radius:g}"/>')

    def text(self, x: float, y: float, words: str, anchor: str = "start", style: str = "") -> None:
        """Write a line."""
        size = 1.5 if style == "h" else 1.0
        width = _LETTER * size * len(words)
        left = x - {"start": 0, "middle": width / 2, "end": width}[anchor]
        self.boxes.append((words, Box(left, y - 11 * size, left + width, y + 3)))
        self.shapes.append(f'<text class="{style}" x="{x:g}" y="{y:g}" text-anchor="{anchor}">'
                           f"{escape(words)}</text>")

    def tag(self, x: float, y: float, tag: str, at: tuple[float, float]) -> None:
        """Draw an instrument: its circle, and a line to where it is."""
        self.path("l", f"M{at[0]} {at[1]}L{x} {y}")
        self.circle(x, y, _BUBBLE)
        self.tags.append(tag)
        letters, _, place = tag.partition("-")
        self.text(x, y - 2, letters, "middle")
        self.text(x, y + 12, place, "middle")

    def valve(self, x: float, y: float, *, upright: bool, drive: str = "") -> None:
        """Draw a valve; drive: the letter of what moves it, "T" a hand."""
        if upright:
            self.path("f", f"M{x - 11} {y - 16}h22l-22 32h22z")
            end = (x - 34, y)
        else:
            self.path("f", f"M{x - 16} {y - 11}v22l32 -22v22z")
            end = (x, y - 30)
        self.path("l", f"M{x} {y}L{end[0]} {end[1]}")
        if drive == "T":
            across = f"M{end[0]} {end[1] - 9}v18" if upright else f"M{end[0] - 9} {end[1]}h18"
            self.path("l", across)
        elif drive:
            self.circle(*end, 11)
            self.text(end[0], end[1] + 4, drive, "middle")


def svg(build: Build) -> str:
    """Return the sheet as one SVG file."""
    picture = drawn(build)
    head = (f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {HEIGHT}" '
            f'width="{WIDTH}" height="{HEIGHT}" role="img" '
            f'aria-label="Plumbing and instruments: {escape(build.name)}">')
    return "\n".join([head, f"<style>\n{_STYLE}</style>",
                      f'<rect width="{WIDTH}" height="{HEIGHT}" fill="#fff"/>', *picture.shapes,
                      "</svg>", ""])


def drawn(build: Build) -> Picture:
    """Return what is on the sheet."""
    picture, values = Picture(), build.values
    picture.text(24, 34, f"Plumbing and instruments: {build.name}", style="h")
    picture.text(24, 56, "Not to scale; heights in mm. Pipes are thick, instruments circles with"
                 " their tags; a number on a level is its height above that tank's floor.",
                 style="s")
    picture.text(24, 74, "Work at height and on the support is for two people, and where the"
                 " local code says so for someone licensed.", style="s")
    _tank(picture, values, "upper", UPPER)
    _tank(picture, values, "lower", LOWER)
    _rising_main(picture, values)
    _penstock(picture, values)
    _named(picture, build)
    return picture


def part_of(tag: str, build: Build) -> str:
    """Return the part of the rig's circuit behind a tag."""
    return next(build.netlist[name].device for name in TAGS[tag] if name in build.netlist.parts)


def _named(picture: Picture, build: Build) -> None:
    """Say below which part of wiring.md each tag is."""
    pairs = [f"{tag} is {part_of(tag, build)}" for tag in picture.tags]
    for place in range(0, len(pairs), TAGS_PER_LINE):
        words = ", ".join(pairs[place:place + TAGS_PER_LINE])
        picture.text(24, 832 + 18 * place // TAGS_PER_LINE,
                     ("In wiring.md: " if place == 0 else "") + words, style="s")


def _tank(picture: Picture, values: Mapping[str, Any], name: str, box) -> None:
    left, top, right, bottom = box
    picture.path("p", f"M{left} {top}V{bottom}H{right}V{top}")
    found = [mark for mark in marks(values, name) if mark.what.startswith("LS")]
    base_mm = values[f"{name}.base_height_m"] * _mm_PER_m
    # Right of the penstock, which leaves the upper one there.
    x = left + (90 if name == "upper" else 8)
    side = "above" if base_mm >= 0 else "below"
    picture.text(x, bottom + 18, f"floor {abs(base_mm):.0f} {side} the nozzle")
    rim_mm = values[f"{name}.height_m"] * _mm_PER_m
    picture.text(left, top - 6, f"rim {rim_mm:.0f}")
    # Evenly apart, whatever the litres: a full float lies a finger below the next.
    for place, mark in enumerate(found):
        y = bottom - 24 - place * (bottom - top - 50) / max(1, len(found) - 1)
        tag = mark.what.partition(":")[0]
        picture.path("w", f"M{left + 4} {y:g}H{right - 4}")
        absent = ", not fitted" if "not fitted" in mark.note else ""
        picture.text(left + 12, y - 5, f"{mark.level_m * _mm_PER_m:.0f}{absent}")
        if "not fitted" not in mark.note:
            aside = 48 + place % 2 * 52
            if name == "upper":
                picture.tag(right + aside, y, tag, (right - 20, y))
            else:
                picture.tag(left - aside, y, tag, (left + 20, y))
    if name == "upper" and is_fitted(values, "level"):
        picture.tag(right - 20, bottom + 40, "LT-UP", (right - 20, bottom))


def _rising_main(picture: Picture, values: Mapping[str, Any]) -> None:
    left, _, right, bottom = LOWER
    y = bottom - 20
    # Between the rim and the overflow's edge, or over the rim.
    end_y = UPPER[1] + 5 if drowned(values) else UPPER[1] - 18
    picture.path("p", f"M{right} {y}H530M566 {y}H{MAIN_X}V110H{UPPER[2] - 60}V{end_y}")
    picture.path("l", f"M{UPPER[2] - 66} {end_y - 8}l6 10l6 -10")
    picture.path("f", f"M{right + 44} {y - 15}h36v30h-36z")
    picture.path("d", f"M{right + 44} {y + 15}L{right + 80} {y - 15}")
    picture.text(right + 62, y + 32, "strainer", "middle")
    picture.circle(548, y, 20)
    picture.path("l", f"M536 {y - 16}L568 {y}L536 {y + 16}")
    picture.text(548, y + 40, "pump", "middle")
    picture.text(430, y + 66, "what it lifts cools the pump's jacket; above the water it needs a"
                 " foot valve", style="s")
    inlet_mm = (values["upper.inlet_height_m"] - values["upper.base_height_m"]) * _mm_PER_m
    picture.text(UPPER[2] - 50, 104, f"ends in air at {inlet_mm:.0f}, "
                 + ("below the rim: see heights.md" if drowned(values)
                    else "over the rim: nothing siphons back"))
    picture.text(MAIN_X - 10, 470, f"rising main, {values['rising_main.length_m']:g} m,"
                 f" bore {values['rising_main.diameter_m'] * _mm_PER_m:g} mm", "end")
    if is_fitted(values, "flow_up"):
        picture.tag(MAIN_X + 50, 560, "FI-UP", (MAIN_X, 560))
    if is_fitted(values, "motor_temperature"):
        picture.tag(520, y - 62, "TI-MOT", (544, y - 18))
    picture.tag(590, y - 62, "TSH-MOT", (556, y - 18))
    if is_fitted(values, "water_temperature"):
        picture.tag(680, y - 52, "TI-WTR", (680, y))
    picture.path("p", f"M760 {y}v34")
    picture.valve(760, y + 34, upright=True, drive="T")
    picture.text(780, y + 40, "drain before the frost")


def _penstock(picture: Picture, values: Mapping[str, Any]) -> None:
    x, top = PENSTOCK_X, UPPER[3]
    picture.path("p", f"M{x} {top}V560")
    picture.text(x + 16, top + 70, f"penstock, {values['penstock.length_m']:g} m,"
                 f" bore {values['penstock.diameter_m'] * _mm_PER_m:g} mm")
    picture.valve(x, top + 100, upright=True, drive="T")
    picture.text(x + 16, top + 104, "hand valve, lockable")
    if is_fitted(values, "flow_down"):
        picture.tag(x + 60, top + 140, "FI-DN", (x, top + 140))
    kind = values["board.valve_kind"]
    if kind != wiring.NO_VALVE:
        picture.valve(x, top + 172, upright=True, drive="M")
        stays = "stays" if values["valve.on_power_loss"] == "stays" else "closes"
        picture.text(x + 16, top + 190, f"valve; without power it {stays}")
        if is_fitted(values, "valve_position"):
            picture.tag(x - 100, top + 172, "ZI-VLV", (x - 45, top + 172))
    picture.path("l", f"M{x - 6} 556l6 14l6 -14")
    picture.text(x + 16, 556, f"nozzle {values['turbine.nozzle_diameter_m'] * _mm_PER_m:g} mm:"
                 " height 0")
    picture.circle(x, 592, 22)
    picture.path("l", f"M{x - 22} 592h44M{x} 570v44M{x - 15} 577l30 30M{x + 15} 577l-30 30")
    picture.path("l", f"M{x + 22} 592h40")
    picture.circle(x + 80, 592, 18)
    picture.text(x + 80, 597, "G", "middle")
    picture.text(x + 106, 597, "wheel under its guard, generator, clamp on its plate")
    picture.path("p", f"M{x} 616V622H{LOWER[2] - 60}V642")
    over_x = UPPER[0]
    picture.path("p", f"M{over_x} {UPPER[1] + 14}H{over_x - 90}V{UPPER[1] + 110}")
    edge = next(mark for mark in marks(values, "upper") if mark.what == "overflow's edge")
    picture.text(over_x - 100, UPPER[1] + 130, "overflow, no valve, led away", "middle")
    picture.text(over_x - 100, UPPER[1] + 147, f"its edge at {edge.level_m * _mm_PER_m:.0f}",
                 "middle")
    # Drains: of the upper tank, and of the penstock where it lies lowest.
    picture.path("p", f"M{UPPER[0] + 24} {top}v24")
    picture.valve(UPPER[0] + 24, top + 36, upright=True, drive="T")
    picture.text(UPPER[0] - 16, top + 40, "drain cock", "end")
    picture.path("p", f"M{x} 534H{x - 44}v14")
    picture.valve(x - 44, 562, upright=True, drive="T")
    picture.text(x - 86, 566, "drain before the frost", "end")
