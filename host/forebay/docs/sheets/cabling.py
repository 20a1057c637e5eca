"""The page on the cables: from where to where, how long, how thick, which core on what."""

from forebay.docs.sheets import text
from forebay.hardware import cables
from forebay.hardware.build import Build

_HEAD = """\
# Cables and terminals: {name}

{drawn}

Every net that has parts at two places needs a core in each cable on the way.
Colours are free: write yours into the last column, and keep one for 0 V
throughout. A core's far end is the pin of a part, or a core that leads on; in the
box it is a terminal. "Normal" is the current with which the loss is reckoned,
"most" what flows in a fault that no fuse ends (a panel's short circuit, a
stalled pump): the section carries it for ever. Lengths are the rig's where its
file states them (`[cables]`, the pipes), else taken for granted: measure before
you cut. Power and signals have sheaths of their own and lie a hand apart.
Sections are the smallest that lose no more than they may and carry what flows;
sizes for outdoors are for the local code and a licensed person to decide.

![Box with its terminals](box.svg)
"""


def page(build: Build) -> str:
    """The page."""
    rows = cables.places()
    parts = [_HEAD.format(name=build.name, drawn=text.MADE),
             "## Places\n", "".join(
                 text.item(f"**{name}**: {row['what']}.") for name, row in rows.items()
                 if name == "box" or any(one.place == name for one in build.cables)),
             "## Cables\n", text.table(
                 ("cable", "from", "to", "for", "length", "cores", "copper", "normal",
                  "most", "lost", "may lose"), [_cable(one) for one in build.cables]),
             "## Cores\n", text.table(
                 ("cable", "core", "net", "far end", "end towards the box", "colour"),
                 [(one.id, place, core.net,
                   ", ".join(cables.far_ends(one, place, build.netlist, build.cables)),
                   ", ".join(cables.near_ends(one, place, build.netlist, build.cables)), "")
                  for one in build.cables for place, core in enumerate(one.cores, start=1)])]
    return "\n".join(parts)


def _cable(one: cables.Cable) -> tuple[str, ...]:
    verdict = "" if one.holds else " **TOO MUCH**"
    return (one.id, one.place, one.towards, one.group, f"{one.length_m:.3g} m",
            str(len(one.cores)), f"{one.section_mm2:g} mm2", f"{one.carries_A:.3g} A",
            f"{one.most_A:.3g} A",
            f"{one.lost_V:.2g} V{verdict}", f"{one.allowed_V:.2g} V")
