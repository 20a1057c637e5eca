"""From what a sensor reports to what it means, and back again for the twin."""

import math

from keeper.physics.checks import require

_ZERO_DEGC_K = 273.15
_THERMISTOR_REFERENCE_K = 298.15  # 25 degC, by convention of the data sheets
# T25 / T - 1 at 500 degC and at -200 degC: beyond, a reading is no temperature.
_HOTTEST = -0.614
_COLDEST = 3.076
_NEWTON_STEPS = 60  # ten are enough
_LEAST_ohm, _MOST_ohm = 0.1, 1e9  # beyond, a thermistor is a short or a break
_HAIR = 1e-6  # sixteen roundings in single precision
_ONE_WIRE_STEPS_PER_K = 16  # 12-bit reading (DS18B20 data sheet, table 1)
_ONE_WIRE_BITS = 0x10000
_CRC8_POLYNOMIAL = 0x8C  # x^8 + x^5 + x^4 + 1, reflected (Maxim AN27)
# Live zero of a 4-20 mA loop and its fault bands (NAMUR NE 43, from memory).
_LOOP_ZERO_mA = 4.0
_LOOP_SPAN_mA = 16.0
_LOOP_LOW_FAULT_mA = 3.6
_LOOP_HIGH_FAULT_mA = 21.0


def _require_thermistor(reference_ohm, beta_K):
    require("reference_ohm", reference_ohm, 10, 1e7, "ohm")
    require("beta_K", beta_K, 1000, 6000, "K")


def beta_ohm(temperature_degC, reference_ohm, beta_K):
    """Resistance of a thermistor by its Beta.

    R = R25 exp(B (1 / T - 1 / 298.15 K))

    Args:
        temperature_degC: temperature [degC], -60 to 200
        reference_ohm: resistance at 25 degC [ohm], 10 to 1e7
        beta_K: Beta [K], 1000 to 6000
    Returns:
        resistance [ohm]
    Raises:
        ValueError: an argument is outside its range
    Source: two-point thermistor equation
    Example:
        >>> round(beta_ohm(50.0, 10000, 3950), 2)
        3588.18
    """
    require("temperature_degC", temperature_degC, -60, 200, "degC")
    _require_thermistor(reference_ohm, beta_K)
    kelvin = temperature_degC + _ZERO_DEGC_K
    # 1 / T - 1 / T25 as one fraction: the two terms are nearly equal.
    inverse = (_THERMISTOR_REFERENCE_K - kelvin) / (kelvin * _THERMISTOR_REFERENCE_K)
    return reference_ohm * math.exp(beta_K * inverse)


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


def thermistor_from_ratio_ohm(ratio_frac, fixed_ohm):
    """Resistance to ground below a fixed resistor, from the tap's share of the supply.

    R = Rf x / (1 - x)

    Args:
        ratio_frac: tap voltage over supply [-], 0.0001 to 0.9999
        fixed_ohm: resistor from supply to tap [ohm], 1 to 1e7
    Returns:
        resistance [ohm]
    Raises:
        ValueError: an argument is outside its range: sensor shorted or open
    Source: divider
    Example:
        >>> thermistor_from_ratio_ohm(0.5, 10000)
        10000.0
    """
    require("ratio_frac", ratio_frac, 0.0001, 0.9999, "")
    require("fixed_ohm", fixed_ohm, 1, 1e7, "ohm")
    return fixed_ohm * ratio_frac / (1 - ratio_frac)


def ratio_from_thermistor_frac(resistance_ohm, fixed_ohm):
    """Tap's share of the supply for a resistance to ground below a fixed resistor.

    x = R / (R + Rf)

    Args:
        resistance_ohm: resistance [ohm], 0 to 1e9
        fixed_ohm: resistor from supply to tap [ohm], 1 to 1e7
    Returns:
        tap voltage over supply [-]
    Raises:
        ValueError: an argument is outside its range
    Source: divider
    Example:
        >>> ratio_from_thermistor_frac(10000.0, 10000)
        0.5
    """
    require("resistance_ohm", resistance_ohm, 0, 1e9, "ohm")
    require("fixed_ohm", fixed_ohm, 1, 1e7, "ohm")
    return resistance_ohm / (resistance_ohm + fixed_ohm)


def one_wire_degC(raw):
    """Temperature from a 12-bit one-wire thermometer's register.

    t = raw / 16, raw as a signed 16-bit number

    Args:
        raw: register as read, unsigned [-], 0 to 65535
    Returns:
        temperature [degC]; 85 is also what it says before its first conversion
    Raises:
        ValueError: the register or the temperature (-55 to 125 degC) is outside its range
    Source: DS18B20 data sheet, table 1
    Example:
        >>> one_wire_degC(0x0191), one_wire_degC(0xFF5E)
        (25.0625, -10.125)
    """
    require("raw", raw, 0, _ONE_WIRE_BITS - 1, "")
    signed = raw - _ONE_WIRE_BITS if raw >= _ONE_WIRE_BITS // 2 else raw
    temperature = signed / _ONE_WIRE_STEPS_PER_K
    require("temperature", temperature, -55, 125, "degC")
    return temperature


def one_wire_raw(temperature_degC):
    """Register of a 12-bit one-wire thermometer at a temperature.

    raw = round(16 t) as an unsigned 16-bit number

    Args:
        temperature_degC: temperature [degC], -55 to 125
    Returns:
        register [-]
    Raises:
        ValueError: the temperature is outside its range
    Source: DS18B20 data sheet, table 1
    Example:
        >>> hex(one_wire_raw(-10.125))
        '0xff5e'
    """
    require("temperature_degC", temperature_degC, -55, 125, "degC")
    steps = int(math.floor(temperature_degC * _ONE_WIRE_STEPS_PER_K + 0.5))
    return steps % _ONE_WIRE_BITS


def crc8(data):
    """Check byte of a one-wire message; over message and check byte it is 0.

    polynomial x^8 + x^5 + x^4 + 1, reflected, from 0

    Args:
        data: bytes [-]
    Returns:
        check byte [-]; eight zero bytes have the check byte 0, so a dead bus passes
    Source: Maxim AN27
    Example:
        >>> hex(crc8(b"123456789"))
        '0xa1'
    """
    crc = 0
    for byte in data:
        crc ^= byte
        for _ in range(8):
            crc = (crc >> 1) ^ _CRC8_POLYNOMIAL if crc & 1 else crc >> 1
    return crc


def monitor_calibration(current_step_A, shunt_ohm, scale):
    """Calibration register of a power monitor that multiplies its shunt reading.

    CAL = trunc(scale / (step R))

    Args:
        current_step_A: wanted current of one step [A], 1e-7 to 1
        shunt_ohm: shunt [ohm], 1e-5 to 10
        scale: fixed number of the part, 0.00512 or 0.04096 [V], 1e-4 to 1
    Returns:
        register [-]
    Raises:
        ValueError: an argument is outside its range, or the register exceeds 15 bits
    Source: INA226 data sheet, equation 1; INA219 data sheet, equation 1
    Example:
        >>> monitor_calibration(0.001, 0.002, 0.00512)
        2560
    """
    require("current_step_A", current_step_A, 1e-7, 1, "A")
    require("shunt_ohm", shunt_ohm, 1e-5, 10, "ohm")
    require("scale", scale, 1e-4, 1, "V")
    # A hair is added: 0.00512 / (0.001 x 0.002) is 2560 less one rounding.
    register = int(scale / (current_step_A * shunt_ohm) * (1 + _HAIR))
    require("calibration register", register, 1, 32767, "")
    return register


def monitor_current_raw(shunt_raw, calibration, divisor):
    """Current register of a power monitor, as the part computes it.

    I = shunt CAL / divisor

    Args:
        shunt_raw: signed shunt register [-], -32768 to 32767
        calibration: calibration register [-], 1 to 32767
        divisor: 2048 or 4096, by the part [-], 1 to 65536
    Returns:
        signed current register, in steps of the chosen current, rounded down [-]
    Raises:
        ValueError: an argument is outside its range
    Source: INA226 data sheet, equation 3; INA219 data sheet, equation 4
    Example:
        >>> monitor_current_raw(8000, 2560, 2048)
        10000
    """
    require("shunt_raw", shunt_raw, -32768, 32767, "")
    require("calibration", calibration, 1, 32767, "")
    require("divisor", divisor, 1, 65536, "")
    return shunt_raw * calibration // divisor


def monitor_power_raw(current_raw, bus_raw, divisor):
    """Power register of a power monitor, as the part computes it.

    P = |I| U / divisor

    Args:
        current_raw: signed current register [-], -32768 to 32767
        bus_raw: register of the bus voltage [-], 0 to 32767
        divisor: 20000 or 5000, by the part [-], 1 to 65536
    Returns:
        register, in steps of 25 or 20 times the chosen current times 1 V, rounded
        down; it has no sign [-]
    Raises:
        ValueError: an argument is outside its range
    Source: INA226 data sheet, equation 4; INA219 data sheet, equation 5
    Example:
        >>> monitor_power_raw(10000, 9584, 20000)
        4792
    """
    require("current_raw", current_raw, -32768, 32767, "")
    require("bus_raw", bus_raw, 0, 32767, "")
    require("divisor", divisor, 1, 65536, "")
    return abs(current_raw) * bus_raw // divisor


def register_value(raw, step):
    """Physical value of a signed register.

    x = raw step

    Args:
        raw: signed register [-], -8388608 to 8388607
        step: value of one step [any unit], 1e-12 to 1e6
    Returns:
        value [unit of step]
    Raises:
        ValueError: an argument is outside its range
    Source: data sheets: 2.5 uV shunt and 1.25 mV bus (INA226), 10 uV and 4 mV (INA219)
    Example:
        >>> register_value(9584, 0.00125)
        11.98
    """
    require("raw", raw, -8388608, 8388607, "")
    require("step", step, 1e-12, 1e6, "")
    return raw * step


def register_raw(value, step, lowest, highest):
    """Signed register for a physical value: what a real part would report.

    raw = round(x / step), clipped to the register's ends

    Args:
        value: value [unit of step], -1e9 to 1e9
        step: value of one step [any unit], 1e-12 to 1e6
        lowest: smallest register [-], -8388608 to 0
        highest: largest register [-], 1 to 8388607
    Returns:
        register, clipped without a sign of it, as the part does [-]
    Raises:
        ValueError: an argument is outside its range
    Source: inverse of the register's value
    Example:
        >>> register_raw(11.98, 0.00125, 0, 32767), register_raw(99.0, 0.00125, 0, 32767)
        (9584, 32767)
    """
    require("value", value, -1e9, 1e9, "")
    require("step", step, 1e-12, 1e6, "")
    require("lowest", lowest, -8388608, 0, "")
    require("highest", highest, 1, 8388607, "")
    steps = value / step
    if steps >= highest:
        return highest
    if steps <= lowest:
        return lowest
    return int(math.floor(steps + 0.5))


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
    Example:
        >>> round(pulse_flow_m3_s(75.0, 450.0) * 6e4, 6)
        10.0
    """
    require("frequency_Hz", frequency_Hz, 0, 1e5, "Hz")
    require("pulses_per_litre", pulses_per_litre, 0.1, 1e5, "1/L")
    return frequency_Hz / (1000 * pulses_per_litre)


def pulse_frequency_Hz(flow_m3_s, pulses_per_litre, stall_m3_s):
    """Pulses a second of a meter that stands still at low flow.

    f = 1000 n Q, 0 below the stall

    Args:
        flow_m3_s: flow [m3/s], 0 to 1
        pulses_per_litre: pulses a litre [1/L], 0.1 to 1e5
        stall_m3_s: flow below which the rotor stands [m3/s], 0 to 1
    Returns:
        pulses a second [Hz]
    Raises:
        ValueError: an argument is outside its range
    Source: inverse of the meter's flow
    Example:
        >>> round(pulse_frequency_Hz(10 / 6e4, 450.0, 1 / 6e4), 6)
        75.0
    """
    require("flow_m3_s", flow_m3_s, 0, 1, "m3/s")
    require("pulses_per_litre", pulses_per_litre, 0.1, 1e5, "1/L")
    require("stall_m3_s", stall_m3_s, 0, 1, "m3/s")
    if flow_m3_s < stall_m3_s:
        return 0.0
    return flow_m3_s * (1000 * pulses_per_litre)


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
    Example:
        >>> round(pressure_level_m(9806.65, 1000.0, 9.80665, 0.05), 6)
        1.05
    """
    require("gauge_Pa", gauge_Pa, -2e4, 1e6, "Pa")
    require("density_kg_m3", density_kg_m3, 900, 1100, "kg/m3")
    require("gravity_m_s2", gravity_m_s2, 9.7, 9.9, "m/s2")
    require("sensor_height_m", sensor_height_m, -100, 20, "m")
    return gauge_Pa / (density_kg_m3 * gravity_m_s2) + sensor_height_m


def level_pressure_Pa(level_m, density_kg_m3, gravity_m_s2, sensor_height_m):
    """Pressure at a sensor from the level above the floor.

    p = rho g (h - z)

    Args:
        level_m: level above the tank's floor [m], 0 to 20
        density_kg_m3: density of the water [kg/m3], 900 to 1100
        gravity_m_s2: acceleration of free fall [m/s2], 9.7 to 9.9
        sensor_height_m: height of the sensor above the tank's floor [m], -100 to 20
    Returns:
        gauge pressure [Pa], 0 when the sensor is dry
    Raises:
        ValueError: an argument is outside its range
    Source: hydrostatics
    Example:
        >>> round(level_pressure_Pa(1.05, 1000.0, 9.80665, 0.05), 2)
        9806.65
    """
    require("level_m", level_m, 0, 20, "m")
    require("density_kg_m3", density_kg_m3, 900, 1100, "kg/m3")
    require("gravity_m_s2", gravity_m_s2, 9.7, 9.9, "m/s2")
    require("sensor_height_m", sensor_height_m, -100, 20, "m")
    return density_kg_m3 * gravity_m_s2 * max(level_m - sensor_height_m, 0.0)


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
    Example:
        >>> loop_frac(12.0)
        0.5
    """
    require("current_mA", current_mA, _LOOP_LOW_FAULT_mA, _LOOP_HIGH_FAULT_mA, "mA")
    return (current_mA - _LOOP_ZERO_mA) / _LOOP_SPAN_mA


def loop_mA(share_frac):
    """Loop current for a share of a transmitter's range.

    I = 4 mA + 16 mA x

    Args:
        share_frac: share of the range [-], -0.025 to 1.0625
    Returns:
        loop current [mA]
    Raises:
        ValueError: the share is outside its range
    Source: 4-20 mA live zero
    Example:
        >>> loop_mA(0.5)
        12.0
    """
    require("share_frac", share_frac, -0.025, 1.0625, "")
    return _LOOP_ZERO_mA + _LOOP_SPAN_mA * share_frac
