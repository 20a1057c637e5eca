"""Acceleration of free fall, and the air pressure that goes with height."""

import math

from keeper.physics.checks import require

# WGS84 ellipsoid and its normal gravity (NIMA TR8350.2).
_EQUATOR_M_S2 = 9.7803253359
_SOMIGLIANA_K = 0.00193185265241
_ECCENTRICITY_SQUARED = 0.00669437999014
_SEMI_MAJOR_M = 6378137.0
_FLATTENING = 1 / 298.257223563
_ROTATION_RATIO = 0.00344978650684

# Standard atmosphere 1976, lowest layer.
_SEA_LEVEL_Pa = 101325.0
_SEA_LEVEL_K = 288.15
_LAPSE_K_M = 0.0065
_PRESSURE_EXPONENT = 5.255876  # g M / (R L) of that atmosphere
_ATMOSPHERE_RADIUS_M = 6356766.0


def normal_m_s2(latitude_deg, height_m):
    """Normal gravity of the Earth at a latitude and height.

    g = ge (1 + k sin^2) / sqrt(1 - e^2 sin^2)
        (1 - 2 h / a (1 + f + m - 2 f sin^2) + 3 h^2 / a^2)

    Args:
        latitude_deg: geodetic latitude [deg], -90 to 90
        height_m: height above the ellipsoid, in practice above the sea [m], -500 to 9000
    Returns:
        acceleration of free fall [m/s2]
    Raises:
        ValueError: an argument is outside its range
    Source: Somigliana formula and second-order height term, NIMA TR8350.2;
        local anomalies reach a few 1e-4 m/s2
    Example:
        >>> round(normal_m_s2(45.0, 0.0), 6)
        9.806198
    """
    require("latitude_deg", latitude_deg, -90, 90, "deg")
    require("height_m", height_m, -500, 9000, "m")
    sine_squared = math.sin(math.radians(latitude_deg)) ** 2
    surface = (
        _EQUATOR_M_S2
        * (1 + _SOMIGLIANA_K * sine_squared)
        / math.sqrt(1 - _ECCENTRICITY_SQUARED * sine_squared)
    )
    ratio = height_m / _SEMI_MAJOR_M
    first = 2 * ratio * (1 + _FLATTENING + _ROTATION_RATIO - 2 * _FLATTENING * sine_squared)
    return surface * (1 - first + 3 * ratio * ratio)


def air_pressure_Pa(height_m):
    """Mean air pressure at a height above the sea.

    p = p0 (1 - L H / T0)^n,  H = r h / (r + h)

    Args:
        height_m: height above mean sea level [m], -500 to 9000
    Returns:
        absolute air pressure [Pa]; weather moves it by some 4 %
    Raises:
        ValueError: the height is outside its range
    Source: U.S. Standard Atmosphere 1976, lowest layer
    Example:
        >>> round(air_pressure_Pa(1000.0), 0)
        89876.0
    """
    require("height_m", height_m, -500, 9000, "m")
    geopotential_m = _ATMOSPHERE_RADIUS_M * height_m / (_ATMOSPHERE_RADIUS_M + height_m)
    return _SEA_LEVEL_Pa * (1 - _LAPSE_K_M * geopotential_m / _SEA_LEVEL_K) ** _PRESSURE_EXPONENT
