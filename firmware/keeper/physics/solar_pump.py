"""A panel that drives a pump directly: voltage, current, speed and flow together."""

from keeper.physics.checks import require
from keeper.physics.motor import dry_run_current_A
from keeper.physics.panel import open_circuit_V, terminal_current_A
from keeper.physics.pump import operating_flow_m3_s, pipe_operating_flow_m3_s, shaft_torque_Nm
from keeper.physics.solve import rising_root

_MOST_SPEED_RATIO = 3.0  # the range of the affinity laws in module pump
_MOST_RAD_S = 1e4  # the range of the torque in module pump


class DirectPump:
    """Motor, pump and rising main on the terminals of a panel.

    k I = T(w, Q) + Tf + c w,  V = k w + I R,  I = I_panel(V)

    Args:
        winding_ohm: winding resistance [ohm], 0.001 to 1000
        constant_V_s: machine constant k [V s/rad], 1e-5 to 10
        friction_Nm: constant friction torque [N m], 0 to 10
        drag_Nm_s: friction that grows with speed [N m s/rad], 0 to 1
        rated_rad_s: speed to which the head curve belongs [rad/s], 1 to 1e4
        head_curve: H0 [m], a [s/m2] and b [s2/m5] of module pump
        torque_curve: t0 [N m s2] and t1 [N m s2/m3] of module pump
        static_m: static head [m], 0 to 1000
        pipe: the rising main, a pipes.Pipe [-]
    Returns:
        a direct-coupled pump [-]
    Raises:
        ValueError: an argument is outside its range
    Source: torque and voltage balance
    Example:
        >>> from keeper.physics.pipes import Pipe
        >>> main = Pipe(22.0, 0.020, 1.5e-6, 2.0, 1.0034e-6, 9.80665)
        >>> pump = DirectPump(3.0, 0.06, 0.005, 1e-5, 350.0, (17.0, 0.0, 1.5e8),
        ...                   (1.5e-7, 0.2), 10.8, main)
        >>> full_sun = (4.5074, 3.567e-11, 1.1345, 0.3864, 235.9)
        >>> volts, amps, speed, flow = pump.point(full_sun)
        >>> flow > 1e-4
        True
    """

    def __init__(
        self,
        winding_ohm,
        constant_V_s,
        friction_Nm,
        drag_Nm_s,
        rated_rad_s,
        head_curve,
        torque_curve,
        static_m,
        pipe,
    ):
        dry_run_current_A(0, winding_ohm, constant_V_s, friction_Nm, drag_Nm_s)
        require("rated_rad_s", rated_rad_s, 1, 1e4, "rad/s")
        operating_flow_m3_s(1.0, head_curve[0], head_curve[1], head_curve[2], static_m, 0.0)
        shaft_torque_Nm(0, 0, torque_curve[0], torque_curve[1])
        self._winding_ohm = winding_ohm
        self._constant_V_s = constant_V_s
        self._friction_Nm = friction_Nm
        self._drag_Nm_s = drag_Nm_s
        self._rated_rad_s = rated_rad_s
        self._head_curve = head_curve
        self._torque_curve = torque_curve
        self._static_m = static_m
        self._pipe = pipe

    def _ratio(self, speed_rad_s):
        require("speed_rad_s", speed_rad_s, 0, _MOST_SPEED_RATIO * self._rated_rad_s, "rad/s")
        return min(speed_rad_s / self._rated_rad_s, _MOST_SPEED_RATIO)

    def flow_at_speed_m3_s(self, speed_rad_s):
        """Flow at a speed.

        pump curve = static head + loss(Q)

        Args:
            speed_rad_s: speed, at most three times the rated one [rad/s], 0 to 3e4
        Returns:
            flow [m3/s], exactly 0 below the threshold speed
        Raises:
            ValueError: the speed is outside its range
        Source: module pump
        Example:
            >>> from keeper.physics.pipes import Pipe
            >>> main = Pipe(22.0, 0.020, 1.5e-6, 2.0, 1.0034e-6, 9.80665)
            >>> pump = DirectPump(3.0, 0.06, 0.005, 1e-5, 350.0, (17.0, 0.0, 1.5e8),
            ...                   (1.5e-7, 0.2), 10.8, main)
            >>> pump.flow_at_speed_m3_s(200.0), round(pump.flow_at_speed_m3_s(350.0) * 6e4, 1)
            (0.0, 11.5)
        """
        shut_off, linear, quadratic = self._head_curve
        ratio = self._ratio(speed_rad_s)
        return pipe_operating_flow_m3_s(
            ratio, shut_off, linear, quadratic, self._static_m, self._pipe
        )

    def current_at_speed_A(self, speed_rad_s):
        """Current that a speed asks for.

        I = (t0 w^2 + t1 w Q + Tf + c w) / k

        Args:
            speed_rad_s: speed, at most three times the rated one [rad/s], 0 to 1e4
        Returns:
            current [A]
        Raises:
            ValueError: the speed is outside its range
        Source: torque balance
        Example:
            >>> from keeper.physics.pipes import Pipe
            >>> main = Pipe(22.0, 0.020, 1.5e-6, 2.0, 1.0034e-6, 9.80665)
            >>> pump = DirectPump(3.0, 0.06, 0.005, 1e-5, 350.0, (17.0, 0.0, 1.5e8),
            ...                   (1.5e-7, 0.2), 10.8, main)
            >>> round(pump.current_at_speed_A(200.0), 4)
            0.2167
        """
        flow = self.flow_at_speed_m3_s(speed_rad_s)
        load_Nm = shaft_torque_Nm(speed_rad_s, flow, self._torque_curve[0], self._torque_curve[1])
        friction_Nm = self._friction_Nm + self._drag_Nm_s * speed_rad_s
        return (load_Nm + friction_Nm) / self._constant_V_s

    def point(self, curve):
        """Voltage, current, speed and flow on a panel's curve.

        I(w) = I_panel(k w + I(w) R), by bisection on the speed

        Args:
            curve: light current [A], saturation current [A], a [V], series and shunt
                resistance [ohm] of the panel in the present sun
        Returns:
            voltage [V], current [A], speed [rad/s], 0 when stalled, and flow [m3/s];
            the speed ends at three times the rated one and at 1e4 rad/s
        Raises:
            ValueError: a number of the curve is outside its range
        Source: torque and voltage balance
        Example:
            >>> from keeper.physics.pipes import Pipe
            >>> main = Pipe(22.0, 0.020, 1.5e-6, 2.0, 1.0034e-6, 9.80665)
            >>> pump = DirectPump(3.0, 0.06, 0.005, 1e-5, 350.0, (17.0, 0.0, 1.5e8),
            ...                   (1.5e-7, 0.2), 10.8, main)
            >>> weak_sun = (0.02, 3.567e-11, 1.1345, 0.3864, 11795.0)
            >>> pump.point(weak_sun)[2:]
            (0.0, 0.0)
        """
        light, dark, ideality, series, shunt = curve
        open_V = open_circuit_V(light, dark, ideality, series, shunt)

        def terminal_V(speed):
            return self._constant_V_s * speed + self.current_at_speed_A(speed) * self._winding_ohm

        def lacking_A(speed):
            volts = terminal_V(speed)
            if volts >= open_V:
                return self.current_at_speed_A(speed)
            given = terminal_current_A(volts, light, dark, ideality, series, shunt)
            return self.current_at_speed_A(speed) - given

        if lacking_A(0.0) >= 0:
            return self._stalled(curve, open_V)
        most_rad_s = min(_MOST_SPEED_RATIO * self._rated_rad_s, _MOST_RAD_S)
        top = min(open_V / self._constant_V_s, most_rad_s)
        speed = rising_root(lacking_A, 0.0, top)
        amps = self.current_at_speed_A(speed)
        return terminal_V(speed), amps, speed, self.flow_at_speed_m3_s(speed)

    def _stalled(self, curve, open_V):
        def excess_A(volts):
            return volts / self._winding_ohm - terminal_current_A(volts, *curve)

        volts = rising_root(excess_A, 0.0, open_V) if open_V > 0 else 0.0
        return volts, volts / self._winding_ohm, 0.0, 0.0
