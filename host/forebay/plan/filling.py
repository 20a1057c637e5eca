"""What the pump does by day: where it begins, what it lifts by month, how warm it gets."""

import calendar
import math
from collections.abc import Mapping
from typing import Any

import numpy as np

from forebay.plan import chain, lifting, light, overload
from forebay.plan.answers import Column, Figure, Part, Range, Table
from forebay.plan.lifting import Lifted, Machine
from forebay.plan.skies import SKIES, Days
from forebay.rig import machines
from forebay.sun.window import DEFAULT_AIR_DEGC
from keeper.physics import gravity, of_rig, suction, water
from keeper.physics.panel import REFERENCE_W_M2
from keeper.physics.pipes import velocity_m_s
from keeper.physics.solar_pump import SolarPump
from keeper.physics.solve import rising_root

HOUR_S = 3600.0
BRIGHTEST_W_M2 = 1300.0
ENOUGH_FRAC = 0.02      # of what the panel offers: less than this is no sun unused
GENTLE_deg = 10.0       # of a stretch of hose that falls on its way up; a guess


def month_name(month: int) -> str:
    """Return the short name of a month, 1 to 12."""
    return calendar.month_abbr[month]


def start_sun_W_m2(values: Mapping[str, Any], air_degC: float) -> float | None:
    """Return the sun from which the pump lifts a useful flow [W/m2]; None = none does.

    The cells are as much warmer than the air as in the loader's rule, over the longest lift.
    """
    pump = SolarPump(*of_rig.solar_pump(values, *of_rig.water(values)))
    lift_m = machines.longest_lift_m(values)

    def spare_m3_s(sun_W_m2):
        cell_degC = air_degC + sun_W_m2 / machines.STILL_AIR_W_M2_K
        return pump.steady(sun_W_m2, cell_degC, lift_m)[0] - values["limits.useful_flow_m3_s"]

    # In the heat more sun may lift less: the first point above is looked for.
    for top in np.linspace(50.0, BRIGHTEST_W_M2, 26):
        if spare_m3_s(float(top)) > 0.0:
            return rising_root(spare_m3_s, 1.0, float(top))
    return None


def part(values: Mapping[str, Any], made: Machine, days: Days, done: Lifted, endless: Lifted,
         spread_of: Mapping[str, float]) -> Part:
    """Return what is to be said of filling.

    days: each month's mean day under each sky; done, endless: what was lifted on them, and
    would have been with no end to the tanks; spread_of: relative spread by figure's key.
    """
    figures = [*_starting(values), *_pipe(values), *_loads(values), *_warmth(values, endless),
               *_suction(values)]
    says, warns = _told(values, days, done, endless)
    return Part("filling", "Filling", figures,
                [_months(values, days, done, endless, spread_of), _hours(values, made, days)],
                says, warns)


def _starting(values):
    mild = values.get("site.air_temperature_degC", DEFAULT_AIR_DEGC)
    return [
        Figure("start_W_m2", f"sun for a useful flow, air {mild:.0f} degC",
               start_sun_W_m2(values, mild), "irradiance"),
        Figure("start_hot_W_m2", "and in the hottest air",
               start_sun_W_m2(values, values["site.hottest_air_degC"]), "irradiance",
               note=f"air {values['site.hottest_air_degC']:.0f} degC")]


def _pipe(values):
    pump = SolarPump(*of_rig.solar_pump(values, *of_rig.water(values)))
    low_m, high_m = lifting.lifts_m(values)
    flow = pump.steady(REFERENCE_W_M2, chain.sunlit_cell_degC(values),
                       chain.mean_lift_m(values))[0]
    bore_m = values["rising_main.diameter_m"]
    speed = velocity_m_s(flow, bore_m)
    takes_air = suction.air_clearing_velocity_m_s(bore_m, GENTLE_deg, of_rig.water(values)[2])
    return [
        Figure("lift_least_m", "least lift, lower tank full", low_m, "length"),
        Figure("lift_most_m", "most lift, lower tank low", high_m, "length"),
        Figure("full_sun_m3_s", "flow in full sun", flow, "flow"),
        Figure("main_loss_m", "of which the rising main costs", pump.pipe.loss_m(flow), "length"),
        Figure("main_m_s", "speed in the rising main", speed, "speed"),
        Figure("air_m_s", "speed that takes air along a gentle fall", takes_air, "speed", note=(
            "so it does" if speed >= takes_air else "so it does not: no high points in the pipe"))]


def _loads(values):
    """The pump in full sun: what an over-large panel makes of it."""
    volts, amps = overload.point(values)
    return [Figure("pump_full_V", "pump in full sun", volts, "voltage",
                   note=f"rated {values['pump.rated_voltage_V']:.3g} V"),
            Figure("pump_full_A", "its current then", amps, "current",
                   note=f"{overload.times(values):.2f} of what it is rated for")]


def _warmth(values, endless):
    hottest_W = float(endless.hottest_W.max())
    wet = values["site.water_temperature_degC"] + hottest_W * values["motor.cooled_resistance_K_W"]
    air = max(values["site.hottest_air_degC"], values["site.water_temperature_degC"])
    dry = air + hottest_W * values["motor.still_resistance_K_W"]
    limit = values["motor.trip_temperature_degC"]
    return [
        Figure("motor_cooled_degC", "motor, cooled by what it lifts, full sun", wet, "temperature",
               note=f"water of {values['site.water_temperature_degC']:.0f} degC; 26-MOT trips at"
               f" {limit:.0f} degC"),
        Figure("motor_still_degC", "motor, without cooling, in the hottest air", dry,
               "temperature", note="it would trip" if dry > limit else "26-MOT would not see it")]


def _suction(values):
    """NPSH of a pump at the lower tank's floor."""
    degC = values["site.water_temperature_degC"]
    density, _, fall = of_rig.water(values)
    air_Pa = gravity.air_pressure_Pa(values["site.height_m"])
    vapour_Pa = water.vapour_pressure_Pa(degC)
    shape = of_rig.tank(values, "lower.")
    low_m = shape.level_m(values["lower.low_volume_m3"])
    npsh_m = suction.npsh_available_m(air_Pa, vapour_Pa, low_m, 0.0, density, fall)
    return [Figure("npsh_m", "NPSH at the lower tank's floor, water low", npsh_m, "length",
                   note="a pump that stands higher has so much less, and its pipe's loss")]


def _months(values, days, done, endless, spread_of):
    """Litres by month and sky; the hours that a clear day takes to fill the tank."""
    rows = []
    for month in sorted(set(days.months)):
        cells: list[Any] = [month_name(month)]
        for place in range(len(SKIES)):
            which = (days.months == month) & (days.sky == place)
            cells.append(between(endless.of(slice(None), which), light.takes_m3(values),
                                 spread_of["tank"]))
        clear = (days.months == month) & (days.sky == 0)
        fills = done.full_s[0, clear]
        full_s = None if np.isnan(fills).any() else about(
            float(fills.mean()), math.hypot(spread_of["clear"], spread_of["tank"]))
        offered_J = float(endless.offered_J[0, clear].sum())
        rows.append((*cells, full_s, 1.0 - float(done.drawn_J[0, clear].sum()) / offered_J
                     if offered_J else None))
    return Table("months", "What a day lifts, from an empty tank", (
        Column("month", "", "text"), Column("clear_m3", "clear", "volume"),
        Column("broken_m3", "broken", "volume"), Column("overcast_m3", "overcast", "volume"),
        Column("full_s", "clear day fills in", "time"),
        Column("unused_frac", "its sun unused", "ratio")), rows,
        f"skies: {', '.join(f'{one.name} {one.clear_frac:.0%} of a clear day' for one in SKIES)};"
        " broken in turns of sun and cloud, as they fall into the keeper's waits; in brackets:"
        " between what it lies; filled in: hours of pumping")


def between(endless: Lifted, usable_m3: float, tank_frac: float) -> Range:
    """Return what is lifted on a kind of day [m3], and between what it lies.

    endless: what would be lifted with no end to the tanks, in all the ways in which the day may
    go: from the least of them to the most; tank_frac: covering, of what the tank takes [-].
    """
    low = min(usable_m3 / (1.0 + tank_frac), float(endless.lifted_m3.min()))
    high = min(usable_m3 * (1.0 + tank_frac), float(endless.lifted_m3.max()))
    return Range(min(usable_m3, float(endless.lifted_m3[0].mean())), low, high)


def about(value: float, spread_frac: float) -> Range:
    """Return a value that is known to a factor: no spread takes it below nothing."""
    return Range(value, value / (1.0 + spread_frac), value * (1.0 + spread_frac))


def _hours(values, made, days):
    """Flow by the hour on the shortest and the longest day, by sky."""
    light_s = lifting.DAY_S - days.night_s
    rows = []
    steps = round(HOUR_S / days.sun.step_s)
    for day in (int(light_s.argmin()), int(light_s.argmax())):
        month = days.months[day]
        which = [int(np.flatnonzero((days.months == month) & (days.sky == place))[0])
                 for place in range(len(SKIES))]
        flow = lifting.flows_m3_s(values, made, days.sun)[which]
        by_hour = flow[:, :24 * steps].reshape(len(which), 24, steps).mean(axis=2)
        sun = days.sun.poa_W_m2[which[0], :24 * steps].reshape(24, steps).mean(axis=1)
        rows += [(f"{month_name(int(month))} {hour:02d}:30", float(sun[hour]),
                  *map(float, by_hour[:, hour])) for hour in range(24) if sun[hour] > 1.0]
    return Table("hours", "Flow by the hour, shortest and longest day (local standard time), had"
                 " the tank no end", (
        Column("hour", "", "text"), Column("poa_W_m2", "sun, clear", "irradiance"),
        *(Column(f"{one.key}_m3_s", one.name, "flow") for one in SKIES)), rows)


def _told(values, days, done, endless):
    warns: list[str] = []
    says = ["The rising main ends in air, above the overflow: with its end under water it would"
            " siphon the tank back through the standing pump. Where it rises all the way, no air"
            " stays in it."]
    clear = days.sky == 0
    unused = 1.0 - done.drawn_J[0, clear].sum() / endless.offered_J[0, clear].sum()
    more = endless.lifted_m3[0, clear].sum() / max(1e-9, done.lifted_m3[0, clear].sum())
    if unused > ENOUGH_FRAC:
        says.append(f"Of a clear day's sun {unused:.0%} stays unused over the year."
                    + (f" A tank without end would take {more:.1f} times as much water; a lower"
                       " tank and lamps to match would use it." if more > 1.2 else ""))
    limit = values["motor.trip_temperature_degC"]
    wet = values["site.water_temperature_degC"] + float(
        endless.hottest_W.max()) * values["motor.cooled_resistance_K_W"]
    if overload.times(values) > overload.MOST:
        warns.append("In full sun the panel drives the pump with"
                     f" {overload.times(values):.1f} times its rated current: it wears out, or"
                     " burns. Take a smaller panel or a larger pump; a thermometer is no cure.")
    if wet > limit:
        warns.append(f"The motor reaches {wet:.0f} degC in full sun, cooled: 26-MOT trips at"
                     f" {limit:.0f} degC. Take a motor of less loss, or cool it better.")
    never = [month_name(month) for month in sorted(set(days.months))
             if not done.lifted_m3[0, (days.months == month) & clear].any()]
    if never:
        warns.append(f"Even a clear day lifts nothing in {', '.join(never)}.")
    return says, warns
