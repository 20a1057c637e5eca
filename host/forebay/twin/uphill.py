"""From the panel to the upper tank: panel, charger, motor, pump and rising main.

Quasi-steady: the speed of the pump is where the panel's curve meets what the
motor draws.  Heights are above the turbine's nozzle [m], powers in W, flows in
m3/s.  Owns the energies that pass on this side; knows nothing of floats.
"""

import math

from keeper.physics import panel
from keeper.physics.pipes import Pipe

RESIDUAL_A = 1e-10      # the panel node is solved to this
MOST_STEPS = 80
FASTEST = 3.0           # ratio to rated speed that no panel of a rig reaches
DARK_W_M2 = 0.5         # below this the panel's curve is taken as dark
CHARGER_DROP_V = 0.5    # a series charger needs this much above the battery; a guess
CHARGER_BLOCKS_V = 0.1  # and blocks where it stands less than this above; a guess
CHARGER_STEP = 0.05     # share of its way that the charger moves in a step of 0.1 s; a guess
CHARGER_SHARE = 0.8     # the charger takes no more than this share of the light current
DRY_TORQUE_FRAC = 0.1   # torque of a pump full of air against one full of water; a guess
MOST_RAISED = 100.0     # the diode's exponent of a trial that is far off
LEAST_RATIO = 1e-9      # a motor slower than this share of its rated speed stands


class Uphill:
    """Panel, charger, motor, pump, rising main.  `step` leaves its results in attributes."""

    def __init__(self, rig, density_kg_m3, viscosity_m2_s, gravity_m_s2):
        """Take the rig as a dict "section.key_unit" and the water's properties [SI]."""
        self.weight = density_kg_m3 * gravity_m_s2
        (self.light_ref, self.dark_ref, self.ideal_ref, self.series,
         self.shunt_ref) = panel.fit_nameplate(
            rig["panel.open_circuit_voltage_V"], rig["panel.short_circuit_current_A"],
            rig["panel.best_voltage_V"], rig["panel.best_current_A"],
            rig["panel.current_temperature_per_K"], rig["panel.voltage_temperature_per_K"])
        self.light_per_K = rig["panel.current_temperature_per_K"] * self.light_ref
        self.pipe = Pipe(rig["rising_main.length_m"], rig["rising_main.diameter_m"],
                         rig["rising_main.roughness_m"], rig["rising_main.minor_loss"],
                         viscosity_m2_s, gravity_m_s2)
        self._take_pump(rig)
        self.charge_limit_A = rig["supply.charge_current_A"]
        self.light = 0.0          # light current [A], 0 in the dark
        self.dark = self.dark_ref
        self.ideal = self.ideal_ref
        self.shunt = self.shunt_ref
        self.beyond_V = 0.0       # no open circuit of this sun reaches it
        self.blocked = False      # nothing goes through it, though it is full of water
        self.stalled = False      # the rotor cannot turn
        self.ratio = 0.0          # speed / rated speed
        self.pipe_s2_m5 = self.pipe.loss_m(self.rated_flow) / self.rated_flow ** 2
        self.charge_A = 0.0       # through the charger
        self.wish_A = 0.0         # where the charger is heading
        self.panel_V = 0.0
        self.panel_A = 0.0
        self.pump_A = 0.0
        self.flow = 0.0           # m3/s
        self.motor_loss_W = 0.0
        # energies since the start [J]
        self.panel_J = 0.0
        self.pump_J = 0.0
        self.node_charge_J = 0.0  # what the charger takes at the panel's node
        self.copper_J = 0.0
        self.no_load_J = 0.0
        self.pump_loss_J = 0.0
        self.pipe_loss_J = 0.0
        self.lift_J = 0.0
        self.volume_m3 = 0.0

    def _take_pump(self, rig):
        """Derive motor and pump constants from the rating plate.

        Source: PM DC motor V = Ke w + R I, T = Ke (I - I0); affinity laws.
        """
        self.rated_flow = rig["pump.rated_flow_m3_s"]
        self.rated_speed = rig["pump.rated_speed_rad_s"]
        rated_A = rig["pump.rated_power_W"] / rig["pump.rated_voltage_V"]
        self.resistance = rig["motor.resistance_ohm"]
        self.no_load_A = rig["motor.no_load_current_A"]
        self.emf = (rig["pump.rated_voltage_V"] - self.resistance * rated_A) / self.rated_speed
        self.head_m = rig["pump.shut_off_head_m"]
        self.inner_s2_m5 = (self.head_m - rig["pump.rated_head_m"]) / self.rated_flow ** 2
        torque = self.emf * (rated_A - self.no_load_A)
        self.torque_0 = rig["pump.shut_off_torque_frac"] * torque
        self.torque_q = (torque - self.torque_0) / self.rated_flow

    def shine(self, irradiance_W_m2, cell_degC):
        """Set the sun: irradiance in the panel's plane [W/m2] and cell temperature [degC]."""
        if irradiance_W_m2 < DARK_W_M2:
            self.light = 0.0
            return
        self.light = panel.light_current_A(self.light_ref, self.light_per_K, irradiance_W_m2,
                                           cell_degC)
        self.dark = panel.saturation_current_A(self.dark_ref, cell_degC)
        self.ideal = panel.modified_ideality_V(self.ideal_ref, cell_degC)
        self.shunt = panel.shunt_resistance_ohm(self.shunt_ref, irradiance_W_m2)
        self.beyond_V = 2.0 * self.ideal * math.log(1.0 + self.light / self.dark)

    def step(self, dt_s, connected, lift_m, battery_V, charge_share, primed):
        """Advance `dt_s` [s].

        connected: the pump is on the panel; lift_m: rise from the water below
        to the end of the rising main [m]; battery_V [V]; charge_share: part of
        the charge current that the battery takes now, 0 to 1 [-]; primed:
        there is water at the pump.
        """
        self.flow = 0.0
        self.pump_A = 0.0
        self.motor_loss_W = 0.0
        if self.light <= 0.0:
            self.ratio = 0.0
            self.panel_V = self.panel_A = self.charge_A = self.wish_A = 0.0
            return
        gap = self.panel_V - battery_V - CHARGER_DROP_V
        if gap > 1.0:
            gap = 1.0
        elif gap < 0.0:
            gap = 0.0
        wish_A = self.wish_A
        wish_A += (gap * charge_share * self.charge_limit_A - wish_A) * CHARGER_STEP
        most_A = CHARGER_SHARE * self.light
        self.wish_A = wish_A
        self.charge_A = wish_A if wish_A < most_A else most_A
        self._solve(connected, lift_m, primed)
        if self.charge_A and self.panel_V < battery_V + CHARGER_BLOCKS_V:
            # No current flows uphill: it blocks at once, and seeks its way from half as much.
            self.charge_A = 0.0
            self.wish_A *= 0.5
            self._solve(connected, lift_m, primed)
        if connected:
            self._account(dt_s, lift_m, primed)
        self.panel_J += self.panel_V * self.panel_A * dt_s
        self.node_charge_J += self.panel_V * self.charge_A * dt_s

    def _solve(self, connected, lift_m, primed):
        """Find where the panel meets what it carries; see `step`."""
        if not connected:
            self.ratio = 0.0
            self._passive(0.0)
        elif self.stalled:
            self._stall()
        else:
            self._run(lift_m, primed)

    def _passive(self, conductance_S):
        """Solve the panel's node for a plain conductance [S] beside the charger."""
        low, high = 0.0, self.beyond_V
        volts = self.panel_V
        for _ in range(MOST_STEPS):
            drawn = volts * conductance_S + self.charge_A
            junction = volts + drawn * self.series
            grown = self.dark * math.exp(junction / self.ideal)
            excess = self.light - grown + self.dark - junction / self.shunt - drawn
            if -RESIDUAL_A < excess < RESIDUAL_A:
                break
            if excess > 0.0:
                low = volts
            else:
                high = volts
            slope = (grown / self.ideal + 1.0 / self.shunt) * (1.0 + conductance_S * self.series)
            volts += excess / (slope + conductance_S)
            if not low < volts < high:
                volts = 0.5 * (low + high)
        self.panel_V = volts
        self.pump_A = volts * conductance_S
        self.panel_A = self.pump_A + self.charge_A

    def _run(self, lift_m, primed):
        """Solve for the speed at which the panel gives what motor and charger draw."""
        ratio = self.ratio if self.ratio > 0.0 else 0.5
        low, high = 0.0, FASTEST
        total_s2_m5, back = self.inner_s2_m5 + self.pipe_s2_m5, self.emf * self.rated_speed
        ideal, shunt, series = self.ideal, self.shunt, self.series
        part = 1.0 if primed else DRY_TORQUE_FRAC
        wet = primed and not self.blocked
        head_m, torque_0, torque_q = self.head_m, self.torque_0, self.torque_q
        no_load_A, emf, resistance = self.no_load_A, self.emf, self.resistance
        charge_A, light, dark = self.charge_A, self.light, self.dark
        for _ in range(MOST_STEPS):
            spare = head_m * ratio * ratio - lift_m
            flow = slope_flow = 0.0
            if spare > 0.0 and wet:
                flow = math.sqrt(spare / total_s2_m5)
                slope_flow = head_m * ratio / (total_s2_m5 * flow)
            torque = part * ratio * (torque_0 * ratio + torque_q * flow)
            amps = no_load_A + torque / emf
            volts = back * ratio + resistance * amps
            drawn = amps + charge_A
            junction = volts + drawn * series
            # A trial far above the open circuit must not overflow the exponential.
            raised = junction / ideal
            grown = dark * math.exp(raised if raised < MOST_RAISED else MOST_RAISED)
            excess = light - grown + dark - junction / shunt - drawn
            if -RESIDUAL_A < excess < RESIDUAL_A:
                break
            if excess > 0.0:
                low = ratio
            else:
                high = ratio
            slope_A = part * (2.0 * torque_0 * ratio + torque_q
                              * (flow + ratio * slope_flow)) / emf
            slope_V = back + (resistance + series) * slope_A
            ratio += excess / ((grown / ideal + 1.0 / shunt) * slope_V + slope_A)
            if not low < ratio < high:
                ratio = 0.5 * (low + high)
                if high < LEAST_RATIO:
                    return self._stall()
        self.ratio, self.flow = ratio, flow
        self.pump_A, self.panel_V, self.panel_A = amps, volts, drawn

    def _stall(self):
        """The light does not even carry the no-load current: the motor is a resistance."""
        self.ratio = 0.0
        self._passive(1.0 / self.resistance)

    def _account(self, dt_s, lift_m, primed):
        """Book pump energy and each loss by its own law."""
        amps, ratio, flow = self.pump_A, self.ratio, self.flow
        copper_W = self.resistance * amps * amps
        no_load_W = self.emf * self.rated_speed * ratio * self.no_load_A if ratio else 0.0
        self.motor_loss_W = copper_W + no_load_W
        self.pump_J += self.panel_V * amps * dt_s
        self.copper_J += copper_W * dt_s
        self.no_load_J += no_load_W * dt_s
        speed = self.rated_speed
        part = 1.0 if primed else DRY_TORQUE_FRAC
        churn_W = part * self.torque_0 * speed * ratio * ratio * ratio
        slip_W = ((self.torque_q * speed - self.weight * self.head_m) * ratio * ratio * flow
                  + self.weight * self.inner_s2_m5 * flow * flow * flow)
        self.pump_loss_J += (churn_W + slip_W) * dt_s
        if flow > 0.0:
            self.pipe_loss_J += self.weight * self.pipe_s2_m5 * flow * flow * flow * dt_s
            self.lift_J += self.weight * flow * lift_m * dt_s
            self.volume_m3 += flow * dt_s
            # The friction factor of the next step is that of this flow.
            self.pipe_s2_m5 = self.pipe.loss_m(flow) / (flow * flow)

    def losses_J(self):
        """Return the sum of what was lost between the panel's node and the lifted water [J]."""
        return self.copper_J + self.no_load_J + self.pump_loss_J + self.pipe_loss_J
