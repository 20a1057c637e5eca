"""Generator, rectifier and what hangs on them: the electrical end of the turbine.

A permanent-magnet generator behaves as an EMF k w behind its winding.  Lamps of
light-emitting diodes take nothing below a threshold and are nearly a resistance
above it; so does the clamp.
"""

import math

from keeper.physics.checks import require


def lamp_current_A(power_W, threshold_V, lamp_ohm):
    """Current of a lamp at a power.

    P = I (Vth + I Rl), solved for I

    Args:
        power_W: power [W], 0 to 1e5
        threshold_V: voltage at which the lamp starts to draw current [V], 0 to 500
        lamp_ohm: slope resistance of the lamp above its threshold [ohm], 0.001 to 1e5
    Returns:
        current [A]
    Raises:
        ValueError: an argument is outside its range
    Source: piecewise linear diode
    Example:
        >>> round(lamp_current_A(1.3, 9.0, 40.0), 9)
        0.1
    """
    require("power_W", power_W, 0, 1e5, "W")
    require("threshold_V", threshold_V, 0, 500, "V")
    require("lamp_ohm", lamp_ohm, 0.001, 1e5, "ohm")
    if power_W == 0:
        return 0.0
    half_A, square_A2 = threshold_V / (2 * lamp_ohm), power_W / lamp_ohm
    # The root's form without a difference of two near numbers.
    return square_A2 / (half_A + math.sqrt(half_A * half_A + square_A2))


class LoadedGenerator:
    """A generator behind its rectifier, on lamps, a clamp and a dump load.

    (k w - Vd - V) / Rg = (V - Vl) / Rl + (V - Vc) / Rc + V / Rd, the lamps and the clamp
    each from its own voltage on, the dump load while it is switched on

    Attributes: generator_V, generator_A, lamp_A, clamp_A, dump_A hold the state last
    found; lamps_connected, False: their lead is open; lamps_off and dump_on, 1: the
    board takes the lamps off, puts the dump load on.

    Args:
        constant_V_s: machine constant k [V s/rad], 1e-5 to 10
        winding_ohm: generator's winding Rg [ohm], 0.001 to 1000
        rectifier_drop_V: voltage lost in the rectifier Vd [V], 0 to 5
        clamp_V: voltage at which the clamp starts to draw current [V], 0.1 to 1e5
        clamp_ohm: slope resistance of the clamp [ohm], 0.001 to 1e5
        threshold_V: voltage at which the lamps start to draw current [V], 0 to 500
        lamp_ohm: slope resistance of the lamps [ohm], 0.001 to 1e5
        dump_ohm: resistance of the dump load [ohm], 0.001 to 1e6
    Returns:
        a generator at rest [-]
    Raises:
        ValueError: an argument is outside its range
    Source: Kirchhoff's laws; piecewise linear diodes
    Example:
        >>> LoadedGenerator(0.1, 10.0, 1.0, 15.0, 2.0, 9.0, 40.0, 45.0).drive_Nm(150.0)
        0.010000000000000002
    """

    def __init__(
        self,
        constant_V_s,
        winding_ohm,
        rectifier_drop_V,
        clamp_V,
        clamp_ohm,
        threshold_V,
        lamp_ohm,
        dump_ohm,
    ):
        require("constant_V_s", constant_V_s, 1e-5, 10, "V s/rad")
        require("winding_ohm", winding_ohm, 0.001, 1000, "ohm")
        require("rectifier_drop_V", rectifier_drop_V, 0, 5, "V")
        require("clamp_V", clamp_V, 0.1, 1e5, "V")
        require("clamp_ohm", clamp_ohm, 0.001, 1e5, "ohm")
        require("threshold_V", threshold_V, 0, 500, "V")
        require("lamp_ohm", lamp_ohm, 0.001, 1e5, "ohm")
        require("dump_ohm", dump_ohm, 0.001, 1e6, "ohm")
        self.emf, self.winding, self.drop_V = constant_V_s, winding_ohm, rectifier_drop_V
        self.clamp_V, self.lamp_V, self.lamp_ohm = clamp_V, threshold_V, lamp_ohm
        self.winding_S, self.clamp_S = 1.0 / winding_ohm, 1.0 / clamp_ohm
        self.lamp_S, self.dump_S = 1.0 / lamp_ohm, 1.0 / dump_ohm
        self.lamps_connected = True
        self.lamps_off = self.dump_on = 0
        self.generator_V = self.generator_A = 0.0
        self.lamp_A = self.clamp_A = self.dump_A = 0.0

    def drive_Nm(self, speed_rad_s):
        """Find voltage and currents at a speed.

        T = k I, I the sum of the loads' currents

        Args:
            speed_rad_s: speed, 0 or above [rad/s]
        Returns:
            torque that the generator takes [N m]; the attributes hold the state
        Source: Kirchhoff's laws, no iteration: each load conducts or it does not; no
            check here, it is called at every step of a twin
        Example:
            >>> machine = LoadedGenerator(0.1, 10.0, 1.0, 15.0, 2.0, 9.0, 40.0, 45.0)
            >>> _ = machine.drive_Nm(150.0)
            >>> machine.generator_V, machine.lamp_A
            (13.0, 0.1)
        """
        source = self.emf * speed_rad_s - self.drop_V
        lamp_V, dump_on = self.lamp_V, self.dump_on
        given_A = source / self.winding
        all_S = self.winding_S
        if dump_on and source > 0.0:
            all_S += self.dump_S
        # With the clamp at rest; the generator sees only dump load and lamps.
        volts = given_A / all_S
        lamp_A = clamp_A = dump_A = 0.0
        lit = volts > lamp_V and self.lamps_connected and not self.lamps_off
        if lit:
            lamp_S = self.lamp_S
            given_A += lamp_V * lamp_S
            all_S += lamp_S
            volts = given_A / all_S
        if volts > self.clamp_V:
            clamp_S = self.clamp_S
            volts = (given_A + self.clamp_V * clamp_S) / (all_S + clamp_S)
            clamp_A = (volts - self.clamp_V) * clamp_S
        if lit and volts > lamp_V:
            lamp_A = (volts - lamp_V) * self.lamp_S
        if dump_on and volts > 0.0:
            dump_A = volts * self.dump_S
        self.clamp_A, self.dump_A, self.lamp_A = clamp_A, dump_A, lamp_A
        self.generator_A = amps = lamp_A + clamp_A + dump_A
        self.generator_V = volts if volts > 0.0 else 0.0
        return self.emf * amps

    def slope_Nm_s(self):
        """How the torque rises with the speed in the state last found.

        dT/dw = k^2 / (Rg + 1 / G), G the conductance of the loads that carry current

        Args:
        Returns:
            slope [N m s/rad], 0 while nothing carries current
        Source: derivative of the state's torque
        Example:
            >>> machine = LoadedGenerator(0.1, 10.0, 1.0, 15.0, 2.0, 9.0, 40.0, 45.0)
            >>> _ = machine.drive_Nm(150.0)
            >>> round(machine.slope_Nm_s(), 9)
            0.0002
        """
        if self.generator_A <= 0.0:
            return 0.0
        conductance = self.lamp_S if self.lamp_A > 0.0 else 0.0
        if self.clamp_A > 0.0:
            conductance += self.clamp_S
        if self.dump_A > 0.0:
            conductance += self.dump_S
        return self.emf * self.emf / (self.winding + 1.0 / conductance)
