"""Outside values for pipes, surge, suction and valves."""

from tests.reference.model import PRINTED, ROUND_TRIP, Check, Make

FLUIDS = "RUN fluids 1.3.1 friction"
G = 9.80665
NU_20 = 1.0033954e-6  # RUN iapws 1.5.5 at 20 degC
EXPLICIT = "explicit against implicit form: 2 % is what the formula promises"

_FACTORS = (  # Re, e / d, Colebrook, Haaland
    (4e3, 0.0, 0.03990701, 0.04042285),
    (1e4, 0.0, 0.03088295, 0.03088620),
    (1e5, 0.0, 0.01798977, 0.01782494),
    (1e6, 0.0, 0.01164504, 0.01158676),
    (1e5, 1e-4, 0.01851387, 0.01826505),
    (1e5, 1e-3, 0.02217454, 0.02196621),
    (1e6, 1e-3, 0.01994347, 0.01994120),
    (1e7, 1e-4, 0.01216608, 0.01216595),
    (5e4, 2e-3, 0.02650559, 0.02628322),
    (1e5, 1e-2, 0.03850354, 0.03853851),
)
_HOSES = (  # flow m3/s, bore m, Re, loss m per 10 m (Colebrook)
    (3e-4, 0.0254, 14987.4, 0.196476),
    (1e-4, 0.019, 6678.6, 0.115353),
    (1e-5, 0.010, 1268.9, 0.041688),
)
_WAVES = (  # bore m, wall m, E Pa, a m/s
    (0.100, 0.005, 207e9, 1345.66),
    (0.0212, 0.0019, 3.0e9, 489.80),
    (0.02664, 0.00338, 2.75e9, 549.09),
    (0.0204, 0.0023, 0.8e9, 294.59),
)
_HOSE = Make("pipes.Pipe", (10.0, 0.0254, 1.5e-6, 0.0, NU_20, G))
_HEAD_COLEBROOK = "Haaland within 0.6 % of Colebrook here"
_HAMMER = "READ reuven.tools water hammer example (D/e 50, E 200 GPa, K 2.2 GPa)"
_EQUAL = (
    (0.0, 0.02), (0.1, 0.02957515), (0.25, 0.05318296), (0.5, 0.14142136),
    (0.75, 0.37606031), (0.9, 0.67624334), (1.0, 1.0),
)  # fmt: skip
_CRANE_73 = "READ fluids notebook of Crane TP-410 example 7.3"
_FT = "RUN fluids 1.3.1 table of f_T (Crane TP-410)"

CHECKS = (
    Check("pipes.velocity_m_s", (3e-4, 0.0254), 0.592058, 1e-6, "RUN fluids 1.3.1", PRINTED),
    *[
        Check("pipes.friction_factor", (re, e), f, 1e-6, f"{FLUIDS}.Haaland", PRINTED)
        for re, e, _, f in _FACTORS
    ],
    *[
        Check("pipes.friction_factor", (re, e), f, 0.02, f"{FLUIDS}.Colebrook", EXPLICIT)
        for re, e, f, _ in _FACTORS
    ],
    Check("pipes.friction_factor", (1000.0, 0.0), 0.064, 1e-15, "CALC 64 / Re"),
    Check(
        "pipes.friction_factor", (100600.0, 0.0), 0.0179, 0.015,
        "READ fluids notebook of Crane TP-410 example 7.1", "three digits off a chart",
    ),
    Check(
        "pipes.fully_turbulent_friction_factor", (1e-3,), 0.0196354659355267, 1e-12,
        f"{FLUIDS}.von_Karman",
    ),
    *[
        Check("pipes.fully_turbulent_friction_factor", (0.0457e-3 / bore,), f, 0.04, _FT,
              "two digits printed; editions differ by one in the last")
        for bore, f in ((0.01580, 0.026), (0.02093, 0.024), (0.02664, 0.022), (0.05250, 0.019))
    ],
    Check("pipes.loss_coefficient", (150.0, 0.0165), 2.475, 1e-12, _CRANE_73, PRINTED),
    *[
        Check("pipes.Pipe.loss_m",
              (Make("pipes.Pipe", (10.0, d, 1.5e-6, 0.0, NU_20, G)), q), h, 0.006,
              "RUN fluids 1.3.1, Colebrook and laminar", _HEAD_COLEBROOK)
        for q, d, _, h in _HOSES
    ],
    Check(
        "pipes.Pipe.flow_m3_s", (_HOSE, 0.196476), 3e-4, 0.004, "RUN fluids 1.3.1, Colebrook",
        "half of the loss's 0.6 %: flow goes with its root",
    ),
    Check(
        "surge.wave_speed_m_s", (2.2e9, 1000.0, 0.05, 0.001, 200e9), 1191.4, 5e-5, _HAMMER, PRINTED
    ),
    *[
        Check("surge.wave_speed_m_s", (2.19e9, 998.2, d, e, young), a, 1e-5,
              "CALC Korteweg; moduli are PRACTICE", PRINTED)
        for d, e, young, a in _WAVES
    ],
    Check("surge.joukowsky_m", (1191.367, 2.0, G), 242.9, 3e-4, _HAMMER, PRINTED),
    Check("surge.joukowsky_m", (1000.0, 1.0, G), 101.972, 5e-6, "CALC unit case", PRINTED),
    Check("surge.wave_return_s", (1000.0, 1191.367), 1.679, 3e-4, _HAMMER, PRINTED),
    Check("surge.closing_surge_m", (1000.0, 2.0, 1191.367, 5.0, G), 81.5, 2e-3, _HAMMER,
          "the page rounds its steps"),
    Check("surge.closing_surge_m", (1000.0, 2.0, 1191.367, 1.0, G), 242.9, 3e-4, _HAMMER, PRINTED),
    Check("surge.least_closing_s", (1000.0, 2.0, 1191.367, 81.5775, G), 5.0, 2e-5, _HAMMER,
          ROUND_TRIP),
    Check("suction.npsh_available_m", (101325.0, 2339.318, 2.0, 0.5, 998.2072, G), 11.61186, 1e-6,
          "CALC, density and vapour pressure RUN iapws and CoolProp", PRINTED),
    Check("suction.npsh_available_m", (101325.0, 2339.318, -3.0, 0.5, 998.2072, G), 6.61186, 1e-6,
          "CALC, as above", PRINTED),
    Check("suction.npsh_available_m",
          (5 * 6894.757293 + 101325.0, 1766.0, -25 * 0.3048, 6 * 0.3048, 999.02, G),
          13.887, 0.01, "READ fluids notebook of Crane TP-410 example 7.32, in feet",
          "the notebook takes its own density and vapour pressure at 60 degF",
          absolute=True, scale=1 / 0.3048),
    Check("suction.siphon_crest_Pa", (1e5, 4.0, 8.854377448, 0.0, 1000.0, 9.8), 21600.0, 1e-8,
          "READ a physics final (blog.thelifeofkenneth.com 2008-12): crest 4 m up, outlet 4 m "
          "down, 8.85 m/s; pressure CALC by Bernoulli"),
    Check("suction.highest_siphon_m", (101300.0, 100.0, 0.0, 1000.0, 9.8), 10.3, 5e-3,
          "MEM textbook answer 10.3 m for water under 1.013e5 Pa, vapour pressure neglected",
          PRINTED),
    Check("suction.air_lock_head_m", (((5.0, 3.5), (4.0, 3.0), (2.0, 2.5)),), 2.5, 1e-15,
          "CALC by hand: falls of 1.5 and 1 m, a rise counts nothing"),
    Check("suction.air_clearing_velocity_m_s", (0.1, 90.0, G), 1.0645567, 1e-7,
          "CALC Wisner 1975; form READ as quoted from Sanks, eng-tips thread 202513", PRINTED),
    Check("valve.kv_from_cv", (1.0,), 0.8649776554, 1e-10, "RUN fluids 1.3.1 Cv_to_Kv", PRINTED),
    Check("valve.required_kv_m3_h", (0.1, 460e3, 965.4), 165.0, 1e-3,
          "IEC 60534-2-1 example 1: 165 (MEM), 164.9955 RUN fluids 1.3.1",
          "the standard's density is relative to water of 15 degC"),
    Check("valve.required_kv_m3_h",
          (250 * 3.785411784e-3 / 60, 9.8 * 6894.757293, 60.998 * 16.01846337), 79.94, 0.015,
          "READ fluids notebook of Crane TP-410 example 7.27, as Cv",
          "Crane's valve stands between reducers, which cost 1.3 % of its Cv",
          scale=1.1560992283536566),
    Check("valve.choked_pressure_drop_Pa", (0.9, 680e3, 70.1e3, 22120e3), 497.18525, 1e-6,
          "IEC 60534-2-1 example 1; F_F 0.9442375 RUN fluids 1.3.1", PRINTED, scale=1e-3),
    *[
        Check("valve.equal_percentage_frac", (x, 50.0), f, 3e-7,
              "CALC; form of IEC 60534-2-4 MEM", PRINTED)
        for x, f in _EQUAL
    ],
    *[
        Check("valve.equal_percentage_travel_frac", (f, 50.0), x, 1e-7,
              "CALC; form of IEC 60534-2-4 MEM", ROUND_TRIP, absolute=True)
        for x, f in _EQUAL
    ],
    Check("valve.linear_frac", (0.5, 50.0), 0.51, 1e-15, "CALC; form of IEC 60534-2-4 MEM"),
    Check("valve.measured_frac", (0.25, (0.0, 0.5, 1.0), (0.0, 0.2, 1.0)), 0.1, 1e-15,
          "RUN numpy 2.4 interp"),
    Check("valve.authority", (0.9, 9.0), 0.1, 1e-15, "CALC by hand"),
    Check("valve.installed_frac", (0.5, 1.0), 0.5, 1e-15, "CALC: alone it is the inherent curve"),
    Check("valve.installed_frac", (0.14142136, 0.1), 0.4116935, 1e-6,
          "CALC two quadratic losses in series by hand: 1 / sqrt(0.9 + 0.1 / 0.02)", PRINTED),
    *[
        Check("pipes.Pipe.resistance_s2_m5",
              (Make("pipes.Pipe", (10.0, d, 1.5e-6, 0.0, NU_20, G)), q), h, 0.006,
              "RUN fluids 1.3.1, Colebrook and laminar", _HEAD_COLEBROOK, scale=q * q)
        for q, d, _, h in _HOSES
    ],
    Check("valve.resistance_s2_m5", (1.2, G), 1e5 / 9806.65, 1e-12,
          "CALC 1 bar as head of water at 1.2 m3/h", scale=(1.2 / 3600) ** 2),
    Check("valve.kv_of_resistance_m3_h", (1e5 / 9806.65 / (1.2 / 3600) ** 2, G), 1.2, 1e-12,
          "CALC as above"),
)  # fmt: skip
