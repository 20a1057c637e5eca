"""Calls on which single precision loses first: small differences, thin slices, weak sun."""

from tests.reference.model import Check, Make

G = 9.80665
NU = 1.0033954e-6
_DRUM = Make("tanks.UprightCylinder", (0.5715, 0.8509))
_LYING = Make("tanks.HorizontalCylinder", (1.2, 2.5))
_TABLE = Make("tanks.LevelTable", ((0.0, 0.2, 0.4, 0.8), (0.0, 0.066, 0.155, 0.41)))
_HOSE = Make("pipes.Pipe", (22.0, 0.020, 1.5e-6, 2.0, NU, G))
_WHEEL = Make("generation.ImpulseWheel", (0.05, 0.8, 160.0, 0.1, 1e-4, 1e-8))
_LAMP = Make("generation.LampCircuit", (0.1, 10.0, 1.0, 9.0, 20.0))
_LINE = Make("pipes.Pipe", (20.0, 0.025, 1.5e-6, 2.0, NU, G))
_SET = Make("generation.TurbineSet", (_LINE, 3.46e-6, 0.97, _WHEEL, _LAMP, 998.2, G))
_DIRECT = Make("solar_pump.DirectPump", (3.0, 0.06, 0.005, 1e-5, 350.0, (17.0, 0.0, 1.5e8),
                                         (1.5e-7, 0.2), 10.8, _HOSE))  # fmt: skip
_WEAK = (0.9015, 3.567e-11, 1.1345, 0.3864, 1179.5)
_THIN = ((0.0, 1e-3), (1e-3, 1.1e-3), (0.6, 0.6001), (1.198, 1.199), (1.199, 1.2), (0.1, 1.1))

_CALLS = (
    *[("tanks.HorizontalCylinder.slab", (_LYING, low, high)) for low, high in _THIN],
    *[("tanks.HorizontalCylinder.volume_m3", (_LYING, h)) for h in (1e-4, 1e-2, 0.59, 1.199)],
    *[("tanks.HorizontalCylinder.level_m", (_LYING, v)) for v in (1e-6, 1e-3, 1.41, 2.827)],
    *[("tanks.Rectangular.slab", (_DRUM, low, low + 1e-4)) for low in (0.0, 0.4, 0.85)],
    ("tanks.LevelTable.slab", (_TABLE, 0.3999, 0.4001)),
    ("tanks.energy_between_J", (_DRUM, 0.4, 0.4001, 7.0, 998.2, G)),
    ("tanks.energy_J", (_LYING, 0.01, 9.0, 998.2, G)),
    *[("pipes.friction_factor", (re, 1e-4)) for re in (1e-2, 1999.0, 2001.0, 3000.0, 3999.0, 1e8)],
    *[("pipes.Pipe.loss_m", (_HOSE, q)) for q in (1e-9, 3.1e-5, 4e-5, 6.2e-5, 3e-4)],
    *[("pipes.Pipe.flow_m3_s", (_HOSE, h)) for h in (1e-6, 0.02, 0.05, 5.0)],
    ("pipes.colebrook", (1e8, 0.0)),
    ("suction.npsh_available_m", (101325.0, 2339.318, -9.0, 0.9, 998.2, G)),
    ("suction.siphon_crest_Pa", (101325.0, 9.9, 0.5, 0.1, 998.2, G)),
    ("valve.installed_frac", (0.999, 1e-3)),
    ("valve.equal_percentage_travel_frac", (0.0201, 50.0)),
    *[("panel.terminal_current_A", (v, *_WEAK)) for v in (0.0, 12.0, 24.0, 26.5)],
    ("panel.max_power_point", _WEAK),
    ("panel.open_circuit_V", (1e-4, 3.567e-11, 1.1345, 0.3864, 1e6)),
    ("panel.saturation_current_A", (3.567e-11, 70.0)),
    ("motor.current_A", (24.0, 236.0, 3.0, 0.1)),
    ("motor.dry_run_current_A", (24.0, 3.0, 0.1, 0.005, 1e-6)),
    ("motor.efficiency_frac", (24.0, 230.0, 3.0, 0.1, 0.005, 1e-6)),
    *[("heat.next_temperature_degC", (25.0, 8.0, 25.0, 5.0, 1800.0, dt)) for dt in (0.1, 10.0)],
    *[("heat.rise_frac", (x,)) for x in (1e-6, 1e-4, 0.019, 0.021)],
    ("heat.time_to_temperature_s", (54.99, 55.0, 65.0, 900.0)),
    ("heat.hot_trip_time_s", (8.0, 1.04, 1.05, 600.0)),
    ("heat.next_thermal_level", (0.9, 1.2, 1.05, 600.0, 0.1)),
    ("heat.jacket_conductance_W_K", (1e-3, 2.0, 998.2, 4184.0)),
    ("pump.operating_flow_m3_s", (0.798, 17.0, 3000.0, 1.5e8, 10.8, 2e7)),
    ("pump.pipe_operating_flow_m3_s", (0.80, 17.0, 0.0, 1.5e8, 10.8, _HOSE)),
    ("pump.head_m", (3.3e-4, 1.0, 17.0, 0.0, 1.5e8)),
    ("turbine.bucket_exit_W", (5e-5, 12.0, 5.9, 0.97, 170.0, 998.2)),
    ("turbine.nozzle_loss_m", (9.0, 0.999)),
    ("turbine.runaway_rad_s", (5e-5, 12.0, 0.05, 0.8, 160.0, 1e-4, 1e-8, 998.2)),
    *[("generation.TurbineSet.point", (_SET, h, kv)) for h, kv in ((9.5, 1.2), (9.0, 0.08))],
    ("generation.TurbineSet.specific_output_J_L", (_SET, 9.0, 0.08)),
    ("generator.lamp_current_A", (10.1, 1.0, 9.0, 10.0, 20.0)),
    ("solar_pump.DirectPump.point", (_DIRECT, _WEAK)),
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
