"""Low pressure and air: suction of a pump, siphons, air locks."""

import math

from keeper.physics.checks import require

# Wisner, Mohsen and Kouwen 1975: v / sqrt(g d) = a + b sqrt(sin slope).
_CLEARING_LEVEL = 0.825
_CLEARING_SLOPE = 0.25


def npsh_available_m(surface_Pa, vapour_Pa, static_head_m, loss_m, density_kg_m3, gravity_m_s2):
    """Net positive suction head that an installation offers a pump.

    NPSH = (p - pv) / (rho g) + z - h

    Args:
        surface_Pa: absolute pressure on the water surface [Pa], 2e4 to 1e6
        vapour_Pa: vapour pressure, absolute [Pa], 100 to 1e5
        static_head_m: height of the surface above the pump, negative for a lift [m], -15 to 100
        loss_m: head lost in the suction line [m], 0 to 50
        density_kg_m3: density of the water [kg/m3], 900 to 1100
        gravity_m_s2: acceleration of free fall [m/s2], 9.7 to 9.9
    Returns:
        NPSH available [m]; a pump needs its own NPSH and a margin
    Raises:
        ValueError: an argument is outside its range
    Source: definition
    Example:
        >>> round(npsh_available_m(101325.0, 2339.318, 2.0, 0.5, 998.2072, 9.80665), 4)
        11.6119
    """
    require("surface_Pa", surface_Pa, 2e4, 1e6, "Pa")
    require("vapour_Pa", vapour_Pa, 100, 1e5, "Pa")
    require("static_head_m", static_head_m, -15, 100, "m")
    require("loss_m", loss_m, 0, 50, "m")
    require("density_kg_m3", density_kg_m3, 900, 1100, "kg/m3")
    require("gravity_m_s2", gravity_m_s2, 9.7, 9.9, "m/s2")
    above_m = (surface_Pa - vapour_Pa) / (density_kg_m3 * gravity_m_s2)
    return above_m + static_head_m - loss_m


def siphon_crest_Pa(air_Pa, crest_m, velocity_m_s, loss_m, density_kg_m3, gravity_m_s2):
    """Absolute pressure at the crest of a siphon.

    p = pa - rho (g (z + h) + v^2 / 2)

    Args:
        air_Pa: air pressure on the upper surface [Pa], 2e4 to 1.1e5
        crest_m: height of the crest above the upper surface [m], -100 to 15
        velocity_m_s: velocity at the crest [m/s], 0 to 20
        loss_m: head lost up to the crest [m], 0 to 50
        density_kg_m3: density of the water [kg/m3], 900 to 1100
        gravity_m_s2: acceleration of free fall [m/s2], 9.7 to 9.9
    Returns:
        absolute pressure [Pa]; near the vapour pressure the column parts
    Raises:
        ValueError: an argument is outside its range
    Source: Bernoulli
    Kept for: protection against a siphon through the rising main
    Example:
        >>> round(siphon_crest_Pa(101325.0, 1.0, 0.0, 0.0, 1000.0, 9.80665), 2)
        91518.35
    """
    require("air_Pa", air_Pa, 2e4, 1.1e5, "Pa")
    require("crest_m", crest_m, -100, 15, "m")
    require("velocity_m_s", velocity_m_s, 0, 20, "m/s")
    require("loss_m", loss_m, 0, 50, "m")
    require("density_kg_m3", density_kg_m3, 900, 1100, "kg/m3")
    require("gravity_m_s2", gravity_m_s2, 9.7, 9.9, "m/s2")
    drop_J_kg = gravity_m_s2 * (crest_m + loss_m) + 0.5 * velocity_m_s * velocity_m_s
    return air_Pa - density_kg_m3 * drop_J_kg


def highest_siphon_m(air_Pa, vapour_Pa, margin_m, density_kg_m3, gravity_m_s2):
    """Greatest height of a siphon's crest above the upper surface.

    z = (pa - pv) / (rho g) - m

    Args:
        air_Pa: air pressure on the upper surface [Pa], 2e4 to 1.1e5
        vapour_Pa: vapour pressure, absolute [Pa], 100 to 1e5
        margin_m: margin for dissolved air, losses and velocity head [m], 0 to 10
        density_kg_m3: density of the water [kg/m3], 900 to 1100
        gravity_m_s2: acceleration of free fall [m/s2], 9.7 to 9.9
    Returns:
        height [m]; air comes out of solution long before the column parts
    Raises:
        ValueError: an argument is outside its range
    Source: Bernoulli
    Kept for: protection against a siphon through the rising main
    Example:
        >>> round(highest_siphon_m(101325.0, 2339.3, 3.0, 998.2, 9.80665), 2)
        7.11
    """
    require("air_Pa", air_Pa, 2e4, 1.1e5, "Pa")
    require("vapour_Pa", vapour_Pa, 100, 1e5, "Pa")
    require("margin_m", margin_m, 0, 10, "m")
    require("density_kg_m3", density_kg_m3, 900, 1100, "kg/m3")
    require("gravity_m_s2", gravity_m_s2, 9.7, 9.9, "m/s2")
    return (air_Pa - vapour_Pa) / (density_kg_m3 * gravity_m_s2) - margin_m


def air_lock_head_m(pockets_m):
    """Head that trapped air takes away from a line that falls and rises again.

    h = sum(max(t - b, 0)), t and b the heights of the two ends of each pocket

    Args:
        pockets_m: for each pocket the heights of its upstream and downstream end [m]
    Returns:
        head [m]; a line with less head than this does not start
    Raises:
        ValueError: a height is not within -1000 to 1000 m
    Source: hydrostatics: along a pocket that leads downhill no head is gained
    Kept for: sizing of pipes that fall and rise
    Example:
        >>> air_lock_head_m(((5.0, 3.5), (4.0, 3.0)))
        2.5
    """
    lost_m = 0.0
    for upstream_m, downstream_m in pockets_m:
        require("pockets_m", upstream_m, -1000, 1000, "m")
        require("pockets_m", downstream_m, -1000, 1000, "m")
        lost_m += max(upstream_m - downstream_m, 0.0)
    return lost_m


def air_clearing_velocity_m_s(diameter_m, slope_deg, gravity_m_s2):
    """Velocity that sweeps air pockets down a falling pipe.

    v = sqrt(g d) (0.825 + 0.25 sqrt(sin slope))

    Args:
        diameter_m: inside diameter [m], 0.0005 to 5
        slope_deg: angle of fall below the horizontal [deg], 0 to 90
        gravity_m_s2: acceleration of free fall [m/s2], 9.7 to 9.9
    Returns:
        velocity [m/s]; in bores below some 50 mm surface tension helps the air to stay
    Raises:
        ValueError: an argument is outside its range
    Source: P. E. Wisner, F. N. Mohsen and N. Kouwen, J. Hydraul. Div. ASCE 101
        (1975) HY2
    Kept for: sizing of pipes that fall and rise
    Example:
        >>> round(air_clearing_velocity_m_s(0.025, 30.0, 9.80665), 3)
        0.496
    """
    require("diameter_m", diameter_m, 0.0005, 5, "m")
    require("slope_deg", slope_deg, 0, 90, "deg")
    require("gravity_m_s2", gravity_m_s2, 9.7, 9.9, "m/s2")
    steep = math.sqrt(math.sin(math.radians(slope_deg)))
    return math.sqrt(gravity_m_s2 * diameter_m) * (_CLEARING_LEVEL + _CLEARING_SLOPE * steep)
