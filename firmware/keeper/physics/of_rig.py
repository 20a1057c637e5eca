"""A rig's machines from its description: which number of it is which of a machine.

A description is a mapping "section.key_unit" to a number in SI units, or to a word.
"""

from keeper.physics import gravity, tanks
from keeper.physics import water as _water
from keeper.physics.heat import MotorHeat
from keeper.physics.pipes import Pipe
from keeper.physics.turbine import ImpulseWheel
from keeper.physics.valve import ControlValve


def water(rig):
    """Properties of the rig's water, and the fall at its site.

    rho(t), nu(t), g(latitude, height)

    Args:
        rig: a description [-]
    Returns:
        density [kg/m3], kinematic viscosity [m2/s] and acceleration of free fall [m/s2]
    Raises:
        ValueError: a number of the description is outside its range
    Source: modules water and gravity
    Example:
        >>> rig = {"site.water_temperature_degC": 12.0, "site.latitude_deg": 45.0,
        ...        "site.height_m": 0.0}
        >>> [round(x, 2) for x in water(rig)]
        [999.5, 0.0, 9.81]
    """
    degC = rig["site.water_temperature_degC"]
    return (_water.density_kg_m3(degC), _water.kinematic_viscosity_m2_s(degC),
            gravity.normal_m_s2(rig["site.latitude_deg"], rig["site.height_m"]))


def _pipe(rig, section, viscosity_m2_s, gravity_m_s2):
    return Pipe(rig[section + ".length_m"], rig[section + ".diameter_m"],
                rig[section + ".roughness_m"], rig[section + ".minor_loss"],
                viscosity_m2_s, gravity_m_s2)


def tank(rig, prefix):
    """Shape of a tank.

    the class of module tanks that the section's shape names

    Args:
        rig: a description, or one section of it [-]
        prefix: "upper." or "lower."; "" of a section by itself [-]
    Returns:
        a tank shape [-]
    Raises:
        ValueError: a size is outside its range, or a table of levels does not rise
    Source: definition
    Example:
        >>> rig = {"upper.shape": "upright cylinder", "upper.diameter_m": 2.0,
        ...        "upper.height_m": 1.0}
        >>> round(tank(rig, "upper.").capacity_m3, 4)
        3.1416
    """
    shape = rig[prefix + "shape"]
    if shape == "table":
        return tanks.LevelTable(rig[prefix + "levels_m"], rig[prefix + "volumes_m3"])
    height_m = rig[prefix + "height_m"]
    if shape == "upright cylinder":
        return tanks.UprightCylinder(rig[prefix + "diameter_m"], height_m)
    return tanks.Rectangular(rig[prefix + "length_m"], rig[prefix + "width_m"], height_m)


def solar_pump(rig, density_kg_m3, viscosity_m2_s, gravity_m_s2):
    """Arguments of the rig's solar_pump.SolarPump.

    the nameplates of panel, pump and motor, and the rising main

    Args:
        rig: a description [-]
        density_kg_m3: density of the water [kg/m3]
        viscosity_m2_s: kinematic viscosity of the water [m2/s]
        gravity_m_s2: acceleration of free fall [m/s2]
    Returns:
        the arguments in their order [SI]
    Source: definition
    Example:
        >>> solar_pump({}, 999.5, 1.2e-6, 9.81)
        Traceback (most recent call last):
        KeyError: 'panel.open_circuit_voltage_V'
    """
    nameplate = (
        rig["panel.open_circuit_voltage_V"], rig["panel.short_circuit_current_A"],
        rig["panel.best_voltage_V"], rig["panel.best_current_A"],
        rig["panel.current_temperature_per_K"], rig["panel.voltage_temperature_per_K"])
    return (nameplate, rig["pump.rated_voltage_V"], rig["pump.rated_power_W"],
            rig["pump.rated_speed_rad_s"], rig["pump.shut_off_head_m"],
            rig["pump.rated_head_m"], rig["pump.rated_flow_m3_s"],
            rig["pump.shut_off_torque_frac"], rig["motor.resistance_ohm"],
            rig["motor.no_load_current_A"],
            _pipe(rig, "rising_main", viscosity_m2_s, gravity_m_s2),
            density_kg_m3 * gravity_m_s2)


def turbine_set(rig, density_kg_m3, viscosity_m2_s, gravity_m_s2):
    """Arguments of the rig's generation.TurbineSet.

    penstock, valve, nozzle, wheel, generator, clamp, lamps and dump load

    Args:
        rig: a description [-]
        density_kg_m3: density of the water [kg/m3]
        viscosity_m2_s: kinematic viscosity of the water [m2/s]
        gravity_m_s2: acceleration of free fall [m/s2]
    Returns:
        the arguments in their order [SI]
    Source: definition
    Example:
        >>> turbine_set({}, 999.5, 1.2e-6, 9.81)
        Traceback (most recent call last):
        KeyError: 'penstock.length_m'
    """
    penstock = _pipe(rig, "penstock", viscosity_m2_s, gravity_m_s2)
    valve = ControlValve(rig["valve.flow_coefficient_m3_h"], rig["valve.rangeability"],
                         rig["valve.characteristic"] == "linear")
    wheel = ImpulseWheel(rig["turbine.wheel_radius_m"], rig["turbine.bucket_coefficient"],
                         rig["turbine.bucket_angle_deg"], rig["turbine.hit_frac"],
                         rig["turbine.friction_torque_N_m"])
    loads = (rig["generator.emf_constant_V_s_rad"], rig["generator.resistance_ohm"],
             rig["generator.rectifier_drop_V"], rig["generator.clamp_voltage_V"],
             rig["generator.clamp_resistance_ohm"], rig["lamps.threshold_voltage_V"],
             rig["lamps.resistance_ohm"], rig["generator.dump_resistance_ohm"])
    return (penstock, valve, rig["turbine.nozzle_diameter_m"],
            rig["turbine.nozzle_coefficient"], wheel, loads, density_kg_m3, gravity_m_s2)


def motor_heat(rig):
    """The pump's motor as a body that warms, as warm as the water to begin with.

    cooled by its jacket or by still air

    Args:
        rig: a description [-]
    Returns:
        a heat.MotorHeat [-]
    Raises:
        ValueError: a number of the description is outside its range
    Source: definition
    Example:
        >>> motor_heat({"site.water_temperature_degC": 12.0, "motor.cooled_resistance_K_W": 2.0,
        ...             "motor.still_resistance_K_W": 9.0, "motor.heat_capacity_J_K": 120.0,
        ...             "motor.sensor_lag_s": 20.0}).degC
        12.0
    """
    return MotorHeat(rig["site.water_temperature_degC"], rig["motor.cooled_resistance_K_W"],
                     rig["motor.still_resistance_K_W"], rig["motor.heat_capacity_J_K"],
                     rig["motor.sensor_lag_s"])
