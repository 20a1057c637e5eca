"""Valves by flow coefficient, and what travel does to the flow."""

import math

from keeper.physics.checks import require
from keeper.physics.table import interpolate

# Kv: m3/h of water (1000 kg/m3) at a loss of 1 bar (IEC 60534-1).
_KV_LOSS_Pa = 1e5
_KV_DENSITY_KG_M3 = 1000.0
_S_PER_H = 3600.0
# Cv: US gallons a minute at a loss of 1 psi; both units are exact.
_CV_UNIT_M3_S = 3.785411784e-3 / 60
_PSI_Pa = 6894.757293168361
KV_PER_CV = _CV_UNIT_M3_S * _S_PER_H * math.sqrt(_KV_LOSS_Pa / _PSI_Pa)
# Critical pressure ratio factor of liquids, F_F = a - b sqrt(pv / pc) (IEC 60534-2-1).
_FF_LIMIT = 0.96
_FF_SLOPE = 0.28
_HAIR = 1e-6  # forgiven at an end that comes out of a division


def kv_from_cv(cv_us_gpm):
    """Metric flow coefficient from the US one.

    Kv = 0.86498 Cv, exactly US gal/min and psi turned into m3/h and bar

    Args:
        cv_us_gpm: Cv, US gallons a minute at 1 psi [US gal/min], 1e-4 to 1e5
    Returns:
        Kv [m3/h]
    Raises:
        ValueError: Cv is outside its range
    Source: unit definitions; IEC 60534-1
    Example:
        >>> round(kv_from_cv(1.0), 6)
        0.864978
    """
    require("cv_us_gpm", cv_us_gpm, 1e-4, 1e5, "US gal/min")
    return cv_us_gpm * KV_PER_CV


def cv_from_kv(kv_m3_h):
    """US flow coefficient from the metric one.

    Cv = 1.15610 Kv

    Args:
        kv_m3_h: Kv, m3/h at 1 bar [m3/h], 1e-4 to 1e5
    Returns:
        Cv [US gal/min]
    Raises:
        ValueError: Kv is outside its range
    Source: unit definitions; IEC 60534-1
    Example:
        >>> round(cv_from_kv(1.0), 6)
        1.156099
    """
    require("kv_m3_h", kv_m3_h, 1e-4, 1e5, "m3/h")
    return kv_m3_h / KV_PER_CV


def flow_m3_s(kv_m3_h, pressure_drop_Pa, density_kg_m3):
    """Turbulent flow through a valve.

    Q = Kv sqrt((dp / 1 bar) (1000 kg/m3 / rho)), Q in m3/h

    Args:
        kv_m3_h: Kv at its present travel [m3/h], 0 to 1e5
        pressure_drop_Pa: pressure drop [Pa], 0 to 2e6
        density_kg_m3: density of the water [kg/m3], 900 to 1100
    Returns:
        flow [m3/s]
    Raises:
        ValueError: an argument is outside its range
    Source: IEC 60534-2-1 without piping factors; IEC's water of 15 degC in
        place of 1000 kg/m3 changes the flow by 0.05 %
    Example:
        >>> round(flow_m3_s(2.5, 30000.0, 1000.0) * 3600, 6)
        1.369306
    """
    require("kv_m3_h", kv_m3_h, 0, 1e5, "m3/h")
    require("pressure_drop_Pa", pressure_drop_Pa, 0, 2e6, "Pa")
    require("density_kg_m3", density_kg_m3, 900, 1100, "kg/m3")
    ratio = pressure_drop_Pa / _KV_LOSS_Pa * (_KV_DENSITY_KG_M3 / density_kg_m3)
    return kv_m3_h / _S_PER_H * math.sqrt(ratio)


def required_kv_m3_h(flow_wanted_m3_s, pressure_drop_Pa, density_kg_m3):
    """Flow coefficient that passes a flow at a pressure drop.

    Kv = Q sqrt((1 bar / dp) (rho / 1000 kg/m3)), Q in m3/h

    Args:
        flow_wanted_m3_s: flow [m3/s], 0 to 10
        pressure_drop_Pa: pressure drop [Pa], 1 to 2e6
        density_kg_m3: density of the water [kg/m3], 900 to 1100
    Returns:
        Kv [m3/h]
    Raises:
        ValueError: an argument is outside its range
    Source: IEC 60534-2-1 without piping factors
    Example:
        >>> round(required_kv_m3_h(1.369306 / 3600, 30000.0, 1000.0), 5)
        2.5
    """
    require("flow_wanted_m3_s", flow_wanted_m3_s, 0, 10, "m3/s")
    require("pressure_drop_Pa", pressure_drop_Pa, 1, 2e6, "Pa")
    require("density_kg_m3", density_kg_m3, 900, 1100, "kg/m3")
    ratio = _KV_LOSS_Pa / pressure_drop_Pa * (density_kg_m3 / _KV_DENSITY_KG_M3)
    return flow_wanted_m3_s * _S_PER_H * math.sqrt(ratio)


def head_loss_m(flow_through_m3_s, kv_m3_h, gravity_m_s2):
    """Head lost in a valve.

    h = 1 bar (Q / Kv)^2 / (1000 kg/m3 g), Q in m3/h: the density cancels

    Args:
        flow_through_m3_s: flow [m3/s], 0 to 10
        kv_m3_h: Kv at its present travel [m3/h], 1e-4 to 1e5
        gravity_m_s2: acceleration of free fall [m/s2], 9.7 to 9.9
    Returns:
        head loss [m]
    Raises:
        ValueError: an argument is outside its range
    Source: IEC 60534-1
    Example:
        >>> round(head_loss_m(1.2 / 3600, 1.2, 9.80665), 4)
        10.1972
    """
    require("flow_through_m3_s", flow_through_m3_s, 0, 10, "m3/s")
    require("kv_m3_h", kv_m3_h, 1e-4, 1e5, "m3/h")
    require("gravity_m_s2", gravity_m_s2, 9.7, 9.9, "m/s2")
    share = flow_through_m3_s * _S_PER_H / kv_m3_h
    return _KV_LOSS_Pa / (_KV_DENSITY_KG_M3 * gravity_m_s2) * share * share


def loss_coefficient(kv_m3_h, diameter_m):
    """Loss coefficient K of a valve, on the velocity in a bore.

    K = (pi^2 / 8) (1 bar / 1000 kg/m3) 3600^2 d^4 / Kv^2 = 1.5989e9 d^4 / Kv^2

    Args:
        kv_m3_h: Kv at its present travel [m3/h], 1e-4 to 1e5
        diameter_m: inside diameter to which K refers [m], 0.0005 to 5
    Returns:
        loss coefficient K [-]
    Raises:
        ValueError: an argument is outside its range
    Source: definitions of Kv and K; handbooks round the constant to 1.6e9
    Example:
        >>> round(loss_coefficient(1.0, 0.015), 2)
        80.94
    """
    require("kv_m3_h", kv_m3_h, 1e-4, 1e5, "m3/h")
    require("diameter_m", diameter_m, 0.0005, 5, "m")
    flow_ratio = math.pi / 4 * diameter_m * diameter_m * _S_PER_H / kv_m3_h
    return 2 * _KV_LOSS_Pa / _KV_DENSITY_KG_M3 * flow_ratio * flow_ratio


def choked_pressure_drop_Pa(
    recovery_factor, inlet_pressure_Pa, vapour_pressure_Pa, critical_pressure_Pa
):
    """Pressure drop above which a valve passes no more liquid (cavitation).

    dp = F_L^2 (p1 - F_F pv),  F_F = 0.96 - 0.28 sqrt(pv / pc)

    Args:
        recovery_factor: F_L of the valve, without fittings [-], 0.1 to 1
        inlet_pressure_Pa: absolute pressure before the valve [Pa], 1e3 to 1e7
        vapour_pressure_Pa: vapour pressure of the liquid, absolute [Pa], 100 to 1e6
        critical_pressure_Pa: critical pressure of the liquid, absolute [Pa], 2e6 to 3e7
    Returns:
        choked pressure drop [Pa], 0 when the liquid boils before the valve
    Raises:
        ValueError: an argument is outside its range
    Source: IEC 60534-2-1
    Example:
        >>> round(choked_pressure_drop_Pa(0.9, 680e3, 70.1e3, 22120e3), -2)
        497200.0
    """
    require("recovery_factor", recovery_factor, 0.1, 1, "")
    require("inlet_pressure_Pa", inlet_pressure_Pa, 1e3, 1e7, "Pa")
    require("vapour_pressure_Pa", vapour_pressure_Pa, 100, 1e6, "Pa")
    require("critical_pressure_Pa", critical_pressure_Pa, 2e6, 3e7, "Pa")
    factor = _FF_LIMIT - _FF_SLOPE * math.sqrt(vapour_pressure_Pa / critical_pressure_Pa)
    spare_Pa = max(inlet_pressure_Pa - factor * vapour_pressure_Pa, 0.0)
    return recovery_factor * recovery_factor * spare_Pa


def equal_percentage_frac(travel_frac, rangeability):
    """Share of the full Kv at a travel, equal-percentage trim.

    f = R^(x - 1)

    Args:
        travel_frac: travel over full travel [-], 0 to 1
        rangeability: largest over smallest controllable Kv [-], 2 to 1000
    Returns:
        share of the full Kv [-], 1 / R at travel 0: tight shut-off is another
        statement about the valve, not this curve
    Raises:
        ValueError: an argument is outside its range
    Source: IEC 60534-2-4, from memory
    Example:
        >>> round(equal_percentage_frac(0.5, 50), 6)
        0.141421
    """
    require("travel_frac", travel_frac, 0, 1, "")
    require("rangeability", rangeability, 2, 1000, "")
    return rangeability ** (travel_frac - 1)


def equal_percentage_travel_frac(kv_frac, rangeability):
    """Travel at which an equal-percentage trim reaches a share of its full Kv.

    x = 1 + ln f / ln R

    Args:
        kv_frac: share of the full Kv, at least 1 / rangeability [-], 0.001 to 1
        rangeability: largest over smallest controllable Kv [-], 2 to 1000
    Returns:
        travel over full travel [-]
    Raises:
        ValueError: an argument is outside its range
    Source: inverse of the characteristic
    Example:
        >>> round(equal_percentage_travel_frac(0.141421356, 50), 6)
        0.5
    """
    require("rangeability", rangeability, 2, 1000, "")
    require("kv_frac", kv_frac, max(0.001, 1 / rangeability) * (1 - _HAIR), 1, "")
    return max(1 + math.log(kv_frac) / math.log(rangeability), 0.0)


def linear_frac(travel_frac, rangeability):
    """Share of the full Kv at a travel, linear trim.

    f = 1 / R + (1 - 1 / R) x

    Args:
        travel_frac: travel over full travel [-], 0 to 1
        rangeability: largest over smallest controllable Kv [-], 2 to 1000
    Returns:
        share of the full Kv [-]
    Raises:
        ValueError: an argument is outside its range
    Source: IEC 60534-2-4, from memory
    Example:
        >>> linear_frac(0.5, 50)
        0.51
    """
    require("travel_frac", travel_frac, 0, 1, "")
    require("rangeability", rangeability, 2, 1000, "")
    return 1 / rangeability + (1 - 1 / rangeability) * travel_frac


def measured_frac(travel_frac, travels_frac, kvs_frac):
    """Share of the full Kv at a travel, from a measured table.

    f = f0 + (f1 - f0) (x - x0) / (x1 - x0)

    Args:
        travel_frac: travel over full travel, within the table [-]
        travels_frac: rising column of travels [-]
        kvs_frac: column of shares of the full Kv, each 0 to 1 [-]
    Returns:
        share of the full Kv [-]
    Raises:
        ValueError: the travel is outside the table, the travels do not rise, or a
            share is not within 0 to 1
    Source: linear interpolation
    Example:
        >>> measured_frac(0.25, (0, 0.5, 1), (0, 0.2, 1))
        0.1
    """
    for kv_frac in kvs_frac:
        require("kvs_frac", kv_frac, 0, 1, "")
    return interpolate(travel_frac, travels_frac, kvs_frac, "travel_frac", "")


def authority(valve_loss_open_m, total_loss_open_m):
    """Share of the whole head that the fully open valve takes.

    N = h_valve / h_total

    Args:
        valve_loss_open_m: head lost in the open valve, at most the total [m], 0 to 1000
        total_loss_open_m: head lost in the whole line, the nozzle's with it [m], 1e-6 to 1000
    Returns:
        authority [-], above 0 for a valve that can control at all
    Raises:
        ValueError: an argument is outside its range
    Source: definition
    Example:
        >>> authority(0.9, 9.0)
        0.1
    """
    require("total_loss_open_m", total_loss_open_m, 1e-6, 1000, "m")
    require("valve_loss_open_m", valve_loss_open_m, 0, total_loss_open_m, "m")
    return valve_loss_open_m / total_loss_open_m


def installed_frac(kv_frac, valve_authority):
    """Share of the full flow that a valve passes in its line.

    q = 1 / sqrt(1 + N (1 / f^2 - 1)), all losses going with the square of the flow

    Args:
        kv_frac: share of the full Kv [-], 1e-6 to 1
        valve_authority: share of the head on the open valve [-], 1e-6 to 1
    Returns:
        share of the full flow [-]
    Raises:
        ValueError: an argument is outside its range
    Source: series of two quadratic losses under a constant head
    Example:
        >>> round(installed_frac(0.5, 1.0), 6), round(installed_frac(0.5, 0.1), 3)
        (0.5, 0.877)
    """
    require("kv_frac", kv_frac, 1e-6, 1, "")
    require("valve_authority", valve_authority, 1e-6, 1, "")
    return 1 / math.sqrt(1 + valve_authority * (1 / (kv_frac * kv_frac) - 1))
