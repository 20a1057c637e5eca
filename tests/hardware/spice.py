"""Circuits of the netlist as decks for an open circuit simulator, and their runs.

ngspice by spicelib. A lead is what its cable is: each of its cores has resistance and half of
the pair's inductance, so a net has one node at each place. Models of parts are ours and
as simple as they may be; what they are is beside each.
"""

import re

from spicelib import RawRead
from spicelib.simulators.ngspice_simulator import NGspiceSimulator

from forebay.docs.sheets.worst import LEAD_H_PER_m
from forebay.hardware.netlist import BOX
from keeper.physics import electrical

# A contact or switch: closed and open [ohm]; how fast a MOSFET behind 100 ohm lets go [s].
CLOSED_ohm, OPEN_ohm, FALL_s = 5e-3, 1e7, 3e-7
# Diodes by what their value says; forward drops are those of data sheets, from memory.
MODELS = f"""\
.model silicon D(Is=10n N=1.8 Rs=0.02 Cjo=40p)
.model schottky D(Is=1u N=1.05 Rs=0.03 Cjo=200p)
.model rectifying D(Is=1m N=1 Rs=0.05)
.model power PNP(Is=1e-13 Bf=40 Vaf=50)
.model switching SW(Ron={CLOSED_ohm:g} Roff={OPEN_ohm:g} Vt=0.5 Vh=0.1)
"""
BRIDGE_V = 0.26                       # of two such diodes at 0.15 A: 2 x 26 mV x ln 150
REFERENCE_V, REFERENCE_S, REFERENCE_MOST_A = 2.495, 1.0, 0.1
COIL_ohm, COIL_H = 50.0, 0.1          # of a 5 V relay; a guess
MOTOR_H = 1e-3                        # of a small brushed motor; a guess
TVS_RISE = 1.11                       # breakdown over stand-off; data sheets, from memory
TVS_ohm = 0.5                         # so that 600 W are reached at its clamping voltage


class Deck:
    """A deck that is put together of circuits; nodes are asked for by net and place."""

    def __init__(self, build, circuits, opened="", at_s=1e-3):
        """Take a Build, names of its circuits, and the device that opens at a time [s]."""
        self.build, self.opened, self.at_s = build, opened, at_s
        self.lines, self.nodes = [], {}
        names = set(circuits)
        self.parts = [part for part in build.netlist if part.circuit in names]
        for part in self.parts:
            _MAKERS.get(part.kind, lambda deck, one: None)(self, part)

    def node(self, net, place=BOX):
        """The node of a net at a place, with its leads to the box."""
        if net == "0 V":
            return "0"
        if (net, place) not in self.nodes:
            self.nodes[net, place] = f"n{len(self.nodes) + 1}"
            if place != BOX:
                self._lead(net, place)
        return self.nodes[net, place]

    def pin(self, part, pin):
        """The node on which a pin of a part hangs."""
        return self.node(part.pins[pin], part.at)

    def add(self, letter, name, *words):
        """Add an element; letter: what it is to the simulator."""
        self.lines.append(" ".join([f"{letter}{re.sub('[^a-z0-9]', '_', name.lower())}",
                                    *map(str, words)]))

    def _lead(self, net, place):
        cable = next((one for one in self.build.cables
                      if one.place == place and any(core.net == net for core in one.cores)), None)
        if cable is None:  # it leads no further from here
            return
        # Where the other way is 0 V, which is one node here, the whole pair lies in this core.
        share = 1.0 if any(core.net == "0 V" for core in cable.cores) else 0.5
        here, there = self.nodes[net, place], self.node(net, cable.towards)
        ohm = electrical.conductor_ohm(cable.length_m, cable.section_mm2 * 1e-6, 20.0)
        middle = f"{here}l"
        self.add("R", f"lead {here}", here, middle, f"{ohm:g}")
        self.add("L", f"lead {here}", middle, there, f"{share * LEAD_H_PER_m * cable.length_m:g}")

    def switch(self, part, one, other):
        """A contact or transistor: closed, and open from its time on if it is the one."""
        if part.device != self.opened:
            self.add("R", part.id, one, other, CLOSED_ohm)
            return
        gate = f"gate{part.id.lower()}"
        self.add("V", gate, gate, "0", f"PWL(0 1 {self.at_s:g} 1 {self.at_s + FALL_s:g} 0)")
        self.add("S", part.id, one, other, gate, "0", "switching")

    def run(self, folder, end_s, step_s):
        """Simulate; return {net or (net, place): volts by time}, and the times [s]."""
        path = folder / f"deck{len(list(folder.glob('deck*')))}.net"
        body = "\n".join(["* a circuit of the netlist", MODELS, *self.lines,
                          ".options reltol=1e-3 method=gear cshunt=1e-11 rshunt=1e9",
                          f".tran {step_s:g} {end_s:g} 0 {step_s:g}", ".end", ""])
        path.write_text(body, encoding="utf-8")
        code = NGspiceSimulator.run(path, timeout=120)
        assert code == 0, path.with_suffix(".log").read_text(encoding="utf-8")[-2000:]
        raw = RawRead(str(path.with_suffix(".raw")), dialect="ngspice", verbose=False)
        return Waves(self, raw)


class Waves:
    """What came out of a run."""

    def __init__(self, deck, raw):
        self.deck, self.raw = deck, raw
        self.times = raw.get_trace(raw.get_trace_names()[0]).get_wave().real

    def volts(self, net, place=BOX):
        """Volts of a net by time."""
        return self.raw.get_trace(f"v({self.deck.node(net, place)})").get_wave().real

    def amperes(self, name):
        """Current through a source that the test has put in, by time."""
        return self.raw.get_trace(f"i({name.lower()})").get_wave().real


def _two(letter, word):
    return lambda deck, part: deck.add(letter, part.id, *(deck.pin(part, pin) for pin in
                                                          part.pins), f"{getattr(part, word):g}")


def _diode(deck, part):
    model = "schottky" if "Schottky" in part.value and "no Schottky" not in part.value \
        else "silicon"
    deck.add("D", part.id, deck.pin(part, "a"), deck.pin(part, "k"), model)


def _tvs(deck, part):
    name = f"m{part.id.lower()}"
    deck.lines.append(f".model {name} D(Is=1n N=1.5 Bv={TVS_RISE * part.rated['off']:g}"
                      f" Rs={TVS_ohm} Cjo=1n)")
    deck.add("D", part.id, deck.pin(part, "a"), deck.pin(part, "k"), name)


def _mosfet(deck, part):
    drain, source = deck.pin(part, "d"), deck.pin(part, "s")
    deck.switch(part, drain, source)
    deck.add("D", f"{part.id} body", source, drain, "silicon")


def _coil(deck, part):
    one, other = (deck.pin(part, pin) for pin in part.pins)
    deck.add("R", part.id, one, f"{one}c", COIL_ohm)
    deck.add("L", part.id, f"{one}c", other, COIL_H)


def _rectifier(deck, part):
    for place, (one, other) in enumerate(part.is_a.forward):
        deck.add("D", f"{part.id} {place}", deck.pin(part, one), deck.pin(part, other),
                 "rectifying")


def _reference(deck, part):
    k, a, ref = (deck.pin(part, pin) for pin in ("k", "a", "ref"))
    # Pulls as soon as its input passes the reference; saturates below 2 V, gives 100 mA.
    deck.add("B", part.id, k, a, f"I=min({REFERENCE_MOST_A}, max(1e-9, {REFERENCE_S}"
             f"*(V({ref},{a})-{REFERENCE_V})))*max(0, min(1, V({k},{a})-1))")


_MAKERS = {
    "resistor": _two("R", "ohm"), "capacitor": _two("C", "farad"),
    "polarised capacitor": _two("C", "farad"),
    "shunt": lambda deck, part: deck.add("R", part.id, deck.pin(part, "in"),
                                         deck.pin(part, "out"), f"{part.ohm:g}"),
    "link": lambda deck, part: deck.add("R", part.id, deck.pin(part, "1"), deck.pin(part, "2"),
                                        CLOSED_ohm),
    "contact": lambda deck, part: deck.switch(part, deck.pin(part, "1"), deck.pin(part, "2")),
    "fuse": lambda deck, part: deck.switch(part, deck.pin(part, "1"), deck.pin(part, "2")),
    "diode": _diode, "tvs": _tvs, "n-mosfet": _mosfet, "coil": _coil, "rectifier": _rectifier,
    "reference": _reference,
    "pnp": lambda deck, part: deck.add("Q", part.id, deck.pin(part, "c"), deck.pin(part, "b"),
                                       deck.pin(part, "e"), "power"),
}
