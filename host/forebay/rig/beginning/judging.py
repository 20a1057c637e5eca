"""What a combination of answers cannot do, or hardly: one line each, with what to change."""

import math
import re
from collections.abc import Mapping
from typing import Any

from forebay.hardware import rules
from forebay.hardware.build import Build
from forebay.rig import Rig, governing, lasting, machines, protecting
from forebay.rig.beginning.questions import QUESTIONS
from forebay.rig.beginning.scaling import most_lifted_m3_s
from keeper.physics import of_rig
from keeper.settings import SETTINGS

SHORTEST_H = 1.0     # of light, below which the answers are hardly meant so; a guess
LAMP_SLACK = 1.0005  # a power that is written in four digits
MOST_LOST = 0.25     # of the head, before the pipe is worth a word; a guess


def impossible(values: Mapping[str, Any]) -> list[str]:
    """Return why a rig cannot work at all: pump or light; values: by "section.key_unit"."""
    found = []
    for rule in (_no_pump, _no_clamp, _no_light):
        try:
            found += rule(values)
        except (KeyError, ValueError):
            continue  # what it rests on is at fault itself
    return found


def unbuildable(rig: Rig) -> list[str]:
    """Return what the rig's hardware would not stand, each with the flags to change."""
    return [_by_flags(f"It cannot be built so: {found.where}: {found.text}.")
            for found in rules.check(Build.of(rig))]


def _by_flags(line: str) -> str:
    """Return a line in which a question's key is named as its flag."""
    for question in QUESTIONS:
        line = re.sub(rf"\b{re.escape(question.place)}\b", question.flag, line)
    return line


def doubtful(values: Mapping[str, Any]) -> list[str]:
    """Return what a sound rig does that its owner has hardly meant."""
    watts = max(values["lamps.steps_W"])
    least_h = lasting.full_tank_h(values, watts, learnt=False)[0]
    if least_h >= SHORTEST_H:
        return []
    return [f"A full tank gives light of {watts:.3g} W for {60 * least_h:.0f} min at least: dimmer"
            " --steps, more --head or a larger --tank makes it longer."]


def _no_pump(values) -> list[str]:
    return _no_lift(values) or _too_strong(values)


def _too_strong(values) -> list[str]:
    amps = values["pump.rated_power_W"] / values["pump.rated_voltage_V"]
    most_A = next(high for name, _, high in SETTINGS if name == "thermal_base_mA") / 1e3
    if protecting.thermal_base_mA(values) <= 1e3 * most_A:
        return []
    return [f"The pump takes {amps:.3g} A at its rated point: what guards it would have to read"
            f" beyond the board's {most_A:.3g} A; less --pump-power or a higher --pump-voltage."]


def _no_lift(values) -> list[str]:
    lift_m = machines.longest_lift_m(values)
    shut_m, volts = values["pump.shut_off_head_m"], values["pump.rated_voltage_V"]
    if shut_m <= lift_m:
        return [f"The pump cannot lift: its shut-off head is {shut_m:.4g} m at {volts:.4g} V, and"
                f" the longest lift {lift_m:.4g} m; a stronger pump (--pump-shut-off-head) or less"
                " --lift."]
    if most_lifted_m3_s(values) > 0.0:
        return []
    return [f"The panel does not drive the pump: over {lift_m:.4g} m nothing goes up in full sun"
            f" and heat, with {values['panel.power_W']:.4g} W of panel for"
            f" {values['pump.rated_power_W']:.4g} W of pump; a larger panel, another"
            " --pump-voltage, or less --lift."]


def _no_clamp(values) -> list[str]:
    if "generator.clamp_voltage_V" in values:
        return []
    return [f"Lamps of {values['lamps.threshold_voltage_V']:.4g} V ask for a generator whose clamp"
            " no monitor and no part here stands; a lower --lamp-voltage."]


def _no_light(values) -> list[str]:
    watts, least_W = max(values["lamps.steps_W"]), machines.least_light_W(values)
    if watts <= least_W * LAMP_SLACK:
        return []
    lost = lost_frac(values)
    pipe = (f"; penstock and valve take {100 * lost:.0f} % of it, less with a wider"
            " --penstock-bore" if lost > MOST_LOST else "")
    head_m = values["upper.base_height_m"]
    return [f"Light of {watts:.3g} W is out of reach: with {head_m:.4g} m of head at most"
            f" {least_W:.3g} W come near an empty tank{pipe}; dimmer --steps or more --head."]


def lost_frac(values: Mapping[str, Any]) -> float:
    """Return the share of the lowest head that does not reach the nozzle [-], valve open."""
    head_m = governing.lowest_head_m(values)
    flow = governing.turbine_set(values).steady(1.0, head_m)[0]
    area_m2 = math.pi / 4 * values["turbine.nozzle_diameter_m"] ** 2
    jet_m_s = flow / area_m2 / values["turbine.nozzle_coefficient"]
    return 1.0 - jet_m_s ** 2 / (2 * of_rig.water(values)[2] * head_m)

