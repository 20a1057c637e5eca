"""The whole way from head and valve to light: flow, speed, power, joules a litre.

With a fixed nozzle the jet's power goes with the cube of the flow, so half the
flow carries an eighth of the power and a quarter of the energy in each litre;
below the lamps' threshold the set gives nothing at all.
"""

import math

from keeper.physics.checks import require
from keeper.physics.generator import LoadedGenerator, lamp_current_A
from keeper.physics.pipes import LEAST_FLOW_M3_S
from keeper.physics.solve import rising_root
from keeper.physics.turbine import jet_power_W, nozzle_area_m2
from keeper.physics.valve import kv_of_resistance_m3_h, resistance_s2_m5

_FIRST_FLOW_M3_S = 1e-5  # until there was a flow the penstock's friction is taken at this one
_SHUT_KV_M3_H = 1e-30  # below the range of module valve: shut
_MOST_FLOW_M3_S = 10.0  # the range of module pipes


class TurbineSet(LoadedGenerator):
    """Penstock, valve, nozzle, wheel and loaded generator as one machine.

    H = loss(Q) + r_valve Q^2 + v^2 / (2 g Cv^2),  v = Q / A;  torque of the wheel less
    its friction = k I(w)

    Attributes: flow, speed and those of the generator hold the state last found.

    Args:
        penstock: the penstock, a pipes.Pipe [-]
        valve: the valve, a valve.ControlValve [-]
        nozzle_m: diameter of the nozzle's mouth [m], 1e-4 to 1
        velocity_coefficient: velocity coefficient Cv of the nozzle [-], 0.5 to 1
        wheel: the wheel, a turbine.ImpulseWheel [-]
        loads: the arguments of generator.LoadedGenerator [V s/rad, ohm, V]
        density_kg_m3: density of the water [kg/m3], 900 to 1100
        gravity_m_s2: acceleration of free fall [m/s2], 9.7 to 9.9
    Returns:
        a turbine set at rest, its valve shut [-]
    Raises:
        ValueError: an argument is outside its range
    Source: head balance and torque balance
    Example:
        >>> from keeper.physics.pipes import Pipe
        >>> from keeper.physics.turbine import ImpulseWheel
        >>> from keeper.physics.valve import ControlValve
        >>> plant = TurbineSet(Pipe(20.0, 0.025, 1.5e-6, 2.0, 1.0034e-6, 9.80665),
        ...                    ControlValve(1.2, 50.0, False), 0.0021, 0.97,
        ...                    ImpulseWheel(0.05, 0.8, 160.0, 0.9, 1e-4),
        ...                    (0.1, 10.0, 1.0, 20.0, 2.0, 9.0, 20.0, 45.0), 998.2, 9.80665)
        >>> round(plant.steady(1.0, 9.5)[3], 2)
        2.39
    """

    def __init__(
        self,
        penstock,
        valve,
        nozzle_m,
        velocity_coefficient,
        wheel,
        loads,
        density_kg_m3,
        gravity_m_s2,
    ):
        LoadedGenerator.__init__(self, *loads)
        require("nozzle_m", nozzle_m, 1e-4, 1, "m")
        require("velocity_coefficient", velocity_coefficient, 0.5, 1, "")
        require("density_kg_m3", density_kg_m3, 900, 1100, "kg/m3")
        require("gravity_m_s2", gravity_m_s2, 9.7, 9.9, "m/s2")
        self.pipe, self.valve, self.wheel = penstock, valve, wheel
        self.density, self.gravity = density_kg_m3, gravity_m_s2
        self.weight = density_kg_m3 * gravity_m_s2
        self.area = nozzle_area_m2(nozzle_m, 1.0)
        # Head lost over the square of the flow.
        self.jet_s2_m5 = 1.0 / (2.0 * gravity_m_s2 * self.area ** 2)
        self.nozzle_s2_m5 = self.jet_s2_m5 * (1.0 / velocity_coefficient ** 2 - 1.0)
        self.push_kg_s_m2 = wheel.push_kg_m_s(1.0, density_kg_m3)
        self.pipe_s2_m5 = penstock.resistance_s2_m5(_FIRST_FLOW_M3_S)
        self.valve_s2_m5 = 0.0  # 0 = shut
        self.flow = self.speed = 0.0

    def travel(self, travel_frac):
        """Set the valve's travel.

        r_valve = 1 bar (3600 / Kv)^2 / (1000 kg/m3 g)

        Args:
            travel_frac: travel over full travel [-], 0 to 1
        Returns:
            head lost in the valve over the square of the flow [s2/m5], 0 stands for shut
        Raises:
            ValueError: the travel is outside its range
        Source: IEC 60534-1
        Example:
            >>> from keeper.physics.pipes import Pipe
            >>> from keeper.physics.turbine import ImpulseWheel
            >>> from keeper.physics.valve import ControlValve
            >>> plant = TurbineSet(Pipe(20.0, 0.025, 1.5e-6, 2.0, 1.0034e-6, 9.80665),
            ...                    ControlValve(1.2, 50.0, False), 0.0021, 0.97,
            ...                    ImpulseWheel(0.05, 0.8, 160.0, 0.9, 1e-4),
            ...                    (0.1, 10.0, 1.0, 20.0, 2.0, 9.0, 20.0, 45.0), 998.2, 9.80665)
            >>> round(plant.travel(1.0) * (1.2 / 3600) ** 2, 4)
            10.1972
        """
        kv_m3_h = self.valve.kv_m3_h(travel_frac)
        self.valve_s2_m5 = (
            resistance_s2_m5(kv_m3_h, self.gravity) if kv_m3_h > _SHUT_KV_M3_H else 0.0)
        return self.valve_s2_m5

    def fall_m3_s(self, head_m):
        """Find the flow under a head with the penstock's friction as of the flow before.

        Q = sqrt(H / (r_pipe + r_valve + r_nozzle + r_jet))

        Args:
            head_m: water surface above the nozzle, above 0; the valve is open [m]
        Returns:
            flow [m3/s]
        Source: head balance; no check here, it is called at every step of a twin
        Example:
            >>> from keeper.physics.pipes import Pipe
            >>> from keeper.physics.turbine import ImpulseWheel
            >>> from keeper.physics.valve import ControlValve
            >>> plant = TurbineSet(Pipe(0.0, 0.025, 1.5e-6, 0.0, 1.0034e-6, 9.80665),
            ...                    ControlValve(1e5, 50.0, False), 0.003, 0.97,
            ...                    ImpulseWheel(0.05, 0.8, 160.0, 0.9, 1e-4),
            ...                    (0.1, 10.0, 1.0, 20.0, 2.0, 9.0, 20.0, 45.0), 998.2, 9.80665)
            >>> _ = plant.travel(1.0)
            >>> round(plant.fall_m3_s(9.0) * 1e3, 5)
            0.0911
        """
        self.flow = flow = math.sqrt(head_m / (self.pipe_s2_m5 + self.valve_s2_m5
                                               + self.nozzle_s2_m5 + self.jet_s2_m5))
        return flow

    def steady(self, travel_frac, head_m):
        """Find the state to which flow and wheel settle at a travel of the valve.

        head balance, then torque balance, each by bisection

        Args:
            travel_frac: travel over full travel [-], 0 to 1
            head_m: water surface above the nozzle [m], 0 to 1000
        Returns:
            flow [m3/s], at most 10, speed [rad/s], voltage behind the rectifier [V] and
            power of the lamps [W]; the attributes hold the state
        Raises:
            ValueError: an argument is outside its range
        Source: head balance and torque balance
        Example:
            >>> from keeper.physics.pipes import Pipe
            >>> from keeper.physics.turbine import ImpulseWheel
            >>> from keeper.physics.valve import ControlValve
            >>> plant = TurbineSet(Pipe(20.0, 0.025, 1.5e-6, 2.0, 1.0034e-6, 9.80665),
            ...                    ControlValve(1.2, 50.0, False), 0.0021, 0.97,
            ...                    ImpulseWheel(0.05, 0.8, 160.0, 0.9, 1e-4),
            ...                    (0.1, 10.0, 1.0, 20.0, 2.0, 9.0, 20.0, 45.0), 998.2, 9.80665)
            >>> plant.steady(0.0, 9.5)
            (0.0, 0.0, 0.0, 0.0)
        """
        require("head_m", head_m, 0, 1000, "m")
        self.travel(travel_frac)
        flow = 0.0
        if self.valve_s2_m5 > 0.0 and head_m > 0.0:
            local_s2_m5 = self.valve_s2_m5 + self.nozzle_s2_m5 + self.jet_s2_m5
            most = min(math.sqrt(head_m / local_s2_m5), _MOST_FLOW_M3_S)
            flow = rising_root(
                lambda q: self.pipe.loss_m(q) + local_s2_m5 * q * q - head_m, 0.0, most)
            if flow >= LEAST_FLOW_M3_S:
                self.pipe_s2_m5 = self.pipe.resistance_s2_m5(flow)
        self.flow = flow
        jet_m_s, wheel = flow / self.area, self.wheel

        def excess_Nm(speed):
            given_Nm = wheel.torque_Nm(speed, flow, jet_m_s, self.density)
            return self.drive_Nm(speed) + wheel.friction_Nm - given_Nm

        self.speed = 0.0
        if excess_Nm(0.0) < 0.0:
            self.speed = rising_root(excess_Nm, 0.0, jet_m_s / wheel.radius_m)
        self.drive_Nm(self.speed)
        return flow, self.speed, self.generator_V, self.generator_V * self.lamp_A

    def travel_for_frac(self, flow_m3_s, head_m):
        """Travel of the valve that lets a flow through.

        r_valve = (H - loss(Q)) / Q^2 - r_nozzle - r_jet

        Args:
            flow_m3_s: flow [m3/s], 1e-9 to 10
            head_m: water surface above the nozzle [m], 0 to 1000
        Returns:
            travel over full travel [-], 1 when not even the open valve lets it through
        Raises:
            ValueError: an argument is outside its range
        Source: inverse of the head balance
        Example:
            >>> from keeper.physics.pipes import Pipe
            >>> from keeper.physics.turbine import ImpulseWheel
            >>> from keeper.physics.valve import ControlValve
            >>> plant = TurbineSet(Pipe(20.0, 0.025, 1.5e-6, 2.0, 1.0034e-6, 9.80665),
            ...                    ControlValve(1.2, 50.0, False), 0.0021, 0.97,
            ...                    ImpulseWheel(0.05, 0.8, 160.0, 0.9, 1e-4),
            ...                    (0.1, 10.0, 1.0, 20.0, 2.0, 9.0, 20.0, 45.0), 998.2, 9.80665)
            >>> round(plant.travel_for_frac(plant.steady(0.4, 9.5)[0], 9.5), 9)
            0.4
        """
        require("flow_m3_s", flow_m3_s, 1e-9, 10, "m3/s")
        require("head_m", head_m, 0, 1000, "m")
        left_m = head_m - self.pipe.loss_m(flow_m3_s)
        valve_s2_m5 = left_m / flow_m3_s ** 2 - self.nozzle_s2_m5 - self.jet_s2_m5
        if valve_s2_m5 <= resistance_s2_m5(self.valve.kvs_m3_h, self.gravity):
            return 1.0
        return self.valve.travel_frac(kv_of_resistance_m3_h(valve_s2_m5, self.gravity))

    def flow_for_lamps_m3_s(self, power_W):
        """Flow at which the lamps alone take a power, steadily.

        P gives I and V, these the speed and the torque, and Euler's equation the flow:
        Q = A / 2 (u + sqrt(u^2 + 4 T / (rho f (1 + k cos g) r A)))

        Args:
            power_W: power of the lamps [W], 1e-6 to 1e5
        Returns:
            flow [m3/s]
        Raises:
            ValueError: the power is outside its range
        Source: a fixed nozzle leaves no choice: voltage, torque and Euler's turbine equation
        Example:
            >>> from keeper.physics.pipes import Pipe
            >>> from keeper.physics.turbine import ImpulseWheel
            >>> from keeper.physics.valve import ControlValve
            >>> plant = TurbineSet(Pipe(20.0, 0.025, 1.5e-6, 2.0, 1.0034e-6, 9.80665),
            ...                    ControlValve(1.2, 50.0, False), 0.0021, 0.97,
            ...                    ImpulseWheel(0.05, 0.8, 160.0, 0.9, 1e-4),
            ...                    (0.1, 10.0, 1.0, 20.0, 2.0, 9.0, 20.0, 45.0), 998.2, 9.80665)
            >>> flow, _, _, lamp_W = plant.steady(0.5, 9.5)
            >>> round(plant.flow_for_lamps_m3_s(lamp_W) / flow, 9)
            1.0
        """
        require("power_W", power_W, 1e-6, 1e5, "W")
        amps = lamp_current_A(power_W, self.lamp_V, self.lamp_ohm)
        source_V = self.lamp_V + amps * (self.lamp_ohm + self.winding) + self.drop_V
        bucket_m_s = source_V / self.emf * self.wheel.radius_m
        torque = self.emf * amps + self.wheel.friction_Nm
        # The torque is push (v - u), and push and v both go with the flow.
        still_m4_s2 = torque / self.push_kg_s_m2
        half = 0.5 * self.area
        return half * (bucket_m_s + math.sqrt(bucket_m_s ** 2 + 4.0 * still_m4_s2 / self.area))

    def jet_power_W(self, flow_m3_s):
        """Power of the jet at a flow.

        P = rho Q v^2 / 2

        Args:
            flow_m3_s: flow [m3/s], 0 to 10
        Returns:
            power [W]
        Raises:
            ValueError: the flow is outside its range, or its jet above 150 m/s
        Source: kinetic energy
        Example:
            >>> from keeper.physics.pipes import Pipe
            >>> from keeper.physics.turbine import ImpulseWheel
            >>> from keeper.physics.valve import ControlValve
            >>> plant = TurbineSet(Pipe(20.0, 0.025, 1.5e-6, 2.0, 1.0034e-6, 9.80665),
            ...                    ControlValve(1.2, 50.0, False), 0.0021, 0.97,
            ...                    ImpulseWheel(0.05, 0.8, 160.0, 0.9, 1e-4),
            ...                    (0.1, 10.0, 1.0, 20.0, 2.0, 9.0, 20.0, 45.0), 998.2, 9.80665)
            >>> round(plant.jet_power_W(4e-5), 3)
            2.663
        """
        return jet_power_W(flow_m3_s, flow_m3_s / self.area, self.density)
