"""The steps of a proof test, in order: one table, and which of them a rig has.

The yearly proof test is that of hardware/commissioning.toml: `OF` says which steps here do what
one there asks, by the words that it begins with; what no step does is asked of the person.
"""

from collections.abc import Callable, Mapping
from typing import Any, NamedTuple

from forebay.asking import Choice
from forebay.hardware import fitting, sizing, tables
from forebay.hardware.readings import windows_of
from forebay.prove import at_rest, running
from forebay.prove.found import Result, failed, passed, tag
from forebay.prove.scene import Scene
from forebay.rig import Rig

AT_REST, RUNNING, BY_HAND = "at rest", "running", "by hand"


class Step(NamedTuple):
    """One step: its name in answers and records, a title, AT_REST, RUNNING or BY_HAND, what it
    does; needs: words of `forebay.hardware.fitting` that must all hold; after: the step that must
    have passed before."""

    name: str
    title: str
    kind: str
    run: Callable[[Scene], Result]
    needs: tuple[str, ...] = ()
    after: str = ""


def _float(name: str, instrument: str) -> Step:
    return Step(f"float-{tag(name)}", f"Float {tag(name)}, by hand", AT_REST,
                at_rest.contact(name), (instrument,))


STEPS = (
    Step("readings", "Every instrument answers", AT_REST, at_rest.readings),
    _float("contact_71h_up", "full_float"),
    _float("contact_71hh_up", "over_full_float"),
    _float("contact_71l_up", "empty_float"),
    _float("contact_71l_lo", "lower_empty_float"),
    _float("contact_71h_lo", "lower_full_float"),
    Step("loop-LSHH-UP", "Over-full pair, bridged at the float", AT_REST, at_rest.over_full_loop,
         ("over_full_float", "loop supervised")),
    Step("button", "Button HS-1", AT_REST, at_rest.contact("button")),
    Step("stop", "Local stop", AT_REST, at_rest.contact("contact_stop"), ("local_stop",)),
    Step("thermometer-TI-MOT", "The motor's thermometer, in the hand", AT_REST,
         at_rest.thermometer("motor_mdegC"), ("motor_temperature",)),
    Step("thermometer-TI-WTR", "The coldest pipe's thermometer, in the hand", AT_REST,
         at_rest.thermometer("water_mdegC"), ("water_temperature",)),
    Step("converter", "The converter's volts, by hand meter", AT_REST, at_rest.converter),
    Step("valve", "The valve opens and shuts", RUNNING, running.valve, ("valve_position",)),
    Step("pump", "The pump starts: current, then water", RUNNING, running.pump, ("pump_meter",)),
    Step("pump-by-stop", "The stop ends the running pump", RUNNING,
         running.stops_by("contact_stop", "Press the local stop, and leave it pressed."),
         ("local_stop", "pump_meter"), "pump"),
    Step("pump-by-over-full", "The over-full float ends the running pump", RUNNING,
         running.stops_by("contact_71hh_up", "Lift the over-full float, and hold it."),
         ("over_full_float", "pump_meter"), "pump"),
    Step("light", "Light: water, volts, current", RUNNING, running.light,
         ("generator_meter",)),
    Step("lamps", "Lamps pulled under way", RUNNING, running.lamps_off, ("generator_meter",),
         "light"),
)

# Of hardware/commissioning.toml, with `proof = true`: how a step begins, and what does it here;
# empty: only hands and eyes do, under the name that follows.
OF: tuple[tuple[str, tuple[str, ...], str], ...] = (
    ("Lift and drop each float", ("float-LSH-UP", "float-LSHH-UP", "float-LSL-UP", "float-LSL-LO",
                                  "float-LSH-LO", "stop", "button"), ""),
    ("Short the over-full pair", ("loop-LSHH-UP",), "pair-cut"),
    ("Cut the board's over-full pair", (), "pair"),
    ("Warm the thermostat", (), "thermostat"),
    ("Hold each temperature sensor", ("thermometer-TI-MOT", "thermometer-TI-WTR"), ""),
    ("Hold the temperature sensor in the hand", ("thermometer-TI-MOT", "thermometer-TI-WTR"), ""),
    ("Order the valve open, press the stop half way;", ("valve",), "valve-stopped-board"),
    ("Order the valve open, press the stop half way", ("valve",), "valve-stopped"),
    ("Take the fuse out while the valve opens", (), "valve-without-power"),
    ("Fill on by hose past both floats", (), "overflow"),
    ("Let it stand for a night", (), "night-tight"),
    ("Open the hand valve slowly", (), "seat"),
    ("Press the stop; open the isolator under load", ("pump-by-stop", "pump-by-over-full"),
     "isolator"),
    ("Pull the board's plug with the pump on", (), "plug"),
    ("Unplug the lamps at the highest step", ("lamps",), "clamp"),
    ("Press the stop; then the same with the hand valve", (), "light-stopped"),
)


def steps_of(rig: Rig) -> list[Step]:
    """Return the steps of a rig, in order."""
    holds, values = fitting.conditions(rig), rig.plant()
    windows = windows_of(values, sizing.figures(values))
    live = [step for step in STEPS if all(holds[word] for word in step.needs)]
    asked = [_by_hand(row, windows) for row in tables.load("commissioning")["step"]
             if row["proof"] and fitting.is_there(row.get("when", ()), holds)]
    return [*live, *(step for step in asked if step)]


def of_commissioning(do: str) -> tuple[tuple[str, ...], str]:
    """Return which steps do what one of commissioning.toml asks, and the name of what is asked.

    Raises KeyError for one that this table does not know.
    """
    for begin, names, name in OF:
        if do.startswith(begin):
            return names, name
    raise KeyError(do)


def _by_hand(row: dict[str, Any], windows: Mapping[str, float]) -> Step | None:
    _, name = of_commissioning(row["do"])
    if not name:
        return None
    do, expect, otherwise = (row[part].format(**windows) for part in ("do", "expect", "otherwise"))

    def run(scene: Scene) -> Result:
        seen = scene.ask(Choice(name, f"Expected: {expect}. Was it so?",
                                {"yes": "as expected", "no": "not so"}))
        if seen == "yes":
            return passed("as expected, by the person's word")
        return failed(name, f"Not as expected: {otherwise}")

    return Step(name, do, BY_HAND, run)


# What steps ask beside their own name.
ASKED = ("valve-lever", "sun", "end")


def names_of(rig: Rig) -> set[str]:
    """Return every name that an answer for a rig may have."""
    return {step.name for step in steps_of(rig)} | set(ASKED)
