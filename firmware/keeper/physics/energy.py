"""Energy of lifted water: in a tank, how much of it a wish takes, through how many steps."""

from keeper.physics.checks import require, require_within


def energy_between_J(tank, low_m, high_m, base_height_m, density_kg_m3, gravity_m_s2):
    """Potential energy of the water between two levels, above a datum.

    E = rho g V (b + z), V and z of the slab: the integral of rho g A (b + z) dz

    Args:
        tank: a tank shape [-]
        low_m: lower level above the tank's floor [m], 0 to the tank's height
        high_m: upper level above the tank's floor [m], the lower level to the tank's height
        base_height_m: height of the tank's floor above the datum [m], -1000 to 1000
        density_kg_m3: density of the water [kg/m3], 900 to 1100
        gravity_m_s2: acceleration of free fall [m/s2], 9.7 to 9.9
    Returns:
        energy [J]
    Raises:
        ValueError: an argument is outside its range
    Source: definition; levels fall as the store empties, so the height that
        counts is the centroid's
    Example:
        >>> from keeper.physics.tanks import Rectangular
        >>> round(energy_between_J(Rectangular(1, 1, 1), 0, 1, 8.5, 1000, 9.80665), 2)
        88259.85
    """
    require("base_height_m", base_height_m, -1000, 1000, "m")
    require("density_kg_m3", density_kg_m3, 900, 1100, "kg/m3")
    require("gravity_m_s2", gravity_m_s2, 9.7, 9.9, "m/s2")
    volume_m3, centroid_m = tank.slab(low_m, high_m)
    return density_kg_m3 * gravity_m_s2 * volume_m3 * (base_height_m + centroid_m)


def energy_J(tank, level_m, base_height_m, density_kg_m3, gravity_m_s2):
    """Potential energy of all the water in a tank, above a datum.

    E = rho g V (b + z), z the centroid: the integral over the falling level

    Args:
        tank: a tank shape [-]
        level_m: level above the tank's floor [m], 0 to the tank's height
        base_height_m: height of the tank's floor above the datum [m], -1000 to 1000
        density_kg_m3: density of the water [kg/m3], 900 to 1100
        gravity_m_s2: acceleration of free fall [m/s2], 9.7 to 9.9
    Returns:
        energy [J]
    Raises:
        ValueError: an argument is outside its range
    Source: definition
    Example:
        >>> from keeper.physics.tanks import Rectangular
        >>> round(energy_J(Rectangular(1, 1, 1), 0.9, 9.0, 998.2, 9.80665), 1)
        83255.4
    """
    require_within("level_m", level_m, tank.height_m, "m")
    return energy_between_J(tank, 0.0, level_m, base_height_m, density_kg_m3, gravity_m_s2)


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
