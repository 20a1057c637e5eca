"""What a tank asks of what carries it: its load, the wind on it, and what holds it upright.

Owns figures to lay beside what a local code or a licensed person allows.  It
never says that a support will do: sloshing, earthquake, snow, uplift, the
strength of the parts and the ground are not looked at.
"""

import math

from keeper.physics.checks import require
from keeper.physics.gravity import air_pressure_Pa
from keeper.physics.table import interpolate

_DRY_AIR_J_KG_K = 287.053  # gas constant over the molar mass of dry air (U.S. Standard Atmosphere)
_ZERO_DEGC_K = 273.15

# Largest reaction of a beam over so many equally spaced supports under an even
# load, as a share of the whole load (uniformly loaded continuous beams over equal
# spans, T. Hicks, Civil Engineering Formulas, table 2.1).
_BEARER_SHARES = {2: 1 / 2, 3: 10 / 16, 4: 11 / 30, 5: 32 / 112, 6: 43 / 190, 7: 118 / 624,
                  8: 161 / 994}

# Force coefficients by height over width (ASCE 7-10, figure 29.5-1).
_SLENDERNESS = (1.0, 7.0, 25.0)
_COEFFICIENTS = {
    "round": (0.5, 0.6, 0.7),  # moderately smooth
    "ribbed": (0.7, 0.8, 0.9),  # round, with ribs of a fiftieth of the diameter
    "box": (1.3, 1.4, 2.0),  # square, the wind square on to a face
}
SHAPES = tuple(_COEFFICIENTS)
# Round bodies in a flow too slow, or too small, to hug their back: D sqrt(q) up to 5.3.
_SLOW_COEFFICIENTS = (0.7, 0.8, 1.2)
_SLOW_m_sqrt_Pa = 5.3


def tank_mass_kg(empty_kg, water_m3, density_kg_m3):
    """Mass of a tank with the water in it.

    m = m0 + rho V

    Args:
        empty_kg: mass of the tank, its frame and what hangs on it [kg], 0 to 1e5
        water_m3: water in it, brim-full for the load that can come [m3], 0 to 100
        density_kg_m3: density of the water [kg/m3], 900 to 1100
    Returns:
        mass [kg]
    Raises:
        ValueError: an argument is outside its range
    Source: definition
    Example:
        >>> tank_mass_kg(60.0, 1.0, 998.0)
        1058.0
    """
    require("empty_kg", empty_kg, 0, 1e5, "kg")
    require("water_m3", water_m3, 0, 100, "m3")
    require("density_kg_m3", density_kg_m3, 900, 1100, "kg/m3")
    return empty_kg + density_kg_m3 * water_m3


def bearing_pressure_Pa(mass_kg, area_m2, gravity_m_s2):
    """Mean pressure of a load on the area that it stands on.

    p = m g / A

    Args:
        mass_kg: mass that stands there, its support included [kg], 0 to 1e6
        area_m2: area in contact: of the feet, if it has feet [m2], 1e-4 to 1000
        gravity_m_s2: acceleration of free fall [m/s2], 9.7 to 9.9
    Returns:
        mean pressure [Pa]; under an edge or a foot it is higher
    Raises:
        ValueError: an argument is outside its range
    Source: definition
    Example:
        >>> round(bearing_pressure_Pa(998.2072, 1.2, 9.80665))
        8158
    """
    require("mass_kg", mass_kg, 0, 1e6, "kg")
    require("area_m2", area_m2, 1e-4, 1000, "m2")
    require("gravity_m_s2", gravity_m_s2, 9.7, 9.9, "m/s2")
    return mass_kg * gravity_m_s2 / area_m2


def load_a_bearer_N(mass_kg, bearers, gravity_m_s2):
    """Load on the bearer that carries most of an evenly spread load.

    F = c m g, c = 1/2, 5/8, 11/30, 2/7 for 2, 3, 4, 5 bearers

    Args:
        mass_kg: mass that stands on them [kg], 0 to 1e6
        bearers: equally spaced bearers under one stiff deck, the outer ones under its
            edges [-], 2 to 8
        gravity_m_s2: acceleration of free fall [m/s2], 9.7 to 9.9
    Returns:
        load of the bearer next to the outer one [N]; one that settles sheds its
        load on its neighbours
    Raises:
        ValueError: an argument is outside its range, or bearers is no whole number
    Source: reactions of continuous beams over equal spans
    Example:
        >>> load_a_bearer_N(1000.0, 3, 9.8)
        6125.0
    """
    require("mass_kg", mass_kg, 0, 1e6, "kg")
    require("bearers", bearers, 2, 8, "")
    require("gravity_m_s2", gravity_m_s2, 9.7, 9.9, "m/s2")
    if bearers not in _BEARER_SHARES:
        raise ValueError(f"bearers = {bearers}: must be a whole number")
    return _BEARER_SHARES[bearers] * mass_kg * gravity_m_s2


def air_density_kg_m3(height_m, air_degC):
    """Density of dry air at a height above the sea.

    rho = p / (R T), p of the standard atmosphere

    Args:
        height_m: height above mean sea level [m], -500 to 9000
        air_degC: temperature of the air; cold air is heavier [degC], -60 to 60
    Returns:
        density [kg/m3]
    Raises:
        ValueError: an argument is outside its range
    Source: ideal gas; U.S. Standard Atmosphere 1976
    Example:
        >>> round(air_density_kg_m3(0.0, 15.0), 4)
        1.225
    """
    require("air_degC", air_degC, -60, 60, "degC")
    return air_pressure_Pa(height_m) / (_DRY_AIR_J_KG_K * (air_degC + _ZERO_DEGC_K))


def wind_pressure_Pa(speed_m_s, air_kg_m3):
    """Velocity pressure of a wind.

    q = rho v^2 / 2

    Args:
        speed_m_s: speed of the gust at the tank's height: 3 s is usual in codes [m/s],
            0 to 100
        air_kg_m3: density of the air [kg/m3], 0.4 to 1.7
    Returns:
        pressure [Pa]
    Raises:
        ValueError: an argument is outside its range
    Source: Bernoulli
    Example:
        >>> wind_pressure_Pa(40.0, 1.25)
        1000.0
    """
    require("speed_m_s", speed_m_s, 0, 100, "m/s")
    require("air_kg_m3", air_kg_m3, 0.4, 1.7, "kg/m3")
    return air_kg_m3 * speed_m_s * speed_m_s / 2


def force_coefficient(shape, height_m, width_m, pressure_Pa):
    """Force coefficient of an upright tank in the wind.

    cf by h / D, in a straight line between 1, 7 and 25, held beyond

    Args:
        shape: "round", "ribbed" (round, with ribs or hoops) or "box" [-]
        height_m: height of the tank [m], 0.01 to 50
        width_m: diameter, or width of the face in the wind [m], 0.01 to 50
        pressure_Pa: velocity pressure of the wind [Pa], 0 to 1e4
    Returns:
        force over velocity pressure and projected area [-]
    Raises:
        ValueError: an argument is outside its range, or there is no such shape
    Source: ASCE 7-10, figure 29.5-1, chimneys and tanks; a cage, brackets and pipes
        are not in it
    Example:
        >>> force_coefficient("round", 1.0, 1.0, 600.0)
        0.5
    """
    require("height_m", height_m, 0.01, 50, "m")
    require("width_m", width_m, 0.01, 50, "m")
    require("pressure_Pa", pressure_Pa, 0, 1e4, "Pa")
    if shape not in _COEFFICIENTS:
        raise ValueError(f"shape = {shape}: must be {', '.join(SHAPES[:-1])} or {SHAPES[-1]}")
    is_slow = shape != "box" and width_m * math.sqrt(pressure_Pa) <= _SLOW_m_sqrt_Pa
    row = _SLOW_COEFFICIENTS if is_slow else _COEFFICIENTS[shape]
    slenderness = min(max(height_m / width_m, _SLENDERNESS[0]), _SLENDERNESS[-1])
    return interpolate(slenderness, _SLENDERNESS, row)


def wind_force_N(speed_m_s, width_m, height_m, shape, air_kg_m3):
    """Force of the wind on an upright tank, at half its height.

    F = cf q D h

    Args:
        speed_m_s: speed of the gust at the tank's height [m/s], 0 to 100
        width_m: diameter, or width of the face in the wind [m], 0.01 to 50
        height_m: height of the tank [m], 0.01 to 50
        shape: "round", "ribbed" (round, with ribs or hoops) or "box" [-]
        air_kg_m3: density of the air [kg/m3], 0.4 to 1.7
    Returns:
        horizontal force [N]; a ridge, a roof's edge or a gap between houses adds to it
    Raises:
        ValueError: an argument is outside its range, or there is no such shape
    Source: ASCE 7-10, section 29.5, with the gust in the speed instead of a factor
    Example:
        >>> wind_force_N(40.0, 1.0, 1.0, "box", 1.25)
        1300.0
    """
    pressure_Pa = wind_pressure_Pa(speed_m_s, air_kg_m3)
    coefficient = force_coefficient(shape, height_m, width_m, pressure_Pa)
    return coefficient * pressure_Pa * width_m * height_m


def overturning_ratio(mass_kg, footprint_m, force_N, arm_m, gravity_m_s2):
    """Moment that holds a tank upright, over the one that turns it about its footprint's edge.

    r = m g b / 2 / (F a)

    Args:
        mass_kg: mass on the footprint: of the empty tank for the worst case [kg], 0 to 1e6
        footprint_m: least width of the footprint, the mass over its middle [m], 0.01 to 100
        force_N: horizontal force, such as the wind's [N], 0 to 1e6
        arm_m: height of that force over the footprint [m], 0 to 100
        gravity_m_s2: acceleration of free fall [m/s2], 9.7 to 9.9
    Returns:
        ratio [-], infinite without a force; at 1 it lifts
    Raises:
        ValueError: an argument is outside its range
    Source: moments about the edge
    Example:
        >>> round(overturning_ratio(100.0, 1.0, 500.0, 1.0, 9.8), 2)
        0.98
    """
    require("mass_kg", mass_kg, 0, 1e6, "kg")
    require("footprint_m", footprint_m, 0.01, 100, "m")
    require("force_N", force_N, 0, 1e6, "N")
    require("arm_m", arm_m, 0, 100, "m")
    require("gravity_m_s2", gravity_m_s2, 9.7, 9.9, "m/s2")
    turning_Nm = force_N * arm_m
    if not turning_Nm:
        return math.inf
    return mass_kg * gravity_m_s2 * footprint_m / 2 / turning_Nm
