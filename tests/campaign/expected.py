"""What each fault of the catalogue must bring about, beyond the catalogue's own columns.

`SCENES`: what its case needs besides the mode; `SINCE`: the truth from which
the time to act counts; `BLINDS`: the permissive that the fault itself hides;
`ELSEWHERE`: what else may act first in other states; `FOLLOWS`: what may act
later in a day, why, and within which time; `GOES_ON`: with which faults the rig
must go on as if there were none.
"""

from __future__ import annotations

from typing import NamedTuple

from forebay.twin import faults
from keeper import modes
from keeper import settings as st
from keeper.channels import SUPPLY_MV
from keeper.operation import orders

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


# An instrument that a rig may lack, and the faults that it must then be spared: what it
# would show, and its own.
SEEN_BY = {
    "sensors.water_temperature": ("frost", "water-sensor-lost", "water-sensor-garbled",
                                  "water-sensor-stuck"),
    "sensors.level": ("level-sensor-open", "level-sensor-short", "level-stuck", "level-offset"),
    "sensors.valve_position": ("valve-sensor-open",),
}


def of_rig(rig) -> tuple:
    """Returns the faults that a rig [dict "section.key_unit"] can show."""
    spared = {name for key, names in SEEN_BY.items() if rig[key] == "absent" for name in names}
    return tuple(name for name in NAMES if name not in spared)


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
HOUR_S = 3600.0               # in which a light that comes and goes must come to rest
ROOM = {"lower.start_volume_m3": 0.7}    # for an hour's water of the turbine
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
    # Wide open it reads 103 %, and shut anew it learns.
    "valve-reads-high": Scene(after=((orders.DRAIN_DOWN, 1, 1),), watch_s=300.0),
    "valve-reads-far": Scene(then=("33-SHT",)),
    "valve-slow": Scene(after=((orders.REST, 60, 0),)),
    "frost": Scene(then=("23-WTR",), watch_s=7200.0),
    "jacket-blocked": Scene({"upper.start_volume_m3": 0.06}),
    "bearing-stiff": Scene({"upper.start_volume_m3": 0.06}, 1000.0),
    "pump-current-high": Scene({"upper.start_volume_m3": 0.06}),
    "motor-sensor-loose": Scene({"upper.start_volume_m3": 0.06}, watch_s=300.0),
    "thermometers-swapped": Scene({"upper.start_volume_m3": 0.06}, watch_s=LOCKS_S),
    "strainer-half-clogged": Scene({"upper.start_volume_m3": 0.06}, watch_s=LOCKS_S),
    "meter-down-noise": Scene(watch_s=1800.0),
    # A tank so full gives more than the generator is rated for.
    "lamp-current-low": Scene({"upper.start_volume_m3": 0.9}, then=("32-GEN",), watch_s=600.0),
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
    "low-float-loose": Scene(ROOM, watch_s=HOUR_S),
    "lower-full-loose": Scene(ROOM, watch_s=HOUR_S),
    "lamp-monitor-drops": Scene(watch_s=HOUR_S),
    "panel-monitor-drops": Scene(then=("3-PNA",)),
    "generator-monitor-drops": Scene(then=("3-GNA",), watch_s=HOUR_S),
    "supply-monitor-drops": Scene(then=("3-SPA",)),
    "motor-sensor-garbled": Scene(watch_s=300.0),
    "pump-current-stuck": Scene(after=((orders.PUMP_ALLOWED, 0, 60),)),
    "generator-voltage-stuck": Scene(after=((orders.LIGHT, 600, 60),)),
    "lamp-current-stuck": Scene(after=((orders.LIGHT, 600, 60),)),
    "meter-down-slow": Scene(ROOM),
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
        twin.plant.motor.felt_degC * 1000
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
    "foot-valve-stuck": lambda twin: bool(twin.plant.pump_commanded),
    "pump-current-stuck": lambda twin: not twin.plant.pump_commanded,
    "load-lost": lambda twin: (
        twin.plant.down.generator_V * 1000 > twin.settings[st.index("generator_trip_mV")]),
}

# The permissive of a start that is false in truth and reads true: no start can tell.
BLINDS = {
    "low-float-stuck": ("upper dry",),      # 71L-UP stays wet
    "lower-float-stuck": ("lower dry",),    # 71L-LO stays wet
    "valve-sensor-open": ("valve open",),   # 3-VLV holds both off instead
    "supply-monitor-lost": ("supply low",),  # 3-SUP holds both off instead
    "water-sensor-lost": ("freezing",),     # 3-WTR holds both off instead
    "motor-sensor-stuck": ("motor hot",),   # 49-MOT and the thermostat go on
    "motor-sensor-loose": ("motor hot",),
    # 3-THM finds it in a run; until then each limit looks at the other one.
    "thermometers-swapped": ("motor hot", "freezing"),
    "water-sensor-stuck": ("freezing",),
    "supply-voltage-stuck": ("supply low",),
}

# In a trial start a missing flow is 48-PMP's, in pump mode 80-PMP's; an opening
# valve is 33-VLV's while the pump runs.
ELSEWHERE: dict[str, tuple[str, ...]] = {
    "strainer-blocked": ("48-PMP",),
    "meter-up-stopped": ("48-PMP",),
    "foot-valve-stuck": ("80-PMP",),
    "valve-creeps": ("33-VLV",),
    "valve-drifts": ("48-VLV",),
    # 9 % open while the pump runs is 33-VLV's, within a second.
    "valve-reads-far": ("33-VLV",),
    # Stuck on its way, or in the shut place at the next light, it is not where it is told.
    "valve-wiper-stuck": ("48-VLV",),
    # In a trial start, and in weak sun, so little flow is not surely one.
    "strainer-half-clogged": ("48-PMP", "80-PMP"),
    # Stuck while it rests, the current of the next run is missing.
    "pump-current-stuck": ("37-PMP", "37-LED"),
}

# Only noted, or seen by nobody yet: pump and light go on. Not so with meter-up-slow: 40 % of
# a useful flow is too little for its power, and 80-LOW, which cannot tell a meter from a
# strainer, trips and in the end locks out; found by a random day.
GOES_ON = frozenset((
    "panel-current-clipped", "generator-current-clipped", "supply-current-clipped",
    "level-sensor-open", "level-sensor-short", "clamp-lost", "motor-sensor-stuck",
    "button-stuck", "meter-up-noise", "meter-down-noise", "motor-sensor-garbled",
    "water-sensor-garbled", "panel-current-stuck", "generator-current-stuck",
    "supply-voltage-stuck", "supply-current-stuck", "water-sensor-stuck"))


class Follower(NamedTuple):
    """What may act later in a day, beside a fault's first element."""

    element: str
    within_s: float      # of the fault, of the last start or end of a side, or of the last
                         # element that acted for this fault
    why: str


TRIAL_S = 25.0           # a trial start, the flow's window and a second
DAYLIGHT_S = 57600.0     # the longest of the campaign's days: a run may last so long
FALLS_S = 900.0          # 20 mm of a square metre by more than 25 mL/s, and its mean
# As the catalogue's row of a leak on rigs with less: a drum's float falls by 15 mm.
FLOAT_FALLS_S = 1800.0
# 25 mm of 3-VOL by 20 mL/s: of the widest tanks that are drawn, 6 square metres.
SEEPS_S = 7500.0
NIGHT_S = 57600.0        # the longest night: as long as water runs down

# Each with the reason from physics.
FOLLOWS: dict[str, tuple[Follower, ...]] = {
    "valve-creeps": (
        Follower("33-SHT", 120.0, "it reads open, however often it is pressed shut"),
        Follower("48-SHT", 120.0, "what passes a valve that is told to be shut is metered"),
        Follower("80-SHT", 120.0, "the same, whoever bears it out"),
        Follower("71D-UP", FALLS_S, "and the level falls at standstill"),
        Follower("71D-FLT", FLOAT_FALLS_S, "or a full float does, where no level is read")),
    "valve-drifts": (
        Follower("33-SHT", 120.0, "it reads open, however often it is pressed shut"),
        Follower("48-SHT", 120.0, "what passes a valve that is told to be shut is metered"),
        Follower("80-SHT", 120.0, "the same, whoever bears it out"),
        Follower("71D-UP", FALLS_S, "and the level falls at standstill")),
    "valve-slow": (
        Follower("33-SHT", 120.0, "told shut it is still on its way, longer than it is pressed"),),
    "valve-wiper-stuck": (
        Follower("33-SHT", 120.0, "stuck on its way it never reads shut again"),),
    "valve-stuck": (
        Follower("33-SHT", 120.0, "stuck open it never reads shut, however often it is pressed"),
        Follower("80-SHT", DAYLIGHT_S, "the same, whoever bears it out"),
        Follower("48-SHT", DAYLIGHT_S, "in maintenance water runs though the valve is told shut"),
        Follower("80-VLV", NIGHT_S, "a valve stuck nearly shut passes no flow that is seen")),
    "seat-leaks": (
        Follower("80-SHT", 120.0, "what passes the shut valve is metered, whoever bears it out; so"
                 " little comes in single pulses, and its delay runs back between them"),
        Follower("71D-UP", SEEPS_S, "the level falls by 20 mL/s at standstill"),
        Follower("71D-FLT", FLOAT_FALLS_S, "or a full float does, where no level is read"),
        Follower("3-VOL", NIGHT_S, "so small a flow is metered too low: the level falls more")),
    "tank-leaks": (
        Follower("3-VOL", NIGHT_S, "no meter sees what leaks, the level does"),),
    "main-siphons": (
        Follower("3-VOL", NIGHT_S, "the meter of the rising main does not count backwards"),),
    "bearing-stiff": (
        Follower("14-PMP", TRIAL_S, "in weak sun the motor stands under its current"),
        Follower("48-PMP", TRIAL_S, "in weak sun it turns too slowly to lift, and takes power"),
        Follower("80-PMP", DAYLIGHT_S, "the same when the sun sinks while it runs"),
        Follower("80-LOW", DAYLIGHT_S, "and a little more sun lifts little for its power"),
        Follower("26-MOT", DAYLIGHT_S, "a motor that stands or lifts nothing is not cooled")),
    # 14-PMP since trials begin at 23.5 V and not 26: in the weaker sun the motor turns slower.
    "pump-current-high": (
        Follower("14-PMP", TRIAL_S, "four times the current is that of a standing motor, in a"
                 " sun that hardly turns it"),
        Follower("48-PMP", TRIAL_S, "four times the power seems enough to lift, in weak sun"),
        Follower("80-PMP", DAYLIGHT_S, "the same when the sun sinks while it runs"),
        Follower("80-LOW", DAYLIGHT_S, "four times the power seems to lift little, in weak sun"),
        # Found by a random rig whose pump is large for its monitor.
        Follower("3-PMP", DAYLIGHT_S, "four times the current of a motor that starts or works may"
                 " be more than its monitor reads")),
    "meter-up-slow": (
        Follower("80-LOW", DAYLIGHT_S, "40 % of a useful flow reads as too little for its power"),
        Follower("80-PMP", DAYLIGHT_S, "and as none that is sure, in weaker sun"),
        Follower("48-PMP", DAYLIGHT_S, "the same in a trial start")),
    "lamp-current-zero": (
        Follower("3-AMP", NIGHT_S, "the generator gives what the lamps do not seem to take"),
        Follower("32-GEN", NIGHT_S, "and the governor opens further, beyond the rating")),
    "meter-down-noise": (
        Follower("3-VOL", NIGHT_S, "40 L an hour that nobody let down"),),
    "meter-up-noise": (
        Follower("3-VOL", DAYLIGHT_S, "40 L an hour that nobody lifted"),),
    "upper-float-stuck": (
        # Found by a random day of a rig with less.
        Follower("71D-FLT", FLOAT_FALLS_S, "stuck while it was up it seems to fall as in a leak"),
        Follower("71HH-UP", DAYLIGHT_S, "the level's error and mean reach up to the next float"),),
    "pump-switch-welded": (
        Follower("71HH-UP", DAYLIGHT_S, "it runs on to the float in its own supply"),),
    "load-lost": (
        Follower("37-LMP", NIGHT_S, "a low jet turns the wheel below 59-GEN, and no lamp draws"),),
    "level-offset": (
        Follower("71H-LVL", DAYLIGHT_S, "the level reads full 80 mm early"),),
    "upper-float-loose": (
        Follower("66-PMP", DAYLIGHT_S, "each opening ends a run, and another start is counted"),),
    "lower-float-loose": (
        Follower("66-PMP", DAYLIGHT_S, "each opening ends a run, and another start is counted"),),
    "panel-monitor-drops": (
        Follower("66-PMP", DAYLIGHT_S, "each loss ends a run, and another start is counted"),),
    "pump-monitor-drops": (
        Follower("66-PMP", DAYLIGHT_S, "each loss ends a run, and another start is counted"),),
    "panel-voltage-stuck": (
        Follower("37-PMP", DAYLIGHT_S + NIGHT_S, "the voltage that is read demands a current that"
                 " a weaker sun does not give"),
        Follower("48-PMP", TRIAL_S, "the voltage that is read makes power enough to lift"),
        Follower("80-PMP", DAYLIGHT_S, "the same when the sun sinks while it runs")),
    "pump-current-stuck": (
        Follower("14-PMP", DAYLIGHT_S, "volts fall with the sun, and the current seems to stay"),
        Follower("80-PMP", DAYLIGHT_S, "the current that is read makes power enough to lift")),
    "generator-voltage-stuck": (
        Follower("37-LMP", NIGHT_S, "volts are read though the wheel stands, and no lamp draws"),),
    # In a small tank, found by a random rig: until the trips lock out, and in a drain.
    "meter-down-stopped": (
        Follower("3-VOL", NIGHT_S, "what comes down is not metered, and the level falls"),),
    # A flow below the meter's floor counts as none.
    "meter-down-slow": (
        Follower("3-VOL", NIGHT_S, "what is not metered comes down, and the level falls"),),
    "meter-up-stopped": (
        Follower("3-VOL", DAYLIGHT_S, "what goes up is not metered, and the level rises"),),
    # Found by random rigs: with a large generator, and with one whose winding has few ohms, so
    # that twenty times the drop in it is no speed that 12-GEN acts at.
    "generator-current-high": (
        Follower("3-AMP", NIGHT_S, "the lamps' meter sees a twentieth of it"),
        Follower("32-GEN", NIGHT_S, "at a twentieth of the light it reads as the rated power"),
        Follower("3-GNA", NIGHT_S, "twenty times its current is more than any monitor reads"),),
    "generator-current-stuck": (
        Follower("3-AMP", NIGHT_S, "stuck in one light it disagrees with the lamps' of another"),),
    "lamp-current-stuck": (
        Follower("3-AMP", NIGHT_S, "the generator's meter sees the current that the lamps' does"
                 " not"),),
    "supply-voltage-stuck": (
        Follower("27-SUP", DAYLIGHT_S + NIGHT_S, "it may have been low when it stuck"),),
}


def followers(name):
    """Returns what may act for a fault: element -> longest time [s] after the last change."""
    scene = SCENES.get(name, Scene())
    always = {one: DAYLIGHT_S + NIGHT_S
              for one in (first_of(name), *scene.then, *ELSEWHERE.get(name, ())) if one}
    return {**always, **{one.element: one.within_s for one in FOLLOWS.get(name, ())}}
