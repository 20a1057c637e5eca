"""From what a sensor reports to what it means."""

import math

from keeper.physics.checks import require

_ZERO_DEGC_K = 273.15
_THERMISTOR_REFERENCE_K = 298.15  # 25 degC, by convention of the data sheets
# T25 / T - 1 at 500 degC and at -200 degC: beyond, a reading is no temperature.
_HOTTEST = -0.614
_COLDEST = 3.076
_NEWTON_STEPS = 60  # ten are enough
_LEAST_ohm, _MOST_ohm = 0.1, 1e9  # beyond, a thermistor is a short or a break
# Live zero of a 4-20 mA loop and its fault bands (NAMUR NE 43, from memory).
_LOOP_ZERO_mA = 4.0
_LOOP_SPAN_mA = 16.0
_LOOP_LOW_FAULT_mA = 3.6
_LOOP_HIGH_FAULT_mA = 21.0


def _require_thermistor(reference_ohm, beta_K):
    require("reference_ohm", reference_ohm, 10, 1e7, "ohm")
    require("beta_K", beta_K, 1000, 6000, "K")


def beta_degC(resistance_ohm, reference_ohm, beta_K):
    """Temperature of a thermistor by its Beta.

    T = T25 - T25 x / (1 + x),  x = (T25 / B) ln(R / R25)

    Args:
        resistance_ohm: resistance [ohm], 0.1 to 1e9
        reference_ohm: resistance at 25 degC [ohm], 10 to 1e7
        beta_K: Beta [K], 1000 to 6000
    Returns:
        temperature [degC]; Beta alone is 1 to 2 K off at 85 degC
    Raises:
        ValueError: an argument is outside its range, or the thermistor would be
            below -200 or above 500 degC
    Source: two-point thermistor equation, written as a difference from 25 degC
    Example:
        >>> round(beta_degC(5000.0, 10000, 3950), 6)
        41.460235
    """
    require("resistance_ohm", resistance_ohm, 0.1, 1e9, "ohm")
    _require_thermistor(reference_ohm, beta_K)
    x = _THERMISTOR_REFERENCE_K / beta_K * math.log(resistance_ohm / reference_ohm)
    require("T25 / B ln(R / R25)", x, _HOTTEST, _COLDEST, "")
    return (_THERMISTOR_REFERENCE_K - _ZERO_DEGC_K) - _THERMISTOR_REFERENCE_K * x / (1 + x)


def steinhart_hart_degC(resistance_ohm, a, b, c):
    """Temperature of a thermistor by three coefficients.

    1 / T = A + B ln R + C (ln R)^3

    Args:
        resistance_ohm: resistance [ohm], 0.1 to 1e9
        a: coefficient A [1/K], -0.01 to 0.01
        b: coefficient B [1/K], 1e-6 to 0.01
        c: coefficient C [1/K], -1e-5 to 1e-5
    Returns:
        temperature [degC]
    Raises:
        ValueError: an argument is outside its range, or 1 / T is not positive
    Source: Steinhart and Hart 1968
    Kept for: calibration of a thermistor
    Example:
        >>> round(steinhart_hart_degC(10000, 8.802056817e-4, 2.528678842e-4, 1.853428869e-7), 3)
        25.0
    """
    require("resistance_ohm", resistance_ohm, 0.1, 1e9, "ohm")
    _require_coefficients(a, b, c)
    logarithm = math.log(resistance_ohm)
    inverse = a + logarithm * (b + c * logarithm * logarithm)
    require("1 / T", inverse, 1e-3, 1e-1, "1/K")
    return 1 / inverse - _ZERO_DEGC_K


def _require_coefficients(a, b, c):
    require("a", a, -0.01, 0.01, "1/K")
    require("b", b, 1e-6, 0.01, "1/K")
    require("c", c, -1e-5, 1e-5, "1/K")


def steinhart_hart_ohm(temperature_degC, a, b, c):
    """Resistance of a thermistor by three coefficients.

    C y^3 + B y + A - 1 / T = 0,  R = exp(y), by Newton's rule

    Args:
        temperature_degC: temperature [degC], -60 to 200
        a: coefficient A [1/K], -0.01 to 0.01
        b: coefficient B [1/K], 1e-6 to 0.01
        c: coefficient C, not negative for the inverse [1/K], 0 to 1e-5
    Returns:
        resistance [ohm]
    Raises:
        ValueError: an argument is outside its range, or the resistance would not be
            within 0.1 to 1e9 ohm
    Source: inverse of the Steinhart-Hart equation
    Kept for: calibration of a thermistor
    Example:
        >>> round(steinhart_hart_ohm(25.0, 8.802056817e-4, 2.528678842e-4, 1.853428869e-7), 0)
        10000.0
    """
    require("temperature_degC", temperature_degC, -60, 200, "degC")
    require("c", c, 0, 1e-5, "1/K")
    _require_coefficients(a, b, c)
    wanted = 1 / (temperature_degC + _ZERO_DEGC_K) - a
    y = wanted / b  # right of the root for c > 0, where the cubic bends upwards
    for _ in range(_NEWTON_STEPS):
        step = (y * (b + c * y * y) - wanted) / (b + 3 * c * y * y)
        if y - step == y:
            break
        y -= step
    require("ln R", y, math.log(_LEAST_ohm), math.log(_MOST_ohm), "")
    return math.exp(y)


def steinhart_hart_fit(points):
    """Three coefficients through three measured points.

    A + B y_i + C y_i^3 = 1 / T_i,  y = ln R, by divided differences

    Args:
        points: three pairs of temperature, -60 to 200 [degC], and resistance, 1 to 1e9
            [ohm], all different
    Returns:
        A, B and C [1/K]
    Raises:
        ValueError: not three different points, or one is outside its range
    Source: exact solution
    Kept for: calibration of a thermistor
    Example:
        >>> a, b, c = steinhart_hart_fit(((0, 27326), (25, 10000), (50, 4158)))
        >>> round(b * 1e4, 5)
        2.52868
    """
    if len(points) != 3:
        raise ValueError("points: must be 3, are " + str(len(points)))
    for temperature, resistance in points:
        require("temperature in points", temperature, -60, 200, "degC")
        require("resistance in points", resistance, 1, _MOST_ohm, "ohm")
    y1, y2, y3 = [math.log(resistance) for _, resistance in points]
    t1, t2, t3 = [temperature + _ZERO_DEGC_K for temperature, _ in points]
    if y1 == y2 or y1 == y3 or y2 == y3:
        raise ValueError("points: must have three different resistances")
    # 1/Ti - 1/Tj as one fraction, as above.
    slope2 = (t1 - t2) / (t1 * t2) / (y2 - y1)
    slope3 = (t1 - t3) / (t1 * t3) / (y3 - y1)
    c = (slope3 - slope2) / (y3 - y2) / (y1 + y2 + y3)
    b = slope2 - c * (y1 * y1 + y1 * y2 + y2 * y2)
    return 1 / t1 - y1 * (b + c * y1 * y1), b, c


def pulse_flow_m3_s(frequency_Hz, pulses_per_litre):
    """Flow through a pulse meter.

    Q = f / (1000 n)

    Args:
        frequency_Hz: pulses a second [Hz], 0 to 1e5
        pulses_per_litre: pulses a litre [1/L], 0.1 to 1e5
    Returns:
        flow [m3/s]; 0 means no pulses: hall meters stand still below about 1 L/min
    Raises:
        ValueError: an argument is outside its range
    Source: definition
    Kept for: calibration of a flow meter
    Example:
        >>> round(pulse_flow_m3_s(75.0, 450.0) * 6e4, 6)
        10.0
    """
    require("frequency_Hz", frequency_Hz, 0, 1e5, "Hz")
    require("pulses_per_litre", pulses_per_litre, 0.1, 1e5, "1/L")
    return frequency_Hz / (1000 * pulses_per_litre)


def pressure_level_m(gauge_Pa, density_kg_m3, gravity_m_s2, sensor_height_m):
    """Level above the floor from the pressure at a sensor.

    h = p / (rho g) + z

    Args:
        gauge_Pa: pressure above that of the air on the surface [Pa], -2e4 to 1e6
        density_kg_m3: density of the water [kg/m3], 900 to 1100
        gravity_m_s2: acceleration of free fall [m/s2], 9.7 to 9.9
        sensor_height_m: height of the sensor above the tank's floor [m], -100 to 20
    Returns:
        level [m]
    Raises:
        ValueError: an argument is outside its range
    Source: hydrostatics
    Kept for: calibration of a level sensor by pressure
    Example:
        >>> round(pressure_level_m(9806.65, 1000.0, 9.80665, 0.05), 6)
        1.05
    """
    require("gauge_Pa", gauge_Pa, -2e4, 1e6, "Pa")
    require("density_kg_m3", density_kg_m3, 900, 1100, "kg/m3")
    require("gravity_m_s2", gravity_m_s2, 9.7, 9.9, "m/s2")
    require("sensor_height_m", sensor_height_m, -100, 20, "m")
    return gauge_Pa / (density_kg_m3 * gravity_m_s2) + sensor_height_m


def loop_frac(current_mA):
    """Share of its range that a live-zero transmitter reports.

    x = (I - 4 mA) / 16 mA

    Args:
        current_mA: loop current [mA], 3.6 to 21
    Returns:
        share of the range, slightly outside 0 to 1 when over-ranged [-]
    Raises:
        ValueError: the current is in a fault band: wire cut, shorted, or sensor failed
    Source: 4-20 mA live zero; fault bands of NAMUR NE 43, from memory
    Kept for: calibration of a level sensor on a current loop
    Example:
        >>> loop_frac(12.0)
        0.5
    """
    require("current_mA", current_mA, _LOOP_LOW_FAULT_mA, _LOOP_HIGH_FAULT_mA, "mA")
    return (current_mA - _LOOP_ZERO_mA) / _LOOP_SPAN_mA
