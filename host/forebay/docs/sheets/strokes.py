"""What a stroke near by leaves on the long leads: who holds it, and what a monitor there meets.

Owns the reckoning of one charge into what stands at a lead's end; the charge is a guess of
parts.toml. A direct stroke is beyond all of it.
"""

from collections.abc import Iterator
from typing import NamedTuple

from forebay.docs.sheets import text
from forebay.hardware.build import Build
from forebay.hardware.netlist import GROUND, Part, reached
from forebay.hardware.rules.loads import CAPACITORS, is_far
from forebay.hardware.sizing import CLAMP_RATIO

_TEXT = """\
A stroke near by brings some {mC:g} mC into a lead (100 A of 8/20 us: a guess). What stands at
its end holds it: the capacitor by its rise, charge over farads, or the suppressor, which stands
off the lead's own volts and clamps at {ratio:g} times that at its full pulse. So no suppressor
here keeps a lead below what a monitor bears ({bears:g} V, absolute, from memory): it saves
switches, diodes and capacitors. What leads and capacitors add by their own inductance is left
out. Where the last column says so, a capacitor protects the monitor; where it
does not, keep a spare one, and take the board's word for a dead one: switches and contacts act
without it. Open the isolator before a storm; surge protection is for licensed people.
"""


class Held(NamedTuple):
    """What one charge leaves at a suppressor."""

    part: Part
    rise_V: float    # by the capacitors alone
    held_V: float    # the lower of capacitors and clamp, on top of the net's highest
    monitors: tuple[str, ...]


def held(build: Build) -> Iterator[Held]:
    """Return what a stroke leaves at each suppressor of a long lead of power."""
    netlist, figures = build.netlist, build.figures
    near = [way for way in netlist.ways() if way.part.kind in ("shunt", "link", "contact")
            and not is_far(way.part.at)]
    for part in netlist.of_kind("tvs"):
        if part.sized not in ("panel_tvs", "lamps_tvs"):
            continue
        group = reached(part.pins["k"], near)
        farad = sum(one.farad for net in group
                    for one in netlist.between(net, GROUND, *CAPACITORS))
        rise_V = build.parts["assumed"]["stroke_C"] / farad if farad else float("inf")
        most_V = max(figures[netlist.most[net]] for net in group if net in netlist.most)
        yield Held(part, rise_V, min(most_V + rise_V, part.rated["clamps"]),
                   tuple(one.id for one in netlist.of_kind("monitor")
                         if one.pins["bus"] in group))


def section(build: Build) -> str:
    """Return the section of the page on the parts."""
    assumed = build.parts["assumed"]
    bears = assumed["monitor_absolute_V"]
    rows = []
    for one in held(build):
        by = "its capacitor" if one.held_V < one.part.rated["clamps"] else "the suppressor"
        verdict = "kept" if one.held_V <= bears else "NOT kept"
        told = ", ".join(f"{name} {verdict}" for name in one.monitors) or "none there"
        rows.append((one.part.id, one.part.pins["k"], f"{one.part.rated['off']:g} V",
                     f"{one.part.rated['clamps']:.0f} V", f"{one.rise_V:.3g} V",
                     f"{one.held_V:.3g} V by {by}", told))
    heads = ("suppressor", "net", "stands off", "clamps at", "capacitors rise", "held at",
             "monitor")
    return text.paragraph(_TEXT.format(mC=1e3 * assumed["stroke_C"], ratio=CLAMP_RATIO,
                                       bears=bears)) + "\n" + text.table(heads, rows)
