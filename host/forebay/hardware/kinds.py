"""What each kind of part is: its pins, where current passes it, what it drives or holds.

Owns what a kind has in common wherever it stands; what hangs on a part's pins is the
netlist's. A switch counts as passing here: the rules open one after the other.
"""

from typing import NamedTuple

Pair = tuple[str, str]


class Kind(NamedTuple):
    """One kind of part."""

    pins: tuple[str, ...]
    passes: tuple[Pair, ...] = ()     # current both ways: conductors, closed contacts
    forward: tuple[Pair, ...] = ()    # one way, from the first pin to the second
    clamps: tuple[Pair, ...] = ()     # one way, and only above its voltage
    thrown: tuple[Pair, ...] = ()     # the other way of a change-over
    opens: bool = False               # in service: contact, fuse, transistor
    inductive: tuple[Pair, ...] = ()  # current from the first pin to the second, when on
    sources: tuple[str, ...] = ()     # pins that feed a net
    fed_by: tuple[Pair, ...] = ()     # (pin that a source may be fed back through, its source)
    outputs: tuple[str, ...] = ()     # pins that drive a level
    open_outputs: tuple[str, ...] = ()  # outputs that only pull low: something must pull up
    inputs: tuple[str, ...] = ()      # logic inputs, which must have a level without the board
    supplies: tuple[str, ...] = ()    # pins that must be on a supply
    signal: bool = False              # passes a signal, no power


def _two(**more) -> Kind:
    return Kind(pins=("1", "2"), **more)


_THROUGH = (("1", "2"),)
_DIODE = (("a", "k"),)
_BRIDGE = {"forward": (("0V", "out1"), ("0V", "out2"), ("out1", "supply"), ("out2", "supply")),
           "outputs": ("out1", "out2"), "supplies": ("supply", "0V")}

KINDS: dict[str, Kind] = {
    "resistor": _two(passes=_THROUGH, signal=True),
    "link": _two(passes=_THROUGH),
    "shunt": Kind(("in", "out", "sense_in", "sense_out"),
                  passes=(("in", "out"), ("in", "sense_in"), ("out", "sense_out"))),
    "capacitor": _two(),
    "polarised capacitor": Kind(("plus", "minus")),
    "diode": Kind(("a", "k"), forward=_DIODE),
    "tvs": Kind(("a", "k"), forward=_DIODE, clamps=(("k", "a"),)),
    "two-way tvs": _two(clamps=(("1", "2"), ("2", "1"))),
    "contact": _two(passes=_THROUGH, opens=True),
    "button": _two(passes=_THROUGH, opens=True),
    "change-over": Kind(("c", "nc", "no"), passes=(("c", "nc"),), thrown=(("c", "no"),),
                        opens=True),
    "fuse": _two(passes=_THROUGH, opens=True),
    "ptc": _two(passes=_THROUGH, opens=True),
    "coil": _two(inductive=_THROUGH),
    "motor": Kind(("plus", "minus"), inductive=(("plus", "minus"),)),
    "valve motor": Kind(("open", "close", "common"),
                        inductive=(("open", "common"), ("close", "common"))),
    "reversed motor": _two(inductive=(("1", "2"), ("2", "1"))),
    "spring valve": Kind(("held", "open", "close", "common"),
                         inductive=(("held", "common"),)),
    "servo": Kind(("plus", "minus", "signal"), supplies=("plus", "minus"), inputs=("signal",)),
    "lamps": Kind(("plus", "minus")),
    "panel": Kind(("plus", "minus"), sources=("plus",), fed_by=(("minus", "plus"),)),
    "battery": Kind(("plus", "minus"), sources=("plus",), fed_by=(("minus", "plus"),)),
    "generator": _two(sources=("1", "2")),
    "rectifier": Kind(("ac1", "ac2", "plus", "minus"),
                      forward=(("ac1", "plus"), ("ac2", "plus"), ("minus", "ac1"),
                               ("minus", "ac2"))),
    "n-mosfet": Kind(("d", "g", "s"), passes=(("d", "s"),), forward=(("s", "d"),), opens=True,
                     inputs=("g",)),
    "pnp": Kind(("e", "b", "c"), forward=(("e", "b"),), clamps=(("e", "c"),)),
    "reference": Kind(("k", "a", "ref"), clamps=(("k", "a"),)),
    "gate driver": Kind(("in", "out", "supply", "0V"), outputs=("out",), inputs=("in",),
                        supplies=("supply", "0V")),
    "bridge": Kind(("in1", "in2", "out1", "out2", "supply", "0V"), inputs=("in1", "in2"),
                   **_BRIDGE),
    "direction bridge": Kind(("run", "dir", "out1", "out2", "supply", "0V"),
                             inputs=("run", "dir"), **_BRIDGE),
    "high-side switch": Kind(("in", "out", "supply", "0V"), passes=(("supply", "out"),),
                             opens=True, inputs=("in",), supplies=("supply", "0V")),
    "buck": Kind(("in", "out", "0V"), sources=("out",), fed_by=(("0V", "out"),),
                 supplies=("in", "0V")),
    "charger": Kind(("in", "out", "0V"), fed_by=(("0V", "out"),), outputs=("out",),
                    supplies=("in", "0V")),
    "board": Kind(("VBUS", "VSYS", "GND", "AGND", "3V3", "RUN", "3V3_EN", "ADC_VREF"),
                  forward=(("VBUS", "VSYS"),), sources=("VBUS", "3V3"),
                  fed_by=(("GND", "3V3"),), supplies=("VSYS", "GND", "AGND")),
    "monitor": Kind(("high", "low", "bus", "sda", "scl", "supply", "0V", "a0", "a1"),
                    open_outputs=("sda",), supplies=("supply", "0V")),
    "line driver": Kind(("di", "ro", "de", "re", "a", "b", "supply", "0V"),
                        outputs=("ro", "a", "b"), inputs=("de",), supplies=("supply", "0V")),
    "line end": Kind(("a", "b", "0V"), outputs=("a", "b")),
    "thermometer": Kind(("plus", "minus", "data"), open_outputs=("data",),
                        supplies=("plus", "minus")),
    "flow meter": Kind(("plus", "minus", "out"), open_outputs=("out",),
                       supplies=("plus", "minus")),
    "level sensor": Kind(("plus", "minus", "out"), outputs=("out",),
                         supplies=("plus", "minus")),
    "potentiometer": Kind(("1", "w", "2"), passes=(("1", "w"), ("w", "2")), signal=True),
    "thermistor": _two(passes=_THROUGH, signal=True),
}
# Parts that may fail open, beside those that open in service; a link is a soldered wire.
BREAKS = ("resistor", "shunt", "diode")
