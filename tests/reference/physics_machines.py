"""Outside values for pump, turbine, generator and the chains built of them."""

from tests.reference.model import PRINTED, ROUND_TRIP, Check, Make

G = 9.80665
NU_20 = 1.0033954e-6
GPM = 3.785411784e-3 / 60
FOOT = 0.3048
HP = 745.69987158
_POINTS = (0.0, 0.5e-4, 1e-4, 1.5e-4, 2e-4)
_HEADS = (17.1, 16.5, 15.4, 13.7, 11.1)
_RATES = (0.5e-4, 1e-4, 1.5e-4, 2e-4, 2.5e-4)
_POLYFIT = "RUN numpy 2.4 polyfit"
_BANSAL = "MEM textbook (Bansal): 30 m, 0.7 m3/s, 10 m/s, turned by 160, Cv 0.98, g 9.81"
_BIG = "CALC of a textbook problem READ at askfilo.com: 510 m jet of 200 mm, 165, k 0.85"
_BIG_V = 0.98 * (2 * 9.81 * 510) ** 0.5
_BIG_U = 0.46 * (2 * 9.81 * 510) ** 0.5
_BIG_Q = _BIG_V * 0.031415926535897934
_JETS = ((5.0, 9.902853), (9.0, 13.286072), (12.0, 15.341434), (20.0, 19.805706),
         (100.0, 44.286906))  # fmt: skip
_IDEAL = "CALC by hand: half speed, no friction, full turn leaves the water at rest"
_TEN = Make("turbine.ImpulseWheel", (1.0, 1.0, 160.0, 1.0, 0.0))
_BIG_WHEEL = Make("turbine.ImpulseWheel", (1.0, 0.85, 165.0, 1.0, 0.0))
_BLUNT = Make("turbine.ImpulseWheel", (1.0, 1.0, 120.0, 1.0, 0.0))
_SLIPPERY = Make("turbine.ImpulseWheel", (1.0, 1.0, 180.0, 0.9, 0.0))
_SQUARE = Make("turbine.ImpulseWheel", (1.0, 0.5, 90.0, 1.0, 0.0))
_VALVE = Make("valve.ControlValve", (1.2, 50.0, False))
_LINEAR = Make("valve.ControlValve", (1.2, 50.0, True))
_LOADS = (0.1, 10.0, 1.0, 20.0, 2.0, 9.0, 20.0, 45.0)
_GENERATOR = Make("generator.LoadedGenerator", _LOADS)
_LINE = Make("pipes.Pipe", (20.0, 0.025, 1.5e-6, 2.0, NU_20, G))
_WHEEL = Make("turbine.ImpulseWheel", (0.05, 0.8, 160.0, 0.9, 1e-4))
_SET = Make("generation.TurbineSet", (_LINE, _VALVE, 0.0021, 0.97, _WHEEL, _LOADS, 998.2, G))
_SHORT = Make("pipes.Pipe", (0.0, 0.025, 1.5e-6, 0.0, NU_20, G))
_WIDE = Make("valve.ControlValve", (1e5, 50.0, False))
_BARE = Make("generation.TurbineSet", (_SHORT, _WIDE, 0.003, 0.97, _WHEEL, _LOADS, 1000.0, G))
_MAIN = Make("pipes.Pipe", (22.0, 0.016, 1.5e-6, 5.0, NU_20, G))
_NAMEPLATE = (29.0, 4.5, 23.8, 4.2, 5e-4, -3.2e-3)
_PUMP = Make("solar_pump.SolarPump", (_NAMEPLATE, 24.0, 18.0, 314.0, 17.0, 11.3, 55e-6, 0.4, 3.0,
                                      0.12, _MAIN, 998.2 * G))  # fmt: skip
_NO_MAIN = Make("pipes.Pipe", (0.0, 0.016, 1.5e-6, 0.0, NU_20, G))
_BARE_PUMP = Make("solar_pump.SolarPump", (_NAMEPLATE, 24.0, 18.0, 314.0, 17.0, 11.3, 55e-6, 0.4,
                                           3.0, 0.12, _NO_MAIN, 998.2 * G))  # fmt: skip
_SOLVED = "RUN scipy 1.17 brentq on balances written apart, fluids 1.3.1, pvlib 0.16.1 (apart.py)"
_COLEBROOK = "Haaland against Colebrook in the line: 0.6 % of its loss"
_SUNS = (  # sun and cells; flow, voltage, current and speed of the pump that lifts 11 m
    ((1000.0, 45.0), (6.837820442647616e-05, 26.461609638699272, 0.9299646439917756,
                      1.088354745136733)),
    ((200.0, 30.0), (5.586314798079993e-05, 24.09674070528734, 0.758805734615392,
                     1.0032332644340765)),
    ((60.0, 20.0), (0.0, 17.308210505664906, 0.26524665193764385, 0.7591940482690563)),
    ((15.0, 20.0), (0.0, 0.20228104302991637, 0.06742701434330546, 0.0)),
)  # fmt: skip
_STEADY = (  # travel; flow, speed, voltage and power of the lamps under 9.5 m
    (1.0, (4.537520257009298e-05, 156.31003637897234, 12.754002425264824, 2.39392780181388)),
    (0.5, (3.2287706962327497e-05, 123.63465616276339, 10.575643744184227, 0.8331723453122464)),
    (0.3, (1.8944265291594994e-05, 101.47082367162679, 9.098054911441787, 0.044605448431697094)),
)

CHECKS = (
    *[Check("pump.fit_head_curve", (_POINTS, _HEADS), value, 1e-7, _POLYFIT, PRINTED, item=item)
      for item, value in enumerate((17.062857142857144, 3314.2857142857, 131428571.4285714))],
    *[Check("pump.fit_head_curve", ((0.0, 1e-4, 2e-4, 3e-4), (10.0, 10.3, 9.6, 8.0)), value, 1e-12,
            "RUN scipy 1.17 nnls: a curve that rises from shut-off, held flat", item=item)
      for item, value in enumerate((10.328571428571427, 0.0, 24387755.1020408))],
    *[Check("pump.fit_best_point", (_RATES, (0.16, 0.27, 0.33, 0.33, 0.27)), value, 1e-12,
            "RUN numpy 2.4 linalg.lstsq", item=item)
      for item, value in enumerate((1.749544419134396e-4, 0.3338478487245147))],
    Check("pump.hydraulic_power_W", (1e-3, 9.0, 998.2072, G), 88.101618, 1e-7,
          "CALC, density RUN iapws", PRINTED),
    Check("pump.hydraulic_power_W", (5 / 6e4, 6.0, 998.2072, G), 4.894534, 1e-7,
          "CALC, density RUN iapws", PRINTED),
    Check("pump.hydraulic_power_W", (100 * GPM, 421 * FOOT, 998.0, G), 10.64, 5e-3,
          "READ Crane TP-410 example 7.15: 421 ft, 100 gpm, 15.2 hp at 0.70", PRINTED,
          scale=1 / HP),
    Check("pump.specific_speed", (0.0402, 100.0, 3550.0), 22.50823183, 1e-9,
          "TEST docstring of fluids.core.specific_speed", PRINTED),
    *[Check("turbine.jet_velocity_m_s", (h, 1.0, G), v, 5e-8, "CALC Torricelli", PRINTED)
      for h, v in _JETS],
    Check("turbine.nozzle_area_m2", (0.003, 1.0), 7.0685834705770345e-06, 1e-12, "CALC by hand"),
    Check("turbine.largest_power_nozzle_m", (0.025, 20.0, 0.03), 0.0095, 2e-3,
          "READ textbook problem (Munson 12.56): D1 = D / (2 f l / D)^(1/4)", PRINTED),
    Check("turbine.jet_power_W", (9.1096e-5, 12.887490, 1000.0), 7.56497, 6e-6,
          "CALC 3 mm jet at 9 m", PRINTED),
    Check("pump.hydraulic_power_W", (_BIG_Q, 510.0, 1000.0, 9.81), 15408.0, 1e-4,
          _BIG + ": water power", PRINTED, scale=1e-3),
    Check("turbine.ImpulseWheel.push_kg_m_s", (_SQUARE, 0.002, 1000.0), 2.0, 1e-12,
          "CALC by hand: 2 kg/s turned by a right angle, at a radius of 1 m"),
    Check("turbine.ImpulseWheel.torque_Nm", (_BLUNT, 10.0, 0.1, 25.0, 1000.0), 22.5, 1e-12,
          "READ examination question (interviewmania.com 90584): 25 m/s on buckets of 10 m/s, "
          "0.1 m3/s turned by 120 degrees, no friction: 22.5 kW", PRINTED, scale=10.0 / 1000),
    Check("turbine.ImpulseWheel.torque_Nm", (_TEN, 10.0, 0.7, 23.775687, 1000.0), 18.697, 1e-3,
          _BANSAL, "the book rounds its steps", scale=1e-3),
    Check("turbine.ImpulseWheel.torque_Nm",
          (_BIG_WHEEL, _BIG_U, _BIG_Q, _BIG_V, 1000.0), 291.72, 1e-4,
          _BIG + ": force in kN", PRINTED, scale=1e-3),
    Check("turbine.ImpulseWheel.lost_J", (_SLIPPERY, 1.0, 12.0, 6.0), 0.0, 1e-12, _IDEAL,
          absolute=True, item=0),
    Check("turbine.ImpulseWheel.lost_J", (_SLIPPERY, 1.0, 12.0, 6.0), 7.2, 1e-12,
          "CALC by hand: a tenth of 72 J meets no bucket", item=1),
    Check("turbine.ImpulseWheel.lost_J", (_SQUARE, 1.0, 12.0, 6.0), 36.0, 1e-12,
          "CALC by hand: (36 - 9) / 2 on the bucket, (36 + 9) / 2 leave with the water", item=0),
    Check("generator.lamp_current_A", (1.3, 9.0, 40.0), 0.1, 1e-12, "CALC by hand: 13 V, 0.1 A"),
    Check("generator.LoadedGenerator.drive_Nm", (_GENERATOR, 150.0), 0.1 * 5 / 30, 1e-12,
          "CALC by hand: 5 V over 30 ohm"),
    Check("generator.LoadedGenerator.drive_Nm", (_GENERATOR, 99.0), 0.0, 0.0, "CALC: dark"),
    Check("generator.LoadedGenerator.drive_Nm", (_GENERATOR, 310.0), 0.1 * 6.05 / 6.5, 1e-12,
          "CALC by hand: (30 - V) / 10 = (V - 9) / 20 + (V - 20) / 2"),
    Check("generator.LoadedGenerator.slope_Nm_s", (_GENERATOR,), 0.0, 0.0, "CALC: at rest"),
    Check("generation.TurbineSet.travel", (_SET, 1.0), 1e5 / 9806.65, 1e-12,
          "CALC 1 bar as head of water at 1.2 m3/h", scale=(1.2 / 3600) ** 2),
    Check("generation.TurbineSet.fall_m3_s", (_BARE, 9.0), 0.091096, 6e-6,
          "CALC 3 mm jet at 9 m, no pipe and no valve", PRINTED, scale=1e3),
    Check("generation.TurbineSet.steady", (_BARE, 1.0, 9.0), 0.091096, 6e-6,
          "CALC 3 mm jet at 9 m, no pipe loss", PRINTED, item=0, scale=1e3),
    *[Check("generation.TurbineSet.steady", (_SET, travel, 9.5), value, 3e-5, _SOLVED, _COLEBROOK,
            item=item) for travel, point in _STEADY for item, value in enumerate(point)],
    *[Check("generation.TurbineSet.travel_for_frac", (_SET, point[0], 9.5), travel, 3e-4,
            _SOLVED, "Haaland against Colebrook; a travel goes with the flow's logarithm")
      for travel, point in _STEADY],
    *[Check("generation.TurbineSet.flow_for_lamps_m3_s", (_SET, point[3]), point[0], 1e-12,
            _SOLVED) for _, point in _STEADY],
    Check("generation.TurbineSet.jet_power_W", (_BARE, 9.1096e-5), 7.56497, 2e-5,
          "CALC 3 mm jet at 9 m", "the power goes with the cube of a flow of five digits"),
    *[Check("solar_pump.SolarPump.steady", (_PUMP, *sun, 11.0), value, 2e-4, _SOLVED, _COLEBROOK,
            item=item) for sun, point in _SUNS for item, value in enumerate(point)],
    Check("solar_pump.SolarPump.no_flow", (_PUMP, 1.0), 0.372, 1e-12,
          "CALC by hand: 0.12 A + 0.4 x 0.63 A", item=1),
    Check("solar_pump.SolarPump.no_flow", (_PUMP, 1.0), 22.866, 1e-12,
          "CALC by hand: 24 V - 3 ohm x (0.75 A - 0.372 A)", item=0),
    *[Check("solar_pump.SolarPump.lifting", (_BARE_PUMP, 11.3, 55e-6), value, 1e-12,
            "CALC by hand: the rated point is that of the nameplate", item=item)
      for item, value in enumerate((24.0, 0.75))],
    *[Check("solar_pump.SolarPump.lifting", (_BARE_PUMP, 4.25, 0.0), value, 1e-12,
            "CALC by hand: half speed holds 17 m / 4; 0.12 A + 0.25 x 0.252 A;"
            " 10.875 V + 3 ohm x 0.183 A", item=item)
      for item, value in enumerate((11.424, 0.183))],
    Check("valve.ControlValve.kv_m3_h", (_VALVE, 0.5), 1.2 * 0.14142136, 1e-7,
          "CALC R^(x - 1), the form of IEC 60534-2-4 from memory", PRINTED),
    Check("valve.ControlValve.kv_m3_h", (_LINEAR, 0.5), 0.612, 1e-12,
          "CALC 1 / R + (1 - 1 / R) x, the form of IEC 60534-2-4 from memory"),
    Check("valve.ControlValve.kv_m3_h", (_VALVE, 0.0), 0.0, 0.0, "CALC: tight"),
    Check("valve.ControlValve.travel_frac", (_VALVE, 1.2 * 0.14142136), 0.5, 1e-7,
          "CALC as above", ROUND_TRIP),
    Check("valve.ControlValve.travel_frac", (_LINEAR, 0.612), 0.5, 1e-12, "CALC as above"),
    Check("heat.MotorHeat.warm", (Make("heat.MotorHeat", (20.0, 2.0, 9.0, 120.0, 20.0)), 1.0, 24.0,
                                  20.0, 9.0), 20.2, 1e-12, "CALC by hand: 24 J into 120 J/K"),
    Check("heat.MotorHeat.lasting_W", (Make("heat.MotorHeat", (20.0, 2.0, 9.0, 120.0, 20.0)), 65.0,
                                       20.0), 5.0, 1e-12, "CALC by hand: 45 K over 9 K/W"),
)  # fmt: skip
