"""Conductors, voltage drop, fuse and contact margins, dividers, shunts.

Sizes of wires, fuses and isolators are for the local code and a licensed person
to decide: these numbers only help to talk about them.
"""

import math

from keeper.physics.checks import require

COPPER_S_M = 58.0e6  # conductivity of annealed copper at 20 degC (IEC 60028)
COPPER_PER_K = 0.00393  # temperature coefficient at 20 degC (IEC 60028)
_COPPER_REFERENCE_degC = 20.0
_AWG_THINNEST_M = 0.127e-3  # gauge 36 (ASTM B258)
_AWG_RATIO = 92.0  # diameter of gauge 0000 over gauge 36
_AWG_STEPS = 39.0


def gauge_diameter_m(gauge):
    """Diameter of a solid wire of an American wire gauge.

    d = 0.127 mm 92^((36 - n) / 39)

    Args:
        gauge: gauge number, 0000 is -3 [-], -3 to 40
    Returns:
        diameter [m]
    Raises:
        ValueError: the gauge is outside its range
    Source: ASTM B258
    Example:
        >>> round(gauge_diameter_m(12) * 1e3, 6)
        2.052525
    """
    require("gauge", gauge, -3, 40, "")
    return _AWG_THINNEST_M * _AWG_RATIO ** ((36 - gauge) / _AWG_STEPS)


def gauge_section_m2(gauge):
    """Cross-section of a solid wire of an American wire gauge.

    A = pi / 4 d^2

    Args:
        gauge: gauge number, 0000 is -3 [-], -3 to 40
    Returns:
        cross-section [m2]
    Raises:
        ValueError: the gauge is outside its range
    Source: ASTM B258
    Example:
        >>> round(gauge_section_m2(12) * 1e6, 3)
        3.309
    """
    diameter = gauge_diameter_m(gauge)
    return math.pi / 4 * diameter * diameter


def conductor_ohm(length_m, section_m2, temperature_degC):
    """Resistance of a copper conductor.

    R = L / (58e6 S/m A) (1 + 0.00393 (t - 20))

    Args:
        length_m: length of conductor, both ways for a pair [m], 0 to 1e5
        section_m2: cross-section [m2], 1e-9 to 0.01
        temperature_degC: temperature of the conductor [degC], -60 to 200
    Returns:
        resistance [ohm]; strands add some 2 % of lay
    Raises:
        ValueError: an argument is outside its range
    Source: IEC 60028
    Example:
        >>> round(conductor_ohm(100.0, 1.5e-6, 20.0), 4)
        1.1494
    """
    require("length_m", length_m, 0, 1e5, "m")
    require("section_m2", section_m2, 1e-9, 0.01, "m2")
    return length_m / (COPPER_S_M * section_m2) * copper_ratio(temperature_degC)


def copper_ratio(temperature_degC):
    """Resistance of copper over its resistance at 20 degC.

    r = 1 + 0.00393 (t - 20)

    Args:
        temperature_degC: temperature [degC], -60 to 200
    Returns:
        ratio [-]
    Raises:
        ValueError: the temperature is outside its range
    Source: IEC 60028
    Example:
        >>> round(copper_ratio(80.0), 4)
        1.2358
    """
    require("temperature_degC", temperature_degC, -60, 200, "degC")
    return 1 + COPPER_PER_K * (temperature_degC - _COPPER_REFERENCE_degC)


def winding_temperature_degC(cold_ohm, hot_ohm, cold_degC):
    """Temperature of a copper winding from the rise of its resistance.

    t = (r (1 + a (tc - 20)) - 1) / a + 20,  r = Rh / Rc

    Args:
        cold_ohm: resistance at the cold temperature [ohm], 1e-4 to 1e6
        hot_ohm: resistance now [ohm], 1e-4 to 1e6
        cold_degC: cold temperature [degC], -60 to 60
    Returns:
        temperature [degC]
    Raises:
        ValueError: an argument is outside its range
    Source: inverse of the resistance law
    Kept for: calibration of the motor's heat by its winding
    Example:
        >>> round(winding_temperature_degC(1.0, 1.2358, 20.0), 3)
        80.0
    """
    require("cold_ohm", cold_ohm, 1e-4, 1e6, "ohm")
    require("hot_ohm", hot_ohm, 1e-4, 1e6, "ohm")
    require("cold_degC", cold_degC, -60, 60, "degC")
    # As a rise over the cold temperature: the ratio itself is near 1.
    rise_frac = (hot_ohm - cold_ohm) / cold_ohm
    return cold_degC + rise_frac * copper_ratio(cold_degC) / COPPER_PER_K


def voltage_drop_V(current_A, one_way_m, section_m2, temperature_degC):
    """Voltage lost in a two-wire cable.

    dV = I R(2 L)

    Args:
        current_A: current [A], 0 to 1000
        one_way_m: length of the cable, one way [m], 0 to 5e4
        section_m2: cross-section of one conductor [m2], 1e-9 to 0.01
        temperature_degC: temperature of the conductor [degC], -60 to 200
    Returns:
        voltage drop [V]
    Raises:
        ValueError: an argument is outside its range
    Source: Ohm's law
    Example:
        >>> round(voltage_drop_V(5.0, 10.0, gauge_section_m2(12), 20.0), 6)
        0.521081
    """
    require("current_A", current_A, 0, 1000, "A")
    require("one_way_m", one_way_m, 0, 5e4, "m")
    return current_A * conductor_ohm(2 * one_way_m, section_m2, temperature_degC)


def fuse_margin_frac(fuse_A, load_A):
    """Room between a steady current and the rating of its fuse.

    m = If / I - 1

    Args:
        fuse_A: rated current of the fuse [A], 0.01 to 1000
        load_A: largest steady current [A], 0.001 to 1000
    Returns:
        margin [-]; 0.25 is usual, negative means that it blows
    Raises:
        ValueError: an argument is outside its range
    Source: definition.  A panel cannot blow a fuse that its short-circuit current
        does not exceed: fuses protect against a battery
    Kept for: hardware margins, fuses
    Example:
        >>> fuse_margin_frac(5.0, 4.0)
        0.25
    """
    require("fuse_A", fuse_A, 0.01, 1000, "A")
    require("load_A", load_A, 0.001, 1000, "A")
    return fuse_A / load_A - 1


def panel_blows_fuse(fuse_A, panel_short_A, fusing_ratio):
    """Whether a panel alone could ever blow a fuse.

    Isc >= r If

    Args:
        fuse_A: rated current of the fuse [A], 0.01 to 1000
        panel_short_A: short-circuit current of the panel [A], 0.001 to 1000
        fusing_ratio: current that surely blows it over its rating [-], 1 to 4
    Returns:
        True if it could [-]
    Raises:
        ValueError: an argument is outside its range
    Source: definition; photovoltaic fuses blow within an hour at 1.45 times
        their rating (IEC 60269-6, from memory)
    Kept for: hardware margins, fuses
    Example:
        >>> panel_blows_fuse(10.0, 4.5, 1.45)
        False
    """
    require("fuse_A", fuse_A, 0.01, 1000, "A")
    require("panel_short_A", panel_short_A, 0.001, 1000, "A")
    require("fusing_ratio", fusing_ratio, 1, 4, "")
    return panel_short_A >= fusing_ratio * fuse_A


def contact_margin_frac(rated_V, rated_A, open_V, load_A):
    """Room between a DC load and a contact's direct-current rating.

    m = min(Vr / V, Ir / I) - 1

    Args:
        rated_V: rated direct voltage of the contact [V], 1 to 2000
        rated_A: rated direct current at that voltage [A], 0.001 to 1000
        open_V: largest voltage over the open contact [V], 0.1 to 2000
        load_A: largest current that it breaks [A], 0.0001 to 1000
    Returns:
        margin [-], negative when the contact is too small
    Raises:
        ValueError: an argument is outside its range
    Source: definition; an alternating-current rating says nothing about breaking
        direct current, whose arc has no zero
    Kept for: hardware margins, contacts
    Example:
        >>> contact_margin_frac(60.0, 5.0, 40.0, 4.0)
        0.25
    """
    require("rated_V", rated_V, 1, 2000, "V")
    require("rated_A", rated_A, 0.001, 1000, "A")
    require("open_V", open_V, 0.1, 2000, "V")
    require("load_A", load_A, 0.0001, 1000, "A")
    return min(rated_V / open_V, rated_A / load_A) - 1


def _require_divider(upper_ohm, lower_ohm):
    require("upper_ohm", upper_ohm, 0, 1e8, "ohm")
    require("lower_ohm", lower_ohm, 0.1, 1e8, "ohm")


def divider_V(input_V, upper_ohm, lower_ohm):
    """Voltage at the tap of a divider.

    Vo = V Rl / (Ru + Rl)

    Args:
        input_V: voltage over both resistors [V], -1000 to 1000
        upper_ohm: resistor between input and tap [ohm], 0 to 1e8
        lower_ohm: resistor between tap and ground, the meter's with it [ohm], 0.1 to 1e8
    Returns:
        voltage [V]
    Raises:
        ValueError: an argument is outside its range
    Source: Ohm's law
    Example:
        >>> divider_V(33.0, 90000, 10000)
        3.3
    """
    require("input_V", input_V, -1000, 1000, "V")
    _require_divider(upper_ohm, lower_ohm)
    return input_V * lower_ohm / (upper_ohm + lower_ohm)


def divider_source_ohm(upper_ohm, lower_ohm):
    """Resistance that a meter sees at the tap of a divider.

    R = Ru Rl / (Ru + Rl)

    Args:
        upper_ohm: resistor between input and tap [ohm], 0 to 1e8
        lower_ohm: resistor between tap and ground [ohm], 0.1 to 1e8
    Returns:
        source resistance [ohm]
    Raises:
        ValueError: an argument is outside its range
    Source: Thevenin
    Kept for: hardware margins, analogue inputs
    Example:
        >>> divider_source_ohm(90000, 10000)
        9000.0
    """
    _require_divider(upper_ohm, lower_ohm)
    return upper_ohm / (upper_ohm + lower_ohm) * lower_ohm


def shunt_ohm_for(range_V, largest_A):
    """Shunt that uses a meter's whole range at the largest current.

    R = Vr / I

    Args:
        range_V: full range of the meter [V], 0.001 to 10
        largest_A: largest current, with start-up in mind [A], 0.001 to 1000
    Returns:
        resistance [ohm]
    Raises:
        ValueError: an argument is outside its range
    Source: Ohm's law
    Kept for: hardware margins, shunts
    Example:
        >>> shunt_ohm_for(0.08, 8.0)
        0.01
    """
    require("range_V", range_V, 0.001, 10, "V")
    require("largest_A", largest_A, 0.001, 1000, "A")
    return range_V / largest_A


def shunt_clip_A(range_V, resistance_ohm):
    """Current at which a meter on a shunt clips.

    I = Vr / R

    Args:
        range_V: full range of the meter [V], 0.001 to 10
        resistance_ohm: shunt [ohm], 1e-5 to 1000
    Returns:
        current [A]
    Raises:
        ValueError: an argument is outside its range
    Source: Ohm's law
    Example:
        >>> round(shunt_clip_A(0.08192, 0.1), 4)
        0.8192
    """
    require("range_V", range_V, 0.001, 10, "V")
    require("resistance_ohm", resistance_ohm, 1e-5, 1000, "ohm")
    return range_V / resistance_ohm
