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
_SEAT_FRAC = 0.02  # below this travel the plug approaches its seat; a guess


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
    Kept for: sizing of the valve by a data sheet in US units
    Example:
        >>> round(kv_from_cv(1.0), 6)
        0.864978
    """
    require("cv_us_gpm", cv_us_gpm, 1e-4, 1e5, "US gal/min")
    return cv_us_gpm * KV_PER_CV


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
    Kept for: sizing of the valve
    Example:
        >>> round(required_kv_m3_h(1.369306 / 3600, 30000.0, 1000.0), 5)
        2.5
    """
    require("flow_wanted_m3_s", flow_wanted_m3_s, 0, 10, "m3/s")
    require("pressure_drop_Pa", pressure_drop_Pa, 1, 2e6, "Pa")
    require("density_kg_m3", density_kg_m3, 900, 1100, "kg/m3")
    ratio = _KV_LOSS_Pa / pressure_drop_Pa * (density_kg_m3 / _KV_DENSITY_KG_M3)
    return flow_wanted_m3_s * _S_PER_H * math.sqrt(ratio)


def resistance_s2_m5(kv_m3_h, gravity_m_s2):
    """Head lost in a valve over the square of the flow.

    r = 1 bar (3600 / Kv)^2 / (1000 kg/m3 g)

    Args:
        kv_m3_h: Kv at its present travel [m3/h], 1e-30 to 1e5
        gravity_m_s2: acceleration of free fall [m/s2], 9.7 to 9.9
    Returns:
        resistance [s2/m5]
    Raises:
        ValueError: an argument is outside its range
    Source: IEC 60534-1; the density cancels
    Example:
        >>> round(resistance_s2_m5(1.2, 9.80665) * (1.2 / 3600) ** 2, 4)
        10.1972
    """
    require("kv_m3_h", kv_m3_h, 1e-30, 1e5, "m3/h")
    require("gravity_m_s2", gravity_m_s2, 9.7, 9.9, "m/s2")
    return (_S_PER_H / kv_m3_h) ** 2 * _KV_LOSS_Pa / (_KV_DENSITY_KG_M3 * gravity_m_s2)


def kv_of_resistance_m3_h(resistance_s2_m5, gravity_m_s2):
    """Flow coefficient of a valve that loses so much head.

    Kv = 3600 sqrt(1 bar / (1000 kg/m3 g r))

    Args:
        resistance_s2_m5: head lost over the square of the flow [s2/m5], 1e-12 to 1e25
        gravity_m_s2: acceleration of free fall [m/s2], 9.7 to 9.9
    Returns:
        Kv [m3/h]
    Raises:
        ValueError: an argument is outside its range
    Source: inverse of the resistance
    Example:
        >>> round(kv_of_resistance_m3_h(resistance_s2_m5(1.2, 9.8), 9.8), 9)
        1.2
    """
    require("resistance_s2_m5", resistance_s2_m5, 1e-12, 1e25, "s2/m5")
    require("gravity_m_s2", gravity_m_s2, 9.7, 9.9, "m/s2")
    return _S_PER_H * math.sqrt(
        _KV_LOSS_Pa / (_KV_DENSITY_KG_M3 * gravity_m_s2 * resistance_s2_m5))


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
    Kept for: hardware margins, cavitation in the valve
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
    Kept for: calibration of a valve whose curve was measured
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
    Kept for: sizing of the valve
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
    Kept for: sizing of the valve
    Example:
        >>> round(installed_frac(0.5, 1.0), 6), round(installed_frac(0.5, 0.1), 3)
        (0.5, 0.877)
    """
    require("kv_frac", kv_frac, 1e-6, 1, "")
    require("valve_authority", valve_authority, 1e-6, 1, "")
    return 1 / math.sqrt(1 + valve_authority * (1 / (kv_frac * kv_frac) - 1))


class ControlValve:
    """A control valve by its inherent characteristic, tight when shut.

    Kv = Kvs f(x);  below a travel of 0.02 the plug comes down on its seat, Kv = Kvs f(x) x / 0.02

    Args:
        kvs_m3_h: Kv fully open [m3/h], 1e-3 to 1e5
        rangeability: largest over smallest controllable Kv [-], 2 to 1000
        is_linear: linear trim, else equal percentage [-]
    Returns:
        a valve [-]
    Raises:
        ValueError: an argument is outside its range
    Source: IEC 60534-2-4, from memory; the way onto the seat is ours
    Example:
        >>> round(ControlValve(1.2, 50.0, False).kv_m3_h(0.5), 6)
        0.169706
    """

    def __init__(self, kvs_m3_h, rangeability, is_linear):
        require("kvs_m3_h", kvs_m3_h, 1e-3, 1e5, "m3/h")
        require("rangeability", rangeability, 2, 1000, "")
        self.kvs_m3_h = kvs_m3_h
        self._rangeability = rangeability
        self._is_linear = is_linear

    def kv_m3_h(self, travel_frac):
        """Flow coefficient at a travel.

        Kv = Kvs f(x)

        Args:
            travel_frac: travel over full travel [-], 0 to 1
        Returns:
            Kv [m3/h], exactly 0 when shut
        Raises:
            ValueError: the travel is outside its range
        Source: IEC 60534-2-4, from memory
        Example:
            >>> ControlValve(1.2, 50.0, True).kv_m3_h(1.0)
            1.2
        """
        frac = linear_frac if self._is_linear else equal_percentage_frac
        share = frac(travel_frac, self._rangeability)
        if travel_frac < _SEAT_FRAC:
            share *= travel_frac / _SEAT_FRAC
        return self.kvs_m3_h * share

    def travel_frac(self, kv_m3_h):
        """Least controllable travel at which the valve reaches a flow coefficient.

        x = f^-1(Kv / Kvs), 0 below the smallest controllable Kv, 1 above Kvs

        Args:
            kv_m3_h: Kv wanted [m3/h], 0 to 1e9
        Returns:
            travel over full travel [-]
        Raises:
            ValueError: Kv is outside its range
        Source: inverse of the characteristic
        Example:
            >>> round(ControlValve(1.2, 50.0, False).travel_frac(0.169706), 5)
            0.5
        """
        require("kv_m3_h", kv_m3_h, 0, 1e9, "m3/h")
        kv_frac, least = kv_m3_h / self.kvs_m3_h, 1 / self._rangeability
        if kv_frac <= least:
            return 0.0
        if kv_frac >= 1:
            return 1.0
        if self._is_linear:
            return (kv_frac - least) / (1 - least)
        return equal_percentage_travel_frac(kv_frac, self._rangeability)
