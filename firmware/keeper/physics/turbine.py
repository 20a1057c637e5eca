"""Impulse turbine: nozzle, jet, wheel, and where the jet's power goes.

With jet speed v, bucket speed u and w = v - u, the power of the water that meets
a bucket splits, exactly, into shaft, friction on the bucket and exit:
  v^2 / 2 = u w (1 + k cos g) + w^2 (1 - k^2) / 2 + |c|^2 / 2
where k is the share of relative speed that is left at the bucket's edge, g = 180
degrees less the angle by which the bucket turns the water, and c the speed of the
water that leaves.  Splash (water that meets no bucket) is separate.
"""

import math

from keeper.physics.checks import require


def jet_velocity_m_s(head_m, velocity_coefficient, gravity_m_s2):
    """Velocity of a free jet.

    v = Cv sqrt(2 g H)

    Args:
        head_m: net head at the nozzle [m], 0 to 1000
        velocity_coefficient: velocity coefficient Cv [-], 0.5 to 1
        gravity_m_s2: acceleration of free fall [m/s2], 9.7 to 9.9
    Returns:
        velocity [m/s]
    Raises:
        ValueError: an argument is outside its range
    Source: Torricelli
    Kept for: sizing of the nozzle
    Example:
        >>> round(jet_velocity_m_s(9.0, 1.0, 9.80665), 6)
        13.286072
    """
    require("head_m", head_m, 0, 1000, "m")
    require("velocity_coefficient", velocity_coefficient, 0.5, 1, "")
    require("gravity_m_s2", gravity_m_s2, 9.7, 9.9, "m/s2")
    return velocity_coefficient * math.sqrt(2 * gravity_m_s2 * head_m)


def nozzle_area_m2(diameter_m, contraction_coefficient):
    """Area of the jet of a fixed nozzle.

    A = Cc pi / 4 d^2

    Args:
        diameter_m: diameter of the nozzle's mouth [m], 1e-4 to 1
        contraction_coefficient: jet area over mouth area [-], 0.5 to 1
    Returns:
        jet area [m2]
    Raises:
        ValueError: an argument is outside its range
    Source: definition; 1 for a rounded nozzle, near 0.62 for a sharp hole
    Example:
        >>> round(nozzle_area_m2(0.003, 1.0) * 1e6, 4)
        7.0686
    """
    require("diameter_m", diameter_m, 1e-4, 1, "m")
    require("contraction_coefficient", contraction_coefficient, 0.5, 1, "")
    return contraction_coefficient * math.pi / 4 * diameter_m * diameter_m


def largest_power_nozzle_m(pipe_diameter_m, pipe_length_m, pipe_friction_factor):
    """Nozzle that takes the most power out of a penstock: a third of the head is lost.

    d = D / (2 f L / D)^(1/4)

    Args:
        pipe_diameter_m: inside diameter of the penstock [m], 0.0005 to 5
        pipe_length_m: length of the penstock [m], 0.1 to 1e5
        pipe_friction_factor: its Darcy friction factor [-], 0.005 to 0.2
    Returns:
        nozzle diameter [m]; a store wants a smaller one, which wastes less head
    Raises:
        ValueError: an argument is outside its range, or 2 f L / D is below 1
    Source: largest Q (H - r Q^2) with pipe friction as the only loss
    Kept for: sizing of the nozzle
    Example:
        >>> round(largest_power_nozzle_m(0.025, 20.0, 0.03) * 1e3, 2)
        9.5
    """
    require("pipe_diameter_m", pipe_diameter_m, 0.0005, 5, "m")
    require("pipe_length_m", pipe_length_m, 0.1, 1e5, "m")
    require("pipe_friction_factor", pipe_friction_factor, 0.005, 0.2, "")
    ratio = 2 * pipe_friction_factor * pipe_length_m / pipe_diameter_m
    require("2 f L / D", ratio, 1, 1e9, "")
    return pipe_diameter_m / math.sqrt(math.sqrt(ratio))


def jet_power_W(flow_m3_s, jet_m_s, density_kg_m3):
    """Power that a jet carries.

    P = rho Q v^2 / 2

    Args:
        flow_m3_s: flow [m3/s], 0 to 10
        jet_m_s: jet speed v [m/s], 0 to 150
        density_kg_m3: density of the water [kg/m3], 900 to 1100
    Returns:
        power [W]
    Raises:
        ValueError: an argument is outside its range
    Source: kinetic energy
    Example:
        >>> round(jet_power_W(9.1096e-5, 12.88749, 1000.0), 4)
        7.5649
    """
    require("flow_m3_s", flow_m3_s, 0, 10, "m3/s")
    require("jet_m_s", jet_m_s, 0, 150, "m/s")
    require("density_kg_m3", density_kg_m3, 900, 1100, "kg/m3")
    return 0.5 * density_kg_m3 * flow_m3_s * jet_m_s * jet_m_s


class ImpulseWheel:
    """Wheel of an impulse turbine.

    T = rho Q f (1 + k cos g) r (v - u),  u = w r,  f the share of the water that hits

    Args:
        radius_m: radius of the circle that the jet touches, r [m], 0.005 to 5
        k_frac: relative speed left at the bucket's edge [-], 0 to 1
        turn_deg: angle by which the bucket turns the water, 180 deg - g [deg], 90 to 180
        hit_frac: share of the jet that meets a bucket, f [-], 0.001 to 1
        friction_Nm: friction of bearings and rotor, no part of T [N m], 0 to 10
    Returns:
        a wheel [-]
    Raises:
        ValueError: an argument is outside its range
    Source: Euler's turbine equation
    Example:
        >>> wheel = ImpulseWheel(0.05, 0.8, 160.0, 0.9, 1e-4)
        >>> round(wheel.torque_Nm(120.0, 5e-5, 12.0, 998.2) * 120.0, 3)
        2.833
    """

    def __init__(self, radius_m, k_frac, turn_deg, hit_frac, friction_Nm):
        require("radius_m", radius_m, 0.005, 5, "m")
        require("k_frac", k_frac, 0, 1, "")
        require("turn_deg", turn_deg, 90, 180, "deg")
        require("hit_frac", hit_frac, 0.001, 1, "")
        require("friction_Nm", friction_Nm, 0, 10, "N m")
        self.radius_m = radius_m
        self.hit_frac = hit_frac
        self.friction_Nm = friction_Nm
        self._k_frac = k_frac
        # From the opposite direction: a full turn then has no sine left over.
        turned = math.radians(180.0 - turn_deg)
        self._cos, self._sin = math.cos(turned), math.sin(turned)
        self._factor = 1.0 + k_frac * self._cos

    def push_kg_m_s(self, flow_m3_s, density_kg_m3):
        """Torque for each m/s by which the jet is faster than the buckets.

        rho Q f (1 + k cos g) r

        Args:
            flow_m3_s: flow of the jet, 0 or above [m3/s]
            density_kg_m3: density of the water [kg/m3]
        Returns:
            torque over relative speed [kg m/s]
        Source: Euler's turbine equation; no check here, it is called at every step of a twin
        Example:
            >>> round(ImpulseWheel(0.05, 1.0, 180.0, 1.0, 0.0).push_kg_m_s(0.001, 1000.0), 9)
            0.1
        """
        return self.hit_frac * density_kg_m3 * flow_m3_s * self._factor * self.radius_m

    def torque_Nm(self, speed_rad_s, flow_m3_s, jet_m_s, density_kg_m3):
        """Torque that the water gives the wheel, its friction not yet taken off.

        T = rho Q f (1 + k cos g) r (v - w r), not below 0: slower water does not reach it

        Args:
            speed_rad_s: speed of the wheel w [rad/s], 0 to 3e4
            flow_m3_s: flow of the jet [m3/s], 0 to 10
            jet_m_s: jet speed v [m/s], 0 to 150
            density_kg_m3: density of the water [kg/m3], 900 to 1100
        Returns:
            torque [N m]
        Raises:
            ValueError: an argument is outside its range
        Source: Euler's turbine equation
        Example:
            >>> wheel = ImpulseWheel(0.05, 0.8, 160.0, 0.9, 1e-4)
            >>> wheel.torque_Nm(250.0, 5e-5, 12.0, 998.2)
            0.0
        """
        require("speed_rad_s", speed_rad_s, 0, 3e4, "rad/s")
        require("flow_m3_s", flow_m3_s, 0, 10, "m3/s")
        require("jet_m_s", jet_m_s, 0, 150, "m/s")
        require("density_kg_m3", density_kg_m3, 900, 1100, "kg/m3")
        faster_m_s = max(jet_m_s - speed_rad_s * self.radius_m, 0.0)
        return self.push_kg_m_s(flow_m3_s, density_kg_m3) * faster_m_s

    def lost_J(self, mass_kg, jet_m_s, bucket_m_s):
        """Energy that a mass of water loses at the wheel.

        f m ((w1^2 - w2^2) + |c|^2) / 2,  w1 = v - u,  w2 = k w1,
        c = (u - w2 cos g, w2 sin g);  (1 - f) m v^2 / 2

        Args:
            mass_kg: mass of the water m, 0 or above [kg]
            jet_m_s: jet speed v [m/s]
            bucket_m_s: bucket speed u, at most the jet's [m/s]
        Returns:
            lost on the buckets and with the water that leaves them, and with what
            meets no bucket [J]
        Source: loss of relative kinetic energy, absolute speed of the leaving water;
            no check here, it is called at every step of a twin
        Example:
            >>> [round(x, 6) for x in ImpulseWheel(0.05, 1, 180, 0.9, 0).lost_J(1.0, 12.0, 6.0)]
            [0.0, 7.2]
        """
        half_kg = 0.5 * mass_kg
        into = jet_m_s - bucket_m_s
        out = self._k_frac * into
        along = bucket_m_s - out * self._cos
        across = out * self._sin
        hit = self.hit_frac
        return (hit * half_kg * (into * into - out * out + along * along + across * across),
                (1.0 - hit) * half_kg * jet_m_s * jet_m_s)
