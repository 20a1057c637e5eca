"""Properties of liquid water near one atmosphere, 0 to 60 degC."""

import math

from keeper.physics.checks import require

_ZERO_DEGC_K = 273.15  # definition of the Celsius scale

# Specific heat and isothermal bulk modulus at 20 degC, 1 atm (IAPWS-95, evaluated).
SPECIFIC_HEAT_J_KG_K = 4184.1
BULK_MODULUS_Pa = 2.179e9
# Kell 1975: density numerator, ascending powers of t, and the denominator's slope.
_KELL = (999.83952, 16.945176, -7.9870401e-3, -46.170461e-6, 105.56302e-9, -280.54253e-12)
_KELL_SLOPE = 16.879850e-3
# IAPWS SR6-08: viscosity in uPa s = sum of a (T / 300 K)^b.
_VISCOSITY = ((280.68, -1.9), (511.45, -7.7), (61.131, -19.6), (0.45903, -40.0))
_VISCOSITY_REFERENCE_K = 300.0
# Wagner and Pruss 1993: ln(p/pc) T/Tc = sum of a theta^b, theta = 1 - T/Tc.
_CRITICAL_K = 647.096
_CRITICAL_Pa = 22.064e6
_SATURATION = (
    (-7.85951783, 1.0),
    (1.84408259, 1.5),
    (-11.7866497, 3.0),
    (22.6807411, 3.5),
    (-15.9618719, 4.0),
    (1.80122502, 7.5),
)


def _require_liquid(temperature_degC):
    require("temperature_degC", temperature_degC, 0, 60, "degC")


def density_kg_m3(temperature_degC):
    """Density of clean, air-free water at one atmosphere.

    rho = (a0 + a1 t + a2 t^2 + a3 t^3 + a4 t^4 + a5 t^5) / (1 + b t)

    Args:
        temperature_degC: water temperature [degC], 0 to 60
    Returns:
        density [kg/m3]
    Raises:
        ValueError: the temperature is outside its range
    Source: G. S. Kell, J. Chem. Eng. Data 20 (1975) 97; tap water holding air
        is up to 0.003 kg/m3 lighter
    Example:
        >>> round(density_kg_m3(20.0), 3)
        998.204
    """
    _require_liquid(temperature_degC)
    numerator = 0.0
    for coefficient in reversed(_KELL):
        numerator = numerator * temperature_degC + coefficient
    return numerator / (1.0 + _KELL_SLOPE * temperature_degC)


def dynamic_viscosity_Pa_s(temperature_degC):
    """Dynamic viscosity of water at one atmosphere.

    mu = 1e-6 sum(a_i (T / 300 K)^b_i)

    Args:
        temperature_degC: water temperature [degC], 0 to 60
    Returns:
        dynamic viscosity [Pa s]
    Raises:
        ValueError: the temperature is outside its range
    Source: IAPWS SR6-08(2011), liquid water at 0.1 MPa, within 1 %
    Example:
        >>> round(dynamic_viscosity_Pa_s(20.0) * 1e3, 4)
        1.0016
    """
    _require_liquid(temperature_degC)
    ratio = (temperature_degC + _ZERO_DEGC_K) / _VISCOSITY_REFERENCE_K
    total = 0.0
    for coefficient, power in _VISCOSITY:
        total += coefficient * ratio**power
    return total * 1e-6


def kinematic_viscosity_m2_s(temperature_degC):
    """Kinematic viscosity of water at one atmosphere.

    nu = mu / rho

    Args:
        temperature_degC: water temperature [degC], 0 to 60
    Returns:
        kinematic viscosity [m2/s]
    Raises:
        ValueError: the temperature is outside its range
    Source: definition
    Example:
        >>> round(kinematic_viscosity_m2_s(20.0) * 1e6, 4)
        1.0034
    """
    return dynamic_viscosity_Pa_s(temperature_degC) / density_kg_m3(temperature_degC)


def vapour_pressure_Pa(temperature_degC):
    """Absolute pressure at which water boils at a temperature.

    ln(p / pc) = (Tc / T) sum(a_i theta^b_i),  theta = 1 - T / Tc

    Args:
        temperature_degC: water temperature [degC], 0 to 60
    Returns:
        vapour pressure, absolute [Pa]
    Raises:
        ValueError: the temperature is outside its range
    Source: W. Wagner and A. Pruss, J. Phys. Chem. Ref. Data 22 (1993) 783
    Example:
        >>> round(vapour_pressure_Pa(20.0), 0)
        2339.0
    """
    _require_liquid(temperature_degC)
    kelvin = temperature_degC + _ZERO_DEGC_K
    theta = 1.0 - kelvin / _CRITICAL_K
    total = 0.0
    for coefficient, power in _SATURATION:
        total += coefficient * theta**power
    return _CRITICAL_Pa * math.exp(_CRITICAL_K / kelvin * total)


def freezing_margin_K(temperature_degC, sensor_error_K, gradient_K):
    """Distance of the coldest water in a pipe from freezing; negative means ice.

    margin = t - e - d - 0 degC

    Args:
        temperature_degC: reading of the sensor at the coldest known place [degC], -60 to 60
        sensor_error_K: greatest error of the sensor [K], 0 to 10
        gradient_K: how much colder some other part may be [K], 0 to 30
    Returns:
        margin above 0 degC [K]
    Raises:
        ValueError: an argument is outside its range
    Source: worst-case sum; supercooling and salts are left out, both in the
        safe direction
    Kept for: protection against frost
    Example:
        >>> freezing_margin_K(4.0, 0.5, 2.0)
        1.5
    """
    require("temperature_degC", temperature_degC, -60, 60, "degC")
    require("sensor_error_K", sensor_error_K, 0, 10, "K")
    require("gradient_K", gradient_K, 0, 30, "K")
    return temperature_degC - sensor_error_K - gradient_K
