"""The generator's circuit with a fault of its wiring, in ngspice, and what a meter shows there.

From the netlist and the cables alone, with the models of tests/hardware/spice.py: neither the
search's network nor its parts, its solver nor what it takes a fault for.  What a fault is, is
read off its id here.
"""

import math
import re

from spicelib import RawRead
from spicelib.simulators.ngspice_simulator import NGspiceSimulator

from forebay.hardware import tables
from forebay.hardware.netlist import BOX, GROUND
from keeper.physics import electrical
from tests.hardware.spice import MODELS, CLOSED_ohm, Deck, OPEN_ohm

NOTHING_ohm = 1e12
CRUSHED_ohm = 0.01
METER_ohm = 1e7      # of a hand meter on volts; common practice, no source
RELAY, RELAY_SWITCH = "K1a", "Q4"
CORE = re.compile(r"(W\d+)\.(\d+)(?:-(?:far|near))?-open")
PAIR = re.compile(r"(W\d+)\.(\d+)-W\d+\.(\d+)-(crossed|crushed)")
PIN = re.compile(r"(\w+)-(\w+)-open")
PART = re.compile(r"(\w+)-(open|short)")


class Faulty(Deck):
    """A deck of the generator's side with one fault, by its id."""

    def __init__(self, build, fault):
        self.cables = {one.id: one for one in build.cables}
        self.cut, self.gone, self.loose, self.shorted = set(), set(), set(), set()
        # Net and place of a core in a crossed pair -> the other's net; of a crushed pair both.
        self.other: dict[tuple, str] = {}
        self.crushed: list[tuple] = []
        self._read(fault)
        names = {block["name"] for block in tables.sheets()["generator"]["circuit"]}
        super().__init__(build, names)
        for part in self.parts:
            if part.kind == "tvs" and part.id in self.shorted:
                self.add("R", f"{part.id} short", self.pin(part, "k"), self.pin(part, "a"),
                         CLOSED_ohm)
        if self.crushed:
            self.add("R", "crushed", *(self.node(*one) for one in self.crushed), CRUSHED_ohm)
        self._sources()

    def _read(self, fault):
        if found := CORE.fullmatch(fault):
            self.cut.add(self._core(*found.groups()))
        elif found := PAIR.fullmatch(fault):
            one, other = (self._core(found[1], number) for number in found.group(2, 3))
            if found[4] == "crushed":
                self.crushed = [one, other]
            else:
                self.other = {one: other[0], other: one[0]}
        elif found := PART.fullmatch(fault):
            (self.gone if found[2] == "open" else self.shorted).add(found[1])
        elif found := PIN.fullmatch(fault):
            self.loose.add(found.groups())
        else:
            assert fault == "nothing", fault
        if RELAY_SWITCH in self.shorted:  # its coil is held, its contact open
            self.gone.add(RELAY)

    def _core(self, cable, number):
        return self.cables[cable].cores[int(number) - 1].net, self.cables[cable].place

    def node(self, net, place=BOX):
        if (net, place) in self.cut and net == GROUND:
            return f"cut{place.replace(' ', '')}"
        return super().node(net, place)

    def pin(self, part, pin):
        if part.id in self.gone or (part.id, pin) in self.loose:
            return f"x{part.id.lower()}{pin.lower()}"
        return super().pin(part, pin)

    def _lead(self, net, place):
        cable = next((one for one in self.build.cables if one.place == place
                      and any(core.net == net for core in one.cores)), None)
        if cable is None:
            return
        there = self.node(self.other.get((net, place), net), cable.towards)
        ohm = NOTHING_ohm if (net, place) in self.cut else electrical.conductor_ohm(
            cable.length_m, cable.section_mm2 * 1e-6, 20.0)
        self.add("R", f"lead {net} {place}", self.nodes[net, place], there, f"{ohm:g}")

    def switch(self, part, one, other):
        is_on = part.kind != "n-mosfet" or part.id in self.shorted
        self.add("R", part.id, one, other, CLOSED_ohm if is_on else OPEN_ohm)

    def _sources(self):
        """Put generator, lamps and 5 V in: lit at the middle of what the rig's steps give."""
        values, figures = self.build.values, self.build.figures
        threshold_V, ohm = (values["lamps.threshold_voltage_V"], values["lamps.resistance_ohm"])
        watts = (min(values["lamps.steps_W"]) + max(values["lamps.steps_W"])) / 2
        # P = I (V0 + I R), solved for I.
        amperes = (math.sqrt(threshold_V**2 + 4 * ohm * watts) - threshold_V) / (2 * ohm)
        lit_V = threshold_V + amperes * ohm + values["generator.rectifier_drop_V"]
        free_V = figures["generator_unclamped_V"]
        netlist = self.build.netlist
        one, other = (self.pin(netlist["G1"], pin) for pin in "12")
        self.add("V", "generator", "gfree", other, f"{free_V:g}")
        self.add("R", "generator", "gfree", one, f"{(free_V - lit_V) / amperes:g}")
        plus, minus = (self.pin(netlist["E1"], pin) for pin in ("plus", "minus"))
        self.add("B", "lamps", plus, minus,
                 f"I=max(0, V({plus},{minus})-{threshold_V:g})/{ohm:g}")
        self.add("V", "five", self.node("5 V"), "0", "5")

    def reads(self, folder, points):
        """What a meter shows at test points [V], by their ids, and monitored currents [mA]."""
        ends = {}
        for point in points:
            at = point.place or self._reached(point.net)
            there = at in self.build.netlist.places(point.against)
            black = self.node(point.against, at) if there else "0"
            ends[point.id] = self.node(point.net, at), black
            self.add("R", f"meter {point.id}", *ends[point.id], f"{METER_ohm:g}")
        path = folder / f"faulty{len(list(folder.glob('faulty*.net')))}.net"
        path.write_text("\n".join(["* a fault of the wiring", MODELS, *self.lines,
                                   ".options reltol=1e-4 rshunt=1e10", ".op", ".end", ""]),
                        encoding="utf-8")
        assert NGspiceSimulator.run(path, timeout=60) == 0
        raw = RawRead(str(path.with_suffix(".raw")), dialect="ngspice", verbose=False)

        def volts(node):
            return 0.0 if node == "0" else float(
                raw.get_trace(f"v({node})").get_wave()[0].real)
        shunts = {part.id: part for part in self.parts if part.kind == "shunt"}
        return {**{name: volts(red) - volts(black) for name, (red, black) in ends.items()},
                **{f"{name} mA": 1e3 * (volts(self._tap(part, "in"))
                                        - volts(self._tap(part, "out"))) / part.ohm
                   for name, part in shunts.items()}}

    def _tap(self, part, pin):
        """Where a shunt's sense lead hangs: at its pin, also where the shunt itself is open."""
        is_whole = (part.id, pin) not in self.loose
        return super().pin(part, pin) if is_whole else self.pin(part, pin)

    def _reached(self, net):
        at = self.build.netlist.places(net)
        return BOX if BOX in at else self.build.netlist.on(net)[-1][0].at
