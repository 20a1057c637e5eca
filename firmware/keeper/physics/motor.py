"""Permanent-magnet direct-current motor, steady state.

One constant k is both volts per rad/s and newton metres per ampere.  Friction is
a constant torque plus a drag that grows with speed: together the no-load current.
A brushless motor with its controller looks the same from its two supply wires.
"""

from keeper.physics.checks import require


def _require_machine(winding_ohm, constant_V_s):
    require("winding_ohm", winding_ohm, 0.001, 1000, "ohm")
    require("constant_V_s", constant_V_s, 1e-5, 10, "V s/rad")


def _require_friction(friction_Nm, drag_Nm_s):
    require("friction_Nm", friction_Nm, 0, 10, "N m")
    require("drag_Nm_s", drag_Nm_s, 0, 1, "N m s/rad")


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
    Example:
        >>> constant_from_no_load_V_s(12.0, 0.1, 200.0, 20.0)
        0.05
    """
    require("no_load_V", no_load_V, 0.1, 1000, "V")
    require("no_load_A", no_load_A, 0, 100, "A")
    require("no_load_rad_s", no_load_rad_s, 0.1, 1e4, "rad/s")
    require("winding_ohm", winding_ohm, 0.001, 1000, "ohm")
    return (no_load_V - no_load_A * winding_ohm) / no_load_rad_s


def current_A(supply_V, speed_rad_s, winding_ohm, constant_V_s):
    """Current at a voltage and a speed.

    I = (V - k w) / R

    Args:
        supply_V: voltage [V], 0 to 1000
        speed_rad_s: speed [rad/s], 0 to 1e4
        winding_ohm: winding resistance [ohm], 0.001 to 1000
        constant_V_s: machine constant k [V s/rad], 1e-5 to 10
    Returns:
        current [A], negative when the machine is driven as a generator
    Raises:
        ValueError: an argument is outside its range
    Source: voltage balance
    Example:
        >>> current_A(24.0, 200.0, 4.0, 0.1)
        1.0
    """
    require("supply_V", supply_V, 0, 1000, "V")
    require("speed_rad_s", speed_rad_s, 0, 1e4, "rad/s")
    _require_machine(winding_ohm, constant_V_s)
    return (supply_V - constant_V_s * speed_rad_s) / winding_ohm


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


def stall_torque_Nm(supply_V, winding_ohm, constant_V_s, friction_Nm):
    """Torque at the shaft with the rotor held still.

    T = k V / R - Tf, not below 0

    Args:
        supply_V: voltage [V], 0 to 1000
        winding_ohm: winding resistance [ohm], 0.001 to 1000
        constant_V_s: machine constant k [V s/rad], 1e-5 to 10
        friction_Nm: constant friction torque [N m], 0 to 10
    Returns:
        torque [N m]
    Raises:
        ValueError: an argument is outside its range
    Source: torque balance
    Example:
        >>> round(stall_torque_Nm(24.0, 4.0, 0.1, 0.05), 6)
        0.55
    """
    _require_machine(winding_ohm, constant_V_s)
    _require_friction(friction_Nm, 0)
    return max(constant_V_s * stall_current_A(supply_V, winding_ohm) - friction_Nm, 0.0)


def speed_rad_s(supply_V, load_Nm, winding_ohm, constant_V_s, friction_Nm, drag_Nm_s):
    """Steady speed at a voltage under a constant load torque.

    w = (k V / R - Tf - T) / (k^2 / R + c), not below 0

    Args:
        supply_V: voltage [V], 0 to 1000
        load_Nm: torque taken at the shaft [N m], 0 to 1000
        winding_ohm: winding resistance [ohm], 0.001 to 1000
        constant_V_s: machine constant k [V s/rad], 1e-5 to 10
        friction_Nm: constant friction torque [N m], 0 to 10
        drag_Nm_s: friction that grows with speed [N m s/rad], 0 to 1
    Returns:
        speed [rad/s], 0 when stalled
    Raises:
        ValueError: an argument is outside its range
    Source: torque balance
    Example:
        >>> round(speed_rad_s(24.0, 0.1, 4.0, 0.1, 0.0, 0.0), 6)
        200.0
    """
    require("load_Nm", load_Nm, 0, 1000, "N m")
    _require_machine(winding_ohm, constant_V_s)
    _require_friction(friction_Nm, drag_Nm_s)
    spare_Nm = constant_V_s * stall_current_A(supply_V, winding_ohm) - friction_Nm - load_Nm
    return max(spare_Nm, 0.0) / (constant_V_s * constant_V_s / winding_ohm + drag_Nm_s)


def dry_run_current_A(supply_V, winding_ohm, constant_V_s, friction_Nm, drag_Nm_s):
    """Current of a motor that turns without load, as a dry pump does.

    I = (V - k w) / R at the speed without load; V / R before it breaks away

    Args:
        supply_V: voltage [V], 0 to 1000
        winding_ohm: winding resistance [ohm], 0.001 to 1000
        constant_V_s: machine constant k [V s/rad], 1e-5 to 10
        friction_Nm: constant friction torque [N m], 0 to 10
        drag_Nm_s: friction that grows with speed [N m s/rad], 0 to 1
    Returns:
        current [A], a straight line over voltage once it turns
    Raises:
        ValueError: an argument is outside its range
    Source: torque and voltage balance; the current is taken from the torque side,
        k I = Tf + c w, where it is not a small difference of large voltages
    Example:
        >>> round(dry_run_current_A(24.0, 4.0, 0.1, 0.01, 5e-5), 4)
        0.2157
    """
    speed = speed_rad_s(supply_V, 0.0, winding_ohm, constant_V_s, friction_Nm, drag_Nm_s)
    if speed <= 0:
        return stall_current_A(supply_V, winding_ohm)
    return (friction_Nm + drag_Nm_s * speed) / constant_V_s


def efficiency_frac(supply_V, speed_rad_s, winding_ohm, constant_V_s, friction_Nm, drag_Nm_s):
    """Shaft power over electrical power at a voltage and a speed.

    eta = w (k I - Tf - c w) / (V I),  I = (V - k w) / R

    Args:
        supply_V: voltage [V], 0 to 1000
        speed_rad_s: speed [rad/s], 0 to 1e4
        winding_ohm: winding resistance [ohm], 0.001 to 1000
        constant_V_s: machine constant k [V s/rad], 1e-5 to 10
        friction_Nm: constant friction torque [N m], 0 to 10
        drag_Nm_s: friction that grows with speed [N m s/rad], 0 to 1
    Returns:
        efficiency [-], 0 when nothing leaves the shaft
    Raises:
        ValueError: an argument is outside its range
    Source: power balance
    Example:
        >>> round(efficiency_frac(24.0, 200.0, 4.0, 0.1, 0.0, 0.0), 6)
        0.833333
    """
    _require_friction(friction_Nm, drag_Nm_s)
    current = current_A(supply_V, speed_rad_s, winding_ohm, constant_V_s)
    shaft_W = speed_rad_s * (constant_V_s * current - friction_Nm - drag_Nm_s * speed_rad_s)
    if shaft_W <= 0:
        return 0.0
    return shaft_W / (supply_V * current)


def copper_loss_W(current_A, winding_ohm):
    """Heat in the winding.

    P = I^2 R

    Args:
        current_A: current [A], -1000 to 1000
        winding_ohm: winding resistance at its temperature [ohm], 0.001 to 1000
    Returns:
        heat [W]
    Raises:
        ValueError: an argument is outside its range
    Source: Joule's law
    Example:
        >>> copper_loss_W(2.0, 4.0)
        16.0
    """
    require("current_A", current_A, -1000, 1000, "A")
    require("winding_ohm", winding_ohm, 0.001, 1000, "ohm")
    return current_A * current_A * winding_ohm
