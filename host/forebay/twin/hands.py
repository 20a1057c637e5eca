"""What a person's hands do at a simulated rig, and what they read there: one table of verbs.

Each changes the plant or an instrument, never the keeper.  Lines are read by `parsed`, which
tells what cannot be done; nothing here prints.
"""

import math

from forebay.twin import miswired
from keeper.channels import MOTOR_MDEGC, WATER_MDEGC
from keeper.clock import PERIOD_S, PERIODS_PER_S

L_PER_M3 = 1000.0
IN_HAND_TAU_S = 10.0     # a sensor in the hand or in a cup follows with this; a guess
PRESS_S, PRESS_MOST_S = 2.0, 60.0
WARM_S, WARM_MOST_S = 60.0, 3600.0
DEGC_LEAST, DEGC_MOST = -20.0, 100.0
LITRES_MOST = 200.0

FLOATS = {"LSH-UP": "full", "LSHH-UP": "over_full", "LSL-UP": "upper_wet", "LSL-LO": "lower_wet",
          "LSH-LO": "lower_full"}
THERMOMETERS = {"TI-MOT": MOTOR_MDEGC, "TI-WTR": WATER_MDEGC}
BUTTONS, SIDES = ("HS-1",), ("up", "down")
# Where a hand meter is put: side of the plant and what it holds there.
VOLTS = {"panel": ("up", "panel_V"), "generator": ("down", "generator_V"),
         "supply": ("battery", "volts")}
AMPS = {"panel": ("up", "panel_A"), "pump": ("up", "pump_A"),
        "generator": ("down", "generator_A"), "lamps": ("down", "lamp_A"),
        "supply": ("battery", "amps")}

# verb: what follows it, what it does
VERBS = {
    "lift": ("FLOAT", "hold a float up: " + ", ".join(FLOATS)),
    "lower": ("FLOAT", "hold a float down"),
    "leave": ("FLOAT", "let go of a float: it follows the water again"),
    "warm": ("TI-MOT|TI-WTR 35 degC [for 2 min]", "hold a thermometer in the hand or in a cup"),
    "press": ("HS-1 [2 s]", "press the button"),
    "stop": ("press|release", "the local stop"),
    "lamps": ("unplug|plug", "the lamps' plug"),
    "hand-valve": ("shut|open", "the hand valve before the turbine"),
    "isolator": ("open|close", "the panel's isolator"),
    "thermostat": ("open|close", "the thermostat in the pump's supply"),
    "bucket": ("up|down [10 L]", "catch what comes: till so much, or till the word again"),
    "dip": ("", "the level in the upper tank, by a stick"),
    "volts": ("|".join(VOLTS), "a hand meter across it, now"),
    "amps": ("|".join(AMPS), "a hand meter in its lead, now"),
    "felt": ("TI-MOT|TI-WTR", "a known thermometer beside it, now"),
    "miswire": ("NAME", "a mistake of the wiring: " + ", ".join(miswired.NAMES)),
}


class HandsError(ValueError):
    """What was asked of the hands cannot be done: what, what is allowed."""


def _number(text):
    return float(text)


def parsed(text, seconds_of=_number, degC_of=_number, litres_of=_number):
    """Return (verb, argument, number, number) of a line; HandsError if it is none.

    seconds_of, degC_of, litres_of: read a quantity as it is written.
    """
    verb, _, rest = text.strip().partition(" ")
    if verb not in VERBS:
        raise HandsError("%r is none of %s" % (verb, ", ".join(VERBS)))
    rest = rest.strip()
    try:
        return _PARSERS[verb](verb, rest, seconds_of, degC_of, litres_of)
    except ValueError as error:
        raise HandsError("%s: %s; write: %s" % (
            text.strip(), error, (verb + " " + VERBS[verb][0]).strip())) from None


def _one_of(word, words):
    if word not in words:
        raise ValueError("%r is none of %s" % (word, ", ".join(words)))
    return word


def _within(value, least, most):
    if not least <= value <= most:
        raise ValueError("%g must be %g to %g" % (value, least, most))
    return value


def _named(words):
    def read(verb, rest, *_):
        return verb, _one_of(rest, words), 0.0, 0.0
    return read


def _warm(verb, rest, seconds_of, degC_of, _):
    name, _, rest = rest.partition(" ")
    degC, _, seconds = rest.partition(" for ")
    return (verb, _one_of(name, THERMOMETERS), _within(degC_of(degC), DEGC_LEAST, DEGC_MOST),
            _within(seconds_of(seconds) if seconds else WARM_S, PERIOD_S, WARM_MOST_S))


def _press(verb, rest, seconds_of, *_):
    name, _, seconds = rest.partition(" ")
    return verb, _one_of(name, BUTTONS), _within(
        seconds_of(seconds) if seconds else PRESS_S, PERIOD_S, PRESS_MOST_S), 0.0


def _bucket(verb, rest, _, __, litres_of):
    side, _, litres = rest.partition(" ")
    return verb, _one_of(side, SIDES), _within(
        litres_of(litres), 0.1, LITRES_MOST) if litres else 0.0, 0.0


_PARSERS = {
    "lift": _named(FLOATS), "lower": _named(FLOATS), "leave": _named(FLOATS), "warm": _warm,
    "press": _press, "stop": _named(("press", "release")), "lamps": _named(("unplug", "plug")),
    "hand-valve": _named(("shut", "open")), "isolator": _named(("open", "close")),
    "thermostat": _named(("open", "close")), "bucket": _bucket, "dip": _named(("",)),
    "volts": _named(VOLTS), "amps": _named(AMPS), "felt": _named(THERMOMETERS),
    "miswire": _named(miswired.NAMES),
}


class Hands:
    """The hands at one twin.  Call `step` once a scan period."""

    def __init__(self, twin):
        """Take the twin."""
        self.twin = twin
        self.release_period = -1  # when the button is let go
        self.held = {}            # place of a thermometer -> (degC that it goes to, period)
        self.buckets = {}         # side -> (litres wanted or 0, litres and period at the begin)

    def do(self, verb, argument="", number=0.0, seconds=0.0):
        """Do what `parsed` gave; return what is read by it, "" for nothing."""
        plant = self.twin.plant
        if verb in ("lift", "lower", "leave"):
            up = {"lift": True, "lower": False, "leave": None}[verb]
            plant.hold_float(getattr(plant, FLOATS[argument]), up)
        elif verb == "warm":
            self._warm(THERMOMETERS[argument], number, seconds)
        elif verb == "press":
            self.press(number)
        elif verb == "stop":
            plant.press_stop(argument == "press")
        elif verb == "bucket":
            return self._bucket(argument, number)
        elif verb == "dip":
            return "dip: %.0f mm" % (plant.upper.level_m * 1000.0)
        elif verb in ("volts", "amps", "felt"):
            return self._read(verb, argument)
        elif verb == "miswire":
            miswired.apply(argument, plant, self.twin.leads)
        else:
            self._switch(plant, verb, argument)
        return ""

    def _read(self, verb, argument):
        """Return what an instrument without error reads."""
        if verb == "felt":
            return "%s: %.2f degC" % (argument, self._degC(THERMOMETERS[argument]))
        side, name = (VOLTS if verb == "volts" else AMPS)[argument]
        value = getattr(getattr(self.twin.plant, side), name)
        return "%s: %.3f %s" % (argument, value, "V" if verb == "volts" else "A")

    def _degC(self, place):
        """Return how warm it is at a thermometer [degC]: in the hand, or where it is mounted."""
        plant = self.twin.plant
        return self.twin.sensors.in_hand.get(
            place, plant.motor.felt_degC if place == MOTOR_MDEGC else plant.frost.degC)

    def _switch(self, plant, verb, argument):
        """Turn what has two places."""
        if verb == "lamps":
            plant.down.lamps_connected = argument == "plug"
        elif verb == "hand-valve":
            plant.shed_valve_open = argument == "open"
        elif verb == "isolator":
            plant.panel_lead_open = argument == "open"
            plant.next_sun_s = plant.time_s
        else:
            plant.thermostat_open = argument == "open"
        plant.rewire()

    def press(self, seconds):
        """Hold the button for so long [s]."""
        self.twin.board.button = 1
        self.release_period = self.twin.periods + round(seconds * PERIODS_PER_S)

    def _warm(self, place, degC, seconds):
        sensors = self.twin.sensors
        sensors.in_hand[place] = self._degC(place)
        self.held[place] = (degC, self.twin.periods + round(seconds * PERIODS_PER_S))

    def _litres(self, side):
        plant = self.twin.plant
        return (plant.up if side == "up" else plant.down).volume_m3 * L_PER_M3

    def _bucket(self, side, litres):
        if side in self.buckets and not litres:
            return self._told(side)
        self.buckets[side] = (litres, self._litres(side), self.twin.periods)
        return ""

    def _told(self, side):
        _, before, period = self.buckets.pop(side)
        return "bucket %s: %.3f L in %.1f s" % (
            side, self._litres(side) - before, (self.twin.periods - period) * PERIOD_S)

    def step(self):
        """Let a period pass; return the lines that are read meanwhile."""
        twin = self.twin
        if twin.board.button and twin.periods >= self.release_period >= 0:
            twin.board.button = 0
        if self.held:
            self._follow_held()
        said = []
        if self.buckets:
            for side in list(self.buckets):
                litres, before, _ = self.buckets[side]
                if litres and self._litres(side) - before >= litres:
                    said.append(self._told(side))
        return said

    def _follow_held(self):
        in_hand = self.twin.sensors.in_hand
        share = 1.0 - math.exp(-PERIOD_S / IN_HAND_TAU_S)
        for place, (degC, until) in list(self.held.items()):
            if self.twin.periods >= until:
                del self.held[place], in_hand[place]
            else:
                in_hand[place] += (degC - in_hand[place]) * share
