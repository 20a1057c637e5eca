"""What a record means for the coming day: what stays off until when, how long the water lasts.

And what a light or a pumping that was held off would have been, by the same water and sun.
The light's figures are the description's, as those of the plan.
"""

from collections.abc import Iterable

import numpy as np

from forebay.balance.covered import row_seconds
from forebay.plan.light import held
from forebay.review.causes import L_PER_M3, OF_VALVE, level_at_end_m, valve_open
from forebay.review.finding import S_PER_H, Record
from forebay.words.protection import ELEMENTS
from keeper import channels as ch
from keeper import modes
from keeper.physics import of_rig
from keeper.protection import elements

FULL = frozenset(("71H-UP", "71H-LVL"))
EMPTY = frozenset(("71L-UP", "71L-LVL", "71L-LMP"))
SIDES = ((elements.BOTH, "Pump and light stay"), (elements.PUMP, "The pump stays"),
         (elements.TURBINE, "The light stays"))
LEAST_H = 0.05          # of light that is worth a word (a guess)
LEAST_L = 5.0           # of water likewise (a guess)
SHUT_BY_HAND = "until somebody has shut the hand valve and freed the valve"


def coming(record: Record, belied: frozenset[int] = frozenset()) -> str:
    """Return what the record means for the coming day, in sentences; "" if it tells nothing.

    belied: numbers of the elements whose float the level contradicts.
    """
    said = [*_off(record, belied), _water(record)]
    return " ".join(one for one in said if one)


def small(name: str) -> str:
    """Return a name as it stands within a sentence."""
    return name[0].lower() + name[1:]


def _off(record, belied):
    """Yield what stays off, and until when."""
    if record.standing.lockout:
        yield ("Pump and light stay off until a person resets the lockout at the rig: till then"
               " no sun lifts water, and no evening has light.")
        return
    if next(iter(valve_open(record)), None):
        yield f"What is lifted runs down again {SHUT_BY_HAND}."
    acting = [one for one in record.standing.acted.values() if one.acts_now and one.number in
              ELEMENTS and _row(one)[elements.E_ACTION] >= elements.INHIBIT
              and ELEMENTS[one.number].id not in OF_VALVE]
    for target, stay in SIDES:
        mine = [one.number for one in acting if _row(one)[elements.E_TARGET] == target]
        daily = {ELEMENTS[one].id for one in mine if one not in belied} & (FULL | EMPTY)
        yield from _until(stay, daily, [ELEMENTS[one] for one in mine
                                        if ELEMENTS[one].id not in daily])


def _until(stay, ids, others):
    """Yield until when a side stays off, by ids of daily work and by other elements."""
    if ids & FULL:
        yield "The tank is full: the pump waits until light has let water down."
    if ids & EMPTY:
        yield "There is no light until the pump has lifted water again."
    if others:
        plain = ", and ".join(small(one.plain.partition(":")[0]) for one in others)
        codes = ", ".join(one.id for one in others)
        yield f"{stay} off until this is over: {plain} ({codes})."


def _row(one):
    return elements.ELEMENTS[one.number - 1]


def _water(record):
    """Return for how long the water above is enough, at the light that is set; "" if unknown."""
    hours = light_h(record)
    if hours is None:
        return ""
    power_W = planned_W(record)
    if hours < LEAST_H:
        return f"The water above is not enough for light at {power_W:.2f} W."
    return (f"The water above is enough for about {hours:.1f} h of light at {power_W:.2f} W, by"
            " the rig's figures.")


def planned_W(record: Record) -> float:
    """Return the light that is set [W]: as last planned, else as described; 0 if none is."""
    plans = record.standing.plans
    return plans[-1].power_mW / 1e3 if plans else record.set_power_W


def light_h(record: Record, level_m: float | None = None) -> float | None:
    """Return for how long the water at a level [m], None = at the end, holds the light [h].

    None where no level or light is known, or not even a full tank gives that light.
    """
    level_m = level_at_end_m(record) if level_m is None else level_m
    power_W = planned_W(record)
    if not np.isfinite(level_m) or not power_W:
        return None
    found = held(record.plant, power_W)
    if found is None:
        return None
    tank = of_rig.tank(record.plant, "upper.")
    litres = tank.volume_m3(min(max(level_m, 0.0), tank.height_m)) - found.ends_at_m3
    return max(litres, 0.0) / found.flow_m3_s / S_PER_H


def light_lost(record: Record) -> str:
    """Return how much light the water that was left would have given, in a sentence; or ""."""
    hours = light_h(record)
    if hours is None or hours < LEAST_H:
        return ""
    return (f" The water that was left would have given about {hours:.1f} h at"
            f" {planned_W(record):.2f} W.")


def pumping_lost(record: Record, spans: Iterable[tuple[float, float]]) -> str:
    """Return how much was not lifted in spans [s since 1970 UTC] with sun; "" if not known.

    As much as the same day's mean while it pumped, and no more: an unloaded panel shows its
    volts in weak sun as well.
    """
    rows = record.rows
    seconds, flow = row_seconds(rows), rows.si(ch.FLOW_UP)
    sunny = rows.si(ch.PANEL_MV) > record.plant["limits.start_voltage_V"]
    off = np.zeros(len(rows), bool)
    for begin_s, end_s in spans:
        off |= (record.when_s > begin_s) & (record.when_s <= end_s)
    off_s = float(seconds[off & sunny].sum())
    pumped = (rows.state == modes.PUMPING) & np.isfinite(flow)
    if not pumped.any() or off_s <= 0:
        return ""
    mean_L_s = float(np.average(flow[pumped], weights=seconds[pumped])) * L_PER_M3
    if mean_L_s * off_s < LEAST_L:
        return ""
    lifted = record.balance.water.get("up")
    beside = f", beside the {lifted.value:.0f} L that were" if lifted else ""
    return (f" In sun it was off for {off_s / S_PER_H:.1f} h: at most about"
            f" {mean_L_s * off_s:.0f} L were not lifted{beside}.")

