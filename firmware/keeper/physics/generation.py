"""The whole way from head and valve to light: flow, speed, power, joules a litre.

With a fixed nozzle the jet's power goes with the cube of the flow, so half the
flow carries an eighth of the power and a quarter of the energy in each litre;
below the lamps' threshold the set gives nothing at all.
"""

import math

from keeper.physics.checks import require
from keeper.physics.generator import lamp_current_A, lamp_power_W
from keeper.physics.solve import rising_root
from keeper.physics.turbine import (
    bucket_shaft_power_W,
    drag_torque_Nm,
    jet_power_W,
    runaway_rad_s,
)
from keeper.physics.valve import head_loss_m

_LITRES = 1000.0  # in a cubic metre
_MOST_FLOW_M3_S = 10.0  # the range of modules pipes and valve
_MOST_JET_M_S = 150.0  # the range of module turbine
_SHUT_KV_m3_h = 1e-4  # below the range of module valve: shut


class ImpulseWheel:
    """Wheel of an impulse turbine.

    T = rho Q (1 - s) r (v - w r)(1 + k cos(180 deg - turn)) - Tb - c w^2

    Args:
        radius_m: radius of the circle that the jet touches [m], 0.005 to 5
        k_frac: relative speed left at the bucket's edge [-], 0 to 1
        turn_deg: angle by which the bucket turns the water [deg], 90 to 180
        splash_frac: share of the flow that meets no bucket [-], 0 to 1
        bearing_Nm: constant bearing torque [N m], 0 to 10
        windage_Nm_s2: windage coefficient [N m s2], 0 to 10
    Returns:
        a wheel [-]
    Raises:
        ValueError: an argument is outside its range
    Source: Euler's turbine equation
    Example:
        >>> ImpulseWheel(0.05, 0.8, 160.0, 0.1, 1e-4, 1e-8).radius_m
        0.05
    """

    def __init__(self, radius_m, k_frac, turn_deg, splash_frac, bearing_Nm, windage_Nm_s2):
        require("radius_m", radius_m, 0.005, 5, "m")
        require("k_frac", k_frac, 0, 1, "")
        require("turn_deg", turn_deg, 90, 180, "deg")
        require("splash_frac", splash_frac, 0, 1, "")
        drag_torque_Nm(0, bearing_Nm, windage_Nm_s2)
        self.radius_m = radius_m
        self._k_frac = k_frac
        self._turn_deg = turn_deg
        self._splash_frac = splash_frac
        self._bearing_Nm = bearing_Nm
        self._windage_Nm_s2 = windage_Nm_s2

    def shaft_power_W(self, speed_rad_s, flow_m3_s, jet_m_s, density_kg_m3):
        """Power at the shaft, negative when drag takes more than the jet gives.

        P = rho Q (1 - s) u (v - u)(1 + k cos(180 deg - turn)) - (Tb + c w^2) w

        Args:
            speed_rad_s: speed, at most that of the jet [rad/s], 0 to 3e4
            flow_m3_s: flow of the jet [m3/s], 0 to 10
            jet_m_s: jet speed v [m/s], 0 to 150
            density_kg_m3: density of the water [kg/m3], 900 to 1100
        Returns:
            power [W]
        Raises:
            ValueError: an argument is outside its range
        Source: Euler's turbine equation less drag
        Example:
            >>> wheel = ImpulseWheel(0.05, 0.8, 160.0, 0.1, 1e-4, 1e-8)
            >>> round(wheel.shaft_power_W(120.0, 5e-5, 12.0, 998.2), 3)
            2.803
        """
        require("speed_rad_s", speed_rad_s, 0, 3e4, "rad/s")
        require("jet_m_s", jet_m_s, 0, 150, "m/s")
        require("speed_rad_s", speed_rad_s, 0, jet_m_s / self.radius_m, "rad/s")
        bucket_m_s = min(speed_rad_s * self.radius_m, jet_m_s)
        met_m3_s = flow_m3_s * (1 - self._splash_frac)
        given_W = bucket_shaft_power_W(
            met_m3_s, jet_m_s, bucket_m_s, self._k_frac, self._turn_deg, density_kg_m3
        )
        drag_Nm = drag_torque_Nm(speed_rad_s, self._bearing_Nm, self._windage_Nm_s2)
        return given_W - drag_Nm * speed_rad_s

    def efficiency_frac(self, speed_rad_s, flow_m3_s, jet_m_s, density_kg_m3):
        """Shaft power over the jet's power: the wheel's efficiency map.

        eta = P / (rho Q v^2 / 2)

        Args:
            speed_rad_s: speed, at most that of the jet [rad/s], 0 to 3e4
            flow_m3_s: flow of the jet [m3/s], 1e-9 to 10
            jet_m_s: jet speed v [m/s], 0.01 to 150
            density_kg_m3: density of the water [kg/m3], 900 to 1100
        Returns:
            efficiency [-], negative when drag takes more than the jet gives
        Raises:
            ValueError: an argument is outside its range
        Source: definition
        Example:
            >>> wheel = ImpulseWheel(0.05, 0.8, 160.0, 0.1, 1e-4, 1e-8)
            >>> round(wheel.efficiency_frac(120.0, 5e-5, 12.0, 998.2), 3)
            0.78
        """
        require("flow_m3_s", flow_m3_s, 1e-9, 10, "m3/s")
        require("jet_m_s", jet_m_s, 0.01, 150, "m/s")
        shaft_W = self.shaft_power_W(speed_rad_s, flow_m3_s, jet_m_s, density_kg_m3)
        return shaft_W / jet_power_W(flow_m3_s, jet_m_s, density_kg_m3)

    def runaway_rad_s(self, flow_m3_s, jet_m_s, density_kg_m3):
        """Speed without load.

        T(w) = 0

        Args:
            flow_m3_s: flow of the jet [m3/s], 0 to 10
            jet_m_s: jet speed v [m/s], 0 to 150
            density_kg_m3: density of the water [kg/m3], 900 to 1100
        Returns:
            speed [rad/s]
        Raises:
            ValueError: an argument is outside its range
        Source: torque balance
        Example:
            >>> wheel = ImpulseWheel(0.05, 0.8, 160.0, 0.1, 1e-4, 1e-8)
            >>> round(wheel.runaway_rad_s(5e-5, 12.0, 998.2), 0)
            237.0
        """
        return runaway_rad_s(
            flow_m3_s * (1 - self._splash_frac),
            jet_m_s,
            self.radius_m,
            self._k_frac,
            self._turn_deg,
            self._bearing_Nm,
            self._windage_Nm_s2,
            density_kg_m3,
        )


class LampCircuit:
    """Generator, rectifier and lamp in series.

    I = (k w - Vd - Vth) / (Rg + Rl), 0 below the threshold

    Args:
        constant_V_s: machine constant k [V s/rad], 1e-5 to 10
        source_ohm: generator's winding [ohm], 0 to 1000
        rectifier_drop_V: voltage lost in the rectifier while it conducts [V], 0 to 5
        threshold_V: voltage at which the lamp starts to draw current [V], 0 to 500
        lamp_ohm: slope resistance of the lamp above its threshold [ohm], 0.001 to 1e5
    Returns:
        a lamp circuit [-]
    Raises:
        ValueError: an argument is outside its range
    Source: piecewise linear diode
    Example:
        >>> LampCircuit(0.1, 10.0, 1.0, 9.0, 40.0).current_A(150.0)
        0.1
    """

    def __init__(self, constant_V_s, source_ohm, rectifier_drop_V, threshold_V, lamp_ohm):
        require("constant_V_s", constant_V_s, 1e-5, 10, "V s/rad")
        lamp_current_A(0, rectifier_drop_V, threshold_V, source_ohm, lamp_ohm)
        self.constant_V_s = constant_V_s
        self._source_ohm = source_ohm
        self._rectifier_drop_V = rectifier_drop_V
        self._threshold_V = threshold_V
        self._lamp_ohm = lamp_ohm

    def trial_A(self, speed_rad_s):
        """Current at a speed without a check, for the steps of a solver.

        I = (k w - Vd - Vth) / (Rg + Rl)

        Args:
            speed_rad_s: speed, 0 or above [rad/s]
        Returns:
            current [A], exactly 0 below the threshold
        Source: piecewise linear diode
        Example:
            >>> LampCircuit(0.1, 10.0, 1.0, 9.0, 40.0).trial_A(150.0)
            0.1
        """
        spare_V = self.constant_V_s * speed_rad_s - self._rectifier_drop_V - self._threshold_V
        return max(spare_V, 0.0) / (self._source_ohm + self._lamp_ohm)

    def current_A(self, speed_rad_s):
        """Current at a speed.

        I = (k w - Vd - Vth) / (Rg + Rl)

        Args:
            speed_rad_s: speed [rad/s], 0 to 3e4
        Returns:
            current [A], exactly 0 below the threshold
        Raises:
            ValueError: the speed is outside its range, or the EMF above 1000 V
        Source: piecewise linear diode
        Example:
            >>> LampCircuit(0.1, 10.0, 1.0, 9.0, 40.0).current_A(90.0)
            0.0
        """
        require("speed_rad_s", speed_rad_s, 0, 3e4, "rad/s")
        return lamp_current_A(
            self.constant_V_s * speed_rad_s,
            self._rectifier_drop_V,
            self._threshold_V,
            self._source_ohm,
            self._lamp_ohm,
        )

    def lamp_W(self, speed_rad_s):
        """Power that the lamp takes at a speed.

        P = I (Vth + I Rl)

        Args:
            speed_rad_s: speed [rad/s], 0 to 3e4
        Returns:
            power [W]
        Raises:
            ValueError: the speed is outside its range, the EMF above 1000 V or
                the current above 100 A
        Source: piecewise linear diode
        Example:
            >>> round(LampCircuit(0.1, 10.0, 1.0, 9.0, 40.0).lamp_W(150.0), 6)
            1.3
        """
        return lamp_power_W(self.current_A(speed_rad_s), self._threshold_V, self._lamp_ohm)


class TurbineSet:
    """Penstock, nozzle, wheel, generator and lamp as one machine.

    H = loss(Q) + h_valve(Q) + Q^2 / (2 g A^2 Cv^2);  shaft power(w) = k w I(w)

    Args:
        penstock: the penstock, a pipes.Pipe [-]
        jet_area_m2: jet area of the nozzle [m2], 1e-9 to 1
        velocity_coefficient: velocity coefficient Cv of the nozzle [-], 0.5 to 1
        wheel: the wheel, an ImpulseWheel [-]
        circuit: generator and lamp, a LampCircuit [-]
        density_kg_m3: density of the water [kg/m3], 900 to 1100
        gravity_m_s2: acceleration of free fall [m/s2], 9.7 to 9.9
    Returns:
        a turbine set [-]
    Raises:
        ValueError: an argument is outside its range
    Source: head balance and torque balance
    Example:
        >>> from keeper.physics.pipes import Pipe
        >>> line = Pipe(20.0, 0.025, 1.5e-6, 2.0, 1.0034e-6, 9.80665)
        >>> wheel = ImpulseWheel(0.05, 0.8, 160.0, 0.1, 1e-4, 1e-8)
        >>> lamp = LampCircuit(0.1, 10.0, 1.0, 9.0, 20.0)
        >>> plant = TurbineSet(line, 3.46e-6, 0.97, wheel, lamp, 998.2, 9.80665)
        >>> [round(plant.point(9.5, kv)[3], 2) for kv in (1.2, 0.3, 0.15)]
        [2.37, 1.6, 0.65]
    """

    def __init__(
        self,
        penstock,
        jet_area_m2,
        velocity_coefficient,
        wheel,
        circuit,
        density_kg_m3,
        gravity_m_s2,
    ):
        require("jet_area_m2", jet_area_m2, 1e-9, 1, "m2")
        require("velocity_coefficient", velocity_coefficient, 0.5, 1, "")
        require("density_kg_m3", density_kg_m3, 900, 1100, "kg/m3")
        require("gravity_m_s2", gravity_m_s2, 9.7, 9.9, "m/s2")
        self._penstock = penstock
        self._jet_area_m2 = jet_area_m2
        self._velocity_coefficient = velocity_coefficient
        self._wheel = wheel
        self._circuit = circuit
        self._density_kg_m3 = density_kg_m3
        self._gravity_m_s2 = gravity_m_s2

    def flow_m3_s(self, head_m, kv_m3_h):
        """Flow under a head at a valve's Kv.

        H = loss(Q) + h_valve(Q) + Q^2 / (2 g A^2 Cv^2), by bisection

        Args:
            head_m: water surface above the nozzle [m], 0 to 1000
            kv_m3_h: Kv of the valve at its present travel, 0 when shut [m3/h], 0 to 1e5
        Returns:
            flow [m3/s], at most 10; exactly 0 when shut or without head
        Raises:
            ValueError: an argument is outside its range
        Source: head balance
        Example:
            >>> from keeper.physics.pipes import Pipe
            >>> line = Pipe(0.0, 0.025, 1.5e-6, 0.0, 1.0034e-6, 9.80665)
            >>> wheel = ImpulseWheel(0.05, 0.8, 160.0, 0.1, 1e-4, 1e-8)
            >>> lamp = LampCircuit(0.1, 10.0, 1.0, 9.0, 20.0)
            >>> plant = TurbineSet(line, 3.46e-6, 0.97, wheel, lamp, 998.2, 9.80665)
            >>> round(plant.flow_m3_s(9.0, 100.0) * 1e3, 5)
            0.04459
        """
        require("head_m", head_m, 0, 1000, "m")
        require("kv_m3_h", kv_m3_h, 0, 1e5, "m3/h")
        if head_m == 0 or kv_m3_h < _SHUT_KV_m3_h:
            return 0.0
        gravity = self._gravity_m_s2
        jet_m2 = self._jet_area_m2 * self._velocity_coefficient

        def excess_m(flow):
            lost_m = self._penstock.loss_m(flow) + head_loss_m(flow, kv_m3_h, gravity)
            jet = flow / jet_m2
            return lost_m + jet * jet / (2 * gravity) - head_m

        free_m3_s = jet_m2 * math.sqrt(2 * gravity * head_m)
        return rising_root(excess_m, 0.0, min(free_m3_s, _MOST_FLOW_M3_S))

    def speed_rad_s(self, flow_m3_s):
        """Steady speed of wheel and generator at a flow.

        shaft power(w) = k w I(w), by bisection between rest and runaway

        Args:
            flow_m3_s: flow of the jet, at most 150 m/s of it [m3/s], 0 to 10
        Returns:
            speed [rad/s]
        Raises:
            ValueError: the flow is outside its range
        Source: power balance
        Example:
            >>> from keeper.physics.pipes import Pipe
            >>> line = Pipe(0.0, 0.025, 1.5e-6, 0.0, 1.0034e-6, 9.80665)
            >>> wheel = ImpulseWheel(0.05, 0.8, 160.0, 0.1, 1e-4, 1e-8)
            >>> lamp = LampCircuit(0.1, 10.0, 1.0, 9.0, 20.0)
            >>> plant = TurbineSet(line, 3.46e-6, 0.97, wheel, lamp, 998.2, 9.80665)
            >>> round(plant.speed_rad_s(4.5e-5), 0)
            155.0
        """
        require("flow_m3_s", flow_m3_s, 0, _MOST_JET_M_S * self._jet_area_m2, "m3/s")
        jet_m_s = flow_m3_s / self._jet_area_m2
        runaway = self._wheel.runaway_rad_s(flow_m3_s, jet_m_s, self._density_kg_m3)
        if runaway == 0:
            return 0.0

        def excess_W(speed):
            given_W = self._wheel.shaft_power_W(speed, flow_m3_s, jet_m_s, self._density_kg_m3)
            # Unchecked: a trial may be far above the speed that is found.
            taken_W = self._circuit.constant_V_s * speed * self._circuit.trial_A(speed)
            return taken_W - given_W

        return rising_root(excess_W, 0.0, runaway)

    def point(self, head_m, kv_m3_h):
        """Flow, speed, current and lamp power at a head and a valve's Kv.

        head balance, then power balance

        Args:
            head_m: water surface above the nozzle [m], 0 to 1000
            kv_m3_h: Kv of the valve at its present travel, 0 when shut [m3/h], 0 to 1e5
        Returns:
            flow [m3/s], speed [rad/s], current [A] and lamp power [W]
        Raises:
            ValueError: an argument is outside its range, the EMF above 1000 V or
                the current above 100 A
        Source: head balance and power balance
        Example:
            >>> from keeper.physics.pipes import Pipe
            >>> line = Pipe(20.0, 0.025, 1.5e-6, 2.0, 1.0034e-6, 9.80665)
            >>> wheel = ImpulseWheel(0.05, 0.8, 160.0, 0.1, 1e-4, 1e-8)
            >>> lamp = LampCircuit(0.1, 10.0, 1.0, 9.0, 20.0)
            >>> TurbineSet(line, 3.46e-6, 0.97, wheel, lamp, 998.2, 9.80665).point(9.5, 0.0)
            (0.0, 0.0, 0.0, 0.0)
        """
        flow = self.flow_m3_s(head_m, kv_m3_h)
        speed = self.speed_rad_s(flow)
        return flow, speed, self._circuit.current_A(speed), self._circuit.lamp_W(speed)

    def specific_output_J_L(self, head_m, kv_m3_h):
        """Electrical energy at the lamp from each litre.

        e = P / Q

        Args:
            head_m: water surface above the nozzle [m], 0 to 1000
            kv_m3_h: Kv of the valve at its present travel, 0 when shut [m3/h], 0 to 1e5
        Returns:
            energy a litre [J/L], 0 without flow
        Raises:
            ValueError: an argument is outside its range, the EMF above 1000 V or
                the current above 100 A
        Source: definition
        Example:
            >>> from keeper.physics.pipes import Pipe
            >>> line = Pipe(20.0, 0.025, 1.5e-6, 2.0, 1.0034e-6, 9.80665)
            >>> wheel = ImpulseWheel(0.05, 0.8, 160.0, 0.1, 1e-4, 1e-8)
            >>> lamp = LampCircuit(0.1, 10.0, 1.0, 9.0, 20.0)
            >>> plant = TurbineSet(line, 3.46e-6, 0.97, wheel, lamp, 998.2, 9.80665)
            >>> [round(plant.specific_output_J_L(9.5, kv), 1) for kv in (1.2, 0.1)]
            [52.2, 9.2]
        """
        flow, _, _, power_W = self.point(head_m, kv_m3_h)
        if flow == 0:
            return 0.0
        return power_W / (flow * _LITRES)
