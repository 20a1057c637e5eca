"""The page on the parts: what each must stand, what the demo rig makes of it, the margin."""

from collections.abc import Mapping
from typing import Any

from forebay.docs.sheets import boards, text, worst
from forebay.rig import load
from keeper.physics import electrical

_MONITOR_FULL_V = 0.08192  # shunt input of an INA226-type monitor, its data sheet, from memory
_mOHM, _mm2 = 1e-3, 1e-6
_HEAD = """\
# Parts and their margins

{drawn}

Worked out for the demo rig, `host/forebay/demo/hillside.toml`, by the formulas of
`keeper.physics`; a test fails when a margin falls below its least. Margin is
rating over worst, less 1; for temperatures and gaps it is the difference. No
makes: any part that stands the figures will do. None has been tried: *not
tried*. Sizes of wires, fuses, isolators and supports are for the local code and
a licensed person to decide.
"""


def page(parts: dict[str, Any]) -> str:
    """The page. parts: hardware/parts.toml."""
    rig = load().plant()
    figures = worst.figures(rig, parts)
    return "\n".join(
        [
            _HEAD.format(drawn=text.DRAWN.format("parts")),
            "## Which board\n",
            boards.section(parts["board"]),
            *(_part(part, rig, parts, figures) for part in parts["part"]),
            "## Current monitors\n",
            _monitors(parts, rig, figures),
            "## Wires\n",
            _wires(parts, figures),
            "## The supervised loop of 71HH-UP\n",
            _loop(parts["loop"]),
            "## Load\n",
            _load(parts, rig),
            "## Taken for granted\n",
            _assumed(parts["assumed"]),
        ]
    )


def _part(part: dict[str, Any], rig, parts, figures: Mapping[str, float]) -> str:
    lines = [f"## {part['name']}\n", text.paragraph(f"Where: {part['where']}. {_must(part)}")]
    if "rating" in part:
        rows = []
        for rating in part["rating"]:
            value = worst.rated(rating["rated"], rig, parts)
            meets = figures[rating["worst"]]
            room = worst.margin(rating, value, meets)
            unit = rating["unit"]
            rows.append((rating["what"], f"{value:.3g} {unit}", f"{meets:.3g} {unit}",
                         _room(room, unit), _room(rating["least"], unit)))
        lines.append(text.table(("rating", "rated", "worst", "margin", "least"), rows))
    return "\n".join(lines)


def _must(part: dict[str, Any]) -> str:
    words = part["must"]
    return f"{words[:1].upper()}{words[1:]}. Source: {part['source']}."


def _room(room: float, unit: str) -> str:
    if unit in ("degC", "mm"):
        return f"{room:.0f} {'K' if unit == 'degC' else unit}"
    return f"{100 * room:.0f} %"


def monitor(row: dict[str, Any], figures: Mapping[str, float]) -> dict[str, float]:
    """Where a monitor clips [A], and what its shunt takes at the worst current [W]."""
    ohm = row["shunt_mohm"] * _mOHM
    return {
        "clip_A": electrical.shunt_clip_A(_MONITOR_FULL_V, ohm),
        "worst_A": figures[row["worst"]],
        "worst_W": figures[row["worst"]] ** 2 * ohm,
    }


def _monitors(parts: dict[str, Any], rig: Mapping[str, Any], figures) -> str:
    rows = []
    for row in parts["monitor"]:
        found = monitor(row, figures)
        rows.append((row["name"], f"0x{row['address']:02x}", f"{row['shunt_mohm']:g} mohm",
                     f"{found['clip_A']:.3g} A", f"{rig['sensors.' + row['range']]:g} A",
                     f"{found['worst_A']:.3g} A",
                     f"{found['worst_W']:.2g} of {row['shunt_W']:g} W"))
    heads = ("monitor", "address", "shunt", "clips at", "range", "worst", "shunt takes")
    return text.table(heads, rows) + "\n" + text.paragraph(
        "The shunt is sized so that it clips just above the range of the rig's description: the "
        "usual 100 mohm would clip at 0.82 A, below what this pump draws. A stalled pump may clip "
        "its monitor, which the board reports as clipped, and the shunt stands it.")


def drop_V(wire: dict[str, Any], parts: dict[str, Any], figures: Mapping[str, float]) -> float:
    """Voltage lost in a pair of wires at its worst current, hot [V]."""
    return electrical.voltage_drop_V(
        figures[wire["worst"]], wire["length_m"], wire["section_mm2"] * _mm2,
        parts["assumed"]["conductor_hottest_degC"])


def _wires(parts: dict[str, Any], figures: Mapping[str, float]) -> str:
    rows = []
    for wire in parts["wire"]:
        lost = drop_V(wire, parts, figures)
        rows.append((wire["name"], f"{wire['length_m']:g} m", f"{wire['section_mm2']:g} mm2",
                     f"{figures[wire['worst']]:.2g} A", f"{lost:.2g} V",
                     f"{100 * lost / figures[wire['of']]:.1f} of {100 * wire['drop']:.0f} %",
                     wire["text"]))
    heads = ("run", "one way", "copper", "worst", "lost", "share, allowed", "note")
    return text.table(heads, rows) + "\n" + text.paragraph(
        "Copper of IEC 60028 at the hottest that is taken for granted below. Outdoors: sheathed, "
        "proof against sun, in conduit where a spade or an animal reaches it; stranded ends in "
        "ferrules.")


def loop_V(loop: Mapping[str, Any], state: str) -> tuple[float, float]:
    """Lowest and highest voltage [V] of the supervised loop in a state, with all tolerances."""
    ohms = {
        "shorted": (0.0, loop["cable_ohm"]),
        "hanging": (loop["in_line"], loop["in_line"] + loop["cable_ohm"]),
        "lifted": (loop["in_line"] + loop["across"],
                   loop["in_line"] + loop["across"] + loop["cable_ohm"]),
    }
    if state == "cut":
        return loop["rail_V"] - loop["offset_V"], loop["rail_V"]
    low, high = ohms[state]
    slack, up = loop["tolerance_frac"], loop["pull_up"]
    least = electrical.divider_V(loop["rail_V"], up * (1 + slack), max(0.1, low * (1 - slack)))
    most = electrical.divider_V(loop["rail_V"], up * (1 - slack), max(0.1, high * (1 + slack)))
    return max(0.0, least - loop["offset_V"]), most + loop["offset_V"]


def _loop(loop: dict[str, Any]) -> str:
    rows = []
    for window in loop["window"]:
        low, high = loop_V(loop, window["name"])
        codes = [round(volts / loop["rail_V"] * 4095)
                 for volts in (window["low_V"], window["high_V"])]
        rows.append((window["name"], f"{low:.2f} to {high:.2f} V",
                     f"{window['low_V']:.2f} to {window['high_V']:.2f} V",
                     f"{codes[0]} to {codes[1]}", window["reads"], window["text"]))
    return text.paragraph(
        f"{loop['pull_up']:g} ohm to {loop['rail_V']:g} V in the box; {loop['in_line']:g} ohm in "
        f"line with the contact and {loop['across']:g} ohm across it, both at the float. \"Is\" "
        "holds all tolerances; the limits that the board knows lie between the windows."
    ) + "\n" + text.table(
        ("state", "is", "window", "12-bit code", "the board's values", "meaning"), rows)


def load_kPa(parts: dict[str, Any], rig: Mapping[str, Any]) -> float:
    """Load of the full upper tank on its support [kPa]."""
    tank = next(p for p in parts["part"] if p["name"] == "support of the upper tank")
    kilograms = rig["upper.overflow_volume_m3"] * 1000.0 + tank["tank_kg"]
    return kilograms * 9.81 / (rig["upper.length_m"] * rig["upper.width_m"]) / 1000.0


def _load(parts: dict[str, Any], rig: Mapping[str, Any]) -> str:
    tank = next(p for p in parts["part"] if p["name"] == "support of the upper tank")
    load_now = load_kPa(parts, rig)
    return text.paragraph(
        f"Full, the upper tank presses with {load_now:.1f} kPa on its deck, "
        f"{load_now / tank['usual_kPa']:.1f} times the {tank['usual_kPa']:g} kPa that a "
        "dwelling's deck is usually made for. Whether this deck, its posts and its ground carry "
        "that, with wind and moving water, is for someone licensed to judge.")


def _assumed(assumed: Mapping[str, float]) -> str:
    return text.table(("`[assumed]` in parts.toml", "value"), assumed.items())
