"""Outside values for pump, turbine, generator and the chains built of them."""

from tests.reference.model import PRINTED, Check, Make

G = 9.80665
NU_20 = 1.0033954e-6
_CRANE_733 = "READ fluids notebook of Crane TP-410 example 7.33: 400 gpm, 126 ft, 17.5 hp"
_SLOW = 1700 / 3500
GPM = 3.785411784e-3 / 60
FOOT = 0.3048
HP = 745.69987158
_PUMP = (17.0, 0.0, 1.5e8)
_POINTS = (0.0, 0.5e-4, 1e-4, 1.5e-4, 2e-4)
_HEADS = (17.1, 16.5, 15.4, 13.7, 11.1)
_RATES = (0.5e-4, 1e-4, 1.5e-4, 2e-4, 2.5e-4)
_POLYFIT = "RUN numpy 2.4 polyfit"
_MAIN = Make("pipes.Pipe", (22.0, 0.020, 1.5e-6, 2.0, NU_20, G))
_BANSAL = "MEM textbook (Bansal): 30 m, 0.7 m3/s, 10 m/s, turned by 160, Cv 0.98, g 9.81"
_BIG = "CALC of a textbook problem READ at askfilo.com: 510 m jet of 200 mm, 165, k 0.85"
_BIG_V = 0.98 * (2 * 9.81 * 510) ** 0.5
_BIG_U = 0.46 * (2 * 9.81 * 510) ** 0.5
_BIG_Q = _BIG_V * 0.031415926535897934
_BUCKETS = ((0.3, 0.785120), (0.4, 0.897280), (0.46, 0.928685), (0.5, 0.934667), (0.6, 0.897280),
            (1.0, 0.0))  # fmt: skip
_JETS = ((5.0, 9.902853), (9.0, 13.286072), (12.0, 15.341434), (20.0, 19.805706),
         (100.0, 44.286906))  # fmt: skip
_IDEAL = "CALC by hand: half speed, no friction, full turn leaves the water at rest"
_WHEEL = Make("generation.ImpulseWheel", (0.05, 0.8, 160.0, 0.1, 1e-4, 1e-8))
_FREE = Make("generation.ImpulseWheel", (0.05, 0.9, 165.0, 0.0, 0.0, 0.0))
_LAMP = Make("generation.LampCircuit", (0.1, 10.0, 1.0, 9.0, 20.0))
_LINE = Make("pipes.Pipe", (20.0, 0.025, 1.5e-6, 2.0, NU_20, G))
_SET = Make("generation.TurbineSet", (_LINE, 3.46e-6, 0.97, _WHEEL, _LAMP, 998.2, G))
_SHORT = Make("pipes.Pipe", (0.0, 0.025, 1.5e-6, 0.0, NU_20, G))
_BARE = Make("generation.TurbineSet", (_SHORT, 7.0685834705770345e-06, 0.97, _FREE, _LAMP, 1000.0,
                                       G))  # fmt: skip
_SOLVED = "RUN scipy 1.17 brentq on balances written apart, fluids 1.3.1, pvlib 0.16.1 (apart.py)"
_COLEBROOK = "Haaland against Colebrook in the line: 0.6 % of a small loss"
_DIRECT = Make("solar_pump.DirectPump", (3.0, 0.06, 0.005, 1e-5, 350.0, _PUMP, (1.5e-7, 0.2), 10.8,
                                         _MAIN))  # fmt: skip
_SUNS = (  # the panel's curve, what the pump does: full sun, a fifth of it, too little to lift
    ((4.5074, 3.567e-11, 1.1345, 0.3864, 235.9),
     (28.2876878822546, 1.0026200968596133, 421.3304598612626, 2.88562067882958e-4)),
    ((0.9015, 3.567e-11, 1.1345, 0.3864, 1179.5),
     (24.55096381637385, 0.7646408780838925, 370.950686368703, 2.2278276697009004e-4)),
    ((0.25, 3.567e-11, 1.1345, 0.3864, 4250.0),
     (14.204018869541837, 0.24662483403925925, 224.40240612373435, 0.0)),
)  # fmt: skip

CHECKS = (
    Check("pump.head_m", (2e-4, 1.0, *_PUMP), 11.0, 1e-12, "CALC by hand"),
    *[Check("pump.fit_head_curve", (_POINTS, _HEADS), value, 1e-7, _POLYFIT, PRINTED, item=item)
      for item, value in enumerate((17.062857142857144, 3314.2857142857, 131428571.4285714))],
    *[Check("pump.fit_head_curve", ((0.0, 1e-4, 2e-4, 3e-4), (10.0, 10.3, 9.6, 8.0)), value, 1e-12,
            "RUN scipy 1.17 nnls: a curve that rises from shut-off, held flat", item=item)
      for item, value in enumerate((10.328571428571427, 0.0, 24387755.1020408))],
    *[Check("pump.fit_best_point", (_RATES, (0.16, 0.27, 0.33, 0.33, 0.27)), value, 1e-12,
            "RUN numpy 2.4 linalg.lstsq", item=item)
      for item, value in enumerate((1.749544419134396e-4, 0.3338478487245147))],
    Check("pump.affinity_flow_m3_s", (400 * GPM, _SLOW), 194.2857, 1e-6, _CRANE_733, PRINTED,
          scale=1 / GPM),
    Check("pump.affinity_head_m", (126 * FOOT, _SLOW), 29.7257, 1e-6, _CRANE_733, PRINTED,
          scale=1 / FOOT),
    Check("pump.affinity_power_W", (17.5 * HP, _SLOW), 2.00531, 2e-6, _CRANE_733, PRINTED,
          scale=1 / HP),
    Check("pump.threshold_speed_ratio", (10.8, 17.0), 0.79705, 1e-5, "CALC sqrt(10.8 / 17)",
          PRINTED),
    Check("pump.operating_flow_m3_s", (1.0, 17.0, 3000.0, 1.5e8, 10.8, 2e7), 62000 / 3.4e8, 1e-12,
          "CALC roots of 1.7e8 Q^2 + 3000 Q - 6.2"),
    Check("pump.pipe_operating_flow_m3_s", (1.0, *_PUMP, 10.8, _MAIN), 1.922402396665033e-4, 3e-4,
          _SOLVED, _COLEBROOK),
    Check("pump.hydraulic_power_W", (1e-3, 9.0, 998.2072, G), 88.101618, 1e-7,
          "CALC, density RUN iapws", PRINTED),
    Check("pump.hydraulic_power_W", (5 / 6e4, 6.0, 998.2072, G), 4.894534, 1e-7,
          "CALC, density RUN iapws", PRINTED),
    Check("pump.hydraulic_power_W", (100 * GPM, 421 * FOOT, 998.0, G), 10.64, 5e-3,
          "READ Crane TP-410 example 7.15: 421 ft, 100 gpm, 15.2 hp at 0.70", PRINTED,
          scale=1 / HP),
    Check("pump.efficiency_frac", (1e-4, 1.0, 2e-4, 0.4), 0.3, 1e-12,
          "CALC by hand: three quarters at half the flow"),
    Check("pump.fit_torque", (100.0, 5.0, 2e-4, 10.0), 2.5, 1e-12, "CALC by hand", item=1),
    Check("pump.shaft_torque_Nm", (100.0, 2e-4, 5e-6, 2.5), 0.1, 1e-12,
          "CALC by hand: 10 W at 100 rad/s"),
    Check("pump.specific_speed", (0.0402, 100.0, 3550.0), 22.50823183, 1e-9,
          "TEST docstring of fluids.core.specific_speed", PRINTED),
    *[Check("turbine.jet_velocity_m_s", (h, 1.0, G), v, 5e-8, "CALC Torricelli", PRINTED)
      for h, v in _JETS],
    Check("turbine.nozzle_area_m2", (0.003, 1.0), 7.0685834705770345e-06, 1e-12, "CALC by hand"),
    Check("turbine.needle_area_m2", (0.0005, 0.003, 30.0, 1.0), 2.1861508, 1e-7,
          "CALC lateral surface of the conical frustum, pi (r1 + r2) s", PRINTED, scale=1e6),
    Check("turbine.nozzle_flow_m3_s", (9.0, 7.0685834705770345e-06, 0.97, G), 0.091096, 6e-6,
          "CALC 3 mm jet at 9 m, Cv 0.97", PRINTED, scale=1e3),
    Check("turbine.nozzle_loss_m", (9.0, 0.97), 0.5319, 1e-4, "CALC 9 (1 - 0.9409)", PRINTED),
    Check("turbine.largest_power_nozzle_m", (0.025, 20.0, 0.03), 0.0095, 2e-3,
          "READ textbook problem (Munson 12.56): D1 = D / (2 f l / D)^(1/4)", PRINTED),
    Check("turbine.jet_power_W", (9.1096e-5, 12.887490, 1000.0), 7.56497, 6e-6,
          "CALC 3 mm jet at 9 m", PRINTED),
    Check("pump.hydraulic_power_W", (_BIG_Q, 510.0, 1000.0, 9.81), 15408.0, 1e-4,
          _BIG + ": water power", PRINTED, scale=1e-3),
    Check("turbine.bucket_shaft_power_W", (0.7, 23.775687, 10.0, 1.0, 160.0, 1000.0), 186.97,
          1e-3, _BANSAL, "the book rounds its steps", scale=1e-3),
    Check("turbine.bucket_shaft_power_W",
          (_BIG_Q, _BIG_V, _BIG_U, 0.85, 165.0, 1000.0), 291.72, 1e-4,
          _BIG + ": force in kN", PRINTED, scale=1e-3 / _BIG_U),
    Check("turbine.bucket_friction_W", (0.001, 12.0, 6.0, 0.5, 165.0, 1000.0), 13.5, 1e-12,
          "CALC by hand: (36 - 9) / 2"),
    Check("turbine.bucket_exit_W", (0.001, 12.0, 6.0, 1.0, 180.0, 1000.0), 0.0, 1e-12, _IDEAL,
          absolute=True),
    Check("turbine.bucket_exit_W", (0.001, 12.0, 6.0, 0.5, 90.0, 1000.0), 22.5, 1e-12,
          "CALC by hand: (36 + 9) / 2"),
    *[Check("turbine.bucket_efficiency_frac", (x, 0.9, 165.0), eta, 1e-6, "CALC Euler", PRINTED,
            absolute=True) for x, eta in _BUCKETS],
    Check("turbine.splash_loss_W", (0.001, 10.0, 0.1, 1000.0), 5.0, 1e-12, "CALC by hand"),
    Check("turbine.drag_torque_Nm", (100.0, 0.001, 1e-7), 0.002, 1e-12, "CALC by hand"),
    Check("turbine.runaway_rad_s", (1e-4, 13.0, 0.05, 0.9, 165.0, 0.0, 0.0, 1000.0), 260.0, 1e-12,
          "CALC limit without drag, v / r: 1 / 0.46 = 2.17 times the best speed"),
    Check("turbine.runaway_rad_s", (0.7, 23.8, 0.4, 0.9, 165.0, 0.0, 0.72, 1000.0), 1.85, 0.03,
          "READ scribd.com 423881188: 1.8 to 1.9 times the rated speed (0.46 v / r); windage "
          "put at 8 % of the rated torque", "the range printed", scale=1 / (0.46 * 23.8 / 0.4)),
    Check("generator.emf_V", (150.0, 0.1), 15.0, 1e-12, "CALC by hand"),
    Check("generator.lamp_current_A", (15.0, 1.0, 9.0, 10.0, 40.0), 0.1, 1e-12, "CALC by hand"),
    Check("generator.lamp_current_A", (9.9, 1.0, 9.0, 10.0, 40.0), 0.0, 0.0, "CALC: dark"),
    Check("generator.lamp_power_W", (0.1, 9.0, 40.0), 1.3, 1e-12, "CALC by hand: 13 V, 0.1 A"),
    Check("generator.threshold_speed_rad_s", (1.0, 9.0, 0.1), 100.0, 1e-12, "CALC by hand"),
    Check("generation.ImpulseWheel.shaft_power_W", (_FREE, 0.46 * 240, 5e-5, 12.0, 1000.0),
          0.928685 * 3.6, 1e-6, "CALC Euler, 3.6 W in the jet", PRINTED),
    Check("generation.ImpulseWheel.efficiency_frac", (_FREE, 120.0, 5e-5, 12.0, 1000.0),
          0.934667, 1e-6, "CALC Euler", PRINTED),
    Check("generation.ImpulseWheel.runaway_rad_s", (_FREE, 5e-5, 12.0, 1000.0), 240.0, 1e-12,
          "CALC limit without drag"),
    Check("generation.LampCircuit.trial_A", (_LAMP, 150.0), 5 / 30, 1e-12, "CALC by hand"),
    Check("generation.LampCircuit.trial_A", (_LAMP, 99.0), 0.0, 0.0, "CALC: dark"),
    Check("generation.LampCircuit.current_A", (_LAMP, 150.0), 5 / 30, 1e-12, "CALC by hand"),
    Check("generation.LampCircuit.lamp_W", (_LAMP, 150.0), 5 / 30 * (9 + 20 * 5 / 30), 1e-12,
          "CALC by hand"),
    Check("generation.TurbineSet.flow_m3_s", (_BARE, 9.0, 1e5), 0.091096, 6e-6,
          "CALC 3 mm jet at 9 m, no pipe loss", PRINTED, scale=1e3),
    Check("generation.TurbineSet.flow_m3_s", (_SET, 9.5, 0.3), 0.0397891765782023, 1e-4, _SOLVED,
          _COLEBROOK, scale=1e3),
    Check("generation.TurbineSet.speed_rad_s", (_SET, 4.5e-5), 154.8767193982473, 1e-9, _SOLVED),
    Check("generation.TurbineSet.point", (_SET, 9.5, 0.3), 1.6002533909656418, 1e-4, _SOLVED,
          _COLEBROOK, item=3),
    Check("generation.TurbineSet.specific_output_J_L", (_SET, 9.5, 0.3), 40.21830881120341, 1e-4,
          _SOLVED, _COLEBROOK),
    Check("solar_pump.DirectPump.flow_at_speed_m3_s", (_DIRECT, 350.0), 1.922402396665033e-4, 3e-4,
          _SOLVED, _COLEBROOK),
    Check("solar_pump.DirectPump.current_at_speed_A", (_DIRECT, 200.0), 0.21666666666666667, 1e-12,
          "CALC by hand: no flow, (0.006 + 0.005 + 0.002) / 0.06"),
    *[Check("solar_pump.DirectPump.point", (_DIRECT, sun), value, 3e-4, _SOLVED, _COLEBROOK,
            item=item)
      for sun, point in _SUNS for item, value in enumerate(point)],
)  # fmt: skip
