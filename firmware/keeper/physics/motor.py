"""Permanent-magnet direct-current motor, steady state, by itself; on a panel: solar_pump.

One constant k is both volts per rad/s and newton metres per ampere.  A brushless
motor with its controller looks the same from its two supply wires.
"""

from keeper.physics.checks import require


def constant_from_no_load_V_s(no_load_V, no_load_A, no_load_rad_s, winding_ohm):
    """Machine constant from a run without load.

    k = (V - I R) / w

    Args:
        no_load_V: voltage [V], 0.1 to 1000
        no_load_A: current without load [A], 0 to 100
        no_load_rad_s: speed without load [rad/s], 0.1 to 1e4
        winding_ohm: winding resistance [ohm], 0.001 to 1000
    Returns:
        constant [V s/rad]
    Raises:
        ValueError: an argument is outside its range
    Source: voltage balance
    Kept for: calibration of the motor by a run without load
    Example:
        >>> constant_from_no_load_V_s(12.0, 0.1, 200.0, 20.0)
        0.05
    """
    require("no_load_V", no_load_V, 0.1, 1000, "V")
    require("no_load_A", no_load_A, 0, 100, "A")
    require("no_load_rad_s", no_load_rad_s, 0.1, 1e4, "rad/s")
    require("winding_ohm", winding_ohm, 0.001, 1000, "ohm")
    return (no_load_V - no_load_A * winding_ohm) / no_load_rad_s


def stall_current_A(supply_V, winding_ohm):
    """Current with the rotor held still.

    I = V / R

    Args:
        supply_V: voltage [V], 0 to 1000
        winding_ohm: winding resistance [ohm], 0.001 to 1000
    Returns:
        current [A]; behind a panel its short-circuit current limits it
    Raises:
        ValueError: an argument is outside its range
    Source: voltage balance at no speed
    Example:
        >>> stall_current_A(24.0, 4.0)
        6.0
    """
    require("supply_V", supply_V, 0, 1000, "V")
    require("winding_ohm", winding_ohm, 0.001, 1000, "ohm")
    return supply_V / winding_ohm
