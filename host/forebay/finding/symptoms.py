"""What a person sees that something is wrong with the wiring, and which faults would cause it.

A symptom is a quantity of the network that is not what it is in a whole rig: a fault causes it
if it moves that quantity.  Owns the table; the quantities come from `solving`.
"""

from collections.abc import Callable, Mapping
from typing import NamedTuple

import numpy as np

from forebay.finding.branches import STAR, Node
from forebay.finding.network import Layout
from forebay.finding.solving import Solved
from forebay.hardware.netlist import BOX, RAIL, Netlist
from keeper import channels as ch

# By how much a quantity must move to be seen: a share of what it should be; and the least volts
# and amperes that anybody would look at.  Ours.
SEEN_FRAC, SEEN_V, SEEN_A = 0.08, 0.15, 0.005
MILLI = 1e3
MONITOR_LEAST_V = 2.7  # of its supply, below which it does not answer; data sheets, from memory
# Pins of a driver on which the valve's feed arrives, by the part that drives it.
_VALVE_DRIVERS = ("bridge", "direction bridge", "high-side switch")


class Symptom(NamedTuple):
    """One symptom.

    sheets: whose circuits count.  mode: in which it shows.  readings: modes in which a meter
    is held on it.  of: its quantities, (case, along, quantity), from a layout and its solution;
    least: what of them is seen.  sound: quantities that are as they should be all the same.
    also: what else it may be, that no meter shows.
    """

    says: str
    sheets: tuple[str, ...]
    mode: str
    readings: tuple[str, ...]
    of: Callable[[Layout, Solved], np.ndarray]
    least: float
    sound: Callable[[Layout, Solved], np.ndarray] | None = None
    also: str = ""


def sensors(layout: Layout, solved: Solved) -> dict[str, np.ndarray]:
    """Return what the rig's monitors read, by channel [mV, mA]; nan where none answers.

    A monitor without its 3.3 V does not answer; nor is a reading beyond the legal range of
    its channel one.
    """
    found = {}
    legal = {row[ch.CH_NAME]: (row[ch.CH_LOW], row[ch.CH_HIGH]) for row in ch.CHANNELS}
    for part in layout.netlist.of_kind("monitor"):
        pins, name = layout.pins[part.id], part.monitors
        answers = solved.at(pins["supply"]) - solved.at(pins["0V"]) > MONITOR_LEAST_V
        shunt = next(one for one in layout.netlist.of_kind("shunt")
                     if one.sized == f"{name}_shunt")
        across_V = solved.at(pins["high"]) - solved.at(pins["low"])
        for channel, value in ((f"{name}_mV", MILLI * solved.at(pins["bus"])),
                               (f"{name}_mA", MILLI * across_V / shunt.ohm)):
            if channel in legal:
                low, high = legal[channel]
                found[channel] = np.where(answers & (value >= low) & (value <= high), value,
                                          np.nan)
    return found


def _through(of: str) -> Callable[[Layout, Solved], np.ndarray]:
    def quantity(layout, solved):
        return solved.through(of)[:, :, None]
    return quantity


def _rails(layout, solved):
    return np.stack([solved.at(Node("5 V")), solved.at(Node(RAIL))], axis=2)


def _valve_feed(layout, solved):
    driver = next(part for part in layout.netlist.of_kind(*_VALVE_DRIVERS))
    pins = layout.pins[driver.id]
    return (solved.at(pins["supply"]) - solved.at(pins["0V"]))[:, :, None]


def _meters(layout, solved):
    """What the monitors read less what the currents are; a silent one reads nothing."""
    found = [np.nan_to_num(values, nan=-MILLI) for values in sensors(layout, solved).values()]
    return np.stack(found, axis=2) if found else np.zeros((*solved.volts.shape[:2], 0))


def _loops(layout, solved):
    """Volts at the board's pins of floats, stop and button."""
    pins = sorted({part.pins["2"] for part in layout.netlist.of_kind("resistor")
                   if part.circuit in layout.own("contacts") and part.pins["2"].startswith("GP")})
    found = [solved.at(Node(pin)) for pin in pins]
    return np.stack(found, axis=2) if found else np.zeros((*solved.volts.shape[:2], 0))


def _pump_and_rail(layout, solved):
    return np.concatenate([_through("Q1 d")(layout, solved), _rails(layout, solved)], axis=2)


_POWER = ("supply", "board")
SYMPTOMS: Mapping[str, Symptom] = {
    "pump": Symptom("the pump is wanted, and its current is not what it should be",
                    ("panel", *_POWER), "pump", ("standstill", "pump"), _through("Q1 d"),
                    SEEN_A),
    "lamps": Symptom("water comes down, and the lamps' current is not what it should be",
                     ("generator", *_POWER), "turbine", ("turbine",), _through("E1"), SEEN_A),
    "charge": Symptom("the sun shines, and the battery is not charged",
                      ("panel", *_POWER), "standstill", ("standstill",), _through("U1 out"),
                      SEEN_A, also="a battery that is full, and takes no current: then all is"
                      " well"),
    "flow": Symptom("the pump draws its current, and no water comes", ("panel", *_POWER), "pump",
                    ("pump",), _through("M1"), SEEN_A, _through("Q1 d"),
                    "the water itself: strainer, foot valve, air in the pump, a shut valve"),
    "meters": Symptom("the pump works, and the board reads a voltage or current wrong",
                      ("panel", *_POWER), "pump", ("pump",), _meters, MILLI * SEEN_A,
                      _pump_and_rail),
    "lit-meters": Symptom("the lamps are lit, and the board reads a voltage or current wrong",
                          ("generator", *_POWER), "turbine", ("turbine",), _meters,
                          MILLI * SEEN_A, _through("E1")),
    # With no sun, else the charger feeds the board past a battery that is cut off.
    "supply": Symptom("the board has no power, or its 5 V or 3.3 V are wrong",
                      ("panel", *_POWER), "turbine", ("turbine",), _rails, SEEN_V),
    "valve": Symptom("the valve is driven, and does not move", ("panel", "valves", *_POWER),
                     "standstill", ("standstill",), _valve_feed, SEEN_V, _rails,
                     "the valve's own motor and its leads: with the stop pressed its 'close' has"
                     " volts as long as it travels"),
    "loops": Symptom("a float's or the stop's loop reads as cut",
                     ("panel", "contacts", "sensors", *_POWER), "standstill",
                     ("standstill",), _loops, SEEN_V, _rails),
}


def moved(whole: np.ndarray, found: np.ndarray, least: float) -> np.ndarray:
    """Return which cases move a quantity enough to be seen, at any condition along the scene.

    whole: (1, along, quantity).  found: (case, along, quantity).
    """
    enough = np.maximum(least, SEEN_FRAC * np.abs(whole))
    return np.asarray((np.abs(found - whole) > enough).any(axis=(1, 2)))


def place_of(net: str, netlist: Netlist) -> str:
    """Return where a meter reaches a net: in the box if it comes there, else at its last part."""
    at = netlist.places(net)
    return BOX if BOX in at else netlist.on(net)[-1][0].at


def probes(layout: Layout, point) -> tuple[Node, Node]:
    """Return the nodes of a test point's two probes."""
    place = point.place or place_of(point.net, layout.build.netlist)
    black = layout.node(point.against, place)
    there = place in layout.build.netlist.places(point.against)
    return layout.node(point.net, place), black if there else STAR
