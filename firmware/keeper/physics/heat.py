"""Heating of a motor: first order, overload curves, cooling jacket.

One time constant is not enough for every question: a winding follows in tens of
seconds, the frame in tens of minutes.
"""

import math

from keeper.physics.checks import require

_FULLY_WARMED = 1000.0  # UA / C beyond which the water leaves as warm as the motor
_SERIES_BELOW = 0.02  # where the series below is exact to double precision


def rise_frac(elapsed_ratio):
    """Share of a first-order step that is done after a time.

    f = 1 - exp(-x), x = t / tau

    Args:
        elapsed_ratio: time over time constant [-], 0 to 1e6
    Returns:
        share of the step [-]
    Raises:
        ValueError: the ratio is outside its range
    Source: first-order response; below 0.02 by its series, which keeps its digits
    Example:
        >>> round(rise_frac(1.0), 9)
        0.632120559
    """
    x = elapsed_ratio
    require("elapsed_ratio", x, 0, 1e6, "")
    if x > _SERIES_BELOW:
        return 1 - math.exp(-x)
    return x * (1 - x / 2 * (1 - x / 3 * (1 - x / 4 * (1 - x / 5 * (1 - x / 6)))))


def _log_of_sum(part, base):
    """Return ln((base + part) / base), keeping its digits when the part is small.

    ln(1 + x) = 2 artanh(x / (2 + x)); not every interpreter has log1p.
    """
    if part > base:
        return math.log((base + part) / base)
    return 2 * math.atanh(part / (2 * base + part))


def steady_temperature_degC(loss_W, ambient_degC, resistance_K_W):
    """Temperature that a constant loss leads to.

    T = Ta + P R

    Args:
        loss_W: heat set free [W], 0 to 1e4
        ambient_degC: temperature of the surroundings [degC], -60 to 100
        resistance_K_W: thermal resistance to them [K/W], 0.001 to 1000
    Returns:
        temperature [degC]
    Raises:
        ValueError: an argument is outside its range
    Source: definition of thermal resistance
    Example:
        >>> steady_temperature_degC(8.0, 25.0, 5.0)
        65.0
    """
    require("loss_W", loss_W, 0, 1e4, "W")
    require("ambient_degC", ambient_degC, -60, 100, "degC")
    require("resistance_K_W", resistance_K_W, 0.001, 1000, "K/W")
    return ambient_degC + loss_W * resistance_K_W


def next_temperature_degC(
    temperature_degC, loss_W, ambient_degC, resistance_K_W, time_constant_s, dt_s
):
    """Temperature after a step of constant loss: exact for any step.

    T1 = T0 + (Ta + P R - T0) (1 - exp(-dt / tau))

    Args:
        temperature_degC: temperature now [degC], -60 to 1000
        loss_W: heat set free [W], 0 to 1e4
        ambient_degC: temperature of the surroundings [degC], -60 to 100
        resistance_K_W: thermal resistance to them [K/W], 0.001 to 1000
        time_constant_s: time constant [s], 0.1 to 1e6
        dt_s: length of the step [s], 0 to 1e5
    Returns:
        temperature [degC]
    Raises:
        ValueError: an argument is outside its range
    Source: first-order heat balance
    Kept for: protection of the motor, the exact course of its heat
    Example:
        >>> round(next_temperature_degC(25.0, 8.0, 25.0, 5.0, 900.0, 600.0), 6)
        44.463315
    """
    require("temperature_degC", temperature_degC, -60, 1000, "degC")
    require("time_constant_s", time_constant_s, 0.1, 1e6, "s")
    require("dt_s", dt_s, 0, 1e5, "s")
    target_degC = steady_temperature_degC(loss_W, ambient_degC, resistance_K_W)
    return temperature_degC + (target_degC - temperature_degC) * rise_frac(dt_s / time_constant_s)


def time_to_temperature_s(temperature_degC, limit_degC, steady_degC, time_constant_s):
    """Time until a first-order body reaches a limit.

    t = tau ln((Ts - T0) / (Ts - Tl))

    Args:
        temperature_degC: temperature now [degC], -60 to 1000
        limit_degC: limit [degC], -60 to 1000
        steady_degC: temperature that it tends to [degC], -60 to 1e4
        time_constant_s: time constant [s], 0.1 to 1e6
    Returns:
        time [s], 0 when the limit is passed already, infinite when never
    Raises:
        ValueError: an argument is outside its range
    Source: first-order response to a rising step
    Kept for: protection of the motor, how long a stall may last
    Example:
        >>> round(time_to_temperature_s(25.0, 55.0, 65.0, 900.0), 2)
        1247.66
    """
    require("temperature_degC", temperature_degC, -60, 1000, "degC")
    require("limit_degC", limit_degC, -60, 1000, "degC")
    require("steady_degC", steady_degC, -60, 1e4, "degC")
    require("time_constant_s", time_constant_s, 0.1, 1e6, "s")
    if temperature_degC >= limit_degC:
        return 0.0
    if steady_degC <= limit_degC:
        return float("inf")
    part_K = limit_degC - temperature_degC
    return time_constant_s * _log_of_sum(part_K, steady_degC - limit_degC)


def _require_overload(current_ratio, k, time_constant_s):
    require("current_ratio", current_ratio, 0, 20, "")
    require("k", k, 1, 2, "")
    require("time_constant_s", time_constant_s, 1, 1e5, "s")


def cold_trip_time_s(current_ratio, k, time_constant_s):
    """Overload trip time from cold.

    t = tau ln(I^2 / (I^2 - k^2)), I in units of the basic current

    Args:
        current_ratio: current over basic current [-], 0 to 20
        k: multiple of the basic current that is carried for ever [-], 1 to 2
        time_constant_s: thermal time constant [s], 1 to 1e5
    Returns:
        time [s], infinite up to k
    Raises:
        ValueError: an argument is outside its range
    Source: IEC 60255-149 cold curve
    Kept for: protection of the motor, its overload curve
    Example:
        >>> round(cold_trip_time_s(2.0, 1.05, 600.0), 4)
        193.4676
    """
    return hot_trip_time_s(current_ratio, 0.0, k, time_constant_s)


def hot_trip_time_s(current_ratio, prior_ratio, k, time_constant_s):
    """Overload trip time after a long steady current.

    t = tau ln((I^2 - Ip^2) / (I^2 - k^2)), in units of the basic current

    Args:
        current_ratio: current over basic current [-], 0 to 20
        prior_ratio: steady current before, over basic current [-], 0 to 20
        k: multiple of the basic current that is carried for ever [-], 1 to 2
        time_constant_s: thermal time constant [s], 1 to 1e5
    Returns:
        time [s], infinite up to k, 0 when the prior current was k or more
    Raises:
        ValueError: an argument is outside its range
    Source: IEC 60255-149 hot curve; differences of squares taken as products
    Kept for: protection of the motor, its overload curve
    Example:
        >>> round(hot_trip_time_s(2.0, 0.9, 1.05, 600.0), 4)
        57.7036
    """
    _require_overload(current_ratio, k, time_constant_s)
    require("prior_ratio", prior_ratio, 0, 20, "")
    if prior_ratio >= k:
        return 0.0
    if current_ratio <= k:
        return float("inf")
    rise = (k - prior_ratio) * (k + prior_ratio)
    margin = (current_ratio - k) * (current_ratio + k)
    return time_constant_s * _log_of_sum(rise, margin)


def next_thermal_level(level, current_ratio, k, time_constant_s, dt_s):
    """Thermal level after a step of constant current; the overload trips at 1.

    H1 = H0 + ((I / k)^2 - H0) (1 - exp(-dt / tau))

    Args:
        level: thermal level now [-], 0 to 400
        current_ratio: current over basic current [-], 0 to 20
        k: multiple of the basic current that is carried for ever [-], 1 to 2
        time_constant_s: thermal time constant [s], 1 to 1e5
        dt_s: length of the step [s], 0 to 1e5
    Returns:
        thermal level [-]
    Raises:
        ValueError: an argument is outside its range
    Source: IEC 60255-149 in recursive form; the level must outlive a restart
    Kept for: protection of the motor, its overload curve
    Example:
        >>> round(next_thermal_level(0.0, 2.0, 1.05, 600.0, 193.467639), 6)
        1.0
    """
    _require_overload(current_ratio, k, time_constant_s)
    require("level", level, 0, 400, "")
    require("dt_s", dt_s, 0, 1e5, "s")
    target = (current_ratio / k) ** 2
    return level + (target - level) * rise_frac(dt_s / time_constant_s)


def jacket_conductance_W_K(flow_m3_s, wall_W_K, density_kg_m3, heat_J_kg_K):
    """Conductance to the water that enters a cooling jacket.

    G = C (1 - exp(-UA / C)),  C = rho Q cp

    Args:
        flow_m3_s: flow through the jacket [m3/s], 0 to 1
        wall_W_K: conductance UA from motor to water [W/K], 0.001 to 1e4
        density_kg_m3: density of the water [kg/m3], 900 to 1100
        heat_J_kg_K: specific heat of the water [J/(kg K)], 4000 to 4400
    Returns:
        conductance [W/K], exactly 0 without flow
    Raises:
        ValueError: an argument is outside its range
    Source: effectiveness of an exchanger with one constant temperature
    Example:
        >>> round(jacket_conductance_W_K(1e-5, 2.0, 1000.0, 4184.0), 4)
        1.953
    """
    require("flow_m3_s", flow_m3_s, 0, 1, "m3/s")
    require("wall_W_K", wall_W_K, 0.001, 1e4, "W/K")
    require("density_kg_m3", density_kg_m3, 900, 1100, "kg/m3")
    require("heat_J_kg_K", heat_J_kg_K, 4000, 4400, "J/(kg K)")
    stream_W_K = density_kg_m3 * flow_m3_s * heat_J_kg_K
    if stream_W_K * _FULLY_WARMED <= wall_W_K:
        return stream_W_K
    return stream_W_K * rise_frac(wall_W_K / stream_W_K)


def cooling_resistance_K_W(flow_m3_s, wall_W_K, still_air_K_W, density_kg_m3, heat_J_kg_K):
    """Thermal resistance of a motor cooled by its own flow and by still air.

    1 / R = G(Q) + 1 / Ra: the jacket is in series with the flow, the air beside it

    Args:
        flow_m3_s: flow through the jacket [m3/s], 0 to 1
        wall_W_K: conductance UA from motor to water [W/K], 0.001 to 1e4
        still_air_K_W: resistance to still air [K/W], 0.001 to 1000
        density_kg_m3: density of the water [kg/m3], 900 to 1100
        heat_J_kg_K: specific heat of the water [J/(kg K)], 4000 to 4400
    Returns:
        resistance to surroundings of one temperature [K/W]
    Raises:
        ValueError: an argument is outside its range
    Source: parallel conductances
    Kept for: calibration of the motor's cooling
    Example:
        >>> cooling_resistance_K_W(0.0, 2.0, 5.0, 1000.0, 4184.0)
        5.0
    """
    require("still_air_K_W", still_air_K_W, 0.001, 1000, "K/W")
    jacket_W_K = jacket_conductance_W_K(flow_m3_s, wall_W_K, density_kg_m3, heat_J_kg_K)
    return 1 / (jacket_W_K + 1 / still_air_K_W)


def trapped_water_rate_K_s(loss_W, volume_m3, density_kg_m3, heat_J_kg_K):
    """Heating rate of water trapped in a pump that runs against a closed line.

    dT/dt = P / (rho V cp)

    Args:
        loss_W: heat set free [W], 0 to 1e4
        volume_m3: trapped volume [m3], 1e-6 to 1
        density_kg_m3: density of the water [kg/m3], 900 to 1100
        heat_J_kg_K: specific heat of the water [J/(kg K)], 4000 to 4400
    Returns:
        heating rate [K/s]
    Raises:
        ValueError: an argument is outside its range
    Source: heat balance without losses
    Kept for: protection of a pump that runs against a closed line
    Example:
        >>> round(trapped_water_rate_K_s(30.0, 50e-6, 998.2, 4184.0), 3)
        0.144
    """
    require("loss_W", loss_W, 0, 1e4, "W")
    require("volume_m3", volume_m3, 1e-6, 1, "m3")
    require("density_kg_m3", density_kg_m3, 900, 1100, "kg/m3")
    require("heat_J_kg_K", heat_J_kg_K, 4000, 4400, "J/(kg K)")
    return loss_W / (density_kg_m3 * volume_m3 * heat_J_kg_K)


class MotorHeat:
    """A motor's temperature and that of the sensor on it, first order each.

    C dT/dt = P - (T - Ta) / R;  dTs/dt = (T - Ts) / lag

    Attributes: degC, felt_degC.

    Args:
        degC: temperature to begin with [degC], -60 to 200
        cooled_K_W: thermal resistance to the water in the jacket [K/W], 0.001 to 1000
        still_K_W: thermal resistance to still air [K/W], 0.001 to 1000
        heat_J_K: heat capacity [J/K], 0.001 to 1e6
        lag_s: lag of the sensor [s], 0.001 to 1e4
    Returns:
        a motor [-]
    Raises:
        ValueError: an argument is outside its range
    Source: first-order heat balance
    Example:
        >>> round(MotorHeat(20.0, 2.0, 9.0, 120.0, 20.0).lasting_W(65.0, 20.0), 6)
        5.0
    """

    def __init__(self, degC, cooled_K_W, still_K_W, heat_J_K, lag_s):
        require("degC", degC, -60, 200, "degC")
        require("cooled_K_W", cooled_K_W, 0.001, 1000, "K/W")
        require("still_K_W", still_K_W, 0.001, 1000, "K/W")
        require("heat_J_K", heat_J_K, 0.001, 1e6, "J/K")
        require("lag_s", lag_s, 0.001, 1e4, "s")
        self.degC = self.felt_degC = degC
        self.cooled_K_W, self.still_K_W = cooled_K_W, still_K_W
        self.heat_J_K, self.lag_s = heat_J_K, lag_s

    def warm(self, dt_s, loss_W, ambient_degC, resistance_K_W, near_degC=None):
        """Follow a short step.

        T += (P - (T - Ta) / R) dt / C;  Ts += (T - Ts) min(1, dt / lag)

        Args:
            dt_s: length of the step, far below R C [s]
            loss_W: heat set free [W]
            ambient_degC: temperature of what takes the heat, Ta [degC]
            resistance_K_W: thermal resistance to it, R [K/W]
            near_degC: what the sensor lies at, None = the motor [degC]
        Returns:
            temperature of the motor [degC]
        Source: explicit step of the heat balance; no check here, it is called at every
            step of a twin
        Example:
            >>> MotorHeat(20.0, 2.0, 9.0, 120.0, 20.0).warm(1.0, 24.0, 20.0, 9.0)
            20.2
        """
        degC, felt_degC = self.degC, self.felt_degC
        lost_W = (degC - ambient_degC) / resistance_K_W
        self.degC = degC = degC + (loss_W - lost_W) * dt_s / self.heat_J_K
        follows = dt_s / self.lag_s  # a sensor as quick as the step is there at once
        gap_K = (degC if near_degC is None else near_degC) - felt_degC
        self.felt_degC = felt_degC + gap_K * (follows if follows < 1.0 else 1.0)
        return degC

    def lasting_W(self, limit_degC, ambient_degC):
        """Heat that leads just to a limit without cooling.

        P = (Tl - Ta) / R

        Args:
            limit_degC: limit [degC], -60 to 1000
            ambient_degC: temperature of the surroundings [degC], -60 to 100
        Returns:
            heat [W], negative when the surroundings are beyond the limit
        Raises:
            ValueError: an argument is outside its range
        Source: definition of thermal resistance
        Example:
            >>> MotorHeat(20.0, 2.0, 9.0, 120.0, 20.0).lasting_W(29.0, 20.0)
            1.0
        """
        require("limit_degC", limit_degC, -60, 1000, "degC")
        require("ambient_degC", ambient_degC, -60, 100, "degC")
        return (limit_degC - ambient_degC) / self.still_K_W
