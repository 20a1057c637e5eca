"""A rig's clear day and its light, worked out by general libraries alone, as a plan never does.

It takes a description as numbers and neither the firmware's physics nor forebay's code: water
from IAPWS-95 (iapws), friction by Colebrook's equation (fluids), sun, cells and panel from
pvlib (SPA, Ineichen, Erbs, isotropic sky, Faiman, De Soto 2006), roots and tanks from scipy.
"""

import math
from functools import cached_property
from typing import Any

import fluids
import iapws
import numpy as np
import pandas as pd
import pvlib
from scipy.integrate import solve_ivp
from scipy.interpolate import RegularGridInterpolator
from scipy.optimize import brentq

G_M_S2 = 9.80665
ALBEDO, TURBIDITY, WIND_M_S = 0.2, 3.0, 1.0    # as a plan says that it takes them
STEP_MIN = 5
LIFTS = 3
LOOK_S = 30.0
HOUR_S = 3600.0
DAY_S = 86400.0
MOST_SHARE = 0.8        # of the light current, that the charger takes; said in docs/design.md


def _lifting_s(came):
    """Time in which water went up [s], of what solve_ivp returned."""
    return float(np.sum(np.diff(came.t)[np.diff(came.y[0]) > 1e-12]))


class Apart:
    """One rig.  values: by "section.key_unit" [SI]."""

    def __init__(self, values):
        self.of = values
        self._days = {}
        found = iapws.IAPWS95(T=values["site.water_temperature_degC"] + 273.15, P=0.101325)
        self.rho, self.nu = found.rho, found.mu / found.rho

    # the sun

    def clear_day(self, date) -> Any:
        """Sun [W/m2] and cells [degC] of a clear day by local standard time."""
        of = self.of
        zone_h = round(of["site.longitude_deg"] / 15.0)
        times = pd.date_range(f"{date} 00:00", periods=1440 // STEP_MIN, freq=f"{STEP_MIN}min",
                              tz="UTC") - pd.Timedelta(hours=zone_h)
        place = pvlib.location.Location(of["site.latitude_deg"], of["site.longitude_deg"],
                                        altitude=of["site.height_m"])
        sun = place.get_solarposition(times)
        ghi = place.get_clearsky(times, model="ineichen", solar_position=sun,
                                 linke_turbidity=TURBIDITY)["ghi"]
        split = pvlib.irradiance.erbs(ghi, sun["zenith"], times)
        poa = pvlib.irradiance.get_total_irradiance(
            of["panel.tilt_deg"], of["panel.azimuth_deg"], sun["apparent_zenith"],
            sun["azimuth"], split["dni"], ghi, split["dhi"], albedo=ALBEDO,
            model="isotropic")["poa_global"].clip(0.0)
        cell = pvlib.temperature.faiman(poa, of["site.air_temperature_degC"], WIND_M_S)
        return poa.to_numpy(), cell.to_numpy()

    # the panel, the pump

    @cached_property
    def panel(self):
        """Parameters of the single-diode model at reference conditions."""
        of = self.of
        short_A, open_V = of["panel.short_circuit_current_A"], of["panel.open_circuit_voltage_V"]
        found, _ = pvlib.ivtools.sdm.fit_desoto(
            of["panel.best_voltage_V"], of["panel.best_current_A"], open_V, short_A,
            of["panel.current_temperature_per_K"] * short_A,
            of["panel.voltage_temperature_per_K"] * open_V, of["panel.cells"],
            root_kwargs={"method": "lm"})
        return found

    def in_sun(self, sun_W_m2, cell_degC) -> Any:
        """The five parameters in some sun."""
        at = self.panel
        return pvlib.pvsystem.calcparams_desoto(
            sun_W_m2, cell_degC, at["alpha_sc"], at["a_ref"], at["I_L_ref"], at["I_o_ref"],
            at["R_sh_ref"], at["R_s"])

    def friction_m(self, section, flow_m3_s):
        """Head lost in a pipe: Colebrook or laminar, and its fittings."""
        of = self.of
        bore_m = of[section + ".diameter_m"]
        speed = flow_m3_s / (math.pi / 4.0 * bore_m ** 2)
        if speed <= 0.0:
            return 0.0
        factor = fluids.friction_factor(Re=speed * bore_m / self.nu,
                                        eD=of[section + ".roughness_m"] / bore_m)
        lost = factor * of[section + ".length_m"] / bore_m + of[section + ".minor_loss"]
        return lost * speed ** 2 / (2.0 * G_M_S2)

    def pumping(self, sun_W_m2, cell_degC, lift_m, beside_A):
        """Flow [m3/s] of the pump straight on the panel; 0 where it does not lift."""
        of = self.of
        volts, watts = of["pump.rated_voltage_V"], of["pump.rated_power_W"]
        speed, ohm = of["pump.rated_speed_rad_s"], of["motor.resistance_ohm"]
        idle_A, head_m = of["motor.no_load_current_A"], of["pump.shut_off_head_m"]
        emf = (volts - ohm * watts / volts) / speed
        torque = emf * (watts / volts - idle_A)
        shut = of["pump.shut_off_torque_frac"]
        curve = (head_m - of["pump.rated_head_m"]) / of["pump.rated_flow_m3_s"] ** 2

        def needs(flow):
            """Ratio of speeds that lifts a flow."""
            return math.sqrt((lift_m + curve * flow ** 2 + self.friction_m("rising_main", flow))
                             / head_m)

        light, dark, series, shunt, ideal = self.in_sun(sun_W_m2, cell_degC)

        def spare_A(flow) -> float:
            ratio = needs(flow)
            drag = torque * (shut * ratio ** 2 + (1.0 - shut) * ratio * flow
                             / of["pump.rated_flow_m3_s"])
            amps = idle_A + drag / emf
            inner = emf * speed * ratio + ohm * amps
            given: Any = light if not inner else pvlib.singlediode.bishop88_i_from_v(
                inner, light, dark, series, shunt, ideal, method="newton")
            return float(given) - beside_A - amps

        if sun_W_m2 < 5.0 or spare_A(0.0) <= 0.0:
            return 0.0
        return brentq(spare_A, 0.0, 5.0 * of["pump.rated_flow_m3_s"], xtol=1e-10)

    def _charging_A(self, poa):
        """What the charger takes beside the pump, till it has what the board takes a day."""
        of = self.of
        by_sun = of["panel.short_circuit_current_A"] / 1000.0
        amps = np.minimum(of["supply.charge_current_A"], MOST_SHARE * by_sun * poa)
        due = DAY_S * of["supply.board_load_W"] / of["supply.voltage_V"]
        return np.where(np.cumsum(amps) * STEP_MIN * 60.0 <= due, amps, 0.0)

    def over_day(self, date, lifts_m):
        """(flow over time [s] and lift [m], whether the open panel allows a start, over time)."""
        key = (date, *lifts_m)
        if key not in self._days:
            self._days[key] = self._over_day(date, lifts_m)
        return self._days[key]

    def _over_day(self, date, lifts_m):
        poa, cell = self.clear_day(date)
        beside = self._charging_A(poa)
        flow = np.array([[self.pumping(sun, warm, lift_m, amps) for lift_m in lifts_m]
                         for sun, warm, amps in zip(poa, cell, beside, strict=True)])
        times_s = np.arange(len(poa)) * STEP_MIN * 60.0
        is_lit = poa > 1.0
        solved: Any = pvlib.pvsystem.singlediode(*self.in_sun(np.where(is_lit, poa, 1.0), cell))
        open_V = np.where(is_lit, solved["v_oc"], 0.0)
        beyond: Any = None        # the line goes on past the table's ends
        return (RegularGridInterpolator((times_s, lifts_m), flow, bounds_error=False,
                                        fill_value=beyond),
                lambda at_s: np.interp(at_s, times_s, open_V) >= self.start_V)

    @property
    def is_judged(self):
        """Whether a run is judged by its flow; a rig without any such instrument just runs."""
        return self.of["sensors.flow_up"] == "fitted"

    @property
    def start_V(self):
        """Volts of the open panel that allow a start."""
        return self.of["limits.start_voltage_V"] if self.is_judged else 0.0

    @property
    def useful_m3_s(self):
        """Least flow that lets a run go on."""
        return self.of["limits.useful_flow_m3_s"] if self.is_judged else 0.0

    # the tanks

    def surface_m2(self, tank):
        """Plan area of a tank with straight walls."""
        of = self.of
        if of[tank + ".shape"] == "rectangular":
            return of[tank + ".length_m"] * of[tank + ".width_m"]
        return math.pi / 4.0 * of[tank + ".diameter_m"] ** 2

    def lift_m(self, lower_m3):
        """From the water below to the end of the rising main."""
        of = self.of
        return (of["upper.inlet_height_m"] - of["lower.base_height_m"]
                - lower_m3 / self.surface_m2("lower"))

    def lifted(self, date, is_endless):
        """(m3 that a clear day lifts, time of pumping [s]): till the tank is full, or endlessly.

        By the keeper's rule as docs/operation tells it: after too weak a start or run it waits,
        twice as long each time, till a run was longer than the wait.
        """
        of = self.of
        full, low = of["lower.full_volume_m3"], of["lower.low_volume_m3"]
        lifts_m = np.linspace(self.lift_m(full), self.lift_m(low), LIFTS)
        flow, allowed = self.over_day(date, lifts_m)
        at_s, wait_s, state = 0.0, of["limits.holdoff_s"], [of["upper.empty_volume_m3"], full]
        ran_s, until_s, share = 0.0, flow.grid[0][-1], 0.0 if is_endless else 1.0

        def rate(when_s, both):
            return max(0.0, float(flow((when_s, self.lift_m(both[1])))))

        def room(_, both):
            return of["upper.full_volume_m3"] - both[0] + (1e9 if is_endless else 0.0)

        def weak(when_s, both):
            return rate(when_s, both) - self.useful_m3_s + (1e-9 if not self.is_judged else 0.0)

        room.terminal = weak.terminal = True
        while at_s < until_s and room(0.0, state) > 1e-9:
            if not allowed(at_s):
                at_s += LOOK_S
                continue
            began_s = at_s
            if weak(at_s, state) > 0.0:
                came = solve_ivp(lambda when_s, both: [rate(when_s, both),
                                                       -share * rate(when_s, both)],
                                 (at_s, until_s), state, events=(room, weak), max_step=120.0)
                at_s, state = came.t[-1], list(came.y[:, -1])
                ran_s += at_s - began_s if self.is_judged else _lifting_s(came)
            if at_s - began_s > wait_s:
                wait_s = of["limits.holdoff_s"]
            at_s += wait_s
            wait_s = min(2.0 * wait_s, of["limits.holdoff_longest_s"])
        return state[0] - of["upper.empty_volume_m3"], ran_s

    # the light

    @cached_property
    def push(self):
        """Torque of the jet by flow and by the speed that it has over the buckets."""
        of = self.of
        turned = 1.0 + of["turbine.bucket_coefficient"] * math.cos(
            math.radians(180.0 - of["turbine.bucket_angle_deg"]))
        return self.rho * of["turbine.hit_frac"] * turned * of["turbine.wheel_radius_m"]

    @property
    def jet_m2(self):
        """Area of the jet."""
        return math.pi / 4.0 * self.of["turbine.nozzle_diameter_m"] ** 2

    def excess_Nm(self, flow, speed, amps):
        """Torque of the jet over what generator and bearings take."""
        of = self.of
        over = max(0.0, flow / self.jet_m2 - speed * of["turbine.wheel_radius_m"])
        return (self.push * flow * over - of["generator.emf_constant_V_s_rad"] * amps
                - of["turbine.friction_torque_N_m"])

    def flow_for(self, power_W) -> Any:
        """Flow that keeps the lamps at a power."""
        of = self.of
        amps: Any = brentq(lambda one: one * (of["lamps.threshold_voltage_V"]
                                         + one * of["lamps.resistance_ohm"]) - power_W, 0.0, 1e3)
        volts = of["lamps.threshold_voltage_V"] + amps * of["lamps.resistance_ohm"]
        speed = (volts + of["generator.rectifier_drop_V"] + amps
                 * of["generator.resistance_ohm"]) / of["generator.emf_constant_V_s_rad"]
        return brentq(lambda flow: self.excess_Nm(flow, speed, amps), 1e-7, 0.1)

    def needed_m(self, flow):
        """Head that a flow needs with the valve fully open."""
        of = self.of
        kv_m3_s = of["valve.flow_coefficient_m3_h"] / HOUR_S
        valve_m = 1e5 * (flow / kv_m3_s) ** 2 / (1000.0 * G_M_S2)
        jet_m = (flow / self.jet_m2 / of["turbine.nozzle_coefficient"]) ** 2 / (2.0 * G_M_S2)
        return self.friction_m("penstock", flow) + valve_m + jet_m

    def head_m(self, upper_m3):
        """Upper water over the nozzle."""
        return self.of["upper.base_height_m"] + upper_m3 / self.surface_m2("upper")

    def held_s(self, power_W):
        """How long a full tank holds a light, to empty or till its head gives no more."""
        of, flow = self.of, self.flow_for(power_W)
        needs_m = self.needed_m(flow)

        def ends(_, state):
            return min(state[0] - of["upper.empty_volume_m3"], self.head_m(state[0]) - needs_m)

        ends.terminal = True
        came = solve_ivp(lambda *_: [-flow], (0.0, 100.0 * DAY_S), [of["upper.full_volume_m3"]],
                         events=ends, max_step=HOUR_S)
        return came.t[-1]

    def brightest_W(self, upper_m3):
        """Light of the open valve, no more than the generator is rated for."""
        of = self.of
        flow: Any = brentq(lambda one: self.needed_m(one) - self.head_m(upper_m3), 1e-9, 0.1)

        def amps(speed):
            source = (of["generator.emf_constant_V_s_rad"] * speed
                      - of["generator.rectifier_drop_V"] - of["lamps.threshold_voltage_V"])
            return max(0.0, source / (of["generator.resistance_ohm"] + of["lamps.resistance_ohm"]))

        most = flow / self.jet_m2 / of["turbine.wheel_radius_m"]
        speed: Any = brentq(lambda one: self.excess_Nm(flow, one, amps(one)), 0.0, most)
        current: Any = amps(speed)
        volts = of["lamps.threshold_voltage_V"] + current * of["lamps.resistance_ohm"]
        return min(volts * current, of["generator.rated_power_W"])
