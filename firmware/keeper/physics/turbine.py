"""Impulse turbine: nozzle, jet, bucket, and where the jet's power goes.

With jet speed v, bucket speed u and w = v - u, the power of the water that meets
a bucket splits, exactly, into shaft, friction on the bucket and exit:
  v^2 / 2 = u w (1 + k cos g) + w^2 (1 - k^2) / 2 + |c|^2 / 2
where k is the share of relative speed that is left at the bucket's edge, g = 180
degrees less the angle by which the bucket turns the water, and c the speed of the
water that leaves.  Splash (water that meets no bucket) and windage are separate.
"""

import math

from keeper.physics.checks import require
from keeper.physics.solve import rising_root


def jet_velocity_m_s(head_m, velocity_coefficient, gravity_m_s2):
    """Velocity of a free jet.

    v = Cv sqrt(2 g H)

    Args:
        head_m: net head at the nozzle [m], 0 to 1000
        velocity_coefficient: velocity coefficient Cv [-], 0.5 to 1
        gravity_m_s2: acceleration of free fall [m/s2], 9.7 to 9.9
    Returns:
        velocity [m/s]
    Raises:
        ValueError: an argument is outside its range
    Source: Torricelli
    Example:
        >>> round(jet_velocity_m_s(9.0, 1.0, 9.80665), 6)
        13.286072
    """
    require("head_m", head_m, 0, 1000, "m")
    require("velocity_coefficient", velocity_coefficient, 0.5, 1, "")
    require("gravity_m_s2", gravity_m_s2, 9.7, 9.9, "m/s2")
    return velocity_coefficient * math.sqrt(2 * gravity_m_s2 * head_m)


def nozzle_area_m2(diameter_m, contraction_coefficient):
    """Area of the jet of a fixed nozzle.

    A = Cc pi / 4 d^2

    Args:
        diameter_m: diameter of the nozzle's mouth [m], 1e-4 to 1
        contraction_coefficient: jet area over mouth area [-], 0.5 to 1
    Returns:
        jet area [m2]
    Raises:
        ValueError: an argument is outside its range
    Source: definition; 1 for a rounded nozzle, near 0.62 for a sharp hole
    Example:
        >>> round(nozzle_area_m2(0.003, 1.0) * 1e6, 4)
        7.0686
    """
    require("diameter_m", diameter_m, 1e-4, 1, "m")
    require("contraction_coefficient", contraction_coefficient, 0.5, 1, "")
    return contraction_coefficient * math.pi / 4 * diameter_m * diameter_m


def needle_area_m2(stroke_m, diameter_m, half_angle_deg, contraction_coefficient):
    """Area of the jet of a needle nozzle.

    A = Cc pi s sin b (d - s sin b cos b), the ring between mouth and needle cone,
    not more than the mouth

    Args:
        stroke_m: distance of the needle from its seat [m], 0 to 1
        diameter_m: diameter of the mouth, where the needle seats [m], 1e-4 to 1
        half_angle_deg: half of the needle's cone angle [deg], 10 to 60
        contraction_coefficient: jet area over gap area [-], 0.5 to 1
    Returns:
        jet area [m2], exactly 0 when closed
    Raises:
        ValueError: an argument is outside its range
    Source: surface of a conical frustum, shortest gap
    Example:
        >>> round(needle_area_m2(0.0005, 0.003, 30.0, 1.0) * 1e6, 4)
        2.1862
    """
    require("stroke_m", stroke_m, 0, 1, "m")
    require("half_angle_deg", half_angle_deg, 10, 60, "deg")
    mouth_m2 = nozzle_area_m2(diameter_m, contraction_coefficient)
    angle = math.radians(half_angle_deg)
    gap_m = stroke_m * math.sin(angle)
    mean_m = diameter_m - gap_m * math.cos(angle)
    if gap_m * math.cos(angle) >= 0.5 * diameter_m:  # past the widest ring
        return mouth_m2
    return min(contraction_coefficient * math.pi * gap_m * mean_m, mouth_m2)


def nozzle_flow_m3_s(head_m, jet_area_m2, velocity_coefficient, gravity_m_s2):
    """Flow of a free jet.

    Q = A Cv sqrt(2 g H)

    Args:
        head_m: net head at the nozzle [m], 0 to 1000
        jet_area_m2: jet area [m2], 0 to 1
        velocity_coefficient: velocity coefficient Cv [-], 0.5 to 1
        gravity_m_s2: acceleration of free fall [m/s2], 9.7 to 9.9
    Returns:
        flow [m3/s]
    Raises:
        ValueError: an argument is outside its range
    Source: Torricelli and continuity
    Example:
        >>> round(nozzle_flow_m3_s(9.0, 7.0686e-6, 0.97, 9.80665) * 1e3, 5)
        0.0911
    """
    require("jet_area_m2", jet_area_m2, 0, 1, "m2")
    return jet_area_m2 * jet_velocity_m_s(head_m, velocity_coefficient, gravity_m_s2)


def nozzle_loss_m(head_m, velocity_coefficient):
    """Head lost in a nozzle.

    h = H (1 - Cv^2)

    Args:
        head_m: net head at the nozzle [m], 0 to 1000
        velocity_coefficient: velocity coefficient Cv [-], 0.5 to 1
    Returns:
        head loss [m]
    Raises:
        ValueError: an argument is outside its range
    Source: head less velocity head of the jet
    Example:
        >>> round(nozzle_loss_m(9.0, 0.97), 4)
        0.5319
    """
    require("head_m", head_m, 0, 1000, "m")
    require("velocity_coefficient", velocity_coefficient, 0.5, 1, "")
    return head_m * (1 - velocity_coefficient) * (1 + velocity_coefficient)


def largest_power_nozzle_m(pipe_diameter_m, pipe_length_m, pipe_friction_factor):
    """Nozzle that takes the most power out of a penstock: a third of the head is lost.

    d = D / (2 f L / D)^(1/4)

    Args:
        pipe_diameter_m: inside diameter of the penstock [m], 0.0005 to 5
        pipe_length_m: length of the penstock [m], 0.1 to 1e5
        pipe_friction_factor: its Darcy friction factor [-], 0.005 to 0.2
    Returns:
        nozzle diameter [m]; a store wants a smaller one, which wastes less head
    Raises:
        ValueError: an argument is outside its range, or 2 f L / D is below 1
    Source: largest Q (H - r Q^2) with pipe friction as the only loss
    Example:
        >>> round(largest_power_nozzle_m(0.025, 20.0, 0.03) * 1e3, 2)
        9.5
    """
    require("pipe_diameter_m", pipe_diameter_m, 0.0005, 5, "m")
    require("pipe_length_m", pipe_length_m, 0.1, 1e5, "m")
    require("pipe_friction_factor", pipe_friction_factor, 0.005, 0.2, "")
    ratio = 2 * pipe_friction_factor * pipe_length_m / pipe_diameter_m
    require("2 f L / D", ratio, 1, 1e9, "")
    return pipe_diameter_m / math.sqrt(math.sqrt(ratio))


def jet_power_W(flow_m3_s, jet_m_s, density_kg_m3):
    """Power that a jet carries.

    P = rho Q v^2 / 2

    Args:
        flow_m3_s: flow [m3/s], 0 to 10
        jet_m_s: jet speed v [m/s], 0 to 150
        density_kg_m3: density of the water [kg/m3], 900 to 1100
    Returns:
        power [W]
    Raises:
        ValueError: an argument is outside its range
    Source: kinetic energy
    Example:
        >>> round(jet_power_W(9.1096e-5, 12.88749, 1000.0), 4)
        7.5649
    """
    require("flow_m3_s", flow_m3_s, 0, 10, "m3/s")
    require("jet_m_s", jet_m_s, 0, 150, "m/s")
    require("density_kg_m3", density_kg_m3, 900, 1100, "kg/m3")
    return 0.5 * density_kg_m3 * flow_m3_s * jet_m_s * jet_m_s


def _require_bucket(flow_m3_s, jet_m_s, bucket_m_s, k_frac, turn_deg, density_kg_m3):
    require("flow_m3_s", flow_m3_s, 0, 10, "m3/s")
    require("jet_m_s", jet_m_s, 0, 150, "m/s")
    require("bucket_m_s", bucket_m_s, 0, jet_m_s, "m/s")
    require("k_frac", k_frac, 0, 1, "")
    require("turn_deg", turn_deg, 90, 180, "deg")
    require("density_kg_m3", density_kg_m3, 900, 1100, "kg/m3")


def bucket_shaft_power_W(flow_m3_s, jet_m_s, bucket_m_s, k_frac, turn_deg, density_kg_m3):
    """Power that the buckets give to the shaft (Euler).

    P = rho Q u (v - u) (1 + k cos(180 deg - turn))

    Args:
        flow_m3_s: flow that meets the buckets [m3/s], 0 to 10
        jet_m_s: jet speed v [m/s], 0 to 150
        bucket_m_s: bucket speed u, at most the jet's [m/s], 0 to 150
        k_frac: relative speed left at the bucket's edge [-], 0 to 1
        turn_deg: angle by which the bucket turns the water [deg], 90 to 180
        density_kg_m3: density of the water [kg/m3], 900 to 1100
    Returns:
        power [W], 0 at rest and at jet speed
    Raises:
        ValueError: an argument is outside its range
    Source: Euler's turbine equation
    Example:
        >>> round(bucket_shaft_power_W(0.7, 23.77, 10.0, 1.0, 160.0, 1000.0) / 1e3, 1)
        187.0
    """
    _require_bucket(flow_m3_s, jet_m_s, bucket_m_s, k_frac, turn_deg, density_kg_m3)
    turned = 1 + k_frac * math.cos(math.radians(180 - turn_deg))
    return density_kg_m3 * flow_m3_s * bucket_m_s * (jet_m_s - bucket_m_s) * turned


def bucket_friction_W(flow_m3_s, jet_m_s, bucket_m_s, k_frac, turn_deg, density_kg_m3):
    """Power lost to friction on the buckets.

    P = rho Q (w1^2 - w2^2) / 2,  w1 = v - u,  w2 = k w1

    Args:
        flow_m3_s: flow that meets the buckets [m3/s], 0 to 10
        jet_m_s: jet speed v [m/s], 0 to 150
        bucket_m_s: bucket speed u, at most the jet's [m/s], 0 to 150
        k_frac: relative speed left at the bucket's edge [-], 0 to 1
        turn_deg: angle by which the bucket turns the water, of no effect here [deg], 90 to 180
        density_kg_m3: density of the water [kg/m3], 900 to 1100
    Returns:
        power [W]
    Raises:
        ValueError: an argument is outside its range
    Source: loss of relative kinetic energy
    Example:
        >>> bucket_friction_W(0.001, 12.0, 6.0, 0.5, 165.0, 1000.0)
        13.5
    """
    _require_bucket(flow_m3_s, jet_m_s, bucket_m_s, k_frac, turn_deg, density_kg_m3)
    relative = jet_m_s - bucket_m_s
    return 0.5 * density_kg_m3 * flow_m3_s * relative * relative * (1 - k_frac) * (1 + k_frac)


def bucket_exit_W(flow_m3_s, jet_m_s, bucket_m_s, k_frac, turn_deg, density_kg_m3):
    """Power that leaves with the water.

    P = rho Q |c|^2 / 2,  c = (u + w2 cos turn, w2 sin turn),  w2 = k (v - u)

    Args:
        flow_m3_s: flow that meets the buckets [m3/s], 0 to 10
        jet_m_s: jet speed v [m/s], 0 to 150
        bucket_m_s: bucket speed u, at most the jet's [m/s], 0 to 150
        k_frac: relative speed left at the bucket's edge [-], 0 to 1
        turn_deg: angle by which the bucket turns the water [deg], 90 to 180
        density_kg_m3: density of the water [kg/m3], 900 to 1100
    Returns:
        power [W]
    Raises:
        ValueError: an argument is outside its range
    Source: absolute speed of the leaving water
    Example:
        >>> round(bucket_exit_W(0.001, 12.0, 6.0, 1.0, 180.0, 1000.0), 9)
        0.0
    """
    _require_bucket(flow_m3_s, jet_m_s, bucket_m_s, k_frac, turn_deg, density_kg_m3)
    relative = k_frac * (jet_m_s - bucket_m_s)
    # From the opposite direction: a full turn then has no sine left over.
    along = bucket_m_s - relative * math.cos(math.radians(180 - turn_deg))
    across = relative * math.sin(math.radians(180 - turn_deg))
    return 0.5 * density_kg_m3 * flow_m3_s * (along * along + across * across)


def bucket_efficiency_frac(speed_ratio, k_frac, turn_deg):
    """Shaft power of the buckets over the jet's power.

    eta = 2 x (1 - x) (1 + k cos(180 deg - turn)),  x = u / v

    Args:
        speed_ratio: bucket speed over jet speed [-], 0 to 1
        k_frac: relative speed left at the bucket's edge [-], 0 to 1
        turn_deg: angle by which the bucket turns the water [deg], 90 to 180
    Returns:
        efficiency [-], largest at 0.5; splash and windage move the best of a real
        wheel to 0.44 to 0.48
    Raises:
        ValueError: an argument is outside its range
    Source: Euler's turbine equation
    Example:
        >>> round(bucket_efficiency_frac(0.46, 0.9, 165.0), 6)
        0.928685
    """
    require("speed_ratio", speed_ratio, 0, 1, "")
    require("k_frac", k_frac, 0, 1, "")
    require("turn_deg", turn_deg, 90, 180, "deg")
    turned = 1 + k_frac * math.cos(math.radians(180 - turn_deg))
    return 2 * speed_ratio * (1 - speed_ratio) * turned


def splash_loss_W(flow_m3_s, jet_m_s, splash_frac, density_kg_m3):
    """Power of the water that meets no bucket.

    P = s rho Q v^2 / 2

    Args:
        flow_m3_s: flow of the jet [m3/s], 0 to 10
        jet_m_s: jet speed v [m/s], 0 to 150
        splash_frac: share of the flow that meets no bucket [-], 0 to 1
        density_kg_m3: density of the water [kg/m3], 900 to 1100
    Returns:
        power [W]
    Raises:
        ValueError: an argument is outside its range
    Source: definition
    Example:
        >>> splash_loss_W(0.001, 10.0, 0.1, 1000.0)
        5.0
    """
    require("splash_frac", splash_frac, 0, 1, "")
    return splash_frac * jet_power_W(flow_m3_s, jet_m_s, density_kg_m3)


def drag_torque_Nm(speed_rad_s, bearing_Nm, windage_Nm_s2):
    """Torque lost in bearings and in the air and spray round the wheel.

    T = Tb + c w^2

    Args:
        speed_rad_s: speed [rad/s], 0 to 3e4
        bearing_Nm: constant bearing torque [N m], 0 to 10
        windage_Nm_s2: windage coefficient [N m s2], 0 to 10
    Returns:
        torque [N m]
    Raises:
        ValueError: an argument is outside its range
    Source: dry friction and turbulent drag
    Example:
        >>> drag_torque_Nm(100.0, 0.001, 1e-7)
        0.002
    """
    require("speed_rad_s", speed_rad_s, 0, 3e4, "rad/s")
    require("bearing_Nm", bearing_Nm, 0, 10, "N m")
    require("windage_Nm_s2", windage_Nm_s2, 0, 10, "N m s2")
    return bearing_Nm + windage_Nm_s2 * speed_rad_s * speed_rad_s


def runaway_rad_s(
    flow_m3_s, jet_m_s, radius_m, k_frac, turn_deg, bearing_Nm, windage_Nm_s2, density_kg_m3
):
    """Speed that a wheel runs up to without load.

    rho Q r (v - w r) (1 + k cos(180 deg - turn)) = Tb + c w^2, by bisection

    Args:
        flow_m3_s: flow that meets the buckets [m3/s], 0 to 10
        jet_m_s: jet speed v [m/s], 0 to 150
        radius_m: radius of the circle that the jet touches [m], 0.005 to 5
        k_frac: relative speed left at the bucket's edge [-], 0 to 1
        turn_deg: angle by which the bucket turns the water [deg], 90 to 180
        bearing_Nm: constant bearing torque [N m], 0 to 10
        windage_Nm_s2: windage coefficient [N m s2], 0 to 10
        density_kg_m3: density of the water [kg/m3], 900 to 1100
    Returns:
        speed [rad/s], v / r without drag, 0 when the jet cannot turn the wheel
    Raises:
        ValueError: an argument is outside its range
    Source: torque balance
    Example:
        >>> runaway_rad_s(1e-4, 13.0, 0.05, 0.9, 165.0, 0.0, 0.0, 1000.0)
        260.0
    """
    _require_bucket(flow_m3_s, jet_m_s, 0, k_frac, turn_deg, density_kg_m3)
    require("radius_m", radius_m, 0.005, 5, "m")
    drag_torque_Nm(0, bearing_Nm, windage_Nm_s2)
    turned = 1 + k_frac * math.cos(math.radians(180 - turn_deg))
    push = density_kg_m3 * flow_m3_s * radius_m * turned

    def excess_Nm(speed):
        driving_Nm = push * (jet_m_s - speed * radius_m)
        return bearing_Nm + windage_Nm_s2 * speed * speed - driving_Nm

    top = jet_m_s / radius_m
    if excess_Nm(0.0) >= 0:
        return 0.0
    if bearing_Nm == 0 and windage_Nm_s2 == 0:
        return top
    return rising_root(excess_Nm, 0.0, top)
