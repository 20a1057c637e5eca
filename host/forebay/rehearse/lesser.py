"""The catalogue of faults on a rig with less: which faults it can have, what acts first, when.

Where the catalogue's own element is there, its row holds, unless something that stands in
for others may be sooner.  Where it is not, an element of `INSTEAD` has the word, or nothing.
"""

from collections.abc import Callable
from typing import NamedTuple

from forebay.twin import effects, faults
from keeper import channels as ch
from keeper import settings as st
from keeper.protection.elements import number
from keeper.protection.judging import judges
from keeper.protection.standing_in import WINDOW_S

# Faults of an instrument that `effects` does not name by its channel.
_OF = {
    "upper-float-chatters": (ch.C_71H_UP,), "meter-up-stopped": (ch.FLOW_UP,),
    "meter-up-slow": (ch.FLOW_UP,), "meter-up-noise": (ch.FLOW_UP,),
    "meter-down-stopped": (ch.FLOW_DOWN,), "meter-down-slow": (ch.FLOW_DOWN,),
    "meter-down-noise": (ch.FLOW_DOWN,), "thermometers-swapped": (ch.MOTOR_MDEGC, ch.WATER_MDEGC),
    "lamp-current-low": (ch.LAMP_MA,), "pump-current-high": (ch.PUMP_MA,),
    "generator-current-high": (ch.GENERATOR_MA,), "level-stuck": (ch.LEVEL_MM,),
    "level-offset": (ch.LEVEL_MM,), "valve-reads-high": (ch.VALVE_PERMILLE,),
    "valve-reads-far": (ch.VALVE_PERMILLE,), "valve-wiper-stuck": (ch.VALVE_PERMILLE,),
    "motor-sensor-loose": (ch.MOTOR_MDEGC,), "over-full-loop-shorted": (ch.C_71HH_UP,),
    "over-full-loop-cut": (ch.C_71HH_UP,),
    # Who does not read the coldest pipe drains it before the winter.
    "frost": (ch.WATER_MDEGC,),
}
LAGS = 3.0           # lags of a sensor after which it shows all but a twentieth
SETTLES_S = 30.0     # in which the governor opens as far as the valve goes; a guess
SLOW_S = 2.0         # as in the catalogue: what is looked at once a second


class Instead(NamedTuple):
    """An element that may be the first for a fault, its longest time to act [s], and why.

    unless: readings with any of which the run ends before, or the other element sees it;
    sooner: it may act first though the catalogue's element is there.
    """

    element: str
    within_s: Callable       # of (rig, settings)
    why: str
    unless: tuple = ()
    sooner: bool = False


def _ms(settings, name):
    return settings[st.index(name)] / 1000.0


def _stalls_s(rig, _):
    """A minute of readings, the thermometer's lag, the delay."""
    return WINDOW_S + LAGS * rig["motor.sensor_lag_s"] + 3.0 + SLOW_S


def _spent_s(rig, settings):
    return _ms(settings, "no_volts_delay_ms") + SETTLES_S + rig["valve.travel_s"]


def _lit_s(_, settings):
    """From the valve's being open by itself on; `effects.CREEP_S` until it is."""
    return effects.CREEP_S + _ms(settings, "shut_dark_ms") + SLOW_S


def _warm_s(rig, _):
    """30 s from the limit on; before it, until a motor of no cooling has come there."""
    return 30.0 + SLOW_S + 4 * rig["motor.still_resistance_K_W"] * rig["motor.heat_capacity_J_K"]


def _dark_s(rig, settings):
    """From the water's end on; before it, until the tank has run out."""
    return 86400.0 + _spent_s(rig, settings)


def _lost_s(*_):
    return faults.READING_S


def _drops_s(*_):
    return faults.DROPS_S


_WARM = Instead("26-PMP", _warm_s, "it warms beyond a motor that is cooled, if the air is warm",
                (ch.FLOW_UP,))
_DRY = Instead("71L-PMP", lambda rig, settings: 8.0, "it draws too little")
_STANDS = Instead("14-HOT", _stalls_s, "all that the sun gives warms it", (ch.FLOW_UP,))
_LIT = Instead("33-LIT", _lit_s, "the turbine turns though the valve is told shut")
_SPENT = Instead("71L-LMP", _spent_s, "the lamps are dark, whatever the cause")
_NO_VOLTS = Instead("37-GEN", _spent_s, "the valve is told open and no volts come",
                    (ch.FLOW_DOWN,))
_NO_FLOW = Instead("80-VLV", _spent_s, "the valve is open and no flow is metered")
_SHUT = Instead("48-SHT", _lit_s, "water is metered at a shut valve, and volts bear it out")
# A valve that is told open and is not, or not in time: nothing reads where it stands.
_NOT_OPEN = (_SPENT, _NO_VOLTS, _NO_FLOW)

# In the place of the catalogue's element, or sooner than it.
INSTEAD = {
    "upper-float-stuck": (Instead(
        "71HH-UP", lambda rig, settings: 3600.0, "the next float, where the board reads it"),),
    "low-float-stuck": (Instead("80-VLV", _dark_s, "no water comes", (ch.LEVEL_MM,)),
                        Instead("37-GEN", _dark_s, "no volts come", (ch.LEVEL_MM,))),
    "lower-tank-dry": (_DRY, _WARM), "lower-float-stuck": (_DRY, _WARM),
    "air-in-pump": (_DRY, _WARM),
    "strainer-blocked": (_WARM,), "foot-valve-stuck": (_WARM,),
    "jacket-blocked": (_WARM._replace(sooner=True), Instead(
        "49-MOT", _warm_s, "by the thermal model, if it is so warm", (ch.MOTOR_MDEGC,))),
    "bearing-stiff": (Instead("14-HOT", _stalls_s, "its losses are those of several motors"),
                      Instead("26-MOT", _warm_s, "and make it hot"),
                      _WARM._replace(sooner=True),
                      Instead("14-PMP", lambda rig, settings: 300.0, "it may stand")),
    "rotor-stalled": (_STANDS, _WARM, Instead("26-MOT", _warm_s, "it gets hot", (ch.FLOW_UP,)),
                      Instead("49-MOT", _warm_s, "by its current", (ch.PANEL_MV, ch.FLOW_UP))),
    "pump-switch-welded": (Instead(
        "3-HOT", lambda rig, settings: 86400.0, "if it stands: a cooled motor keeps its warmth"),
        *[Instead(one, lambda rig, settings: 86400.0, "it fills the tank", (ch.PUMP_MA,))
          for one in ("71H-UP", "71H-LVL", "71HH-UP")]),
    "tank-leaks": (Instead("71D-FLT", lambda rig, settings: 1800.0, "the full float falls"),),
    "main-siphons": (Instead("71D-FLT", lambda rig, settings: 1800.0, "the full float falls"),),
    "generator-lead-open": (_SPENT._replace(sooner=True),),
    # Stuck shut, and the next light is asked for: found by random days.
    "valve-stuck": (_LIT, _SHUT, *_NOT_OPEN), "valve-slow": (_LIT, _SHUT, Instead(
        "80-SHT", _lit_s, "the same, whoever bears it out", (ch.VALVE_PERMILLE,)), *_NOT_OPEN),
    # 71D-FLT: found by a run; what goes down the open valve lets the float fall early.
    "valve-creeps": (_LIT, _SHUT), "valve-drifts": (_LIT, _SHUT, Instead(
        "71D-FLT", lambda rig, settings: 1800.0, "the full float falls")), "seat-leaks": (_LIT,),
    # Found by a run: without another float the hardware's ends the filling, and nobody reads it.
    "level-stuck": (Instead("37-LED", lambda rig, settings: 86400.0,
                            "LSHH-UP breaks the pump's supply", (ch.C_71H_UP, ch.C_71HH_UP)),),
    "hand-valve-shut": (_SPENT, _NO_VOLTS),
    # 33-LIT: found by the first run; stuck in the light it seems to go on at a shut valve.
    "generator-voltage-stuck": (
        *[one._replace(sooner=True) for one in (_SPENT, _NO_FLOW, _LIT)],),
    # Found by the first run: what else one monitor reads where another is absent, and a stop
    # that the board does not see.
    "lamp-monitor-lost": (Instead("3-GEN", _lost_s, "it reads the node's voltage, too",
                                  (ch.GENERATOR_MA,), True),),
    "lamp-monitor-drops": (Instead("3-GEN", _drops_s, "likewise", (ch.GENERATOR_MA,), True),),
    "pump-monitor-drops": (Instead("3-PAN", _drops_s, "likewise", (ch.PANEL_MA,), True),),
    "stop-pressed": (_SPENT._replace(unless=(ch.C_STOP,)),
                     _NO_VOLTS._replace(unless=(ch.C_STOP, ch.FLOW_DOWN)),
                     _NO_FLOW._replace(unless=(ch.C_STOP,)),
                     Instead("48-VLV", _spent_s, "the hardware drives it", (ch.C_STOP,))),
}


class Expected(NamedTuple):
    """What a fault must bring about on a rig: ids of which one acts first, "" = or none."""

    firsts: tuple
    within_s: float


def readings_of(name):
    """Return the places that a rig must read to have a fault [tuple]; () = any rig may."""
    if name in _OF:
        return _OF[name]
    if name in effects.LOST:
        return (effects.LOST[name],)
    if name in effects.WIRED:
        return (effects.WIRED[name][1],)
    return tuple([place for place, _ in effects.READS.get(name, ())])


def has(name, fitted):
    """Return whether a rig can have a fault [bool]; fitted: bits, as the setting."""
    return all(fitted >> place & 1 for place in readings_of(name))


def is_there(element, fitted):
    """Return whether a rig has an element [bool], by its id."""
    return judges(number(element) - 1, fitted)


def expected(name, rig, settings):
    """Return what acts first for a fault on a rig with these settings [Expected].

    rig: dict "section.key_unit"; settings: list in table order.
    """
    fitted = settings[st.index("fitted")]
    row = faults.row_of(name)
    first, within_s = str(row[faults.F_FIRST]), float(row[faults.F_WITHIN_S])
    firsts = [first] if first and is_there(first, fitted) else [""]
    within_s = within_s if firsts[0] else 0.0
    for one in INSTEAD.get(name, ()):
        if firsts[0] and not one.sooner or one.element in firsts or fitted == ch.ALL_FITTED:
            continue
        if is_there(one.element, fitted) and not any(
                fitted >> place & 1 for place in one.unless):
            firsts.append(one.element)
            within_s = max(within_s, one.within_s(rig, settings))
    return Expected(tuple(firsts), within_s)


class Beside(NamedTuple):
    """One fault: the full set's first element and longest time [s], and a rig's own.

    firsts: ids, any of which may be the first, () = none: what hardware and people do remains.
    is_sure: one of them acts whatever the weather and the state of the tank.
    """

    fault: str
    full_first: str
    full_s: float
    firsts: tuple
    within_s: float
    is_sure: bool


def beside(rig, settings):
    """Return, for each fault that a rig can have and the full set sees, both [list of Beside].

    rig: dict "section.key_unit"; settings: list in table order.
    """
    fitted = settings[st.index("fitted")]
    found = []
    for row in faults.FAULTS:
        name = row[faults.F_NAME]
        if row[faults.F_FIRST] and has(name, fitted):
            own = expected(name, rig, settings)
            firsts = tuple([one for one in own.firsts if one])
            found.append(Beside(str(name), str(row[faults.F_FIRST]),
                                float(row[faults.F_WITHIN_S]), firsts,
                                own.within_s, "" not in own.firsts))
    return found
