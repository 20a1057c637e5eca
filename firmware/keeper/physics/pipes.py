"""Flow of water in pipes: friction, fittings and what they do to a flow.

Friction factors are Darcy's (four times Fanning's).  Surge, suction and air are
in the modules surge and suction.
"""

import math

from keeper.physics.checks import require
from keeper.physics.solve import rising_root

LAMINAR_REYNOLDS = 2000.0  # below: laminar (the usual lower limit for pipes)
LEAST_FLOW_M3_S = 1e-30  # whose square is still far from the least number
TURBULENT_REYNOLDS = 4000.0  # above: turbulent; between: blended

# Equivalent length in diameters n, for K = n f_T: Crane TP-410.  Elbows and tees are
# from memory; gate, globe, ball, check and foot valves agree with fluids 1.3.1.
FITTING_DIAMETERS = (
    ("elbow 90", 30),
    ("elbow 45", 16),
    ("gate valve", 8),
    ("globe valve", 340),
    ("ball valve", 3),
    ("tee run", 20),
    ("tee branch", 60),
    ("swing check valve", 100),
    ("foot valve, poppet", 420),
    ("foot valve, hinged", 75),
)
# Loss coefficients at the ends of a pipe (Crane TP-410).
ENTRANCE_SHARP = 0.5
ENTRANCE_PROJECTING = 0.78
EXIT = 1.0


def velocity_m_s(flow_m3_s, diameter_m):
    """Mean velocity in a full round pipe.

    v = 4 Q / (pi d^2)

    Args:
        flow_m3_s: flow [m3/s], 0 to 10
        diameter_m: inside diameter [m], 0.0005 to 5
    Returns:
        mean velocity [m/s]
    Raises:
        ValueError: an argument is outside its range
    Source: continuity
    Example:
        >>> round(velocity_m_s(0.0003, 0.0254), 6)
        0.592058
    """
    require("flow_m3_s", flow_m3_s, 0, 10, "m3/s")
    require("diameter_m", diameter_m, 0.0005, 5, "m")
    return 4 * flow_m3_s / (math.pi * diameter_m * diameter_m)


def _require_friction(reynolds_number, relative_roughness):
    require("reynolds_number", reynolds_number, 1e-3, 1e8, "")
    require("relative_roughness", relative_roughness, 0, 0.05, "")


def _rough_term(relative_roughness):
    return (relative_roughness / 3.7) ** 1.11


def _friction_factor(reynolds_number, rough_term):
    if reynolds_number <= LAMINAR_REYNOLDS:
        return 64 / reynolds_number
    root = -1.8 * math.log10(rough_term + 6.9 / reynolds_number)
    turbulent = 1 / (root * root)
    if reynolds_number >= TURBULENT_REYNOLDS:
        return turbulent
    share = (reynolds_number - LAMINAR_REYNOLDS) / (TURBULENT_REYNOLDS - LAMINAR_REYNOLDS)
    weight = share * share * (3 - 2 * share)
    return (1 - weight) * 64 / reynolds_number + weight * turbulent


def friction_factor(reynolds_number, relative_roughness):
    """Darcy friction factor, explicit and without a jump.

    f = 64 / Re up to Re 2000;
    f = (-1.8 log10((e / 3.7)^1.11 + 6.9 / Re))^-2 from Re 4000;
    between: (1 - w) laminar + w turbulent, w = x^2 (3 - 2 x), x = (Re - 2000) / 2000

    Args:
        reynolds_number: Reynolds number [-], 1e-3 to 1e8
        relative_roughness: roughness over diameter [-], 0 to 0.05
    Returns:
        Darcy friction factor [-]; turbulent within 2 % of Colebrook's
    Raises:
        ValueError: an argument is outside its range
    Source: Hagen-Poiseuille; S. E. Haaland, J. Fluids Eng. 105 (1983) 89; the
        blend is ours: no formula is trusted between Re 2000 and 4000
    Kept for: sizing of pipes and nozzle
    Example:
        >>> friction_factor(1000.0, 0.0), round(friction_factor(1e5, 1e-4), 6)
        (0.064, 0.018265)
    """
    _require_friction(reynolds_number, relative_roughness)
    return _friction_factor(reynolds_number, _rough_term(relative_roughness))


def fully_turbulent_friction_factor(relative_roughness):
    """Darcy friction factor that no longer depends on the flow (f_T).

    1 / sqrt(f) = -2 log10(e / 3.7)

    Args:
        relative_roughness: roughness over diameter [-], 1e-6 to 0.05
    Returns:
        Darcy friction factor [-]
    Raises:
        ValueError: the roughness is outside its range
    Source: Colebrook's equation at infinite Reynolds number (von Karman, Nikuradse)
    Kept for: sizing of pipes, fittings by their equivalent length
    Example:
        >>> round(fully_turbulent_friction_factor(0.045e-3 / 26.6e-3), 4)
        0.0224
    """
    require("relative_roughness", relative_roughness, 1e-6, 0.05, "")
    root = -2 * math.log10(relative_roughness / 3.7)
    return 1 / (root * root)


def loss_coefficient(length_diameters, friction_factor_used):
    """Loss coefficient of a fitting from its equivalent length.

    K = f (L / d)

    Args:
        length_diameters: equivalent length over diameter [-], 0 to 1e4
        friction_factor_used: Darcy friction factor that belongs to it [-], 0.005 to 0.2
    Returns:
        loss coefficient K [-]
    Raises:
        ValueError: an argument is outside its range
    Source: Crane TP-410, K = n f_T with f_T of the fitting's own bore
    Kept for: sizing of pipes, fittings by their equivalent length
    Example:
        >>> round(loss_coefficient(150, 0.0165), 3)
        2.475
    """
    require("length_diameters", length_diameters, 0, 1e4, "")
    require("friction_factor_used", friction_factor_used, 0.005, 0.2, "")
    return friction_factor_used * length_diameters


class Pipe:
    """A line of one bore with its fittings: head loss as a function of flow alone.

    h = (f L / d + K) v^2 / (2 g)

    Args:
        length_m: length of pipe [m], 0 to 1e5
        diameter_m: inside diameter [m], 0.0005 to 5
        roughness_m: equivalent sand roughness, at most 0.05 diameters [m], 0 to 0.01
        coefficient: sum of the loss coefficients K of its fittings [-], 0 to 1e6
        kinematic_viscosity_m2_s: kinematic viscosity [m2/s], 1e-7 to 1e-4
        gravity_m_s2: acceleration of free fall [m/s2], 9.7 to 9.9
    Returns:
        a pipe [-]
    Raises:
        ValueError: an argument is outside its range
    Source: Darcy-Weisbach; what does not depend on the flow is computed once
    Example:
        >>> round(Pipe(10.0, 0.0254, 1.5e-6, 1.5, 1.0034e-6, 9.80665).loss_m(0.0003), 3)
        0.222
    """

    def __init__(
        self,
        length_m,
        diameter_m,
        roughness_m,
        coefficient,
        kinematic_viscosity_m2_s,
        gravity_m_s2,
    ):
        require("length_m", length_m, 0, 1e5, "m")
        require("diameter_m", diameter_m, 0.0005, 5, "m")
        require("roughness_m", roughness_m, 0, min(0.01, 0.05 * diameter_m), "m")
        require("coefficient", coefficient, 0, 1e6, "")
        require("kinematic_viscosity_m2_s", kinematic_viscosity_m2_s, 1e-7, 1e-4, "m2/s")
        require("gravity_m_s2", gravity_m_s2, 9.7, 9.9, "m/s2")
        self.area_m2 = math.pi / 4 * diameter_m * diameter_m
        self.coefficient = coefficient
        self._lengths = length_m / diameter_m
        self._rough_term = _rough_term(roughness_m / diameter_m)
        self._reynolds_s_m3 = diameter_m / (self.area_m2 * kinematic_viscosity_m2_s)
        self._head_s2_m5 = 1 / (2 * gravity_m_s2 * self.area_m2 * self.area_m2)

    def loss_m(self, flow_m3_s):
        """Head lost in the line.

        h = (f L / d + K) v^2 / (2 g)

        Args:
            flow_m3_s: flow [m3/s], 0 to 10
        Returns:
            head loss [m], exactly 0 at rest
        Raises:
            ValueError: the flow is outside its range
        Source: Darcy-Weisbach
        Example:
            >>> Pipe(10.0, 0.0254, 1.5e-6, 1.5, 1.0034e-6, 9.80665).loss_m(0.0)
            0.0
        """
        if not 0.0 <= flow_m3_s <= 10.0:
            require("flow_m3_s", flow_m3_s, 0, 10, "m3/s")
        if flow_m3_s < LEAST_FLOW_M3_S:
            # f Re = 64, written so that no flow gives no loss instead of 0 x infinity.
            return 64 * self._lengths / self._reynolds_s_m3 * self._head_s2_m5 * flow_m3_s
        return self.resistance_s2_m5(flow_m3_s) * flow_m3_s * flow_m3_s

    def resistance_s2_m5(self, flow_m3_s):
        """Head lost in the line over the square of the flow.

        r = loss(Q) / Q^2 = (f L / d + K) / (2 g A^2)

        Args:
            flow_m3_s: flow [m3/s], 1e-30 to 10
        Returns:
            resistance [s2/m5], nearly the same for neighbouring turbulent flows
        Raises:
            ValueError: the flow is outside its range
        Source: Darcy-Weisbach
        Example:
            >>> pipe = Pipe(10.0, 0.0254, 1.5e-6, 1.5, 1.0034e-6, 9.80665)
            >>> round(pipe.resistance_s2_m5(0.0003) * 0.0003 ** 2, 3)
            0.222
        """
        if not LEAST_FLOW_M3_S <= flow_m3_s <= 10.0:
            require("flow_m3_s", flow_m3_s, LEAST_FLOW_M3_S, 10, "m3/s")
        factor = _friction_factor(self._reynolds_s_m3 * flow_m3_s, self._rough_term)
        return (factor * self._lengths + self.coefficient) * self._head_s2_m5

    def flow_m3_s(self, head_m):
        """Flow that a head drives through the line.

        loss(Q) = head, by bisection: the loss rises with the flow everywhere

        Args:
            head_m: head between the ends, entrance and exit loss belong to K [m], 0 to 1000
        Returns:
            flow [m3/s], at most 10; exactly 0 without head
        Raises:
            ValueError: the head is outside its range
        Source: Darcy-Weisbach
        Kept for: sizing of pipes
        Example:
            >>> pipe = Pipe(10.0, 0.0254, 1.5e-6, 1.5, 1.0034e-6, 9.80665)
            >>> round(pipe.flow_m3_s(pipe.loss_m(0.0003)), 9)
            0.0003
        """
        require("head_m", head_m, 0, 1000, "m")
        if head_m == 0:
            return 0.0
        return rising_root(lambda flow: self.loss_m(flow) - head_m, 0.0, 10.0)
