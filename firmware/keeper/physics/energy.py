"""Energy of lifted water, and what it compares with.

Energy is what is stored; power is how fast it comes or goes.
"""

from keeper.physics.checks import require

J_PER_Wh = 3600.0
_LITRES = 1000.0  # in a cubic metre

# Energy of common cells when drained gently, and of a telephone's battery.
# Alkaline and lithium: makers' curves at low drain (within 15 %); nickel-metal
# hydride: 2.0 Ah x 1.2 V; telephone: 4.5 Ah x 3.85 V, common practice, no source.
CELLS_Wh = (
    ("AA alkaline, 25 mA", 3.75),
    ("AA alkaline, 500 mA", 1.6),
    ("AA lithium iron disulfide", 4.5),
    ("AA nickel-metal hydride", 2.4),
    ("telephone battery", 17.3),
)


def lift_energy_J(mass_kg, height_m, gravity_m_s2):
    """Energy of a mass at a height: a sack on a shelf, a reservoir on a hill.

    E = m g h

    Args:
        mass_kg: mass [kg], 0 to 1e15
        height_m: height [m], -1e4 to 1e4
        gravity_m_s2: acceleration of free fall [m/s2], 9.7 to 9.9
    Returns:
        energy [J]
    Raises:
        ValueError: an argument is outside its range
    Source: definition
    Example:
        >>> round(lift_energy_J(10.0, 3.0, 9.80665), 4)
        294.1995
    """
    require("mass_kg", mass_kg, 0, 1e15, "kg")
    require("height_m", height_m, -1e4, 1e4, "m")
    require("gravity_m_s2", gravity_m_s2, 9.7, 9.9, "m/s2")
    return mass_kg * gravity_m_s2 * height_m


def water_energy_J(volume_m3, head_m, density_kg_m3, gravity_m_s2):
    """Energy of a volume of water at one head.

    E = rho g V h, h the height of its centroid: module tanks has it for a falling level

    Args:
        volume_m3: volume [m3], 0 to 1e12
        head_m: height of the centroid above the datum [m], 0 to 1e4
        density_kg_m3: density of the water [kg/m3], 900 to 1100
        gravity_m_s2: acceleration of free fall [m/s2], 9.7 to 9.9
    Returns:
        energy [J]
    Raises:
        ValueError: an argument is outside its range
    Source: definition
    Example:
        >>> round(water_energy_J(1.0, 9.0, 1000.0, 9.80665), 2)
        88259.85
    """
    require("volume_m3", volume_m3, 0, 1e12, "m3")
    require("head_m", head_m, 0, 1e4, "m")
    require("density_kg_m3", density_kg_m3, 900, 1100, "kg/m3")
    require("gravity_m_s2", gravity_m_s2, 9.7, 9.9, "m/s2")
    return density_kg_m3 * gravity_m_s2 * volume_m3 * head_m


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
    Example:
        >>> round(volume_for_energy_m3(2.4 * 3600, 9.0, 998.2072, 9.80665) * 1e3, 3)
        98.069
    """
    require("energy_J", energy_J, 0, 1e20, "J")
    require("head_m", head_m, 0.01, 1e4, "m")
    require("density_kg_m3", density_kg_m3, 900, 1100, "kg/m3")
    require("gravity_m_s2", gravity_m_s2, 9.7, 9.9, "m/s2")
    return energy_J / (density_kg_m3 * gravity_m_s2 * head_m)


def litre_metres(energy_J, density_kg_m3, gravity_m_s2):
    """Litres times metres that hold an energy: the unit one can picture.

    n = E / (rho g 0.001 m3 1 m)

    Args:
        energy_J: energy [J], 0 to 1e20
        density_kg_m3: density of the water [kg/m3], 900 to 1100
        gravity_m_s2: acceleration of free fall [m/s2], 9.7 to 9.9
    Returns:
        litres lifted by a metre [L m]
    Raises:
        ValueError: an argument is outside its range
    Source: definition
    Example:
        >>> round(litre_metres(3600.0, 1000.0, 9.80665), 3)
        367.098
    """
    require("energy_J", energy_J, 0, 1e20, "J")
    require("density_kg_m3", density_kg_m3, 900, 1100, "kg/m3")
    require("gravity_m_s2", gravity_m_s2, 9.7, 9.9, "m/s2")
    return energy_J * _LITRES / (density_kg_m3 * gravity_m_s2)


def watt_hours(energy_J):
    """Watt hours in an energy.

    E / 3600 J

    Args:
        energy_J: energy [J], -1e20 to 1e20
    Returns:
        energy [Wh]
    Raises:
        ValueError: the energy is outside its range
    Source: definition
    Example:
        >>> watt_hours(7200.0)
        2.0
    """
    require("energy_J", energy_J, -1e20, 1e20, "J")
    return energy_J / J_PER_Wh


def joules(energy_Wh):
    """Joules in a number of watt hours.

    E 3600 J

    Args:
        energy_Wh: energy [Wh], -1e16 to 1e16
    Returns:
        energy [J]
    Raises:
        ValueError: the energy is outside its range
    Source: definition
    Example:
        >>> joules(2.0)
        7200.0
    """
    require("energy_Wh", energy_Wh, -1e16, 1e16, "Wh")
    return energy_Wh * J_PER_Wh


def cells(energy_J, cell_Wh):
    """Number of cells that hold an energy.

    n = E / Ec

    Args:
        energy_J: energy [J], 0 to 1e20
        cell_Wh: energy of one cell at the drain in question [Wh], 0.001 to 1e4
    Returns:
        number of cells [-]
    Raises:
        ValueError: an argument is outside its range
    Source: definition
    Example:
        >>> cells(8640.0, 2.4)
        1.0
    """
    require("energy_J", energy_J, 0, 1e20, "J")
    require("cell_Wh", cell_Wh, 0.001, 1e4, "Wh")
    return energy_J / (cell_Wh * J_PER_Wh)


def mean_power_W(energy_J, duration_s):
    """Mean power of an energy spread over a time.

    P = E / t

    Args:
        energy_J: energy [J], 0 to 1e20
        duration_s: time [s], 0.001 to 1e10
    Returns:
        mean power [W]
    Raises:
        ValueError: an argument is outside its range
    Source: definition
    Example:
        >>> mean_power_W(7200.0, 3600.0)
        2.0
    """
    require("energy_J", energy_J, 0, 1e20, "J")
    require("duration_s", duration_s, 0.001, 1e10, "s")
    return energy_J / duration_s


def duration_s(energy_J, power_W):
    """Time for which an energy lasts at a power.

    t = E / P

    Args:
        energy_J: energy [J], 0 to 1e20
        power_W: power [W], 1e-6 to 1e12
    Returns:
        time [s]
    Raises:
        ValueError: an argument is outside its range
    Source: definition
    Example:
        >>> duration_s(7200.0, 2.0)
        3600.0
    """
    require("energy_J", energy_J, 0, 1e20, "J")
    require("power_W", power_W, 1e-6, 1e12, "W")
    return energy_J / power_W


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
    Example:
        >>> round(chain_efficiency_frac((0.25, 0.9, 0.94, 0.6, 0.6, 0.9)), 4)
        0.0685
    """
    total = 1.0
    for step in steps_frac:
        require("steps_frac", step, 0, 1, "")
        total *= step
    return total


def step_efficiency_frac(output_J, input_J):
    """Efficiency of a step from what went in and what came out.

    eta = Eo / Ei

    Args:
        output_J: energy out [J], 0 to 1e20
        input_J: energy in; a night without input has no efficiency [J], 1e-9 to 1e20
    Returns:
        efficiency, above 1 when a meter is wrong or a store was emptied [-]
    Raises:
        ValueError: an argument is outside its range
    Source: definition
    Example:
        >>> step_efficiency_frac(3.0, 4.0)
        0.75
    """
    require("output_J", output_J, 0, 1e20, "J")
    require("input_J", input_J, 1e-9, 1e20, "J")
    return output_J / input_J
