"""Levels without the board: what floats in reset, at a start, while flash is written."""

from collections.abc import Iterator

from forebay.docs.sheets.worst import LOGIC_LOW_V
from forebay.hardware import tables
from forebay.hardware.build import Build
from forebay.hardware.netlist import GROUND, quantity
from forebay.hardware.rules.finding import Finding

OUTPUTS = ("out", "pwm")
GATE_MOST_ohm = 1e6


def pull_downs(build: Build) -> Iterator[Finding]:
    """Every output has a resistor that holds what it drives off against the chip's own pull-up."""
    netlist, chip = build.netlist, tables.load("pins")["chip"]
    weak_ohm, rail_V = quantity(chip["weak_pull_lowest"]), build.figures["rail_V"]
    for row in tables.load("pins")["pin"]:
        net = f"GP{row['gpio']}"
        if row["kind"] not in OUTPUTS or net not in netlist.nets:
            continue
        down = [part.ohm for part in netlist.between(net, GROUND, "resistor")]
        if not down:
            yield Finding("pull-down missing", net, f"{row['name']} floats in reset")
            continue
        volts = rail_V * min(down) / (min(down) + weak_ohm)
        least_V = min([LOGIC_LOW_V, *_thresholds(build, net)])
        if volts >= least_V:
            yield Finding("pull-down too weak", net, f"the pin's own pull-up lifts it to"
                          f" {volts:.2g} V, and {least_V:g} V switch what it drives")


def _thresholds(build: Build, net: str) -> list[float]:
    """Return what switches the parts that a pin drives [V], by their rows."""
    rows = {row["name"]: row for row in tables.load("parts")["part"]}
    return [rows[part.row]["gate_threshold_V"] for part, pin in build.netlist.on(net)
            if pin in part.is_a.inputs and "gate_threshold_V" in rows.get(part.row, {})]


def gates(build: Build) -> Iterator[Finding]:
    """No gate floats while its driver has no supply."""
    netlist = build.netlist
    for part in netlist.of_kind("n-mosfet"):
        if "g" not in part.pins:
            continue
        down = netlist.between(part.pins["g"], part.pins["s"], "resistor")
        if not any(one.ohm <= GATE_MOST_ohm for one in down):
            yield Finding("gate floats", part.id, "no resistor from its gate to its source")
