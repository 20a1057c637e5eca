"""Pressure waves in a pipe: what closing a valve in a hurry does."""

import math

from keeper.physics.checks import require


def wave_speed_m_s(
    bulk_modulus_Pa, density_kg_m3, diameter_m, wall_m, youngs_modulus_Pa, restraint=1.0
):
    """Speed of a pressure wave in a filled, air-free pipe.

    a = sqrt(K / rho / (1 + c K d / (E e)))

    Args:
        bulk_modulus_Pa: bulk modulus of the water [Pa], 1e8 to 1e10
        density_kg_m3: density of the water [kg/m3], 900 to 1100
        diameter_m: inside diameter [m], 0.0005 to 5
        wall_m: wall thickness [m], 1e-4 to 0.5
        youngs_modulus_Pa: short-term modulus of the wall [Pa], 1e6 to 1e12
        restraint: factor c for how the pipe is held [-], 0.5 to 1.5
    Returns:
        wave speed [m/s]; air in the water lowers it much
    Raises:
        ValueError: an argument is outside its range
    Source: Korteweg, thin elastic wall
    Kept for: hardware margins, surge
    Example:
        >>> round(wave_speed_m_s(2.2e9, 1000.0, 0.05, 0.001, 200e9), 1)
        1191.4
    """
    require("bulk_modulus_Pa", bulk_modulus_Pa, 1e8, 1e10, "Pa")
    require("density_kg_m3", density_kg_m3, 900, 1100, "kg/m3")
    require("diameter_m", diameter_m, 0.0005, 5, "m")
    require("wall_m", wall_m, 1e-4, 0.5, "m")
    require("youngs_modulus_Pa", youngs_modulus_Pa, 1e6, 1e12, "Pa")
    require("restraint", restraint, 0.5, 1.5, "")
    give = restraint * (bulk_modulus_Pa / youngs_modulus_Pa) * (diameter_m / wall_m)
    return math.sqrt(bulk_modulus_Pa / density_kg_m3 / (1 + give))


def joukowsky_m(wave_m_s, velocity_m_s, gravity_m_s2):
    """Head rise when a flow is stopped faster than its wave returns.

    h = a dv / g

    Args:
        wave_m_s: wave speed [m/s], 10 to 1500
        velocity_m_s: velocity that is stopped [m/s], 0 to 20
        gravity_m_s2: acceleration of free fall [m/s2], 9.7 to 9.9
    Returns:
        head rise [m]
    Raises:
        ValueError: an argument is outside its range
    Source: Joukowsky
    Example:
        >>> round(joukowsky_m(1000.0, 1.0, 9.80665), 3)
        101.972
    """
    require("wave_m_s", wave_m_s, 10, 1500, "m/s")
    require("velocity_m_s", velocity_m_s, 0, 20, "m/s")
    require("gravity_m_s2", gravity_m_s2, 9.7, 9.9, "m/s2")
    return wave_m_s * velocity_m_s / gravity_m_s2


def wave_return_s(length_m, wave_m_s):
    """Time for a wave to run up a pipe and back; closing within it gives the full surge.

    t = 2 L / a

    Args:
        length_m: length of pipe [m], 0 to 1e5
        wave_m_s: wave speed [m/s], 10 to 1500
    Returns:
        time [s]
    Raises:
        ValueError: an argument is outside its range
    Source: definition
    Example:
        >>> round(wave_return_s(1000.0, 1191.367), 3)
        1.679
    """
    require("length_m", length_m, 0, 1e5, "m")
    require("wave_m_s", wave_m_s, 10, 1500, "m/s")
    return 2 * length_m / wave_m_s


def closing_surge_m(length_m, velocity_m_s, wave_m_s, closing_s, gravity_m_s2):
    """Head rise when a valve is closed in a given time.

    h = a v / g within 2 L / a;  2 L v / (g t) for slower closing

    Args:
        length_m: length of pipe [m], 0 to 1e5
        velocity_m_s: velocity that is stopped [m/s], 0 to 20
        wave_m_s: wave speed [m/s], 10 to 1500
        closing_s: time in which the flow really stops [s], 0 to 1e4
        gravity_m_s2: acceleration of free fall [m/s2], 9.7 to 9.9
    Returns:
        head rise [m], without a jump between the two cases
    Raises:
        ValueError: an argument is outside its range
    Source: Joukowsky; Michaud for slow closing.  Most of a valve's travel may
        change nothing and the last tenth everything: the time is the flow's
    Example:
        >>> round(closing_surge_m(1000.0, 2.0, 1191.367, 5.0, 9.80665), 2)
        81.58
    """
    require("closing_s", closing_s, 0, 1e4, "s")
    full_m = joukowsky_m(wave_m_s, velocity_m_s, gravity_m_s2)
    return_s = wave_return_s(length_m, wave_m_s)
    if closing_s <= return_s:
        return full_m
    return full_m * return_s / closing_s


def least_closing_s(length_m, velocity_m_s, wave_m_s, allowed_m, gravity_m_s2):
    """Shortest closing time that keeps the surge within an allowed head.

    t = 2 L v / (g h), 0 when even a sudden stop stays within it

    Args:
        length_m: length of pipe [m], 0 to 1e5
        velocity_m_s: velocity that is stopped [m/s], 0 to 20
        wave_m_s: wave speed [m/s], 10 to 1500
        allowed_m: allowed head rise [m], 0.01 to 1e4
        gravity_m_s2: acceleration of free fall [m/s2], 9.7 to 9.9
    Returns:
        time in which the flow may stop [s]
    Raises:
        ValueError: an argument is outside its range
    Source: inverse of the closing surge
    Example:
        >>> round(least_closing_s(20.0, 0.1, 300.0, 2.0, 9.80665), 3)
        0.204
    """
    require("allowed_m", allowed_m, 0.01, 1e4, "m")
    full_m = joukowsky_m(wave_m_s, velocity_m_s, gravity_m_s2)
    if full_m <= allowed_m:
        return 0.0
    return full_m / allowed_m * wave_return_s(length_m, wave_m_s)
