"""What a person is asked about a rig of their own: each question once, with its default.

A question is a flag of the command and a prompt of the terminal.  What follows from the
answers is not known here (`scaling`).
"""

import functools
import math
from collections.abc import Callable, Mapping
from typing import Any, NamedTuple, cast

from forebay import units
from forebay.errors import InputError
from forebay.rig import load
from forebay.rig.keys import COUNT
from forebay.rig.reading import Refused, read
from forebay.rig.schema import CYLINDER, KEYS, PLACE_OF, RECTANGULAR

# The packaged rig whose proportions every figure takes that nobody states.
MODEST = "orchard"
# How much more of their volts than the modest rig's the lamps' lead may take before another
# lamp is put in series: 4 mm2 of copper then in place of 2.5.
LEAD_MORE = 2.0
# Of questions that set other keys than the one that their range is taken from.
SETS = {"tank": "", "lift": " (with it lower.base_height)"}
Answers = Mapping[str, Any]  # by the name of a question [SI]


class Tank(NamedTuple):
    """The upper tank as it is answered: only litres, or its sizes [m] in the schema's order."""

    volume_m3: float
    shape: str = CYLINDER
    sizes_m: tuple[float, ...] = ()


class Question(NamedTuple):
    """One question; name: of its answer; place: the key that it is first about.

    text: what is asked; unit: that a default is shown in; default: of earlier answers, and
    of later ones that were stated.
    """

    name: str
    place: str
    text: str
    unit: str
    default: Callable[[Answers], Any]

    @property
    def flag(self) -> str:
        """How the command names it."""
        return f"--{self.name.replace('_', '-')}"

    @property
    def help(self) -> str:
        """What the flag is for, with the key that it sets."""
        return f"{self.text}{SETS.get(self.name, f' ({self.place})')}."

    def shown(self, value: Any) -> str:
        """Return an answer as a person would write it."""
        if isinstance(value, Tank) and value.sizes_m:
            return " x ".join(shown(one, "length", "m") for one in value.sizes_m)
        if isinstance(value, Tank):
            return shown(value.volume_m3, "volume", self.unit)
        if isinstance(value, list):
            return ", ".join(self.shown(one) for one in value)
        key = KEYS[self.place]
        return shown(value, key.kind, self.unit) if key.is_quantity else f"{value:g}"

    def read(self, text: str) -> Any:
        """Return the answer that a text gives.  Raises InputError: a line, with the range."""
        try:
            if self.name == "tank":
                return _tank(text)
            key = KEYS[self.place]
            if key.counts:
                return read(key, [one.strip() for one in text.split(",")])
            if key.kind == COUNT and text.strip().isascii() and text.strip().isdigit():
                return read(key, int(text))
            return read(key, text)
        except Refused as error:
            reasons = [reason for _, _, reason in error.items] or [error.reason]
            raise InputError(f"{self.flag} {text!r}: {reasons[0]}") from None


def shown(value: float, dimension: str, unit: str, digits: int = 4) -> str:
    """Return a quantity [SI] as text in a unit."""
    return f"{float(f'{units.convert(value, dimension, unit):.{digits}g}'):.10g} {unit}"


def _tank(text: str) -> Tank:
    """Return the tank of "200 L", "0.58 m x 0.76 m" (round) or "1 m x 1 m x 1.1 m" (a box)."""
    parts = [part.strip() for part in text.split("x")]
    if len(parts) == 1:
        if not units.has_unit(parts[0]):  # a bare 200 is hardly meant as cubic metres
            raise Refused("must be litres with their unit, such as 200 L, or sizes: diameter x"
                          " height, or length x width x height")
        return Tank(_quantity(parts[0], "volume", 1e-3, 1e3, "1 L to 1000 m3, or sizes:"
                              " diameter x height, or length x width x height"))
    names = {2: ("diameter", "height"), 3: ("length", "width", "height")}.get(len(parts))
    if names is None:
        raise Refused("must be litres, diameter x height, or length x width x height")
    sizes = tuple(cast(float, read(KEYS[f"upper.{name}"], part))
                  for name, part in zip(names, parts, strict=True))
    if len(sizes) == 2:
        return Tank(math.pi / 4 * sizes[0] ** 2 * sizes[1], CYLINDER, sizes)
    return Tank(math.prod(sizes), RECTANGULAR, sizes)


def _quantity(text, dimension, least, most, allowed):
    try:
        value = units.parse(text, dimension)
    except units.UnitError as error:
        raise Refused(f"{error.reason}; must be {allowed}") from None
    if not least <= value <= most:
        raise Refused(f"must be {allowed}")
    return value


@functools.cache
def modest() -> dict[str, Any]:
    """Return the figures that the proportions are taken from, by "section.key_unit"."""
    return load(demo=MODEST).plant()


def _like(place: str) -> Callable[[Answers], Any]:
    """Return the modest rig's own figure as a default."""
    return lambda answers: modest()[PLACE_OF[place]]


def _times(place: str, other: str, name: str) -> Callable[[Answers], float]:
    """Return a default that stands to an answer as two figures of the modest rig do."""
    def default(answers):
        base = modest()
        return base[PLACE_OF[place]] / base[PLACE_OF[other]] * answers[name]
    return default


def _diameter_m(answers: Answers) -> float:
    """The diameter of a drum of the modest one's slenderness."""
    tank, base = answers["tank"], modest()
    if tank.shape == CYLINDER and tank.sizes_m:
        return tank.sizes_m[0]
    slender = base["upper.height_m"] / base["upper.diameter_m"]
    return (tank.volume_m3 / (math.pi / 4 * slender)) ** (1 / 3)


def tank_height_m(answers: Answers) -> float:
    """Return the height of the upper tank [m]."""
    tank = answers["tank"]
    if tank.sizes_m:
        return tank.sizes_m[-1]
    return tank.volume_m3 / (math.pi / 4 * answers["tank_diameter"] ** 2)


def inlet_m(answers: Answers) -> float:
    """Return the end of the rising main above the nozzle [m]: by an air gap over the rim."""
    base = modest()
    gap_m = base["upper.inlet_height_m"] - base["upper.base_height_m"] - base["upper.height_m"]
    return answers["head"] + tank_height_m(answers) + gap_m


def _lift_m(answers):
    return inlet_m(answers) - modest()["lower.base_height_m"]


def _flow_m3_s(answers):
    """The flow of a pump as efficient as the modest one's."""
    base = modest()
    head_W = base["pump.rated_head_m"] * base["pump.rated_flow_m3_s"] / base["pump.rated_power_W"]
    return head_W * answers["pump_power"] / answers["pump_head"]


def _longer(place: str, name: str) -> Callable[[Answers], float]:
    """Return the length of a pipe that runs as slantwise as the modest rig's, for a height."""
    def default(answers):
        base = modest()
        height_m = (base["upper.base_height_m"] if name == "head"
                    else base["upper.inlet_height_m"] - base["lower.base_height_m"])
        return base[PLACE_OF[place]] / height_m * answers[name]
    return default


def _bore(place: str) -> Callable[[Answers], float]:
    """Return the bore in which the pump's water runs as fast as in the modest rig."""
    def default(answers):
        base = modest()
        more = answers["pump_flow"] / base["pump.rated_flow_m3_s"]
        return max(0.010, round(base[PLACE_OF[place]] * more ** 0.5, 3))
    return default


def _penstock_m(answers):
    """Return the bore in which the light's water runs no faster than in the modest rig."""
    from forebay.rig.beginning import scaling  # it asks the answers, too

    _, _, flow = scaling.light_ratios(answers)
    return round(modest()["penstock.diameter_m"] * max(1.0, flow) ** 0.5, 3)


def _lamps_V(answers):
    """Return the volts of as many lamps in series as keep the current in their lead small.

    What a lead loses of its volts goes with power / volts squared.
    """
    from forebay.rig.beginning import scaling

    power, _, _ = scaling.light_ratios(answers)
    in_series = min(scaling.most_in_series(answers), max(1, math.ceil((power / LEAD_MORE) ** 0.5)))
    return in_series * modest()["lamps.threshold_voltage_V"]


def _steps_W(answers):
    from forebay.rig.beginning import scaling

    return scaling.steps_W(answers)


QUESTIONS = (
    Question("tank", "upper.full_volume", "Upper tank: litres, or diameter x height, or length x"
             " width x height", "L", lambda answers: Tank(0.22)),
    Question("tank_diameter", "upper.diameter", "Its diameter inside, of a round one", "m",
             _diameter_m),
    Question("head", "upper.base_height", "Head: its outlet above the nozzle", "m",
             _like("upper.base_height")),
    Question("lift", "upper.inlet_height", "Lift: from the floor of the lower tank to the end of"
             " the rising main", "m", _lift_m),
    Question("panel_power", "panel.power", "Panel: rated power", "W", _like("panel.power")),
    Question("panel_cells", "panel.cells", "Its cells in series", "", _like("panel.cells")),
    Question("open_voltage", "panel.open_circuit_voltage", "Its open-circuit voltage", "V",
             _times("panel.open_circuit_voltage", "panel.cells", "panel_cells")),
    Question("best_voltage", "panel.best_voltage", "Its voltage at most power", "V",
             _times("panel.best_voltage", "panel.open_circuit_voltage", "open_voltage")),
    Question("best_current", "panel.best_current", "Its current at most power", "A",
             lambda answers: answers["panel_power"] / answers["best_voltage"]),
    Question("short_current", "panel.short_circuit_current", "Its short-circuit current", "A",
             _times("panel.short_circuit_current", "panel.best_current", "best_current")),
    Question("pump_voltage", "pump.rated_voltage", "Pump: rated voltage", "V",
             _times("pump.rated_voltage", "panel.best_voltage", "best_voltage")),
    Question("pump_power", "pump.rated_power", "Power that it takes at its rated point", "W",
             _times("pump.rated_power", "panel.power", "panel_power")),
    Question("pump_shut_off_head", "pump.shut_off_head", "Head at which it lifts no more", "m",
             lambda answers: modest()["pump.shut_off_head_m"] * answers["lift"]
             / (modest()["upper.inlet_height_m"] - modest()["lower.base_height_m"])),
    Question("pump_head", "pump.rated_head", "Head at its rated point", "m",
             _times("pump.rated_head", "pump.shut_off_head", "pump_shut_off_head")),
    Question("pump_flow", "pump.rated_flow", "Flow at its rated point", "L/min", _flow_m3_s),
    Question("main_length", "rising_main.length", "Rising main: length", "m",
             _longer("rising_main.length", "lift")),
    Question("main_bore", "rising_main.diameter", "Its inside diameter", "mm",
             _bore("rising_main.diameter")),
    Question("penstock_length", "penstock.length", "Penstock: length", "m",
             _longer("penstock.length", "head")),
    Question("penstock_bore", "penstock.diameter", "Its inside diameter", "mm", _penstock_m),
    Question("lamp_voltage", "lamps.threshold_voltage", "Lamps: voltage below which they draw"
             " nothing", "V", _lamps_V),
    Question("steps", "lamps.steps", "Brightness steps, rising, with commas", "mW", _steps_W),
    Question("latitude", "site.latitude", "Place: latitude, north positive", "deg",
             _like("site.latitude")),
    Question("longitude", "site.longitude", "Its longitude, east positive", "deg",
             _like("site.longitude")),
    Question("height", "site.height", "Its height above sea level", "m", _like("site.height")),
)


def completed_by(ask: Callable[[Question, Any], Any], stated: Answers) -> dict[str, Any]:
    """Return answers with those that a person gives to the questions that are open.

    ask: of (question, default) gives the answer [SI], or None where the default is taken.
    """
    answers: dict[str, Any] = {}
    told = dict(stated)
    for question in QUESTIONS:
        if question.name == "tank_diameter" and answers["tank"].sizes_m:
            answers[question.name] = question.default({**told, **answers})
            continue
        if question.name not in told:
            default = question.default({**told, **answers})
            given = ask(question, default)
            if given is None:
                answers[question.name] = default
                continue
            told[question.name] = given
        answers[question.name] = told[question.name]
    return told
