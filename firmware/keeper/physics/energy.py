"""Energy of lifted water: how much of it a wish takes, through how many steps."""

from keeper.physics.checks import require


def volume_for_energy_m3(energy_J, head_m, density_kg_m3, gravity_m_s2):
    """Volume of water that holds an energy at one head.

    V = E / (rho g h)

    Args:
        energy_J: energy [J], 0 to 1e20
        head_m: height of the centroid above the datum [m], 0.01 to 1e4
        density_kg_m3: density of the water [kg/m3], 900 to 1100
        gravity_m_s2: acceleration of free fall [m/s2], 9.7 to 9.9
    Returns:
        volume [m3]
    Raises:
        ValueError: an argument is outside its range
    Source: inverse of the water's energy
    Kept for: sizing of the upper tank
    Example:
        >>> round(volume_for_energy_m3(2.4 * 3600, 9.0, 998.2072, 9.80665) * 1e3, 3)
        98.069
    """
    require("energy_J", energy_J, 0, 1e20, "J")
    require("head_m", head_m, 0.01, 1e4, "m")
    require("density_kg_m3", density_kg_m3, 900, 1100, "kg/m3")
    require("gravity_m_s2", gravity_m_s2, 9.7, 9.9, "m/s2")
    return energy_J / (density_kg_m3 * gravity_m_s2 * head_m)


def chain_efficiency_frac(steps_frac):
    """Efficiency of steps one after the other.

    eta = eta_1 eta_2 ...

    Args:
        steps_frac: efficiencies of the steps, each 0 to 1 [-]
    Returns:
        efficiency of the chain [-], 1 for no step
    Raises:
        ValueError: a step is not within 0 to 1
    Source: definition
    Kept for: sizing of panel and tank
    Example:
        >>> round(chain_efficiency_frac((0.25, 0.9, 0.94, 0.6, 0.6, 0.9)), 4)
        0.0685
    """
    total = 1.0
    for step in steps_frac:
        require("steps_frac", step, 0, 1, "")
        total *= step
    return total
