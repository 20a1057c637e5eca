"""What each kind of part is to direct current: branches between nodes, straight in pieces.

Owns the electrical model of a part and the figures in which it is our own.  A branch carries
(V - from_V) siemens, one way or both, less what it gives as a source; it is there when its
conditions hold.  It must not know of leads, joints, faults or meters.
"""

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import Any, NamedTuple

import numpy as np

from forebay.hardware.netlist import BOX, GROUND, Part
from keeper.physics import generator as generators
from keeper.physics.panel import Panel, terminal_current_A

# Resistance [ohm] of what conducts: contacts, fuses that hold, a switch that is on; data sheets of
# small parts, from memory.
CLOSED_ohm, FUSE_ohm, PTC_ohm, ON_ohm = 0.01, 0.05, 1.0, 0.03
COIL_ohm = 50.0              # of a 5 V relay, which lets go below a tenth of it; a guess
RELAY_PULLS_V = 3.5          # and pulls in at this; data sheets, from memory
# Over its rating, at which a slow fuse is gone within seconds (IEC 60127-2, sheet 3: 2.75 times in
# 10 s; from memory). Between the two, as by what a panel gives, it depends on the sun of the day:
# taken for whole, and one that has gone is a fault by itself.
MELTS = 2.75
# Drops [V] and slope [ohm] of diodes; data sheets, from memory.
SCHOTTKY_V, SILICON_V, DIODE_ohm = 0.3, 0.65, 0.05
TVS_RISE, TVS_ohm = 1.11, 0.5   # breakdown over stand-off; data sheets, from memory
GATE_ON_V = 2.5              # from gate to source; a switch that is on at 4.5 V; from memory
LOGIC_ON_V, PIN_ohm = 1.5, 50.0
DRIVER_ohm, DRIVER_LEAST_V = 5.0, 3.5
CONVERTER_ohm, BOARD_LEAST_V, RAIL_ohm = 0.05, 2.0, 0.2
BUCK_ABOVE_V = 0.4           # a step-down converter wants that above what it gives; a guess
BUCK_FRAC, CHARGER_FRAC = 0.85, 0.85  # power out over power in; data sheets, from memory
FIVE_V, RAIL_V = 5.0, 3.3
CHARGE_ROUND_V = 0.05        # over which a charger goes from its current to its volts; a guess
SENSE_ohm = 8e5              # of a monitor's inputs to 0 V; data sheets, from memory
SENSOR_ohm = 500.0           # 10 mA at 5 V: meter, level sensor, thermometer; common practice
PANEL_KNOTS = (0.5, 0.7, 0.8, 0.86, 0.91, 0.95, 0.98, 1.0)  # of the open voltage: pieces of I-V
BRIDGE_OFF_ohm = 1.0         # a driver that drives nothing holds both ends low
LOW_FRAC = 0.7               # of its volts, from a converter that is set wrong; a guess
HALF = 0.5


class Node(NamedTuple):
    """Where ends meet: a net at a place; `end`: a pin of its own behind a joint, or a cable."""

    net: str
    place: str = BOX
    end: str = ""


STAR = Node(GROUND)


class Condition(NamedTuple):
    """Volts between two nodes that must stand above a limit, or below."""

    plus: Node
    minus: Node
    volts: float
    above: bool = True


@dataclass(frozen=True)
class Branch:
    """One branch from a to b; of: the part, core or joint whose it is.

    dormant: is there by a fault alone.  siemens, from_V, gives_A: along the conditions.
    bears_A: beyond which it melts, or trips as a fuse that heals does.
    """

    of: str
    a: Node
    b: Node
    siemens: Any = 0.0
    from_V: Any = 0.0
    one_way: bool = False
    gives_A: Any = 0.0
    when: tuple[Condition, ...] = ()
    dormant: bool = False
    bears_A: float = math.inf


@dataclass(frozen=True)
class Scene:
    """Under which conditions the network is solved.

    mode: of `forebay.hardware.readings.MODES`.  along: 0 to 1, from weak sun, low battery and
    dim lamps to the best of each.
    """

    values: Mapping[str, Any]
    figures: Mapping[str, float]
    mode: str
    along: np.ndarray

    def between(self, low: float, high: float) -> np.ndarray:
        """Return a quantity that goes from low to high along the conditions."""
        return low + (high - low) * self.along


Maker = Callable[[Part, Mapping[str, Node], Scene], list[Branch]]
# Sun that is good enough to search in, as irradiance [W/m2] and cell [degC]: weak and hot, bright
# and cold.  Ours.
SUN_W_m2, CELL_degC = (500.0, 1000.0), (50.0, 15.0)
PUMP_SPREAD = (0.85, 1.2)    # of a pump's rated current, by its lift and wear; a guess


def of_part(part: Part, nodes: Mapping[str, Node], scene: Scene) -> list[Branch]:
    """Return the branches of a part; none for what carries no current.

    nodes: on which its pins hang.
    """
    return MAKERS.get(part.kind, _nothing)(part, nodes, scene)


def _nothing(part, pins, scene):
    return []


def _conducts(ohm: float, one: str = "1", other: str = "2") -> Maker:
    return lambda part, pins, scene: [Branch(part.id, pins[one], pins[other], 1 / ohm)]


def _fuse(ohm: float) -> Maker:
    return lambda part, pins, scene: [Branch(part.id, pins["1"], pins["2"], 1 / ohm,
                                             bears_A=MELTS * part.rated["A"])]


def _resistor(part, pins, scene):
    return [Branch(part.id, pins["1"], pins["2"], 1 / part.ohm)]


def _potentiometer(part, pins, scene):
    ohm = 4.7e3  # between the 1 and 10 kohm of its row
    return [Branch(part.id, pins[one], pins["w"], 1 / (HALF * ohm)) for one in ("1", "2")]


def _shunt(part, pins, scene):
    return [Branch(part.id, pins["in"], pins["out"], 1 / part.ohm),
            *(Branch(f"{part.id} tap {end}", pins[end], pins[f"sense_{end}"], 1 / CLOSED_ohm)
              for end in ("in", "out")),
            *(Branch(f"{part.id} sense x", pins[end], pins[f"sense_{other}"], 1 / CLOSED_ohm,
                     dormant=True) for end, other in (("in", "out"), ("out", "in")))]


def _diode(part, pins, scene):
    schottky = "Schottky" in part.value and "no Schottky" not in part.value
    return [_forward(part.id, pins["a"], pins["k"], SCHOTTKY_V if schottky else SILICON_V)]


def _forward(of, a, k, drop_V, ohm=DIODE_ohm, **more):
    return Branch(of, a, k, 1 / ohm, drop_V, one_way=True, **more)


def _tvs(part, pins, scene):
    return [_forward(part.id, pins["a"], pins["k"], SILICON_V),
            _forward(part.id, pins["k"], pins["a"], TVS_RISE * part.rated["off"], TVS_ohm),
            Branch(f"{part.id} short", pins["k"], pins["a"], 1 / TVS_ohm, dormant=True)]


def _two_way_tvs(part, pins, scene):
    return [_forward(part.id, pins[one], pins[other], TVS_RISE * part.rated["off"], TVS_ohm)
            for one, other in (("1", "2"), ("2", "1"))]


def _contact(part, pins, scene):
    return [Branch(part.id, pins["1"], pins["2"], 1 / CLOSED_ohm)]


def _change_over(part, pins, scene):
    return [Branch(part.id, pins["c"], pins["nc"], 1 / CLOSED_ohm)]


def _motor(part, pins, scene):
    """At rest its winding; while it runs what its pump takes: I = P / V^2 x V."""
    values = scene.values
    rest_S = 1 / values["motor.resistance_ohm"]
    runs_S = values["pump.rated_power_W"] / values["pump.rated_voltage_V"] ** 2
    siemens = scene.between(*(one * runs_S for one in PUMP_SPREAD))
    plus, minus = pins["plus"], pins["minus"]
    siemens = siemens if scene.mode == "pump" else rest_S
    return [Branch(part.id, plus, minus, siemens),
            Branch(f"{part.id} x", minus, plus, siemens, dormant=True)]


def _valve_motor(*pairs: tuple[str, str]) -> Maker:
    def maker(part, pins, scene):
        ohm = scene.values["supply.voltage_V"] / scene.figures["valve_motor_A"]
        return [Branch(part.id, pins[one], pins[other], 1 / ohm) for one, other in pairs]
    return maker


def _lamps(part, pins, scene):
    return [_forward(part.id, pins["plus"], pins["minus"],
                     scene.values["lamps.threshold_voltage_V"],
                     scene.values["lamps.resistance_ohm"])]


def _panel(part, pins, scene):
    """Its I-V in straight pieces: the short-circuit current less what each piece takes more."""
    values = scene.values
    panel = Panel((values["panel.open_circuit_voltage_V"], values["panel.short_circuit_current_A"],
                   values["panel.best_voltage_V"], values["panel.best_current_A"],
                   values["panel.current_temperature_per_K"],
                   values["panel.voltage_temperature_per_K"]))
    plus, minus = pins["plus"], pins["minus"]
    if scene.mode == "turbine":
        return [Branch(part.id, plus, minus, 1 / panel.shunt)]
    pieces = [_pieces(panel, sun, cell) for sun, cell in zip(
        scene.between(*SUN_W_m2), scene.between(*CELL_degC), strict=True)]
    short_A, knots_V, slopes_S = (np.array(one) for one in zip(*pieces, strict=True))
    return [Branch(part.id, plus, minus, gives_A=short_A),
            *(Branch(part.id, plus, minus, slopes_S[:, place], knots_V[:, place], one_way=True)
              for place in range(len(PANEL_KNOTS)))]


def _pieces(panel, sun_W_m2, cell_degC):
    """Return the current at 0 V [A], knots [V], and by how much the slope grows at each [S]."""
    panel.shine(sun_W_m2, cell_degC)
    curve = (panel.light, panel.dark, panel.ideal, panel.series, panel.shunt)
    low, high = 0.0, panel.beyond_V
    for _ in range(60):  # halving: the open voltage to the last digit
        middle = HALF * (low + high)
        low, high = ((middle, high) if terminal_current_A(middle, *curve) > 0 else (low, middle))
    volts = np.array([0.0, *(one * low for one in PANEL_KNOTS)])
    amperes = np.array([terminal_current_A(one, *curve) for one in volts])
    slopes = -np.diff(amperes) / np.diff(volts)
    grown = np.append(np.diff(slopes, prepend=0.0), slopes[-1])
    return amperes[0], volts[:-1], grown[:-1]


def _battery(part, pins, scene):
    volts = scene.between(scene.values["supply.good_voltage_V"], HALF * (
        scene.figures["supply_V"] + scene.figures["supply_most_V"]))
    siemens = 1 / scene.values["supply.resistance_ohm"]
    return [Branch(part.id, pins["plus"], pins["minus"], siemens, volts),
            Branch(f"{part.id} x", pins["minus"], pins["plus"], siemens, volts, dormant=True)]


def _generator(part, pins, scene):
    """On the line between its volts at runaway and one of the lamps' steps; dead at rest."""
    values = scene.values
    if scene.mode != "turbine":
        return [Branch(part.id, pins["1"], pins["2"], 1 / values["generator.resistance_ohm"])]
    steps = values["lamps.steps_W"]
    lit_A = np.array([generators.lamp_current_A(watts, values["lamps.threshold_voltage_V"],
                                               values["lamps.resistance_ohm"])
                      for watts in scene.between(min(steps), max(steps))])
    lit_V = (values["lamps.threshold_voltage_V"] + lit_A * values["lamps.resistance_ohm"]
             + values["generator.rectifier_drop_V"])
    free_V = scene.figures["generator_unclamped_V"]
    return [Branch(part.id, pins["1"], pins["2"], lit_A / (free_V - lit_V),
                   np.full_like(lit_A, free_V))]


def _rectifier(part, pins, scene):
    drop_V = HALF * scene.values["generator.rectifier_drop_V"]
    return [_forward(part.id, pins[one], pins[other], drop_V)
            for one, other in part.is_a.forward]


def _mosfet(part, pins, scene):
    d, g, s = pins["d"], pins["g"], pins["s"]
    return [Branch(part.id, d, s, 1 / ON_ohm, when=(Condition(g, s, GATE_ON_V),)),
            _forward(part.id, s, d, SILICON_V),
            Branch(f"{part.id} short", d, s, 1 / ON_ohm, dormant=True)]


def _clamp(part, pins, scene):
    return [_forward(part.id, pins["e"], pins["c"], scene.values["generator.clamp_voltage_V"],
                     scene.values["generator.clamp_resistance_ohm"])]


def _driver(part, pins, scene):
    on = Condition(pins["in"], pins["0V"], LOGIC_ON_V)
    fed = Condition(pins["supply"], pins["0V"], DRIVER_LEAST_V)
    return [Branch(part.id, pins["supply"], pins["out"], 1 / DRIVER_ohm, when=(on, fed)),
            Branch(part.id, pins["out"], pins["0V"], 1 / DRIVER_ohm,
                   when=(on._replace(above=False), fed))]


def _bridge(part, pins, scene):
    fed = Condition(pins["supply"], pins["0V"], DRIVER_LEAST_V)
    return [Branch(part.id, pins[one], pins["0V"], 1 / BRIDGE_OFF_ohm, when=(fed,))
            for one in ("out1", "out2")]


def _high_side(part, pins, scene):
    return [Branch(part.id, pins["supply"], pins["out"], 1 / ON_ohm,
                   when=(Condition(pins["in"], pins["0V"], LOGIC_ON_V),))]


def _buck(part, pins, scene):
    """Takes what the board does, gives 5 V."""
    load_S = (scene.values["supply.board_load_W"] / BUCK_FRAC
              / scene.values["supply.voltage_V"] ** 2)
    fed = Condition(pins["in"], pins["0V"], FIVE_V + BUCK_ABOVE_V)
    return [Branch(part.id, pins["in"], pins["0V"], load_S),
            Branch(part.id, pins["out"], pins["0V"], 1 / CONVERTER_ohm, FIVE_V, when=(fed,)),
            Branch(f"{part.id} through", pins["in"], pins["out"], 1 / CONVERTER_ohm, dormant=True),
            _low(part, pins, FIVE_V)]


def _low(part, pins, volts):
    """Return what a converter gives that is set wrong or tired: too few volts."""
    return Branch(f"{part.id} low", pins["out"], pins["0V"], 1 / CONVERTER_ohm, LOW_FRAC * volts,
                  dormant=True)


def _charger(part, pins, scene):
    """Gives its current up to the battery's full voltage, once its input stands above that."""
    amperes, full_V = scene.values["supply.charge_current_A"], scene.figures["supply_most_V"]
    fed = Condition(pins["in"], pins["0V"], full_V)
    load_S = (amperes * full_V / CHARGER_FRAC / scene.values["panel.best_voltage_V"] ** 2)
    out, minus = pins["out"], pins["0V"]
    return [Branch(part.id, pins["in"], minus, load_S, when=(fed,)),
            Branch(part.id, out, minus, gives_A=amperes, when=(fed,)),
            Branch(part.id, out, minus, amperes / CHARGE_ROUND_V, full_V - CHARGE_ROUND_V,
                   one_way=True, when=(fed,)),
            # Set below the battery's volts it charges nothing; it does not take current back.
            Branch(f"{part.id} low", out, minus, gives_A=0.0, dormant=True)]


# Which of the board's outputs are high, by mode; all else is low or no output.
HIGH = {"pump": frozenset({"GP16"}), "turbine": frozenset(), "standstill": frozenset()}
OUTPUTS = frozenset({"GP16", "GP17", "GP18", "GP19", "GP20"})


def _board(part, pins, scene):
    ground = pins["GND"]
    up = Condition(pins["VSYS"], ground, BOARD_LEAST_V)
    load_S = scene.values["supply.board_load_W"] * HALF / FIVE_V ** 2
    found = [Branch(part.id, pins["VSYS"], ground, load_S),
             Branch(part.id, pins["3V3"], ground, 1 / RAIL_ohm, RAIL_V, when=(up,))]
    powered = Condition(pins["3V3"], ground, BOARD_LEAST_V)
    for pin in sorted(OUTPUTS & part.pins.keys()):
        high_V = RAIL_V if pin in HIGH[scene.mode] else 0.0
        found.append(Branch(f"{part.id} {pin}, driven", pins[pin], ground, 1 / PIN_ohm, high_V,
                            when=(powered,)))
    return found


def _monitor(part, pins, scene):
    return [Branch(f"{part.id} {pin}, input", pins[pin], pins["0V"], 1 / SENSE_ohm)
            for pin in ("high", "low", "bus")]


def _sensor(part, pins, scene):
    found = [Branch(part.id, pins["plus"], pins["minus"], 1 / SENSOR_ohm)]
    if part.kind == "level sensor":
        found.append(Branch(part.id, pins["out"], pins["minus"], 1e-3, scene.between(0.5, 4.5),
                            when=(Condition(pins["plus"], pins["minus"], DRIVER_LEAST_V),)))
    return found


MAKERS: dict[str, Maker] = {
    "resistor": _resistor, "thermistor": _resistor, "potentiometer": _potentiometer,
    "link": _conducts(CLOSED_ohm), "fuse": _fuse(FUSE_ohm), "ptc": _fuse(PTC_ohm),
    "contact": _contact, "change-over": _change_over, "shunt": _shunt, "diode": _diode,
    "tvs": _tvs, "two-way tvs": _two_way_tvs, "coil": _conducts(COIL_ohm), "motor": _motor,
    "valve motor": _valve_motor(("open", "common"), ("close", "common")),
    "reversed motor": _valve_motor(("1", "2")),
    "spring valve": _valve_motor(("held", "common"), ("open", "common"), ("close", "common")),
    "servo": _valve_motor(("plus", "minus")), "lamps": _lamps, "panel": _panel,
    "battery": _battery, "generator": _generator, "rectifier": _rectifier, "n-mosfet": _mosfet,
    "pnp": _clamp, "gate driver": _driver, "bridge": _bridge, "direction bridge": _bridge,
    "high-side switch": _high_side, "buck": _buck, "charger": _charger, "board": _board,
    "monitor": _monitor, "thermometer": _sensor, "flow meter": _sensor, "level sensor": _sensor,
}


def relay_contact(contact: Branch, coil: Mapping[str, Node]) -> Branch:
    """Return a relay's contact, closed as long as its coil has no volts."""
    return replace(contact, when=(Condition(coil["1"], coil["2"], RELAY_PULLS_V, above=False),))
