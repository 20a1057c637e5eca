"""Centrifugal pump: head and torque curves, affinity laws, operating point.

Head curve at rated speed, H = H0 - a Q - b Q^2, moved by the speed ratio s:
H = s^2 H0 - s a Q - b Q^2.
"""

import math

from keeper.physics.checks import require
from keeper.physics.solve import rising_root

_LEAST_SPREAD = 1e-6  # of the determinant, below it two of three flows are one
_MOST_FLOW_M3_S = 10.0  # the range of module pipes


def _require_curve(speed_ratio, shut_off_m, linear_s_m2, quadratic_s2_m5):
    require("speed_ratio", speed_ratio, 0, 3, "")
    require("shut_off_m", shut_off_m, 0.01, 1000, "m")
    require("linear_s_m2", linear_s_m2, 0, 1e9, "s/m2")
    require("quadratic_s2_m5", quadratic_s2_m5, 1e-3, 1e13, "s2/m5")


def head_m(flow_m3_s, speed_ratio, shut_off_m, linear_s_m2, quadratic_s2_m5):
    """Head of a pump at a flow and a speed.

    H = s^2 H0 - s a Q - b Q^2

    Args:
        flow_m3_s: flow [m3/s], 0 to 10
        speed_ratio: speed over rated speed [-], 0 to 3
        shut_off_m: head without flow at rated speed, H0 [m], 0.01 to 1000
        linear_s_m2: coefficient a [s/m2], 0 to 1e9
        quadratic_s2_m5: coefficient b [s2/m5], 1e-3 to 1e13
    Returns:
        head [m], negative beyond the pump's largest flow
    Raises:
        ValueError: an argument is outside its range
    Source: quadratic head curve with the affinity laws
    Example:
        >>> round(head_m(2e-4, 1.0, 17.0, 0.0, 1.5e8), 6)
        11.0
    """
    require("flow_m3_s", flow_m3_s, 0, 10, "m3/s")
    _require_curve(speed_ratio, shut_off_m, linear_s_m2, quadratic_s2_m5)
    slope = speed_ratio * linear_s_m2 + quadratic_s2_m5 * flow_m3_s
    return speed_ratio * speed_ratio * shut_off_m - slope * flow_m3_s


def fit_head_curve(flows_m3_s, heads_m):
    """Head curve through three measured points, or the best one through more.

    H = H0 - a Q - b Q^2, least squares in Q / Qmax about the means, a not below 0

    Args:
        flows_m3_s: flows of three points or more, three of them different, 0 to 10 [m3/s]
        heads_m: heads at these flows, -1000 to 1000 [m]
    Returns:
        H0 [m], a [s/m2] and b [s2/m5]; a curve that rises from shut-off comes out flat there
    Raises:
        ValueError: fewer than three different flows, a flow or head outside its
            range, or the points bend upwards
    Source: least squares
    Example:
        >>> [round(x, 3) for x in fit_head_curve((0, 1e-4, 2e-4), (17.0, 15.5, 11.0))]
        [17.0, 0.0, 150000000.0]
    """
    count = len(flows_m3_s)
    if count < 3 or count != len(heads_m):
        raise ValueError("flows_m3_s and heads_m: must have 3 points or more each")
    scale = max(flows_m3_s)
    require("largest flow", scale, 1e-7, 10, "m3/s")
    for flow, head in zip(flows_m3_s, heads_m):
        require("flows_m3_s", flow, 0, scale, "m3/s")
        require("heads_m", head, -1000, 1000, "m")
    xs = [flow / scale for flow in flows_m3_s]
    linear, bend, mean_x, mean_square, mean_y = _least_squares(xs, heads_m)
    if bend >= 0:
        raise ValueError("heads_m: must fall ever faster with flow, as a pump's do")
    shut_off_m = mean_y - linear * mean_x - bend * mean_square
    return shut_off_m, abs(linear) / scale, -bend / (scale * scale)


def _least_squares(xs, ys):
    count = len(xs)
    squares = [x * x for x in xs]
    mean_x, mean_square, mean_y = sum(xs) / count, sum(squares) / count, sum(ys) / count
    xx = cross = qq = xy = qy = 0.0
    for x, square, y in zip(xs, squares, ys):
        dx, dq, dy = x - mean_x, square - mean_square, y - mean_y
        xx += dx * dx
        cross += dx * dq
        qq += dq * dq
        xy += dx * dy
        qy += dq * dy
    determinant = xx * qq - cross * cross
    if not determinant > _LEAST_SPREAD * xx * qq:  # fewer than three flows that differ
        raise ValueError("flows_m3_s: must hold three flows that differ")
    linear = (xy * qq - qy * cross) / determinant
    bend = (qy * xx - xy * cross) / determinant
    if linear > 0:  # the best curve without a rise has a = 0: the problem is convex
        linear, bend = 0.0, qy / qq
    return linear, bend, mean_x, mean_square, mean_y


def affinity_flow_m3_s(flow_m3_s, speed_ratio):
    """Flow at the same point of the curve, at another speed.

    Q2 = s Q1

    Args:
        flow_m3_s: flow at rated speed [m3/s], 0 to 10
        speed_ratio: speed over rated speed [-], 0 to 3
    Returns:
        flow [m3/s]
    Raises:
        ValueError: an argument is outside its range
    Source: affinity laws; they move the curve, not the operating point on a static head
    Example:
        >>> affinity_flow_m3_s(2e-4, 0.5)
        0.0001
    """
    require("flow_m3_s", flow_m3_s, 0, 10, "m3/s")
    require("speed_ratio", speed_ratio, 0, 3, "")
    return flow_m3_s * speed_ratio


def affinity_head_m(head_m, speed_ratio):
    """Head at the same point of the curve, at another speed.

    H2 = s^2 H1

    Args:
        head_m: head at rated speed [m], 0 to 1000
        speed_ratio: speed over rated speed [-], 0 to 3
    Returns:
        head [m]
    Raises:
        ValueError: an argument is outside its range
    Source: affinity laws
    Example:
        >>> affinity_head_m(16.0, 0.5)
        4.0
    """
    require("head_m", head_m, 0, 1000, "m")
    require("speed_ratio", speed_ratio, 0, 3, "")
    return head_m * speed_ratio * speed_ratio


def affinity_power_W(power_W, speed_ratio):
    """Shaft power at the same point of the curve, at another speed.

    P2 = s^3 P1

    Args:
        power_W: shaft power at rated speed [W], 0 to 1e6
        speed_ratio: speed over rated speed [-], 0 to 3
    Returns:
        shaft power [W]
    Raises:
        ValueError: an argument is outside its range
    Source: affinity laws, efficiency unchanged
    Example:
        >>> affinity_power_W(16.0, 0.5)
        2.0
    """
    require("power_W", power_W, 0, 1e6, "W")
    require("speed_ratio", speed_ratio, 0, 3, "")
    return power_W * speed_ratio * speed_ratio * speed_ratio


def threshold_speed_ratio(static_m, shut_off_m):
    """Speed below which a pump moves no water up a static head.

    s = sqrt(Hs / H0)

    Args:
        static_m: static head [m], 0 to 1000
        shut_off_m: head without flow at rated speed [m], 0.01 to 1000
    Returns:
        speed over rated speed [-]
    Raises:
        ValueError: an argument is outside its range
    Source: head without flow equals the static head
    Example:
        >>> round(threshold_speed_ratio(10.8, 17.0), 3)
        0.797
    """
    require("static_m", static_m, 0, 1000, "m")
    require("shut_off_m", shut_off_m, 0.01, 1000, "m")
    return math.sqrt(static_m / shut_off_m)


def operating_flow_m3_s(
    speed_ratio, shut_off_m, linear_s_m2, quadratic_s2_m5, static_m, resistance_s2_m5
):
    """Flow against a static head and a quadratic line.

    s^2 H0 - s a Q - b Q^2 = Hs + r Q^2;
    Q = 2 c / (s a + sqrt((s a)^2 + 4 (b + r) c)),  c = s^2 H0 - Hs

    Args:
        speed_ratio: speed over rated speed [-], 0 to 3
        shut_off_m: head without flow at rated speed, H0 [m], 0.01 to 1000
        linear_s_m2: coefficient a [s/m2], 0 to 1e9
        quadratic_s2_m5: coefficient b [s2/m5], 1e-3 to 1e13
        static_m: static head [m], 0 to 1000
        resistance_s2_m5: loss of the line over the square of the flow [s2/m5], 0 to 1e13
    Returns:
        flow [m3/s], exactly 0 below the threshold speed
    Raises:
        ValueError: an argument is outside its range
    Source: pump curve against system curve; the root's form without a difference
    Example:
        >>> round(operating_flow_m3_s(1.0, 17.0, 0.0, 1.5e8, 11.0, 0.0), 7)
        0.0002
    """
    _require_curve(speed_ratio, shut_off_m, linear_s_m2, quadratic_s2_m5)
    require("static_m", static_m, 0, 1000, "m")
    require("resistance_s2_m5", resistance_s2_m5, 0, 1e13, "s2/m5")
    spare_m = speed_ratio * speed_ratio * shut_off_m - static_m
    if spare_m <= 0:
        return 0.0
    slope = speed_ratio * linear_s_m2
    bend = quadratic_s2_m5 + resistance_s2_m5
    return 2 * spare_m / (slope + math.sqrt(slope * slope + 4 * bend * spare_m))


def pipe_operating_flow_m3_s(
    speed_ratio, shut_off_m, linear_s_m2, quadratic_s2_m5, static_m, pipe
):
    """Flow against a static head and a pipe with its real friction.

    s^2 H0 - s a Q - b Q^2 = Hs + loss(Q), by bisection

    Args:
        speed_ratio: speed over rated speed [-], 0 to 3
        shut_off_m: head without flow at rated speed, H0 [m], 0.01 to 1000
        linear_s_m2: coefficient a [s/m2], 0 to 1e9
        quadratic_s2_m5: coefficient b [s2/m5], 1e-3 to 1e13
        static_m: static head [m], 0 to 1000
        pipe: the rising main, a pipes.Pipe [-]
    Returns:
        flow [m3/s], at most 10; exactly 0 below the threshold speed
    Raises:
        ValueError: an argument is outside its range
    Source: pump curve against system curve
    Example:
        >>> from keeper.physics.pipes import Pipe
        >>> main = Pipe(22.0, 0.020, 1.5e-6, 2.0, 1.0034e-6, 9.80665)
        >>> round(pipe_operating_flow_m3_s(1.0, 17.0, 0.0, 1.5e8, 10.8, main) * 6e4, 2)
        11.54
    """
    most = operating_flow_m3_s(
        speed_ratio, shut_off_m, linear_s_m2, quadratic_s2_m5, static_m, 0.0
    )
    if most <= 0:
        return 0.0

    def shortfall_m(flow):
        lifted = head_m(flow, speed_ratio, shut_off_m, linear_s_m2, quadratic_s2_m5)
        return static_m + pipe.loss_m(flow) - lifted

    return rising_root(shortfall_m, 0.0, min(most, _MOST_FLOW_M3_S))


def hydraulic_power_W(flow_m3_s, head_m, density_kg_m3, gravity_m_s2):
    """Power of a flow under a head.

    P = rho g Q H

    Args:
        flow_m3_s: flow [m3/s], 0 to 10
        head_m: head [m], 0 to 1000
        density_kg_m3: density of the water [kg/m3], 900 to 1100
        gravity_m_s2: acceleration of free fall [m/s2], 9.7 to 9.9
    Returns:
        power [W]
    Raises:
        ValueError: an argument is outside its range
    Source: definition
    Example:
        >>> round(hydraulic_power_W(0.001, 9.0, 1000.0, 9.80665), 5)
        88.25985
    """
    require("flow_m3_s", flow_m3_s, 0, 10, "m3/s")
    require("head_m", head_m, 0, 1000, "m")
    require("density_kg_m3", density_kg_m3, 900, 1100, "kg/m3")
    require("gravity_m_s2", gravity_m_s2, 9.7, 9.9, "m/s2")
    return density_kg_m3 * gravity_m_s2 * flow_m3_s * head_m


def efficiency_frac(flow_m3_s, speed_ratio, best_flow_m3_s, best_efficiency_frac):
    """Pump efficiency as a parabola through rest and the best point.

    eta = eta_b q (2 - q),  q = Q / (s Qb), not below 0

    Args:
        flow_m3_s: flow [m3/s], 0 to 10
        speed_ratio: speed over rated speed [-], 0.01 to 3
        best_flow_m3_s: flow at the best point at rated speed [m3/s], 1e-7 to 10
        best_efficiency_frac: efficiency at the best point [-], 0.001 to 1
    Returns:
        efficiency, hydraulic over shaft power [-]
    Raises:
        ValueError: an argument is outside its range
    Source: common two-point model; a small pump is measured, not looked up
    Example:
        >>> efficiency_frac(1e-4, 1.0, 2e-4, 0.4)
        0.30000000000000004
    """
    require("flow_m3_s", flow_m3_s, 0, 10, "m3/s")
    require("speed_ratio", speed_ratio, 0.01, 3, "")
    require("best_flow_m3_s", best_flow_m3_s, 1e-7, 10, "m3/s")
    require("best_efficiency_frac", best_efficiency_frac, 0.001, 1, "")
    share = flow_m3_s / (speed_ratio * best_flow_m3_s)
    return max(best_efficiency_frac * share * (2 - share), 0.0)


def fit_best_point(flows_m3_s, efficiencies_frac):
    """Best point of a pump from two measured efficiencies or more.

    eta = p Q - r Q^2 by least squares;  Qb = p / (2 r),  eta_b = p^2 / (4 r)

    Args:
        flows_m3_s: flows of two points or more, two of them different, above 0 [m3/s]
        efficiencies_frac: efficiencies there, hydraulic over shaft power, 0 to 1 [-]
    Returns:
        flow [m3/s] and efficiency [-] at the best point, as efficiency_frac takes them
    Raises:
        ValueError: fewer than two different flows, a flow or efficiency outside its
            range, or the points show no best between 0 and 1
    Source: least squares for the parabola of efficiency_frac
    Example:
        >>> [round(x, 6) for x in fit_best_point((1e-4, 3e-4), (0.3, 0.3))]
        [0.0002, 0.4]
    """
    count = len(flows_m3_s)
    if count < 2 or count != len(efficiencies_frac):
        raise ValueError("flows_m3_s and efficiencies_frac: must have 2 points or more each")
    scale = max(flows_m3_s)
    require("largest flow", scale, 1e-7, 10, "m3/s")
    s2 = s3 = s4 = xy = qy = 0.0
    for flow, efficiency in zip(flows_m3_s, efficiencies_frac):
        require("flows_m3_s", flow, 0, scale, "m3/s")
        require("efficiencies_frac", efficiency, 0, 1, "")
        x = flow / scale
        s2 += x * x
        s3 += x * x * x
        s4 += x * x * x * x
        xy += x * efficiency
        qy += x * x * efficiency
    determinant = s2 * s4 - s3 * s3
    if not determinant > _LEAST_SPREAD * s2 * s4:
        raise ValueError("flows_m3_s: must hold two flows above 0 that differ")
    rise = (xy * s4 - qy * s3) / determinant
    bend = (xy * s3 - qy * s2) / determinant
    if not 0 < rise * rise <= 4 * bend:  # a straight line, a trough, or a best above 1
        raise ValueError("efficiencies_frac: must rise to a best of at most 1 and fall again")
    return 0.5 * rise / bend * scale, 0.25 * rise * rise / bend


def fit_torque(rated_rad_s, shut_off_power_W, best_flow_m3_s, best_power_W):
    """Torque coefficients from shaft power at shut-off and at the best point.

    t0 = P0 / w^3,  t1 = (Pb - P0) / (w^2 Qb)

    Args:
        rated_rad_s: rated speed [rad/s], 1 to 1e4
        shut_off_power_W: shaft power without flow at rated speed [W], 0 to 1e5
        best_flow_m3_s: flow at the best point at rated speed [m3/s], 1e-7 to 10
        best_power_W: shaft power there, not below shut_off_power_W [W], 0 to 1e5
    Returns:
        t0 [N m s2] and t1 [N m s2/m3]
    Raises:
        ValueError: an argument is outside its range
    Source: straight power line of a radial pump, moved by the affinity laws
    Example:
        >>> fit_torque(100.0, 5.0, 2e-4, 10.0)
        (5e-06, 2.5)
    """
    require("rated_rad_s", rated_rad_s, 1, 1e4, "rad/s")
    require("shut_off_power_W", shut_off_power_W, 0, 1e5, "W")
    require("best_flow_m3_s", best_flow_m3_s, 1e-7, 10, "m3/s")
    require("best_power_W", best_power_W, shut_off_power_W, 1e5, "W")
    square = rated_rad_s * rated_rad_s
    still = shut_off_power_W / (square * rated_rad_s)
    return still, (best_power_W - shut_off_power_W) / (square * best_flow_m3_s)


def shaft_torque_Nm(speed_rad_s, flow_m3_s, still_Nm_s2, flowing_Nm_s2_m3):
    """Torque that a pump takes at its shaft.

    T = t0 w^2 + t1 w Q

    Args:
        speed_rad_s: speed [rad/s], 0 to 1e4
        flow_m3_s: flow [m3/s], 0 to 10
        still_Nm_s2: t0, torque without flow over the square of speed [N m s2], 0 to 1
        flowing_Nm_s2_m3: t1, what flow adds [N m s2/m3], 0 to 1e6
    Returns:
        torque [N m], finite without flow, where power over efficiency is 0 / 0
    Raises:
        ValueError: an argument is outside its range
    Source: straight power line of a radial pump, moved by the affinity laws
    Example:
        >>> round(shaft_torque_Nm(100.0, 2e-4, 5e-6, 2.5), 9)
        0.1
    """
    require("speed_rad_s", speed_rad_s, 0, 1e4, "rad/s")
    require("flow_m3_s", flow_m3_s, 0, 10, "m3/s")
    require("still_Nm_s2", still_Nm_s2, 0, 1, "N m s2")
    require("flowing_Nm_s2_m3", flowing_Nm_s2_m3, 0, 1e6, "N m s2/m3")
    return (still_Nm_s2 * speed_rad_s + flowing_Nm_s2_m3 * flow_m3_s) * speed_rad_s


def specific_speed(flow_m3_s, head_m, speed_rpm):
    """Specific speed in metric units: which kind of pump a duty asks for.

    ns = n sqrt(Q) / H^0.75, with rpm, m3/s and m

    Args:
        flow_m3_s: flow at the best point [m3/s], 1e-9 to 10
        head_m: head at the best point [m], 0.01 to 1000
        speed_rpm: speed [rpm], 1 to 1e5
    Returns:
        specific speed [rpm m3/4 / s1/2]; several other unit systems exist
    Raises:
        ValueError: an argument is outside its range
    Source: definition
    Example:
        >>> round(specific_speed(0.0402, 100.0, 3550.0), 6)
        22.508232
    """
    require("flow_m3_s", flow_m3_s, 1e-9, 10, "m3/s")
    require("head_m", head_m, 0.01, 1000, "m")
    require("speed_rpm", speed_rpm, 1, 1e5, "rpm")
    return speed_rpm * math.sqrt(flow_m3_s) / head_m**0.75
