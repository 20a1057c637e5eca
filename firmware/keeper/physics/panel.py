"""Photovoltaic panel by the single-diode model.

Five numbers at reference conditions (1000 W/m2, 25 degC) describe a panel: light
current, saturation current, a = ideality x cells x thermal voltage, series and
shunt resistance.  They are moved to other sun and cell temperature, then solved.
"""

import math

from keeper.physics.checks import require

REFERENCE_W_M2 = 1000.0  # standard test conditions, IEC 61215
REFERENCE_degC = 25.0
_ZERO_DEGC_K = 273.15
_REFERENCE_K = REFERENCE_degC + _ZERO_DEGC_K
_BOLTZMANN_eV_K = 8.617333262e-5  # CODATA 2018
_BAND_GAP_eV = 1.121  # silicon at 25 degC (De Soto 2006)
_BAND_GAP_SLOPE_K = -0.0002677  # relative change of the band gap a kelvin (De Soto 2006)
_BATZELIS_SILICON = 50.1  # silicon at 25 degC (Batzelis 2017)
_MOST_IDEALITIES = 80  # exp(80) still fits single precision
_STEPS = 100  # Newton steps; a start far to the right costs one step per 'a'
_HAIR = 1e-6  # least share of the short-circuit current that a shunt must take
_HALVINGS = 60  # of the voltage range: more than a double holds
_DARK_W_M2 = 0.5  # below this the curve is taken as dark
_RESIDUAL_A = 1e-10  # a loaded panel's node is solved to this
_MOST_STEPS = 80


def light_current_A(reference_A, coefficient_A_K, irradiance_W_m2, cell_degC):
    """Light current at an irradiance and a cell temperature.

    I_L = S / 1000 (I_L,ref + alpha (T - 25))

    Args:
        reference_A: light current at reference conditions [A], 1e-6 to 100
        coefficient_A_K: temperature coefficient of the short-circuit current [A/K], -0.1 to 0.1
        irradiance_W_m2: absorbed irradiance on the panel's plane [W/m2], 0 to 2000
        cell_degC: cell temperature [degC], -60 to 120
    Returns:
        light current [A], not below 0
    Raises:
        ValueError: an argument is outside its range
    Source: W. De Soto et al., Solar Energy 80 (2006) 78
    Example:
        >>> light_current_A(6.0, 0.0, 500.0, 25.0)
        3.0
    """
    require("reference_A", reference_A, 1e-6, 100, "A")
    require("coefficient_A_K", coefficient_A_K, -0.1, 0.1, "A/K")
    require("irradiance_W_m2", irradiance_W_m2, 0, 2000, "W/m2")
    _require_cell(cell_degC)
    warmed_A = reference_A + coefficient_A_K * (cell_degC - REFERENCE_degC)
    return irradiance_W_m2 / REFERENCE_W_M2 * max(warmed_A, 0.0)


def _require_cell(cell_degC):
    require("cell_degC", cell_degC, -60, 120, "degC")


def saturation_current_A(reference_A, cell_degC):
    """Diode saturation current at a cell temperature.

    I_0 = I_0,ref (T / Tref)^3 exp(Eg,ref / (k Tref) - Eg / (k T)),
    Eg = Eg,ref (1 - 0.0002677 (T - Tref))

    Args:
        reference_A: saturation current at reference conditions [A], 1e-20 to 1e-3
        cell_degC: cell temperature [degC], -60 to 120
    Returns:
        saturation current [A]
    Raises:
        ValueError: an argument is outside its range
    Source: De Soto 2006, silicon
    Example:
        >>> saturation_current_A(1e-9, 25.0)
        1e-09
    """
    require("reference_A", reference_A, 1e-20, 1e-3, "A")
    _require_cell(cell_degC)
    kelvin = cell_degC + _ZERO_DEGC_K
    rise_K = cell_degC - REFERENCE_degC
    # Eg,ref / Tref - Eg / T as one fraction: the two terms are near 40 / K each.
    numerator = rise_K * (1 - _BAND_GAP_SLOPE_K * _REFERENCE_K)
    exponent = _BAND_GAP_eV / _BOLTZMANN_eV_K * numerator / (_REFERENCE_K * kelvin)
    return reference_A * (kelvin / _REFERENCE_K) ** 3 * math.exp(exponent)


def modified_ideality_V(reference_V, cell_degC):
    """Product of ideality, cells in series and thermal voltage at a cell temperature.

    a = a_ref T / Tref

    Args:
        reference_V: the product at reference conditions [V], 0.01 to 20
        cell_degC: cell temperature [degC], -60 to 120
    Returns:
        a = n Ns k T / q [V]
    Raises:
        ValueError: an argument is outside its range
    Source: De Soto 2006
    Example:
        >>> modified_ideality_V(1.5, 25.0)
        1.5
    """
    require("reference_V", reference_V, 0.01, 20, "V")
    _require_cell(cell_degC)
    return reference_V * ((cell_degC + _ZERO_DEGC_K) / _REFERENCE_K)


def shunt_resistance_ohm(reference_ohm, irradiance_W_m2):
    """Shunt resistance at an irradiance.

    Rsh = Rsh,ref 1000 / S

    Args:
        reference_ohm: shunt resistance at reference conditions [ohm], 0.1 to 1e6
        irradiance_W_m2: absorbed irradiance on the panel's plane [W/m2], 0.001 to 2000
    Returns:
        shunt resistance [ohm]
    Raises:
        ValueError: an argument is outside its range
    Source: De Soto 2006
    Example:
        >>> shunt_resistance_ohm(100.0, 500.0)
        200.0
    """
    require("reference_ohm", reference_ohm, 0.1, 1e6, "ohm")
    require("irradiance_W_m2", irradiance_W_m2, 0.001, 2000, "W/m2")
    return reference_ohm * REFERENCE_W_M2 / irradiance_W_m2


def current_at_junction_A(junction_V, light_A, saturation_A, ideality_V, shunt_ohm):
    """Terminal current at a junction voltage: explicit, no root to find.

    I = I_L - I_0 (exp(Vd / a) - 1) - Vd / Rsh

    Args:
        junction_V: voltage across the diode, terminal voltage + I Rs; at most 80 a [V]
        light_A: light current [A]
        saturation_A: diode saturation current [A]
        ideality_V: a = n Ns k T / q [V]
        shunt_ohm: shunt resistance [ohm]
    Returns:
        current out of the panel [A], negative above the open-circuit voltage
    Source: single-diode model; no check here, it is called at every step of a twin
    Example:
        >>> round(current_at_junction_A(0.0, 7.0, 6e-7, 0.5, 20.0), 4)
        7.0
    """
    grown_A = saturation_A * (math.exp(junction_V / ideality_V) - 1)
    return light_A - grown_A - junction_V / shunt_ohm


def _require_curve(light_A, saturation_A, ideality_V, series_ohm, shunt_ohm):
    require("light_A", light_A, 0, 200, "A")
    require("saturation_A", saturation_A, 1e-25, 1, "A")
    require("ideality_V", ideality_V, 0.005, 50, "V")
    require("series_ohm", series_ohm, 0, 1000, "ohm")
    require("shunt_ohm", shunt_ohm, 0.01, 1e12, "ohm")


def _open_circuit_V(light_A, saturation_A, ideality_V, shunt_ohm):
    # From the ideal diode's value, which is above the root, Newton falls monotonely.
    voltage = ideality_V * math.log(light_A / saturation_A + 1)
    for _ in range(_STEPS):
        current = current_at_junction_A(voltage, light_A, saturation_A, ideality_V, shunt_ohm)
        step = -current / _slope_S(voltage, saturation_A, ideality_V, shunt_ohm)
        if step <= 0 or voltage - step == voltage:
            break
        voltage -= step
    return voltage


def _slope_S(junction_V, saturation_A, ideality_V, shunt_ohm):
    """-dI/dVd."""
    return saturation_A / ideality_V * math.exp(junction_V / ideality_V) + 1 / shunt_ohm


def open_circuit_V(light_A, saturation_A, ideality_V, series_ohm, shunt_ohm):
    """Open-circuit voltage.

    0 = I_L - I_0 (exp(V / a) - 1) - V / Rsh, by Newton's rule

    Args:
        light_A: light current [A], 0 to 200
        saturation_A: diode saturation current [A], 1e-25 to 1
        ideality_V: a = n Ns k T / q [V], 0.005 to 50
        series_ohm: series resistance, of no effect here [ohm], 0 to 1000
        shunt_ohm: shunt resistance [ohm], 0.01 to 1e12
    Returns:
        open-circuit voltage [V], exactly 0 in the dark
    Raises:
        ValueError: an argument is outside its range
    Source: single-diode model
    Kept for: hardware margins, the cold panel's voltage
    Example:
        >>> round(open_circuit_V(7.0, 6e-7, 0.5, 0.1, 20.0), 4)
        8.1063
    """
    _require_curve(light_A, saturation_A, ideality_V, series_ohm, shunt_ohm)
    return _open_circuit_V(light_A, saturation_A, ideality_V, shunt_ohm)


def terminal_current_A(terminal_V, light_A, saturation_A, ideality_V, series_ohm, shunt_ohm):
    """Current at a terminal voltage.

    Vd = V + Rs I(Vd), by Newton's rule on the junction voltage

    Args:
        terminal_V: voltage at the terminals, at most 80 ideality_V [V]
        light_A: light current [A], 0 to 200
        saturation_A: diode saturation current [A], 1e-25 to 1
        ideality_V: a = n Ns k T / q [V], 0.005 to 50
        series_ohm: series resistance [ohm], 0 to 1000
        shunt_ohm: shunt resistance [ohm], 0.01 to 1e12
    Returns:
        current out of the panel [A], negative above the open-circuit voltage
    Raises:
        ValueError: an argument is outside its range
    Source: single-diode model
    Example:
        >>> round(terminal_current_A(0.0, 7.0, 6e-7, 0.5, 0.1, 20.0), 5)
        6.96517
    """
    _require_curve(light_A, saturation_A, ideality_V, series_ohm, shunt_ohm)
    require("terminal_V", terminal_V, 0, _MOST_IDEALITIES * ideality_V, "V")
    # The larger of open circuit and terminal voltage is at or right of the root,
    # where the function bends upwards: Newton falls monotonely.
    open_V = _open_circuit_V(light_A, saturation_A, ideality_V, shunt_ohm)
    junction_V = min(max(open_V, terminal_V), terminal_V + series_ohm * light_A)
    for _ in range(_STEPS):
        current = current_at_junction_A(junction_V, light_A, saturation_A, ideality_V, shunt_ohm)
        gap = junction_V - terminal_V - series_ohm * current
        slope = _slope_S(junction_V, saturation_A, ideality_V, shunt_ohm)
        step = gap / (1 + series_ohm * slope)
        if step <= 0 or junction_V - step == junction_V:
            break
        junction_V -= step
    return current_at_junction_A(junction_V, light_A, saturation_A, ideality_V, shunt_ohm)


def max_power_point(light_A, saturation_A, ideality_V, series_ohm, shunt_ohm):
    """Point of largest power.

    d(V I)/dVd = 0 with V = Vd - Rs I, by bisection of the falling slope

    Args:
        light_A: light current [A], 0 to 200
        saturation_A: diode saturation current [A], 1e-25 to 1
        ideality_V: a = n Ns k T / q [V], 0.005 to 50
        series_ohm: series resistance [ohm], 0 to 1000
        shunt_ohm: shunt resistance [ohm], 0.01 to 1e12
    Returns:
        triple of voltage [V], current [A] and power [W], zeros in the dark
    Raises:
        ValueError: an argument is outside its range
    Source: single-diode model
    Example:
        >>> [round(x, 3) for x in max_power_point(7.0, 6e-7, 0.5, 0.1, 20.0)]
        [6.224, 6.136, 38.194]
    """
    _require_curve(light_A, saturation_A, ideality_V, series_ohm, shunt_ohm)
    low_V = 0.0
    high_V = _open_circuit_V(light_A, saturation_A, ideality_V, shunt_ohm)
    for _ in range(_HALVINGS):
        middle_V = 0.5 * (low_V + high_V)
        current = current_at_junction_A(middle_V, light_A, saturation_A, ideality_V, shunt_ohm)
        slope = _slope_S(middle_V, saturation_A, ideality_V, shunt_ohm)
        terminal_V = middle_V - series_ohm * current
        if current * (1 + series_ohm * slope) > terminal_V * slope:
            low_V = middle_V
        else:
            high_V = middle_V
    current = current_at_junction_A(low_V, light_A, saturation_A, ideality_V, shunt_ohm)
    terminal_V = low_V - series_ohm * current
    return terminal_V, current, terminal_V * current


def _lambert_w(x):
    """Principal Lambert W for x > e, by Newton on w + ln w = ln x."""
    logarithm = math.log(x)
    w = logarithm - math.log(logarithm)
    for _ in range(_STEPS):
        step = (w + math.log(w) - logarithm) * w / (w + 1)
        if w - step == w:
            break
        w -= step
    return w


def fit_nameplate(open_V, short_A, power_V, power_A, short_coefficient_K, open_coefficient_K):
    """Five parameters of the single-diode model from a nameplate.

    d = (1 - 298.15 beta) / (50.1 - 298.15 alpha),  w = W(exp(1 / d + 1)),
    a = d Voc,  Rs = (a (w - 1) - Vmp) / Imp,  Rsh = a (w - 1) / (Isc (1 - 1 / w) - Imp),
    I_L = (1 + Rs / Rsh) Isc,  I_0 = I_L exp(-1 / d)

    Args:
        open_V: open-circuit voltage [V], 0.3 to 500
        short_A: short-circuit current [A], 0.001 to 50
        power_V: voltage at the largest power, below open_V [V], 0.1 to 500
        power_A: current at the largest power, below short_A [A], 0.001 to 50
        short_coefficient_K: relative temperature coefficient of short_A [1/K], -0.002 to 0.002
        open_coefficient_K: relative temperature coefficient of open_V [1/K], -0.006 to -0.001
    Returns:
        light current [A], saturation current [A], a [V], series resistance
        [ohm] and shunt resistance [ohm], at reference conditions
    Raises:
        ValueError: an argument is outside its range, or the power point is too
            good for the other four (a resistance would come out negative)
    Source: E. I. Batzelis, IEEE J. Photovoltaics 7 (2017) 1250; silicon.  The
        power point comes back within about 1 %
    Example:
        >>> light, dark, a, series, shunt = fit_nameplate(29.0, 4.5, 23.8, 4.2, 5e-4, -3.2e-3)
        >>> round(max_power_point(light, dark, a, series, shunt)[2], 0)
        100.0
    """
    require("open_V", open_V, 0.3, 500, "V")
    require("short_A", short_A, 0.001, 50, "A")
    require("power_V", power_V, 0.1, min(500, open_V), "V")
    require("power_A", power_A, 0.001, min(50, short_A), "A")
    require("short_coefficient_K", short_coefficient_K, -0.002, 0.002, "1/K")
    require("open_coefficient_K", open_coefficient_K, -0.006, -0.001, "1/K")
    share = (1 - _REFERENCE_K * open_coefficient_K) / (
        _BATZELIS_SILICON - _REFERENCE_K * short_coefficient_K
    )
    w = _lambert_w(math.exp(1 / share + 1))
    ideality_V = share * open_V
    series_ohm = (ideality_V * (w - 1) - power_V) / power_A
    leak_A = short_A * (1 - 1 / w) - power_A
    if series_ohm < 0:
        require("power_V", power_V, 0.1, ideality_V * (w - 1), "V")
    require("power_A", power_A, 0.001, short_A * (1 - 1 / w) * (1 - _HAIR), "A")
    shunt_ohm = ideality_V * (w - 1) / leak_A
    light_A = (1 + series_ohm / shunt_ohm) * short_A
    return light_A, light_A * math.exp(-1 / share), ideality_V, series_ohm, shunt_ohm


def ideality_factor(ideality_V, cells, cell_degC):
    """Ideality of one cell, to judge a fit: 1 to 2 for silicon.

    n = a q / (Ns k T)

    Args:
        ideality_V: a = n Ns k T / q [V], 0.005 to 50
        cells: cells in series [-], 1 to 300
        cell_degC: cell temperature [degC], -60 to 120
    Returns:
        diode ideality factor [-]
    Raises:
        ValueError: an argument is outside its range
    Source: definition of a
    Kept for: calibration of the panel, to judge a fit
    Example:
        >>> round(ideality_factor(1.356, 48, 25.0), 2)
        1.1
    """
    require("ideality_V", ideality_V, 0.005, 50, "V")
    require("cells", cells, 1, 300, "")
    _require_cell(cell_degC)
    return ideality_V / (cells * _BOLTZMANN_eV_K * (cell_degC + _ZERO_DEGC_K))


class Panel:
    """A panel by its nameplate, under the present sun and under load.

    I = I_L - I_0 (exp((V + I Rs) / a) - 1) - (V + I Rs) / Rsh

    Attributes: light, dark, ideal, series, shunt, the five numbers in the present
    sun; panel_V and panel_A, the point last found; beyond_V, which no point reaches.

    Args:
        nameplate: the six arguments of fit_nameplate [V, A, 1/K]
    Returns:
        a panel, in the dark [-]
    Raises:
        ValueError: no panel has this nameplate
    Source: W. De Soto et al., Solar Energy 80 (2006) 78
    Example:
        >>> panel = Panel((29.0, 4.5, 23.8, 4.2, 5e-4, -3.2e-3))
        >>> round(panel.shine(500.0, 25.0), 3)
        2.254
    """

    def __init__(self, nameplate):
        self.light_ref, self.dark_ref, self.ideal_ref, self.series, self.shunt_ref = (
            fit_nameplate(*nameplate))
        self.light_per_K = nameplate[4] * self.light_ref
        self.light = self.beyond_V = self.panel_V = self.panel_A = 0.0
        self.dark, self.ideal, self.shunt = self.dark_ref, self.ideal_ref, self.shunt_ref

    def shine(self, irradiance_W_m2, cell_degC):
        """Set the sun.

        the five numbers of the model at an irradiance and a cell temperature

        Args:
            irradiance_W_m2: irradiance in the panel's plane, below 0.5 taken as dark
                [W/m2], 0 to 2000
            cell_degC: cell temperature [degC], -60 to 120
        Returns:
            light current [A], 0 in the dark
        Raises:
            ValueError: an argument is outside its range
        Source: De Soto 2006
        Example:
            >>> Panel((29.0, 4.5, 23.8, 4.2, 5e-4, -3.2e-3)).shine(0.4, 25.0)
            0.0
        """
        if 0.0 <= irradiance_W_m2 < _DARK_W_M2:
            self.light = 0.0
            return 0.0
        self.light = light_current_A(self.light_ref, self.light_per_K, irradiance_W_m2, cell_degC)
        self.dark = saturation_current_A(self.dark_ref, cell_degC)
        self.ideal = modified_ideality_V(self.ideal_ref, cell_degC)
        self.shunt = shunt_resistance_ohm(self.shunt_ref, irradiance_W_m2)
        self.beyond_V = 2.0 * self.ideal * math.log(1.0 + self.light / self.dark)
        return self.light

    def load_A(self, conductance_S, beside_A):
        """Find the point at which the panel feeds a resistor beside a steady current.

        I_panel(V) = V G + I_b, by Newton's rule between bounds; begins at the last point

        Args:
            conductance_S: conductance of the resistor G, 0 or above [S]
            beside_A: current I_b taken beside it, below the light current [A]
        Returns:
            current in the resistor [A]; panel_V and panel_A hold the point
        Source: single-diode model; no check here, it is called at every step of a twin
        Example:
            >>> panel = Panel((29.0, 4.5, 23.8, 4.2, 5e-4, -3.2e-3))
            >>> _ = panel.shine(1000.0, 25.0)
            >>> round(panel.load_A(0.1, 0.0), 2), round(panel.panel_V, 1)
            (2.69, 26.9)
        """
        low, high = 0.0, self.beyond_V
        light, dark, ideal, series = self.light, self.dark, self.ideal, self.series
        shunt, volts = self.shunt, self.panel_V
        for _ in range(_MOST_STEPS):
            drawn = volts * conductance_S + beside_A
            junction = volts + drawn * series
            grown = dark * math.exp(junction / ideal)
            excess = light - grown + dark - junction / shunt - drawn
            if -_RESIDUAL_A < excess < _RESIDUAL_A:
                break
            if excess > 0.0:
                low = volts
            else:
                high = volts
            slope = (grown / ideal + 1.0 / shunt) * (1.0 + conductance_S * series)
            volts += excess / (slope + conductance_S)
            if not low < volts < high:
                volts = 0.5 * (low + high)
        self.panel_V = volts
        taken = volts * conductance_S
        self.panel_A = taken + beside_A
        return taken
