"""The page on the parts: what each must stand, what the rig makes of it, the margin."""

from collections.abc import Mapping
from typing import Any

from forebay.docs.sheets import boards, strokes, text
from forebay.hardware import duty, fitting, sizing, tables
from forebay.hardware.build import Build
from forebay.hardware.duty import Stress
from forebay.hardware.netlist import Part
from forebay.rig import wired
from keeper.physics import electrical, of_rig

_HEAD = """\
# Parts and their margins: {name}

{drawn}

Worked out for this rig by the formulas of `keeper.physics`; margin is rating over
worst, less 1; for temperatures and gaps it is the difference. No makes: any part
that stands the figures will do. None has been tried: *not tried*. Sizes of
wires, fuses, isolators and supports are for the local code and a licensed person
to decide.
"""
_ADDRESSES = "0x{:02x}"


def page(build: Build) -> str:
    """The page."""
    parts, found = build.parts, duty.stresses(build.netlist, build.values, build.figures)
    by = {who: [one for one in found if one.who == who] for who in dict.fromkeys(
        one.who for one in found)}
    sections = [
        _HEAD.format(name=build.name, drawn=text.MADE),
        _failing(found),
        "## Which board\n", boards.section(parts["board"]),
        *(_part(row, build, by.get(row["name"], [])) for row in duty.used_rows(build.netlist)),
        "## Every other part of the circuit\n", _others(build, by),
    ]
    if build.netlist.of_kind("monitor"):
        sections += ["## Current monitors\n", _monitors(build)]
    sections += ["## Strokes near by\n", strokes.section(build)]
    holds = fitting.conditions(build.rig)
    if fitting.is_there(["over_full_float", "loop supervised"], holds):
        sections += ["## The supervised loop of 71HH-UP\n", _loop(parts["loop"])]
    sections += ["## Load\n", _load(parts, build.values),
                 "## Taken for granted\n", _assumed(parts)]
    return "\n".join(one for one in sections if one)


def _failing(found: list[Stress]) -> str:
    rows = [(one.who, one.what, f"{text.number(one.rated)} {one.unit}",
             f"{text.number(one.worst)} {one.unit}")
            for one in found if not one.holds]
    if not rows:
        return ""
    return "## TOO LITTLE MARGIN: do not build it so\n\n" + text.table(
        ("part", "rating", "rated", "worst"), rows)


def _part(row: Mapping[str, Any], build: Build, found: list[Stress]) -> str:
    ids = [part.id + (f" ({part.value})" if part.value else "") for part in build.netlist
           if part.row == row["name"]]
    named = f" In the circuit: {', '.join(ids)}." if ids else ""
    lines = [f"## {row['name']}\n",
             text.paragraph(f"Where: {row['where']}. {_must(row, build)}{named}")]
    if row["name"] == "clamp":
        lines.append(text.paragraph(_clamp(build)))
    if found:
        lines.append(text.table(("rating", "rated", "worst", "margin", "least"), [
            (one.what, f"{text.number(one.rated)} {one.unit}",
             f"{text.number(one.worst)} {one.unit}",
             _room(one.margin, one.unit), _room(one.least, one.unit)) for one in found]))
    return "\n".join(lines)


def _clamp(build: Build) -> str:
    """Return the clamp's volts: where it begins, where it stands, what there is without it."""
    upper_ohm, lower_ohm = sizing.divider(build.values["generator.clamp_voltage_V"])
    begins_V = sizing.REFERENCE_V * (1 + upper_ohm / lower_ohm)
    return (f"By the divider as made it begins at {begins_V:.2f} V ({sizing.REFERENCE_V:g} V x"
            f" (1 + {upper_ohm:g} / {lower_ohm:g})); the rig asks for"
            f" {build.values['generator.clamp_voltage_V']:g} V. At runaway it stands at"
            f" {build.figures['generator_clamped_V']:.1f} V. Failed open, with the lamps off, the"
            f" generator reaches {build.figures['generator_unclamped_V']:.1f} V.")


def _must(row: Mapping[str, Any], build: Build) -> str:
    holds = fitting.conditions(build.rig)
    words = ". ".join([row["must"], *(one["text"] for one in row.get("more", ())
                                      if fitting.is_there(one["when"], holds))])
    words = words.format(**build.named)
    return f"{words[:1].upper()}{words[1:]}. Source: {row['source']}."


def _room(room: float, unit: str) -> str:
    if unit in ("degC", "mm"):
        return f"{room:.0f} {'K' if unit == 'degC' else unit}"
    return f"{100 * room:.0f} %" if room < 100 else "much"


def _others(build: Build, by: Mapping[str, list[Stress]]) -> str:
    rows = [(part.id, part.kind, part.value, part.at, _ratings(by.get(part.id, [])))
            for part in build.netlist if not part.row]
    return text.table(("part", "is", "value", "at", "rated, worst, margin"), rows)


def _ratings(found: list[Stress]) -> str:
    return "; ".join(f"{one.rated:.3g} {one.unit}, {one.worst:.2g}, {_room(one.margin, one.unit)}"
                     + ("" if one.holds else " TOO LITTLE") for one in found)


def monitor(part: Part, values: Mapping[str, Any], figures: Mapping[str, float]) -> dict:
    """Where a monitor clips [A], and what its shunt takes at the worst current [W].

    part: the monitor's shunt.
    """
    name = part.sized.removesuffix("_shunt")
    row = next(one for one in tables.load("parts")["monitor"] if one["name"] == name)
    return {
        "name": name, "ohm": part.ohm, "rated_W": part.rated["W"],
        "address": values[f"board.{name}_monitor"],
        "clip_A": electrical.shunt_clip_A(wired.FULL_SCALE_V, part.ohm),
        "range_A": values[f"sensors.{row['range']}"],
        "worst_A": figures[row["worst"]],
        "worst_W": figures[row["worst"]] ** 2 * part.ohm,
    }


def _monitors(build: Build) -> str:
    found = [monitor(part, build.values, build.figures)
             for part in build.netlist.of_kind("shunt")]
    rows = [(one["name"], _ADDRESSES.format(one["address"]), f"{one['ohm'] * 1e3:g} mohm",
             f"{one['clip_A']:.3g} A", f"{one['range_A']:g} A", f"{one['worst_A']:.3g} A",
             f"{one['worst_W']:.2g} of {one['rated_W']:g} W") for one in found]
    heads = ("monitor", "address", "shunt", "clips at", "range", "worst", "shunt takes")
    return text.table(heads, rows) + "\n" + text.paragraph(
        "A shunt is sized so that its monitor clips just above the range of the rig's "
        "description. A stalled pump may clip its monitor, which the board reports as clipped, "
        "and the shunt stands it.")


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


def _loop(loop: Mapping[str, Any]) -> str:
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


def load_kPa(parts: Mapping[str, Any], rig: Mapping[str, Any]) -> float:
    """Load of the full upper tank on its support [kPa], over its mean section."""
    tank = next(p for p in parts["part"] if p["name"] == "support of the upper tank")
    level_m = of_rig.tank(rig, "upper.").level_m(rig["upper.overflow_volume_m3"])
    kilograms = rig["upper.overflow_volume_m3"] * 1000.0 + rig.get(
        "support.tank_mass_kg", tank["tank_kg"])
    return kilograms * 9.81 / (rig["upper.overflow_volume_m3"] / level_m) / 1000.0


def _load(parts: Mapping[str, Any], rig: Mapping[str, Any]) -> str:
    tank = next(p for p in parts["part"] if p["name"] == "support of the upper tank")
    load_now = load_kPa(parts, rig)
    return text.paragraph(
        f"Full, the upper tank presses with {load_now:.1f} kPa on its deck, "
        f"{load_now / tank['usual_kPa']:.1f} times the {tank['usual_kPa']:g} kPa that a "
        "dwelling's deck is usually made for. Whether this deck, its posts and its ground carry "
        "that, with wind and moving water, is for someone licensed to judge.")


def _assumed(parts: Mapping[str, Any]) -> str:
    rows = [*parts["assumed"].items(), *parts["lead"].items(),
            *((f"{what}, draws", draws_A) for what, draws_A in parts["draws_A"].items())]
    return text.table(("`[assumed]`, `[lead]` and `[draws_A]` in parts.toml", "value"), rows)
