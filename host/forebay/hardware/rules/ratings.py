"""Every part stands its worst with its margin; every cable carries and loses what it may."""

from collections.abc import Iterator

from forebay.hardware import changing, duty
from forebay.hardware.build import Build
from forebay.hardware.rules.finding import Finding

# Of the node's figure: a capacitor that is drawn is the one that was reckoned with.
SAME = 0.01


def margins(build: Build) -> Iterator[Finding]:
    """Each rating keeps its least margin over the worst that the rig makes of it."""
    for one in duty.stresses(build.netlist, build.values, build.figures):
        if not one.holds:
            yield Finding("too little margin", one.who, f"{one.what}: {one.rated:.3g} {one.unit}"
                          f" for {one.worst:.3g} {one.unit}, {_least(one)} of room are asked;"
                          f" take {changing.what(one.by)}")


def _least(one: duty.Stress) -> str:
    if one.unit in ("degC", "mm"):
        return f"{one.least:g} {one.unit}"
    return f"{100 * one.least:.0f} %"


def cables(build: Build) -> Iterator[Finding]:
    """No cable loses more than it may, or carries more than it stands."""
    for one in build.cables:
        if not one.holds:
            yield Finding("cable too thin", f"{one.id}, {one.place} to {one.towards}",
                          f"{one.section_mm2:g} mm2 lose {one.lost_V:.2g} V, {one.allowed_V:.2g} V"
                          f" are allowed, over {one.length_m:.3g} m; shorten it, or take"
                          f" {changing.what(one.by)}")


def panel(build: Build) -> Iterator[Finding]:
    """No current of the pump is taken for more than the panel can give."""
    most_A = build.figures["panel_short_A"]
    for name in ("pump_run_A", "pump_stall_A"):
        if build.figures[name] > most_A * (1 + SAME):
            yield Finding("more than the panel gives", name, f"{build.figures[name]:.3g} A of"
                          f" {most_A:.3g} A")


def capacitors(build: Build) -> Iterator[Finding]:
    """The capacitors at the ends of the leads are those that the peaks were reckoned with."""
    lead = build.parts["lead"]
    for net, figure in (("panel plus", "panel_F"), ("pump plus", "pump_F")):
        found = build.netlist.between(net, "0 V", "capacitor", "polarised capacitor")
        if net in build.netlist.nets and sum(one.farad for one in found) < lead[figure] * (
                1 - SAME):
            yield Finding("capacitor too small", net, f"{lead[figure] * 1e6:g} uF were reckoned"
                          " with")
