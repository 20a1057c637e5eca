"""What the machines of a description must be able to do: start, lift, light, be measured.

Each rule gives (key, what must hold), and takes what nature and the parts give
as the limit, from keeper.physics and the rig's own figures.
"""

from collections.abc import Callable, Iterator, Mapping
from typing import Any

from forebay.rig import governing, instruments, lasting, protecting, surging
from forebay.rig.wired import MONITOR_MOST_V
from keeper.boards import wiring
from keeper.physics import of_rig
from keeper.physics.panel import REFERENCE_W_M2, REFERENCE_degC
from keeper.physics.solar_pump import SolarPump

Faults = Iterator[tuple[str, str]]

# Cells over air: a watt on a square metre warms them by 1 / 25 K in still air.
# Faiman (2008), Progress in Photovoltaics 16, 307-315, as in forebay.sun.plane.
STILL_AIR_W_M2_K = 25.0
# Of what goes up in full sun: a useful flow above it leaves no sun to pump in; a guess.
USEFUL_FRAC = 0.8
# Of what the lowest head gives: up to here the governor's 5 % are promised.
HELD_FRAC = 0.8
L_MIN = 60000.0          # m3/s in L/min
PA_PER_BAR = 1e5
PERMILLE = 1000
_PERCENT = 100


def hottest_cell_degC(values: Mapping[str, Any]) -> float:
    """Return the temperature of the cells [degC] in full sun and the hottest, still air."""
    return values["site.hottest_air_degC"] + REFERENCE_W_M2 / STILL_AIR_W_M2_K


def coldest_open_V(values: Mapping[str, Any]) -> float:
    """Return the open-circuit voltage [V] of the coldest panel, by its nameplate."""
    colder_K = values["site.coldest_cell_degC"] - REFERENCE_degC
    return values["panel.open_circuit_voltage_V"] * (
        1 + values["panel.voltage_temperature_per_K"] * colder_K)


def hottest_open_V(values: Mapping[str, Any]) -> float:
    """Return the voltage [V] of the hottest panel in full sun, with nothing on it."""
    panel = _solar_pump(values)
    panel.shine(REFERENCE_W_M2, hottest_cell_degC(values))
    return panel.rest_V(0.0)


def longest_lift_m(values: Mapping[str, Any]) -> float:
    """Return the lift [m] when the lower tank is as low as the pump may draw it."""
    lower_m = of_rig.tank(values, "lower.").level_m(values["lower.low_volume_m3"])
    return values["upper.inlet_height_m"] - values["lower.base_height_m"] - lower_m


def least_light_W(values: Mapping[str, Any]) -> float:
    """Return the lamp power [W] that the lowest head gives with the valve fully open."""
    return governing.turbine_set(values).steady(1.0, governing.lowest_head_m(values))[3]


def _solar_pump(values: Mapping[str, Any]) -> SolarPump:
    return SolarPump(*of_rig.solar_pump(values, *of_rig.water(values)))


def _monitored(values) -> Faults:
    if not instruments.any_fitted(values, instruments.SUN):
        return
    cold_V = coldest_open_V(values)
    if cold_V > MONITOR_MOST_V:
        cold = values["site.coldest_cell_degC"]
        yield "panel.open_circuit_voltage", (
            f"opens at {cold_V:.4g} V with cells of {cold:.4g} degC (site.coldest_cell), but "
            f"the panel's monitor stands {MONITOR_MOST_V:.4g} V; take a panel of fewer cells in"
            " series, or do without sensors.panel_meter and sensors.pump_meter")


def _starts(values) -> Faults:
    if not instruments.any_fitted(values, instruments.SUN):
        return
    hot_V = hottest_open_V(values)
    if values["limits.start_voltage_V"] > hot_V:
        yield "limits.start_voltage", (
            f"must be at most {hot_V:.4g} V, what the unloaded panel gives in full sun with cells "
            f"of {hottest_cell_degC(values):.4g} degC (site.hottest_air): it would not start in "
            "heat")


def _lifts(values) -> Faults:
    lift_m, hot = longest_lift_m(values), hottest_cell_degC(values)
    most = _solar_pump(values).steady(REFERENCE_W_M2, hot, lift_m)[0]
    where = f"over the longest lift, {lift_m:.4g} m, in full sun with cells of {hot:.4g} degC"
    if most == 0.0:
        yield "lower.low_volume", (
            f"the pump lifts nothing {where}; raise it, or mend pump or panel")
    elif values["limits.useful_flow_m3_s"] > USEFUL_FRAC * most:
        yield "limits.useful_flow", (
            f"must be at most {USEFUL_FRAC * most * L_MIN:.4g} L/min, {USEFUL_FRAC:.0%} of what "
            f"goes up {where}: it would stand idle in the sun")


def _lit(values) -> Faults:
    least_W, rated_W = least_light_W(values), values["generator.rated_power_W"]
    lamps_A = ((values["generator.trip_voltage_V"] - values["lamps.threshold_voltage_V"])
               / values["lamps.resistance_ohm"])
    limits = (
        (rated_W, "generator.rated_power"),
        (least_W, "what head, nozzle and generator give with the upper tank at empty_volume"),
        (values["generator.trip_voltage_V"] * lamps_A,
         "at which the lamps are at generator.trip_voltage"),
    )
    most_W, why = min(limits)
    if max(values["lamps.steps_W"]) > most_W:
        yield "lamps.steps", f"the brightest must be at most {most_W:.4g} W, {why}"


def _held(values) -> Faults:
    dimmest_W = min(values["lamps.steps_W"])
    if governing.travel_frac(values, dimmest_W, governing.highest_head_m(values)) <= 0.0:
        yield "valve.flow_coefficient", (
            f"lets more through than a light of {dimmest_W:.4g} W needs as soon as it leaves its "
            "seat; take a smaller valve")
        return
    held, power_W = max((governing.held_frac(values, power_W), power_W)
                        for power_W in values["lamps.steps_W"])
    if held > governing.REFUSED_FRAC:
        least_s = values["valve.travel_s"] * held / governing.REFUSED_FRAC
        yield "valve.travel", (
            f"must be at least {least_s:.3g} s, so that a light of {power_W:.4g} W is held within "
            f"{governing.REFUSED_FRAC:.0%}: valve.least_pulse moves it too far; or take a smaller "
            "valve, or leave that light out of lamps.steps")


def _seen(values) -> Faults:
    if not instruments.is_fitted(values, "flow_down"):
        return
    if protecting.valve_sure_permille(values) < PERMILLE:
        return
    if max(values["lamps.steps_W"]) > least_light_W(values):
        return  # told by _lit
    machine, head_m = governing.turbine_set(values), governing.lowest_head_m(values)
    least = (machine.steady(1.0 - protecting.VALVE_GAP_FRAC, head_m)[0]
             / protecting.SEEN_FLOW_PART)
    yield "sensors.flow_floor", (
        f"must be below {least * L_MIN:.4g} L/min, so that the meter surely sees what the valve "
        "lets through at the lowest head: 80-VLV could never act; take a finer meter")


def _stands(values) -> Faults:
    rated_bar = values["penstock.pressure_rating_Pa"] / PA_PER_BAR
    still_bar = surging.weight_N_m3(values) * surging.standing_m(values) / PA_PER_BAR
    if rated_bar <= still_bar:
        yield "penstock.pressure_rating", (
            f"must be above the pressure of a standing, full tank, {still_bar:.4g} bar")
        return
    safe = surging.safe_rate_per_s(values)
    if safe is None:
        return
    own = 1 / values["valve.travel_s"]
    rate = min(own, values["limits.valve_rate_per_s"])  # no valve is faster than itself
    rated = f"within penstock.pressure_rating, {rated_bar:.4g} bar"
    if rate > safe:
        bar = surging.pressure_Pa(values, rate) / PA_PER_BAR
        yield "limits.valve_rate", (
            f"must be at most {safe * _PERCENT:.4g} %/s, to keep the penstock {rated}: its surge "
            f"would reach {bar:.4g} bar")
    why = _own_way(values)
    if why and own > safe:
        bar = surging.pressure_Pa(values, own) / PA_PER_BAR
        yield "valve.travel", (
            f"must be at least {1 / safe:.4g} s, to keep the penstock {rated}: {why}, and its "
            f"surge would reach {bar:.4g} bar")


def _own_way(values) -> str:
    """Return why the valve may shut at its own speed; "" = it does not."""
    if values["valve.on_power_loss"] == "closes":
        return "it closes by itself without power"
    if (values["board.valve_kind"] == wiring.SERVO
            and not instruments.is_fitted(values, "valve_position")):
        return "a servo without a position reading goes home at its own speed after a power loss"
    return ""


_LIFTING = ("pump", "panel", "motor", "rising_main")
_FALLING = ("turbine", "penstock", "upper", "valve", "generator", "lamps")
# Each rule, and the sections and keys that it rests on.
RULES: tuple[tuple[Callable[[Mapping[str, Any]], Faults], tuple[str, ...]], ...] = (
    (_monitored, ("panel",)),
    (_starts, ("limits.start_voltage", *_LIFTING)),
    (_lifts, (*_LIFTING, "upper", "lower", "limits.useful_flow")),
    (_lit, _FALLING),
    (_held, _FALLING),
    (_seen, (*_FALLING, "sensors.flow_floor")),
    (_stands, (*_FALLING, "limits.valve_rate")),
)


def faults(values: Mapping[str, Any], is_told: Callable[[str], bool]) -> Faults:
    """Yield (key, what must hold) of every rule whose figures are there and sound.

    is_told: whether a key, or one of a section, is at fault already.
    """
    sound = [(rule, rests_on) for rule, rests_on in RULES if not any(map(is_told, rests_on))]
    for rule, rests_on in sound:
        try:
            yield from rule(values)
        except KeyError:
            continue
        except ValueError as error:  # beyond the range of the physics
            yield rests_on[0], f"cannot be worked out: {error}"


def notices(values: Mapping[str, Any]) -> list[str]:
    """Return one line for each thing that is allowed, but promised less than usual."""
    found = lasting.promises(values)
    for power_W in values["lamps.steps_W"]:
        held = governing.held_frac(values, power_W)
        if held > governing.PROMISED_FRAC:
            found.append(f"Light of {power_W:.4g} W (lamps.steps) is held within {held:.1%}: the "
                         "least pulse of its valve moves it no less.")
    held_W, brightest_W = HELD_FRAC * least_light_W(values), max(values["lamps.steps_W"])
    if brightest_W <= held_W:
        return found
    return [*found, f"Light of {brightest_W:.4g} W (lamps.steps) is above {held_W:.4g} W, "
            f"{HELD_FRAC:.0%} of what the lowest head gives: towards an empty tank it may be "
            "missed by more than 5 %."]
