"""Which circuits a rig has: by its instruments, its valve, its battery, its line.

Owns the words that `when` of a circuit may have; the rig's keys say which hold.
"""

import tomllib
from collections.abc import Iterable, Mapping
from typing import Any

from forebay.hardware import duty, sizing, tables
from forebay.hardware.netlist import CircuitError, Netlist, Part, read_part, with_pins_of
from forebay.rig import Rig, batteries
from forebay.rig.instruments import INSTRUMENTS, is_fitted
from keeper.boards import wiring

VALVES = {"valve servo": wiring.SERVO, "valve motor": wiring.MOTOR,
          "valve reversed": wiring.REVERSED, "valve spring": wiring.SPRING}


def conditions(rig: Rig) -> dict[str, bool]:
    """Return which words of `when` hold for a rig."""
    values = rig.plant()
    fitted = {one.name: is_fitted(values, one.name) for one in INSTRUMENTS}
    kind = values["board.valve_kind"]
    sensor = values["board.motor_sensor"]
    one_wire = fitted["motor_temperature"] and sensor == wiring.ONE_WIRE
    supervised = bool(values["board.loop_supervised"])
    thermometers = one_wire or fitted["water_temperature"]
    return {
        **fitted,
        **{name: kind == number for name, number in VALVES.items()},
        "loop supervised": supervised, "loop plain": not supervised,
        "motor on 1-Wire": one_wire, "1-Wire": thermometers,
        "thermistor": fitted["motor_temperature"] and sensor == wiring.THERMISTOR,
        "monitors": any(fitted[f"{name}_meter"] for name in sizing.MONITORS),
        "stays without power": values["valve.on_power_loss"] == "stays",
        "meters": fitted["flow_up"] or fitted["flow_down"],
        "thermometers": fitted["motor_temperature"] or fitted["water_temperature"],
        "5 V sensors": fitted["flow_up"] or fitted["flow_down"] or fitted["level"],
        "3.3 V sensors": thermometers or fitted["valve_position"],
        "battery's own cut-out": sizing.chemistry(values)["cuts_out"],
        "lead": sizing.chemistry(values)["name"] == batteries.LEAD,
        "frost-shy battery": sizing.chemistry(values)["frost_shy"],
        # A line is there where the rig's file speaks of one; else the board is read by USB.
        "line": "link" in tomllib.loads(rig.toml_text),
    }


def is_there(when: str | Iterable[str], holds: Mapping[str, bool]) -> bool:
    """Return whether all words of a `when` hold; "not " before one turns it round."""
    words = [when] if isinstance(when, str) else when
    return all(not _known(word[4:], holds) if word.startswith("not ") else _known(word, holds)
               for word in words)


def _known(word: str, holds: Mapping[str, bool]) -> bool:
    if word not in holds:
        raise CircuitError(f"when = {word!r} is none of {', '.join(sorted(holds))}")
    return holds[word]


def circuit(rig: Rig, sheets: Mapping[str, Mapping[str, Any]] | None = None) -> Netlist:
    """Return the netlist of a rig; sheets: other tables of circuits than the packaged ones."""
    holds = conditions(rig)
    blocks = [block for sheet in (sheets or tables.sheets()).values()
              for block in sheet["circuit"] if is_there(block.get("when", ()), holds)]
    values = rig.plant()
    found = joined(blocks, lambda part: sizing.sized(part, values))
    figures = sizing.figures(values)
    return found.changed({part.id: sizing.stepped(part, lambda one, name: duty.meets_of(
        one, name, found, figures)) for part in found})


def joined(blocks: Iterable[Mapping[str, Any]], size=lambda part: part) -> Netlist:
    """Return the netlist of some circuits; no part may stand in two of them."""
    parts: dict[str, Part] = {}
    most: dict[str, str] = {}
    texts: dict[str, str] = {}
    joins: dict[str, str] = {}
    for block in blocks:
        name = block["name"]
        texts[name] = block.get("text", "")
        joins[name] = block.get("joins", name)
        most.update({net: row["most"] for net, row in block.get("net", {}).items()})
        for own, row in block.get("part", {}).items():
            if own in parts:
                raise CircuitError(f"part {own} stands in {parts[own].circuit} and in {name}")
            parts[own] = size(read_part(own, row, name))
    pins = tables.load("pins")
    most.update({f"GP{row['gpio']}": "rail_V" for row in pins["pin"]})
    used = {net for part in parts.values() for net in part.pins.values()}
    return Netlist([with_pins_of(part, pins, used) if part.kind == "board" else part
                    for part in parts.values()], most, texts, joins)
