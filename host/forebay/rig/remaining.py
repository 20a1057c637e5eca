"""What remains where an instrument is not there: of each element, and of each hazard.

Owns two tables.  `REMAINS`: what stands in an element's place when it cannot be fitted,
another element, a layer of hardware (rows of hardware/parts.toml) or a person's look at a
stated interval.  `LEFT`: which readings cover a hazard, and what remains without them.
"""

from collections.abc import Mapping
from typing import Any, NamedTuple

from forebay.rig.instruments import INSTRUMENTS, is_fitted, mask, names_of
from keeper import channels as ch
from keeper.protection import elements, judging


class Look(NamedTuple):
    """What a person looks at in an element's place, and how often."""

    each: str
    at: str

    @property
    def text(self) -> str:
        """In words."""
        return f"{self.each}: {self.at}"


class Remains(NamedTuple):
    """What is in the place of an element that is not fitted.

    by: ids of elements, the first to act first; one that this keeper has not, or that is not
    fitted either, is passed over.  hardware: acts without the board.  look: by a person.
    """

    by: tuple[str, ...] = ()
    hardware: tuple[str, ...] = ()
    look: Look | None = None

    @property
    def texts(self) -> list[str]:
        """Each thing that remains, in words."""
        looks = [self.look.text] if self.look else []
        return [*self.by, *self.hardware, *looks]


# How often, the most frequent first.
_EVENING, _COLD, _WEEK, _MONTH, _SEASON = OFTEN = (
    "each evening of light", "each evening from autumn to spring", "each week", "each month",
    "each season")
PIPE = Look(_WEEK, "in full sun water comes out of the rising main as strongly as ever")
STRAINER = Look(_MONTH, "the pump's strainer is clean")
STOPPED = Look(_WEEK, "the pump is still when the full tank should have stopped it")
NOZZLE = Look(_WEEK, "by day no water leaves the nozzle")
GROUND = Look(_WEEK, "the ground is dry along tank, pipes and valve")
LOWER = Look(_WEEK, "the lower tank is neither near its pump's foot nor near its rim")
LAMPS = Look(_EVENING, "all lamps are lit, and no brighter than ever")
BATTERY = Look(_WEEK, "the battery's voltage, by a meter at its terminals")
FROST = Look(_COLD, "the forecast; drain pump, filter and pipes"
             " before the first frost")
DIPSTICK = Look(_SEASON, "the tank by a dipstick against what level and meters say")
SEATED = Look(_SEASON, "the thermometer sits on the motor: it warms within minutes of pumping")
WARM = Look(_MONTH, "after an hour of light the generator is no more than hand-warm")
METERED = Look(_SEASON, "the lamps' current by a meter against what is read")

_THERMOSTAT = "thermostat of the motor"
_OVER_FULL = "over-full float LSHH-UP"
_OVERFLOW = "overflow pipe"
_ISOLATOR = "panel isolator"
_STOP = "local stop"
_HAND = "hand valve"
_CLAMP = "clamp"
_BATTERY = "buffer battery and charger"

# What stands in where nothing meters the flow up, and where no float tells of an empty tank.
_FILLS = ("26-PMP", "48-FUL", "48-LOK")
_SPENT = ("71L-LMP", "80-VLV", "37-GEN")

REMAINS: dict[str, Remains] = {
    "71HH-UP": Remains(("71H-UP", "71H-LVL"), (_OVER_FULL, _OVERFLOW)),
    "3-SW": Remains(("3-HOT",), (_OVER_FULL, _THERMOSTAT, _ISOLATOR), STOPPED),
    "12-GEN": Remains((), (_CLAMP, _HAND)),
    "5-STP": Remains((), (_STOP,)),
    "71H-UP": Remains(("71H-LVL", "71HH-UP"), (_OVER_FULL, _OVERFLOW)),
    "71H-LVL": Remains(("71HH-UP",), (_OVER_FULL, _OVERFLOW)),
    "71L-LO": Remains(("71L-PMP", "80-PMP", "26-PMP", "26-MOT", "49-MOT"), (_THERMOSTAT,), LOWER),
    "26-MOT": Remains(("49-MOT", "14-PMP"), (_THERMOSTAT,)),
    "49-MOT": Remains(("14-HOT", "26-MOT", "26-PMP"), (_THERMOSTAT,)),
    "14-PMP": Remains(("14-HOT", "26-MOT", "26-PMP"), (_THERMOSTAT,), PIPE),
    "37-PMP": Remains(("71L-PMP", "71L-LO", "26-PMP", "48-FUL", "26-MOT"), (_THERMOSTAT,), PIPE),
    "80-PMP": Remains(("37-PMP", *_FILLS, "26-MOT"), (_THERMOSTAT,), PIPE),
    "48-PMP": Remains(("37-PMP", *_FILLS, "26-MOT"), (_THERMOSTAT,), PIPE),
    "33-VLV": Remains(("48-SHT", "33-LIT"), (_HAND, _STOP), NOZZLE),
    "71L-UP": Remains(("71L-LVL", *_SPENT), (_HAND,)),
    "71L-LVL": Remains(("71L-UP", *_SPENT), (_HAND,)),
    "71H-LO": Remains((), (_HAND,), LOWER),
    "59-GEN": Remains((), (_CLAMP, _HAND)),
    "48-VLV": Remains(("48-SHT", "33-LIT", *_SPENT), (_HAND,), NOZZLE),
    "48-SHT": Remains(("33-SHT", "33-LIT"), (_HAND,), NOZZLE),
    "80-VLV": Remains(("71L-LMP", "37-GEN"), (_HAND,)),
    "37-GEN": Remains(("80-VLV",), (_HAND,), LAMPS),
    "27-SUP": Remains((), (_BATTERY,), BATTERY),
    "23-WTR": Remains((), (), FROST),
    "23-CLD": Remains((), (), FROST),
    "71D-UP": Remains(("71D-FLT",), (), GROUND),
    "37-LMP": Remains(("59-GEN",), (_CLAMP,), LAMPS),
    "3-VOL": Remains((), (), DIPSTICK),
    "33-SHT": Remains(("48-SHT", "33-LIT"), (_HAND,), NOZZLE),
    "3-THM": Remains(("3-STK", "49-MOT"), (_THERMOSTAT,), SEATED),
    "37-LED": Remains(("48-FUL", "48-LOK"), (), PIPE),
    "80-LOW": Remains(("48-FUL", "48-LOK"), (), STRAINER),
    "3-AMP": Remains((), (), METERED),
    "32-GEN": Remains((), (), WARM),
}

# Elements that watch readings alone: where all of them are absent nothing is to be watched.
WATCHED = {"3-BTN": (ch.BUTTON,), "3-STK": (ch.MOTOR_MDEGC,), "3-THM": (ch.MOTOR_MDEGC,),
           "80-SHT": (ch.FLOW_DOWN,), "3-VOL": (ch.LEVEL_MM, ch.FLOW_UP, ch.FLOW_DOWN)}


class Left(NamedTuple):
    """A way to a hazard: its name, what must be seen, by which readings, what is left without.

    covers: instruments of [sensors]; all of any one row see it in time, whatever single fault
    there is.  by: elements that see it without them, but later, if they are fitted.
    """

    hazard: str
    what: str
    covers: tuple[tuple[str, ...], ...]
    by: tuple[str, ...]
    remains: str

    @property
    def text(self) -> str:
        """What remains, in words: elements that act later, then hardware or a person."""
        return "; ".join([*(f"{one}, later" for one in self.by), self.remains])


# Hazards that no reading stands against, in any rig: the hardware is laid out for them.
BY_LAYOUT = ("slam", "surge", "clamp", "over-voltage", "over-trip", "overspeed", "headless",
             "overcharged")

LEFT: tuple[Left, ...] = (
    Left("overflow", "the one reading of a full tank fails",
         (("full_float", "over_full_float"), ("full_float", "level"),
          ("over_full_float", "level")), (),
         "over-full float LSHH-UP in the pump's supply, then the overflow pipe"),
    Left("flood", "the lower tank is full",
         (("lower_full_float",),), (),
         "hand valve, and an overflow of the lower tank, led away; a person looks each week"),
    Left("dry", "the pump has no water",
         (("pump_meter",),), ("26-PMP", "48-FUL", "26-MOT"),
         "thermostat of the motor"),
    Left("dead-head", "the pump works and nothing goes up",
         (("pump_meter", "flow_up"),), (*_FILLS, "26-MOT"),
         "thermostat of the motor"),
    Left("hot", "the motor gets hot and its one reading fails",
         (("motor_temperature", "pump_meter"),), (),
         "thermostat of the motor"),
    Left("again", "a start that lifts nothing is tried again",
         (("pump_meter", "flow_up"),), ("26-PMP", "48-FUL", "26-MOT"),
         "thermostat of the motor; a person looks each week what the rising main gives"),
    Left("open", "the light runs on in an empty tank",
         (("empty_float", "level"),), _SPENT,
         "the water runs to the outlet and no further; hand valve"),
    Left("open", "a valve that does not shut",
         (("valve_position",), ("flow_down",)), ("33-LIT",),
         "hand valve; a person looks each week whether the nozzle is dry by day"),
    Left("open", "the local stop is pressed under light",
         (("local_stop",),), (),
         "local stop in the valve's lead, without the board"),
    Left("unpowered", "the battery fades with the valve open",
         (("supply_meter",),), (),
         "clamp and hand valve; the water runs to its end; a person measures the battery"
         " each week"),
    Left("together", "the valve is not shut while the pump runs",
         (("valve_position",), ("flow_down",)), ("33-LIT",),
         "hand valve and local stop; a person looks each week whether the nozzle is dry by day"),
    Left("start", "the tank is over-full",
         (("over_full_float",), ("full_float", "level")), (),
         "over-full float LSHH-UP in the pump's supply"),
    Left("start", "the lower tank is empty",
         (("lower_empty_float",),), ("71L-PMP", "37-PMP", "26-PMP", "26-MOT"),
         "thermostat of the motor; the pump is tried again and again, dry, after waits that grow;"
         " a person looks at the lower tank each week"),
    Left("start", "the motor is hot",
         (("motor_temperature",),), (),
         "thermostat of the motor"),
    Left("start", "the valve is open",
         (("valve_position",),), ("48-SHT", "33-LIT"),
         "hand valve and local stop"),
    Left("start", "the pipes freeze",
         (("water_temperature",),), (),
         "a person drains pump, filter and pipes before the first frost"),
    Left("start", "the battery is low",
         (("supply_meter",),), (),
         "the battery's own cut-out; a person measures it each week"),
    Left("start", "the upper tank is empty",
         (("empty_float",), ("level",)), _SPENT,
         "the water runs to the outlet and no further"),
    Left("start", "the lower tank is full",
         (("lower_full_float",),), (),
         "hand valve, and an overflow of the lower tank, led away"),
    Left("start", "the local stop is pressed",
         (("local_stop",),), (),
         "local stop in the leads of pump and valve, without the board"),
    Left("held", "the local stop is pressed",
         (("local_stop",),), (),
         "local stop in the pump's supply, without the board"),
    Left("dark", "the local stop is pressed under light",
         (("local_stop",),), (),
         "for the board the tank is empty or the valve stuck: the light rests, at the most for"
         " its longest rest, till somebody asks for it; locked out, it stays dark till a person"
         " who lets the stop go resets the board"),
    Left("idle", "the local stop is pressed while the pump runs",
         (("local_stop",),), (),
         "for the board the pump's lead is open, and it may lock out: the pump rests till a"
         " person who lets the stop go resets the board"),
    Left("frozen", "the pipes freeze",
         (("water_temperature",),), (),
         "a person drains pump, filter and pipes before the first frost"),
    Left("flat", "the battery fades",
         (("supply_meter",),), (),
         "the battery's own cut-out; all gates fall off without power; a person measures it"
         " each week"),
    Left("fitful", "the light starts anew in an empty tank",
         (("empty_float",), ("level",)), _SPENT,
         "a person sees the lamps blink"),
    Left("idle", "the pump runs and lifts too little",
         (("pump_meter", "flow_up"),), ("48-FUL", "48-LOK"),
         "a person looks each week what the rising main gives, and cleans the strainer"),
)
HAZARDS = tuple(dict.fromkeys((*[row.hazard for row in LEFT], *BY_LAYOUT)))


def absent(values: Mapping[str, Any]) -> list[str]:
    """Return the names of the instruments that a rig lacks, in the order of their table."""
    return [one.name for one in INSTRUMENTS if not is_fitted(values, one.name)]


def fitted_elements(fitted: int) -> set[str]:
    """Return the ids of the elements that can judge; fitted: bits, as the board's setting."""
    return {row[elements.E_ID] for index, row in enumerate(elements.ELEMENTS)
            if judging.judges(index, fitted)}


def not_fitted(fitted: int) -> dict[str, Remains]:
    """Return what remains of each element that cannot judge, by id in the order of the table.

    fitted: bits of what exists, as the board's setting.  Left out are elements that only watch
    an instrument which is not there, and those that stand in for others.
    """
    judge = fitted_elements(fitted)
    found = {}
    for row in elements.ELEMENTS:
        element = row[elements.E_ID]
        remains = REMAINS.get(element)
        if remains is None or element in judge or _has_nothing_to_watch(row, fitted):
            continue
        by = tuple(other for other in remains.by if other in judge)
        found[element] = remains._replace(by=by)
    return found


def _has_nothing_to_watch(row, fitted):
    if elements.SENSES.index(row[elements.E_SENSE]) == elements.UNTRUSTED:
        return True
    watched = WATCHED.get(row[elements.E_ID])
    return watched is not None and not any(fitted >> place & 1 for place in watched)


def lefts(fitted: int) -> list[Left]:
    """Return the rows of LEFT that a rig's instruments do not cover, `by` of what is fitted."""
    judge, there = fitted_elements(fitted), names_of(fitted)
    return [row._replace(by=tuple(one for one in row.by if one in judge)) for row in LEFT
            if not any(there.issuperset(cover) for cover in row.covers)]


def left_to_hardware(values: Mapping[str, Any]) -> dict[str, str]:
    """Return, by hazard, what hardware or person remains where no reading covers it.

    values: of a rig by "section.key_unit".
    """
    found: dict[str, list[str]] = {}
    for row in lefts(mask(values)):
        found.setdefault(row.hazard, []).append(f"{row.what}: {row.text}")
    return {hazard: "; ".join(texts) for hazard, texts in found.items()}


def looks(fitted: int) -> list[Look]:
    """Return what a person must look at in the place of elements, the most frequent first."""
    found = {one.look for one in not_fitted(fitted).values() if one.look is not None}
    return sorted(found, key=lambda look: (OFTEN.index(look.each), look.at))

