"""What can be calibrated: one table, a file a task."""

from collections.abc import Callable
from typing import NamedTuple

from forebay.calibrate.outcomes import Outcome
from forebay.calibrate.sitting import Sitting
from forebay.calibrate.tasks import (
    electric,
    flow,
    leak,
    level,
    motor,
    pump,
    sweep,
    tank,
    temperature,
    valve,
)

BOARD, PAST = "board", "past"


class Task(NamedTuple):
    """A task; needs: instruments of which it wants one at least; by: BOARD or PAST.

    cautions: what is said before it begins; besides: instruments all of which it wants.
    """

    summary: str
    needs: tuple[str, ...]
    by: str
    run: Callable[[Sitting], Outcome]
    cautions: str = ""
    besides: tuple[str, ...] = ()


_METERS = ("panel_meter", "pump_meter", "generator_meter", "lamp_meter", "supply_meter")
_LIVE = ("Hand meter: its leads in the right sockets, range before circuit, never the ampere"
         " socket across a voltage. A panel in the sun is live whatever is switched: cover it or"
         " open its isolator before a lead is taken off.")


def lacking(task: Task, there: set[str]) -> list[str]:
    """Return the instruments that a task lacks at a rig; there: names of those fitted."""
    some = [] if not task.needs or set(task.needs) & there else [" or ".join(task.needs)]
    return some + [one for one in task.besides if one not in there]


TASKS: dict[str, Task] = {
    "flow": Task("Flow meters, by buckets of water", ("flow_up", "flow_down"), BOARD, flow.run,
                 "Water is heavy: 10 L are 10 kg."),
    "level": Task("Level, by dipping the tank", ("level",), BOARD, level.run,
                  "The tank is high up: a ladder stands firm and is held, nobody leans over the"
                  " rim, nobody climbs in."),
    "voltage": Task("Voltages, by a hand meter", _METERS, BOARD, electric.voltage, _LIVE),
    "current": Task("Currents, by a hand meter in line", _METERS, BOARD, electric.current,
                    _LIVE + " A meter in line is put in and taken out with the rig at rest:"
                    " forebay dispatch maintenance --stop."),
    "temperature": Task("Thermometers, in ice and warm water",
                        ("motor_temperature", "water_temperature"), BOARD, temperature.run,
                        "Open and lock the isolator before a sensor is taken out: a motor"
                        " without one is not watched. Water of 45 degC is warm, of 60 degC it"
                        " scalds."),
    "valve": Task("The valve's position and travel, by full strokes", ("valve_position",), BOARD,
                  valve.run, "The valve moves by itself: keep fingers out of its lever."),
    "sweep": Task("Valve, turbine, generator, by a sweep of the light", ("lamp_meter",), BOARD,
                  sweep.run, "The turbine turns fast: its cover stays on.",
                  ("flow_down", "valve_position", "level")),
    "motor": Task("The motor's heat, from one run of past days", ("motor_temperature",), PAST,
                  motor.run, besides=("pump_meter", "water_temperature", "flow_up")),
    "tank": Task("The upper tank, from a filling of past days", ("level",), PAST, tank.run,
                 besides=("flow_up",)),
    "pump": Task("The pump's curve, from past days", ("pump_meter",), PAST, pump.run,
                 besides=("flow_up", "level")),
    "leak": Task("What the upper tank loses, from past days", ("level",), PAST, leak.run),
}
