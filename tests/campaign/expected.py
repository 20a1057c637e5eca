"""What each fault of the catalogue must bring about, beyond the catalogue's own columns.

`SCENES`: what its case needs besides the mode; `SINCE`: the truth from which
the time to act counts; `BLINDS`: the permissive that the fault itself hides;
`ELSEWHERE`: what else may act first in other states; `REVIEWED`: hazards that
no firmware can avert, with what remains.
"""

from __future__ import annotations

from typing import NamedTuple

from forebay.twin import faults
from keeper import modes, orders
from keeper import settings as st
from keeper.channels import SUPPLY_MV

STATE_OF = {modes.PUMP_MODE: modes.PUMPING, modes.TURBINE_MODE: modes.RUNNING,
            modes.STANDSTILL_MODE: modes.STANDSTILL, faults.ANY_MODE: modes.STANDSTILL}

NAMES = tuple(str(name) for name in faults.NAMES)


def state_of(name: str) -> int:
    """Returns the state in which the catalogue promises a fault's first element."""
    return STATE_OF[int(faults.row_of(name)[faults.F_MODE])]


def first_of(name: str) -> str:
    """Returns the id of the element that must act first, '' = none."""
    return str(faults.row_of(name)[faults.F_FIRST])


def within_s(name: str) -> float:
    """Returns the longest time to act [s], without a stall."""
    return float(faults.row_of(name)[faults.F_WITHIN_S])


class Scene(NamedTuple):
    """What a case needs besides its state, and what it must show besides its first element."""

    changes: dict = {}        # of the rig
    sun_W_m2: float | None = None
    after: tuple = ()         # orders after the fault: (code, a, b)
    then: tuple = ()          # elements that must act later
    watch_s: float = 60.0     # how long the case is watched after the first element


# A small battery just above the reset of 27-SUP: a flat one would keep all off from the start.
FLAT = {"supply.start_charge_frac": 0.097, "supply.capacity_Ah": 0.1,
        "lower.start_volume_m3": 0.7}
LOCKS_S = 1400.0              # four trips and their waits
SCENES = {
    "upper-float-stuck": Scene({"upper.start_volume_m3": 0.955}),
    "upper-float-chatters": Scene(then=("66-PMP",), watch_s=1800.0),
    "low-float-stuck": Scene({"upper.start_volume_m3": 0.075, "lower.start_volume_m3": 1.2}),
    "lower-tank-floods": Scene({"lower.start_volume_m3": 1.2}),
    "charger-dead": Scene(FLAT),
    "foot-valve-stuck": Scene(after=((orders.PUMP_ALLOWED, 1, 0),)),
    "pump-switch-welded": Scene({"upper.start_volume_m3": 0.970}, watch_s=600.0),
    "valve-stuck": Scene(after=((orders.BRIGHTNESS, 3, 60),)),
    "valve-slow": Scene(after=((orders.REST, 60, 0),)),
    "frost": Scene(then=("23-WTR",), watch_s=7200.0),
    "jacket-blocked": Scene({"upper.start_volume_m3": 0.06}),
    "bearing-stiff": Scene({"upper.start_volume_m3": 0.06}, 1000.0),
    "pump-current-high": Scene({"upper.start_volume_m3": 0.06}),
    "motor-sensor-loose": Scene(watch_s=300.0),
    "motor-sensor-stuck": Scene({"upper.start_volume_m3": 0.06}),
    "meter-up-slow": Scene({"upper.start_volume_m3": 0.06}),
    "rotor-stalled": Scene(watch_s=LOCKS_S),
    "air-in-pump": Scene(watch_s=LOCKS_S),
    "strainer-blocked": Scene(watch_s=LOCKS_S, then=("48-PMP",)),
    "cloud-edge": Scene(watch_s=400.0),
    "power-cut": Scene(watch_s=900.0),
    "panel-lead-open": Scene(watch_s=600.0),
    "generator-lead-open": Scene(watch_s=300.0),
    "clamp-lost": Scene(watch_s=100.0),
    "panel-monitor-lost": Scene(then=("3-PNA",)),
    "generator-monitor-lost": Scene(then=("3-GNA",)),
    "supply-monitor-lost": Scene(then=("3-SPA",)),
}


def _level_is(sign, name, margin_mm):
    def since(twin):
        limit_mm = twin.settings[st.index(name)] + sign * margin_mm
        return sign * (twin.plant.upper.level_m * 1000 - limit_mm) > 0
    return since


def _gap(twin):
    told = twin.keeper.outputs[1] * 0.001
    limit = twin.settings[st.index("valve_gap_permille")] * 0.001
    return abs(twin.plant.down.position - told) > limit


def _supply_low(twin):
    return 0 < twin.keeper.values[SUPPLY_MV] < twin.settings[st.index("supply_low_mV")]


LEVEL_ERROR_MM = 9        # sqrt(3) standard uncertainties of the demo's level sensor
HEAT_ERROR_K = 1.0        # the same of its temperature sensors
# Where no line stands here, the time counts from the fault itself.
SINCE = {
    "upper-float-stuck": _level_is(1, "level_high_mm", -LEVEL_ERROR_MM),
    "low-float-stuck": _level_is(-1, "level_low_mm", -LEVEL_ERROR_MM),
    "lower-tank-floods": lambda twin: twin.plant.lower_full.up,
    "jacket-blocked": lambda twin: (
        twin.plant.felt_degC * 1000
        > twin.settings[st.index("motor_trip_mdegC")] - 1000 * HEAT_ERROR_K),
    "frost": lambda twin: (
        twin.plant.frost.degC * 1000
        < twin.settings[st.index("cold_mdegC")] + 1000 * HEAT_ERROR_K),
    "charger-dead": _supply_low,
    "valve-stuck": _gap,
    "valve-slow": _gap,
    "valve-creeps": _gap,
    "valve-drifts": lambda twin: (
        twin.plant.down.position * 1000 > twin.settings[st.index("valve_open_permille")]),
    "foot-valve-stuck": lambda twin: bool(twin.plant.pump_wanted),
    "load-lost": lambda twin: (
        twin.plant.down.generator_V * 1000 > twin.settings[st.index("generator_trip_mV")]),
}

BLINDS = {
    "upper-float-stuck": (),
    "low-float-stuck": ("upper dry",),
    "lower-float-stuck": ("lower dry",),
    "valve-sensor-open": ("valve open",),
}

# In a trial start a missing flow is 48-PMP's, in pump mode 80-PMP's; an opening
# valve is 33-VLV's while the pump runs.
ELSEWHERE: dict[str, tuple[str, ...]] = {
    "strainer-blocked": ("48-PMP",),
    "meter-up-stopped": ("48-PMP",),
    "foot-valve-stuck": ("80-PMP",),
    "valve-creeps": ("33-VLV",),
    "valve-drifts": ("48-VLV",),
}

NO_SWITCH = "isolator at the panel; thermostat in the pump's supply, once it is hot"
HAND = "clamp for ever, hand valve, and the tank's own end"
REVIEWED = {
    ("pump-switch-welded", "dry"): NO_SWITCH,
    ("pump-switch-welded", "hot"): NO_SWITCH,
    ("valve-stuck", "open"): HAND,
    ("valve-slow", "open"): HAND,
    ("valve-creeps", "open"): HAND,
    ("valve-drifts", "open"): HAND,
}


# What a fault may bring about later in a day, beside its own elements.
FOLLOWS: dict[str, tuple[str, ...]] = {
    # What passes a valve that is told to be shut is seen by the meter and the level.
    "valve-creeps": ("48-SHT", "71D-UP", "48-VLV"),
    "valve-drifts": ("48-SHT", "71D-UP", "33-VLV"),
    "valve-stuck": ("33-VLV", "48-SHT", "71D-UP"),
    "valve-slow": ("33-VLV",),
    "seat-leaks": ("71D-UP", "3-VOL"),
    "tank-leaks": ("3-VOL",),
    "main-siphons": ("3-VOL",),
    # A meter that stands still also disagrees with the level.
    "meter-up-stopped": ("3-VOL",),
    "meter-down-stopped": ("3-VOL",),
    # No flow looks alike in a trial and in pump mode, whatever keeps the water back.
    "strainer-blocked": ("80-PMP",),
    "foot-valve-stuck": ("48-PMP",),
    "rotor-stalled": ("80-PMP", "48-PMP"),
    "lower-float-stuck": ("80-PMP", "48-PMP"),
    "air-in-pump": ("80-PMP", "48-PMP"),
    # The thermostat opens the pump's lead.
    "jacket-blocked": ("37-PMP",),
    # In weak sun a stiff motor does not turn at all.
    "bearing-stiff": ("37-PMP", "26-MOT", "14-PMP", "48-PMP", "80-PMP"),
    # A current that reads too high makes weak sun look like power without flow.
    "pump-current-high": ("48-PMP", "80-PMP"),
    # The next layer, where the first one cannot see.
    "upper-float-stuck": ("71HH-UP",),
    "pump-switch-welded": ("71HH-UP",),
    "low-float-stuck": ("80-VLV",),
    "load-lost": ("37-LMP",),
    "lamp-current-zero": ("59-GEN",),
}


def of_fault(name):
    """Returns the ids of all elements that a fault may make act [set]."""
    scene = SCENES.get(name, Scene())
    return {first_of(name), *scene.then, *ELSEWHERE.get(name, ()),
            *FOLLOWS.get(name, ())}
