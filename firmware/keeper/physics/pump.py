"""Centrifugal pump by what was measured of it; at work: module solar_pump."""

import math

from keeper.physics.checks import require

_LEAST_SPREAD = 1e-6  # of the determinant, below it two of three flows are one


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
    Kept for: calibration of the pump by measured points
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
    Kept for: calibration of the pump by measured points
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
    Kept for: sizing of the pump, which kind a duty asks for
    Example:
        >>> round(specific_speed(0.0402, 100.0, 3550.0), 6)
        22.508232
    """
    require("flow_m3_s", flow_m3_s, 1e-9, 10, "m3/s")
    require("head_m", head_m, 0.01, 1000, "m")
    require("speed_rpm", speed_rpm, 1, 1e5, "rpm")
    return speed_rpm * math.sqrt(flow_m3_s) / head_m**0.75
