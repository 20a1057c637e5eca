"""Generator, rectifier and lamps: the electrical end of the turbine.

A permanent-magnet generator behaves as an EMF k w behind its winding.  Lamps of
light-emitting diodes take nothing below a threshold and are nearly a resistance
above it.
"""

from keeper.physics.checks import require


def emf_V(speed_rad_s, constant_V_s):
    """Voltage that a generator makes without load, after rectifying.

    E = k w

    Args:
        speed_rad_s: speed [rad/s], 0 to 3e4
        constant_V_s: machine constant k [V s/rad], 1e-5 to 10
    Returns:
        voltage [V]
    Raises:
        ValueError: an argument is outside its range
    Source: induction
    Example:
        >>> emf_V(150.0, 0.1)
        15.0
    """
    require("speed_rad_s", speed_rad_s, 0, 3e4, "rad/s")
    require("constant_V_s", constant_V_s, 1e-5, 10, "V s/rad")
    return constant_V_s * speed_rad_s


def lamp_current_A(source_V, rectifier_drop_V, threshold_V, source_ohm, lamp_ohm):
    """Current of a generator, rectifier and lamp in series.

    I = (E - Vd - Vth) / (Rg + Rl), 0 below the threshold

    Args:
        source_V: generator's EMF [V], 0 to 1000
        rectifier_drop_V: voltage lost in the rectifier while it conducts [V], 0 to 5
        threshold_V: voltage at which the lamp starts to draw current [V], 0 to 500
        source_ohm: generator's winding [ohm], 0 to 1000
        lamp_ohm: slope resistance of the lamp above its threshold [ohm], 0.001 to 1e5
    Returns:
        current [A], exactly 0 below the threshold
    Raises:
        ValueError: an argument is outside its range
    Source: piecewise linear diode
    Example:
        >>> lamp_current_A(15.0, 1.0, 9.0, 10.0, 40.0)
        0.1
    """
    require("source_V", source_V, 0, 1000, "V")
    require("rectifier_drop_V", rectifier_drop_V, 0, 5, "V")
    require("threshold_V", threshold_V, 0, 500, "V")
    require("source_ohm", source_ohm, 0, 1000, "ohm")
    require("lamp_ohm", lamp_ohm, 0.001, 1e5, "ohm")
    spare_V = source_V - rectifier_drop_V - threshold_V
    return max(spare_V, 0.0) / (source_ohm + lamp_ohm)


def lamp_power_W(current_A, threshold_V, lamp_ohm):
    """Power that a lamp takes at a current.

    P = I (Vth + I Rl)

    Args:
        current_A: current [A], 0 to 100
        threshold_V: voltage at which the lamp starts to draw current [V], 0 to 500
        lamp_ohm: slope resistance of the lamp above its threshold [ohm], 0.001 to 1e5
    Returns:
        power [W]
    Raises:
        ValueError: an argument is outside its range
    Source: piecewise linear diode
    Example:
        >>> round(lamp_power_W(0.1, 9.0, 40.0), 6)
        1.3
    """
    require("current_A", current_A, 0, 100, "A")
    require("threshold_V", threshold_V, 0, 500, "V")
    require("lamp_ohm", lamp_ohm, 0.001, 1e5, "ohm")
    return current_A * (threshold_V + current_A * lamp_ohm)


def threshold_speed_rad_s(rectifier_drop_V, threshold_V, constant_V_s):
    """Speed below which a lamp stays dark and the generator runs light.

    w = (Vd + Vth) / k

    Args:
        rectifier_drop_V: voltage lost in the rectifier while it conducts [V], 0 to 5
        threshold_V: voltage at which the lamp starts to draw current [V], 0 to 500
        constant_V_s: machine constant k [V s/rad], 1e-5 to 10
    Returns:
        speed [rad/s]
    Raises:
        ValueError: an argument is outside its range
    Source: piecewise linear diode
    Example:
        >>> threshold_speed_rad_s(1.0, 9.0, 0.1)
        100.0
    """
    require("rectifier_drop_V", rectifier_drop_V, 0, 5, "V")
    require("threshold_V", threshold_V, 0, 500, "V")
    require("constant_V_s", constant_V_s, 1e-5, 10, "V s/rad")
    return (rectifier_drop_V + threshold_V) / constant_V_s
