"""The figures that the hazards compare with, each with where it comes from.

From the rig's own description, from what its parts are laid out for
(hardware/parts.toml and the sheet of worst cases), or from physics; none is
what a run once showed.  SI units.
"""

import math

from keeper.physics import gravity, of_rig, water

COVERAGE = math.sqrt(3.0)  # a calibrated instrument lies within so many standard uncertainties
NOISE = 3.0                # and a reading within so many deviations of its noise
SCAN_S = 1.0               # a decision, the next scan and a reading that comes once a second
FLOW_WINDOW_S = 2.0        # over which the board counts a meter's pulses (design, 4)
VALVE_RESERVE_S = 2.0      # over the travel, before a valve counts as stuck (rig/protecting)
SWITCH_S = 3.0             # an opened switch has let the current die by then (3-SW)
LIT_LATE_S = 30.0          # by which dusk, dawn and an order may be known later; a guess
STIFF_WAVE_M_S = 1400.0    # in a pipe that gives nowhere: the worst
SURE_HEAD = 1.1            # of the head at which water must go up; the firmware's own power is
                           # SURE_PART of it, and power grows faster than head
OPEN_FRAC = 0.05           # a valve that is not shut: the position's own uncertainty thrice
TURNING_A = 0.05           # least current of a switch that conducts (rig/protecting)
CHARGER_LAG_STEPS = 20.0   # steps of the plant in which its charger follows the appetite
# Starts of the light in an hour that nobody asked for: what blinks oftener lights nobody's
# way, and wears the valve; a guess.
LIGHTS_AN_HOUR = 10
PAID = 1.0 / 9.0           # light makes up for so much dark: nine tenths are asked for (`ideal`)
AGAIN_ELEMENTS = 2         # two elements may each count the same cause: 48 and 80, 37 and 80

# What must be true of a rig before a side starts, by the names under which a watch follows it.
PUMP_NEEDS = ("over-full", "lower dry", "motor hot", "valve open", "freezing", "supply low",
              "stopped", "maintained")
LIGHT_NEEDS = ("upper dry", "lower full", "freezing", "supply low", "stopped", "maintained")


class Limits:
    """What a rig [dict "section.key_unit", see `given`] and its parts must never pass."""

    def __init__(self, rig):
        """Takes the rig."""
        self._take_pump(rig)
        self._take_light(rig)
        self._take_water(rig)
        self._take_waits(rig)
        self._take_supply(rig)

    def _take_pump(self, rig):
        self.motor_degC = rig["motor.trip_temperature_degC"] + rig["stands.passes_trip_K"]
        self.heat_degC = rig["motor.trip_temperature_degC"] + self._reading(
            rig["sensors.temperature_uncertainty_K"], rig["sensors.temperature_noise_K"])
        self.judge_V = 0.5 * rig["pump.rated_voltage_V"]  # below it dry and wet lie too close
        self.dry_s = rig["limits.dry_delay_s"] + FLOW_WINDOW_S + SCAN_S
        # A start is a trial (design, 4): by its end water goes up, or the pump is off.
        self.trial_s = rig["limits.trial_s"] + FLOW_WINDOW_S + SCAN_S
        self.no_flow_s = rig["limits.no_flow_delay_s"] + FLOW_WINDOW_S + SCAN_S
        self.seen_s = FLOW_WINDOW_S + SCAN_S
        # In weak sun a run may last as long as the pump's shortest.
        self.weak_s = rig["limits.pump_least_on_s"] + self.trial_s
        self.useful_m3_s = rig["limits.useful_flow_m3_s"]
        self.retries = (1 + rig["limits.trip_retries"]) * AGAIN_ELEMENTS
        self.window_s = rig["limits.trip_window_s"]
        # An empty lower tank is no fault, and where no float tells of it the pump is what asks:
        # for some seconds, after waits that grow as after weak starts (design, 4).
        self.dry_starts = self.retries
        if rig["sensors.lower_empty_float"] == "absent":
            self.dry_starts = max(self.retries, self._growing_starts(rig))

    def _growing_starts(self, rig):
        """How many starts a trips' window has, of waits that grow from a trip's to the longest."""
        wait_s, longest_s = rig["limits.trip_wait_s"], rig["limits.holdoff_longest_s"]
        starts, at_s = 1, wait_s
        while at_s < self.window_s:
            starts += 1
            wait_s = min(2.0 * wait_s, max(longest_s, rig["limits.trip_wait_s"]))
            at_s += wait_s
        return starts

    @staticmethod
    def _reading(uncertainty, noise):
        """How far a reading may lie from the truth."""
        return COVERAGE * uncertainty + NOISE * noise

    def _take_light(self, rig):
        self.clamp_W = rig["generator.clamp_power_W"]
        # All on the generator is chosen by what its clamp lets through in a runaway.
        self.generator_V = rig["stands.clamped_V"]
        self.wheel_rad_s = rig["stands.clamped_rad_s"]
        trip_V = rig["generator.trip_voltage_V"]
        self.trip_V = trip_V + self._reading(
            trip_V * rig["sensors.voltage_frac"], rig["sensors.voltage_noise_V"])
        # A penstock may let its valve travel no faster than its surge allows.
        way_s = max(rig["valve.travel_s"], 1.0 / rig["limits.valve_rate_per_s"])
        self.travel_s = way_s + VALVE_RESERVE_S
        # The wheel coasts from the clamp's runaway down to the trip, against its friction.
        trip_rad_s = (trip_V + rig["generator.rectifier_drop_V"]) / (
            rig["generator.emf_constant_V_s_rad"])
        coast_s = (rig["turbine.inertia_kg_m2"] * max(0.0, self.wheel_rad_s - trip_rad_s)
                   / rig["turbine.friction_torque_N_m"])
        self.over_trip_s = rig["limits.generator_delay_s"] + SCAN_S + self.travel_s + coast_s
        # An open valve that gives no light: up, the delay of 80-VLV and 37-GEN, and shut.
        self.unlit_s = (way_s + rig["limits.no_flow_delay_s"] + FLOW_WINDOW_S
                        + SCAN_S + self.travel_s)
        self.unwanted_s = LIT_LATE_S + self.travel_s
        # A local stop that the board does not read is dark lamps to it. Where no float and no
        # level say that there is water, that is an empty tank: the light rests for its longest
        # (71L-LMP; remaining.LEFT says so), or till somebody asks for it.
        unread = all(rig[f"sensors.{name}"] == "absent"
                     for name in ("local_stop", "empty_float", "level"))
        self.stop_rest_s = rig["limits.light_rest_longest_s"] if unread else 0.0
        self.empty_s = rig["limits.upper_empty_delay_s"] + SCAN_S + self.travel_s
        self.full_s = rig["limits.lower_full_delay_s"] + SCAN_S + self.travel_s
        self.useful_W = rig["night.useful_W"]
        self.dark_V, self.dark_s = rig["night.dark_voltage_V"], rig["night.dark_wait_s"]

    def _take_water(self, rig):
        self.penstock_Pa = rig["penstock.pressure_rating_Pa"]
        self.main_Pa = rig["stands.main_Pa"]
        # Where no float tells of a full tank its level does, as much too early as it may read
        # too high.
        self.full_level_m = math.inf
        if rig["sensors.full_float"] == "absent":
            self.full_level_m = (
                of_rig.tank(rig, "upper.").level_m(rig["upper.full_volume_m3"])
                - rig["sensors.level_resolution_m"]
                - self._reading(rig["sensors.level_uncertainty_m"], rig["sensors.level_noise_m"]))
        self.length_m = rig["penstock.length_m"]
        self.area_m2 = math.pi / 4.0 * rig["penstock.diameter_m"] ** 2
        self.main_m2 = math.pi / 4.0 * rig["rising_main.diameter_m"] ** 2
        self.gravity = gravity.normal_m_s2(rig["site.latitude_deg"], rig["site.height_m"])
        self.weight = self.gravity * water.density_kg_m3(rig["site.water_temperature_degC"])
        self.freeze_degC = rig["limits.freeze_temperature_degC"] - self._reading(
            rig["sensors.temperature_uncertainty_K"], rig["sensors.temperature_noise_K"])

    def _take_waits(self, rig):
        limits = {name[len("limits."):]: value for name, value in rig.items()
                  if name.startswith("limits.")}
        self.trip_wait_s = limits["trip_wait_s"]
        self.both_s = SWITCH_S + SCAN_S + self.travel_s
        # Longest that a healthy rig may rest although the sun is there: the longest
        # hold-off after weak starts, then the wait and the trial of a start.
        self.idle_s = (limits["holdoff_longest_s"] + limits["start_wait_s"]
                       + limits["pump_least_off_s"] + limits["trial_s"])
        # And be dark although light is wanted: the rest of the turbine, a valve that is
        # still shutting, and the start.
        self.unseen_s = limits["light_least_off_s"] + self.travel_s + self.unlit_s
        self.lights_an_hour = LIGHTS_AN_HOUR

    def _take_supply(self, rig):
        self.battery_V = rig["stands.supply_V"]
        low_V = rig["supply.low_voltage_V"]
        self.low_V = low_V - self._reading(
            low_V * rig["sensors.voltage_frac"], rig["sensors.voltage_noise_V"])
        self.low_s = rig["limits.supply_delay_s"]
        self.charge_A = rig["supply.charge_current_A"]
        self.capacity_As = rig["supply.capacity_Ah"] * 3600.0

    def full_frac(self, step_s):
        """Charge [-] that a charger may leave behind which follows its battery in its steps."""
        return 1.0 + self.charge_A * CHARGER_LAG_STEPS * step_s / self.capacity_As
