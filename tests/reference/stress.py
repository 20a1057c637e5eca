"""Calls on which single precision loses first: small differences, thin slices, weak sun."""

from tests.reference.model import Check, Make

G = 9.80665
NU = 1.0033954e-6
_DRUM = Make("tanks.UprightCylinder", (0.5715, 0.8509))
_LYING = Make("tanks.HorizontalCylinder", (1.2, 2.5))
_TABLE = Make("tanks.LevelTable", ((0.0, 0.2, 0.4, 0.8), (0.0, 0.066, 0.155, 0.41)))
_HOSE = Make("pipes.Pipe", (22.0, 0.020, 1.5e-6, 2.0, NU, G))
_LOADS = (0.1, 10.0, 1.0, 20.0, 2.0, 9.0, 20.0, 45.0)
_WHEEL = Make("turbine.ImpulseWheel", (0.05, 0.8, 160.0, 0.9, 1e-4))
_VALVE = Make("valve.ControlValve", (1.2, 50.0, False))
_LINE = Make("pipes.Pipe", (20.0, 0.025, 1.5e-6, 2.0, NU, G))
_SET = Make("generation.TurbineSet", (_LINE, _VALVE, 0.0021, 0.97, _WHEEL, _LOADS, 998.2, G))
_PUMP = Make("solar_pump.SolarPump", ((29.0, 4.5, 23.8, 4.2, 5e-4, -3.2e-3), 24.0, 18.0, 314.0,
                                      17.0, 11.3, 55e-6, 0.4, 3.0, 0.12, _HOSE,
                                      998.2 * G))  # fmt: skip
_WEAK = (0.9015, 3.567e-11, 1.1345, 0.3864, 1179.5)
_THIN = ((0.0, 1e-3), (1e-3, 1.1e-3), (0.6, 0.6001), (1.198, 1.199), (1.199, 1.2), (0.1, 1.1))

_CALLS = (
    *[("tanks.HorizontalCylinder.slab", (_LYING, low, high)) for low, high in _THIN],
    *[("tanks.HorizontalCylinder.volume_m3", (_LYING, h)) for h in (1e-4, 1e-2, 0.59, 1.199)],
    *[("tanks.HorizontalCylinder.level_m", (_LYING, v)) for v in (1e-6, 1e-3, 1.41, 2.827)],
    *[("tanks.Rectangular.slab", (_DRUM, low, low + 1e-4)) for low in (0.0, 0.4, 0.85)],
    ("tanks.LevelTable.slab", (_TABLE, 0.3999, 0.4001)),
    ("energy.energy_between_J", (_DRUM, 0.4, 0.4001, 7.0, 998.2, G)),
    ("energy.energy_J", (_LYING, 0.01, 9.0, 998.2, G)),
    *[("pipes.friction_factor", (re, 1e-4)) for re in (1e-2, 1999.0, 2001.0, 3000.0, 3999.0, 1e8)],
    *[("pipes.Pipe.loss_m", (_HOSE, q)) for q in (1e-9, 3.1e-5, 4e-5, 6.2e-5, 3e-4)],
    *[("pipes.Pipe.flow_m3_s", (_HOSE, h)) for h in (1e-6, 0.02, 0.05, 5.0)],
    ("suction.npsh_available_m", (101325.0, 2339.318, -9.0, 0.9, 998.2, G)),
    ("suction.siphon_crest_Pa", (101325.0, 9.9, 0.5, 0.1, 998.2, G)),
    ("valve.installed_frac", (0.999, 1e-3)),
    ("valve.equal_percentage_travel_frac", (0.0201, 50.0)),
    *[("panel.terminal_current_A", (v, *_WEAK)) for v in (0.0, 12.0, 24.0, 26.5)],
    ("panel.max_power_point", _WEAK),
    ("panel.open_circuit_V", (1e-4, 3.567e-11, 1.1345, 0.3864, 1e6)),
    ("panel.saturation_current_A", (3.567e-11, 70.0)),
    *[("heat.next_temperature_degC", (25.0, 8.0, 25.0, 5.0, 1800.0, dt)) for dt in (0.1, 10.0)],
    *[("heat.rise_frac", (x,)) for x in (1e-6, 1e-4, 0.019, 0.021)],
    ("heat.time_to_temperature_s", (54.99, 55.0, 65.0, 900.0)),
    ("heat.hot_trip_time_s", (8.0, 1.04, 1.05, 600.0)),
    ("heat.next_thermal_level", (0.9, 1.2, 1.05, 600.0, 0.1)),
    ("heat.jacket_conductance_W_K", (1e-3, 2.0, 998.2, 4184.0)),
    *[("generation.TurbineSet.steady", (_SET, x, h)) for x, h in ((1.0, 9.5), (0.32, 9.0))],
    ("generation.TurbineSet.travel_for_frac", (_SET, 2e-5, 9.0)),
    ("generation.TurbineSet.flow_for_lamps_m3_s", (_SET, 0.01)),
    *[("solar_pump.SolarPump.steady", (_PUMP, s, 25.0, 11.0)) for s in (30.0, 150.0, 1000.0)],
    ("turbine.ImpulseWheel.lost_J", (_WHEEL, 1e-3, 12.0, 5.9)),
    ("sensors.beta_degC", (9990.0, 10000.0, 3950.0)),
    ("sensors.steinhart_hart_degC", (32000.0, 8.802056817e-4, 2.528678842e-4, 1.853428869e-7)),
    ("sensors.steinhart_hart_ohm", (-20.0, 8.802056817e-4, 2.528678842e-4, 1.853428869e-7)),
    ("electrical.winding_temperature_degC", (1.5, 1.51, 20.0)),
    ("gravity.normal_m_s2", (47.3, 1830.0)),
    ("water.vapour_pressure_Pa", (59.0,)),
)

STRESS = tuple(
    Check(target, args, None, 0.0, "compared with double precision") for target, args in _CALLS
)
