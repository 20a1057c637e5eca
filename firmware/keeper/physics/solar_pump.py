"""A panel that drives a pump directly: voltage, current, speed and flow together."""

import math

from keeper.physics.checks import require
from keeper.physics.panel import Panel
from keeper.physics.solve import rising_root

_RESIDUAL_A = 1e-10  # the point is solved to this
_NEWTON_STEPS = 80  # from far above, Newton's rule comes down by one exponent a step
_MOST_STEPS = 140  # what is then still open is halved to the last bit
_FASTEST = 3.0  # ratio to rated speed that no panel of a rig reaches
_MOST_RAISED = 100.0  # the diode's exponent of a trial that is far off
_LEAST_RATIO = 1e-9  # a motor slower than this share of its rated speed stands
_DRY_TORQUE_FRAC = 0.1  # torque of a pump full of air against one full of water; a guess
_MOST_FLOW_M3_S = 10.0  # the range of module pipes
_HAIR = 1e-6  # least share of the shut-off head that the pump loses at its rated flow


class SolarPump(Panel):
    """A panel with a motor, a pump and a rising main on its terminals.

    V = k w + R I,  k (I - I0) = s (t0 s + t1 Q),  s^2 H0 - b Q^2 = lift + loss(Q),
    s = w / rated w; at the rated point: k = (V - R I) / w, t1 = (k (I - I0) - t0) / Q,
    b = (H0 - H) / Q^2

    Attributes: pump_A, ratio (s), flow and those of the panel hold the point last
    found; stalled: the rotor cannot turn; blocked: nothing goes through the pump.

    Args:
        nameplate: of the panel, the six arguments of panel.fit_nameplate [V, A, 1/K]
        rated_V: rated voltage of the motor [V], 1 to 1000
        rated_W: power that it takes at the rated point [W], 0.1 to 1e5
        rated_rad_s: rated speed [rad/s], 1 to 1e4
        shut_off_m: head without flow at rated speed, H0 [m], 0.01 to 1000
        rated_m: head at the rated point, below H0 [m], 0.001 to 1000
        rated_m3_s: flow at the rated point [m3/s], 1e-7 to 10
        shut_off_frac: torque without flow over rated torque [-], 0 to 1
        winding_ohm: winding resistance R, below rated voltage over rated current
            [ohm], 0.001 to 1000
        no_load_A: no-load current I0, below the rated current [A], 0 to 100
        main: the rising main, a pipes.Pipe [-]
        weight_N_m3: weight of the water, density times free fall [N/m3], 8000 to 11000
    Returns:
        a solar pump, in the dark [-]
    Raises:
        ValueError: an argument is outside its range
    Source: voltage and torque balance of a permanent-magnet motor, affinity laws
    Example:
        >>> from keeper.physics.pipes import Pipe
        >>> main = Pipe(22.0, 0.016, 1.5e-6, 5.0, 1.2343e-6, 9.80665)
        >>> pump = SolarPump((29.0, 4.5, 23.8, 4.2, 5e-4, -3.2e-3), 24.0, 18.0, 314.0, 17.0,
        ...                  11.3, 55e-6, 0.4, 3.0, 0.12, main, 9789.0)
        >>> flow, volts, amps, ratio = pump.steady(800.0, 35.0, 11.0)
        >>> round(flow * 6e4, 1), round(volts, 1)
        (4.3, 27.0)
    """

    def __init__(self, nameplate, rated_V, rated_W, rated_rad_s, shut_off_m, rated_m, rated_m3_s,
                 shut_off_frac, winding_ohm, no_load_A, main, weight_N_m3):
        Panel.__init__(self, nameplate)
        require("rated_V", rated_V, 1, 1000, "V")
        require("rated_W", rated_W, 0.1, 1e5, "W")
        self.rated_A = rated_A = rated_W / rated_V
        require("rated_rad_s", rated_rad_s, 1, 1e4, "rad/s")
        require("shut_off_m", shut_off_m, 0.01, 1000, "m")
        require("rated_m", rated_m, 0.001, min(1000, shut_off_m * (1 - _HAIR)), "m")
        require("rated_m3_s", rated_m3_s, 1e-7, 10, "m3/s")
        require("shut_off_frac", shut_off_frac, 0, 1, "")
        require("winding_ohm", winding_ohm, 0.001, min(1000, rated_V / rated_A * (1 - _HAIR)),
                "ohm")
        require("no_load_A", no_load_A, 0, min(100, rated_A * (1 - _HAIR)), "A")
        require("weight_N_m3", weight_N_m3, 8000, 11000, "N/m3")
        self.rated_speed = rated_rad_s
        self.resistance = winding_ohm
        self.no_load_A = no_load_A
        self.emf = (rated_V - winding_ohm * rated_A) / rated_rad_s
        self.head_m = shut_off_m
        self.inner_s2_m5 = (shut_off_m - rated_m) / rated_m3_s ** 2
        torque = self.emf * (rated_A - no_load_A)
        self.torque_0 = shut_off_frac * torque
        self.torque_q = (torque - self.torque_0) / rated_m3_s
        self.pipe = main
        self.pipe_s2_m5 = main.resistance_s2_m5(rated_m3_s)  # until there was a flow
        self.weight = weight_N_m3
        self.stalled = self.blocked = False
        self.ratio = self.pump_A = self.flow = 0.0

    def no_flow(self, ratio):
        """Voltage and current of the full pump without flow.

        I = I0 + t0 s^2 / k,  V = k w + R I

        Args:
            ratio: speed over rated speed [-], 0 to 100
        Returns:
            voltage [V] and current [A]
        Raises:
            ValueError: the ratio is outside its range
        Source: torque and voltage balance
        Example:
            >>> from keeper.physics.pipes import Pipe
            >>> main = Pipe(22.0, 0.016, 1.5e-6, 5.0, 1.2343e-6, 9.80665)
            >>> pump = SolarPump((29.0, 4.5, 23.8, 4.2, 5e-4, -3.2e-3), 24.0, 18.0, 314.0, 17.0,
            ...                  11.3, 55e-6, 0.4, 3.0, 0.12, main, 9789.0)
            >>> [round(x, 3) for x in pump.no_flow(1.0)]
            [22.866, 0.372]
        """
        require("ratio", ratio, 0, 100, "")
        amps = self.no_load_A + self.torque_0 * ratio * ratio / self.emf
        return self.emf * self.rated_speed * ratio + self.resistance * amps, amps

    def lifting(self, lift_m, flow_m3_s):
        """Voltage and current of the full, free pump that lifts a flow.

        s^2 H0 = lift + loss(Q) + b Q^2,  I = I0 + s (t0 s + t1 Q) / k,  V = k w + R I

        Args:
            lift_m: rise from the water below to the end of the rising main [m], 0 to 1000
            flow_m3_s: flow [m3/s], 0 to 10
        Returns:
            voltage [V] and current [A]
        Raises:
            ValueError: an argument is outside its range
        Source: torque and voltage balance, affinity laws, Darcy-Weisbach
        Example:
            >>> from keeper.physics.pipes import Pipe
            >>> main = Pipe(0.0, 0.016, 1.5e-6, 0.0, 1.2343e-6, 9.80665)
            >>> pump = SolarPump((29.0, 4.5, 23.8, 4.2, 5e-4, -3.2e-3), 24.0, 18.0, 314.0, 17.0,
            ...                  11.3, 55e-6, 0.4, 3.0, 0.12, main, 9789.0)
            >>> [round(x, 9) for x in pump.lifting(11.3, 55e-6)]
            [24.0, 0.75]
        """
        require("lift_m", lift_m, 0, 1000, "m")
        require("flow_m3_s", flow_m3_s, 0, 10, "m3/s")
        head_m = lift_m + self.inner_s2_m5 * flow_m3_s * flow_m3_s + self.pipe.loss_m(flow_m3_s)
        ratio = math.sqrt(head_m / self.head_m)
        torque = ratio * (self.torque_0 * ratio + self.torque_q * flow_m3_s)
        amps = self.no_load_A + torque / self.emf
        return self.emf * self.rated_speed * ratio + self.resistance * amps, amps

    def rest_V(self, beside_A):
        """Find the panel's point with the pump off, or with its rotor held.

        I_panel(V) = V G + I_b, G = 1 / R while stalled, else 0

        Args:
            beside_A: current I_b taken beside the pump, below the light current [A]
        Returns:
            voltage of the panel [V]
        Source: voltage balance; no check here, it is called at every step of a twin
        Example:
            >>> from keeper.physics.pipes import Pipe
            >>> main = Pipe(22.0, 0.016, 1.5e-6, 5.0, 1.2343e-6, 9.80665)
            >>> pump = SolarPump((29.0, 4.5, 23.8, 4.2, 5e-4, -3.2e-3), 24.0, 18.0, 314.0, 17.0,
            ...                  11.3, 55e-6, 0.4, 3.0, 0.12, main, 9789.0)
            >>> _ = pump.shine(800.0, 25.0)
            >>> round(pump.rest_V(0.0), 2)
            28.72
        """
        self.ratio = self.flow = 0.0
        self.pump_A = self.load_A(0.0, beside_A)
        return self.panel_V

    def _stall(self, beside_A):
        """Hold the rotor: the motor is a resistance."""
        self.ratio = self.flow = 0.0
        self.pump_A = self.load_A(1.0 / self.resistance, beside_A)
        return 0.0

    def run_m3_s(self, lift_m, beside_A, primed):
        """Find the speed at which the panel gives what pump and neighbour draw.

        the balances of the class with loss(Q) = r Q^2, r that of the flow before; by
        Newton's rule between bounds, then by halves; begins at the last point

        Args:
            lift_m: rise from the water below to the end of the rising main [m]
            beside_A: current taken beside the pump, below the light current [A]
            primed: there is water at the pump [-]
        Returns:
            flow [m3/s]; the attributes hold the point, ratio 0 when the light does
            not even carry the no-load current
        Source: torque and voltage balance; no check here, it is called at every step of a twin
        Example:
            >>> from keeper.physics.pipes import Pipe
            >>> main = Pipe(22.0, 0.016, 1.5e-6, 5.0, 1.2343e-6, 9.80665)
            >>> pump = SolarPump((29.0, 4.5, 23.8, 4.2, 5e-4, -3.2e-3), 24.0, 18.0, 314.0, 17.0,
            ...                  11.3, 55e-6, 0.4, 3.0, 0.12, main, 9789.0)
            >>> _ = pump.shine(800.0, 35.0)
            >>> pump.run_m3_s(25.0, 0.0, True), round(pump.ratio, 2)
            (0.0, 1.19)
        """
        if self.stalled:
            return self._stall(beside_A)
        ratio = self.ratio if self.ratio > 0.0 else 0.5
        low, high = 0.0, _FASTEST
        total_s2_m5, back = self.inner_s2_m5 + self.pipe_s2_m5, self.emf * self.rated_speed
        ideal, shunt, series = self.ideal, self.shunt, self.series
        part = 1.0 if primed else _DRY_TORQUE_FRAC
        wet = primed and not self.blocked
        head_m, torque_0, torque_q = self.head_m, self.torque_0, self.torque_q
        no_load_A, emf, resistance = self.no_load_A, self.emf, self.resistance
        light, dark = self.light, self.dark
        for trial in range(_MOST_STEPS):
            spare = head_m * ratio * ratio - lift_m
            flow = math.sqrt(spare / total_s2_m5) if wet and spare > 0.0 else 0.0
            amps = no_load_A + part * ratio * (torque_0 * ratio + torque_q * flow) / emf
            volts = back * ratio + resistance * amps
            drawn = amps + beside_A
            junction = volts + drawn * series
            # A trial far above the open circuit must not overflow the exponential.
            raised = junction / ideal
            grown = dark * math.exp(raised if raised < _MOST_RAISED else _MOST_RAISED)
            excess = light - grown + dark - junction / shunt - drawn
            if -_RESIDUAL_A < excess < _RESIDUAL_A:
                break
            if excess > 0.0:
                low = ratio
            else:
                high = ratio
            slope_flow = head_m * ratio / (total_s2_m5 * flow) if flow else 0.0
            slope_A = part * (2.0 * torque_0 * ratio + torque_q
                              * (flow + ratio * slope_flow)) / emf
            slope_V = back + (resistance + series) * slope_A
            ratio += excess / ((grown / ideal + 1.0 / shunt) * slope_V + slope_A)
            if trial >= _NEWTON_STEPS or not low < ratio < high:
                ratio = 0.5 * (low + high)
                if high < _LEAST_RATIO:
                    return self._stall(beside_A)
        self.ratio, self.flow = ratio, flow
        self.pump_A, self.panel_V, self.panel_A = amps, volts, drawn
        return flow

    def steady(self, irradiance_W_m2, cell_degC, lift_m, beside_A=0.0):
        """Find the point at which the full, free pump works on in a steady sun.

        the balances of the class, the friction that of the flow itself, by bisection
        on the flow: a flow and the lift give the speed

        Args:
            irradiance_W_m2: irradiance in the panel's plane, below 0.5 taken as dark
                [W/m2], 0 to 2000
            cell_degC: cell temperature [degC], -60 to 120
            lift_m: rise from the water below to the end of the rising main [m], 0 to 1000
            beside_A: current taken beside the pump, below the light current [A], 0 to 100
        Returns:
            flow [m3/s], voltage [V], current of the motor [A] and speed over rated
            speed [-]; the attributes hold the point
        Raises:
            ValueError: an argument is outside its range
        Source: torque and voltage balance, affinity laws, Darcy-Weisbach
        Example:
            >>> from keeper.physics.pipes import Pipe
            >>> main = Pipe(22.0, 0.016, 1.5e-6, 5.0, 1.2343e-6, 9.80665)
            >>> pump = SolarPump((29.0, 4.5, 23.8, 4.2, 5e-4, -3.2e-3), 24.0, 18.0, 314.0, 17.0,
            ...                  11.3, 55e-6, 0.4, 3.0, 0.12, main, 9789.0)
            >>> [round(x, 2) for x in pump.steady(300.0, 35.0, 11.0)[1:]]
            [25.15, 0.83, 1.04]
        """
        require("lift_m", lift_m, 0, 1000, "m")
        require("beside_A", beside_A, 0, 100, "A")
        if self.shine(irradiance_W_m2, cell_degC) == 0.0:
            self.panel_V = 0.0  # where the dark panel's point is looked for

        def lacking_A(flow):
            volts, amps = self.lifting(lift_m, flow)
            drawn = amps + beside_A
            junction = volts + drawn * self.series
            raised = min(junction / self.ideal, _MOST_RAISED)
            grown = self.dark * (math.exp(raised) - 1.0)
            return drawn + grown + junction / self.shunt - self.light

        if lacking_A(0.0) < 0.0:
            most = _FASTEST * math.sqrt(self.head_m / self.inner_s2_m5)
            flow = rising_root(lacking_A, 0.0, min(most, _MOST_FLOW_M3_S))
            self.pipe_s2_m5 = self.pipe.resistance_s2_m5(flow)
        self.run_m3_s(lift_m, beside_A, True)
        return self.flow, self.panel_V, self.pump_A, self.ratio

    def losses_W(self, primed):
        """Power lost at the point last found, each loss by its own law.

        R I^2;  k w I0;  t0 w s^2 + (t1 w - rho g H0) s^2 Q + rho g b Q^3;  rho g r Q^3

        Args:
            primed: there is water at the pump [-]
        Returns:
            power lost in the winding, in friction of the motor, in the pump and in
            the rising main [W]
        Source: Joule's law; shaft power less rho g Q H of the pump's curve
        Example:
            >>> from keeper.physics.pipes import Pipe
            >>> main = Pipe(22.0, 0.016, 1.5e-6, 5.0, 1.2343e-6, 9.80665)
            >>> pump = SolarPump((29.0, 4.5, 23.8, 4.2, 5e-4, -3.2e-3), 24.0, 18.0, 314.0, 17.0,
            ...                  11.3, 55e-6, 0.4, 3.0, 0.12, main, 9789.0)
            >>> flow = pump.steady(800.0, 35.0, 11.0)[0]
            >>> lost_W = pump.panel_V * pump.pump_A - 9789.0 * flow * 11.0
            >>> round(sum(pump.losses_W(True)) / lost_W, 6)
            1.0
        """
        amps, ratio, flow, weight = self.pump_A, self.ratio, self.flow, self.weight
        speed = self.rated_speed
        part = 1.0 if primed else _DRY_TORQUE_FRAC
        churn_W = part * self.torque_0 * speed * ratio * ratio * ratio
        slip_W = ((self.torque_q * speed - weight * self.head_m) * ratio * ratio * flow
                  + weight * self.inner_s2_m5 * flow * flow * flow)
        return (self.resistance * amps * amps, self.emf * speed * ratio * self.no_load_A,
                churn_W + slip_W, weight * self.pipe_s2_m5 * flow * flow * flow)
