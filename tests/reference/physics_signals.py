"""Outside values for conductors, sensors and energy."""

from tests.reference.model import PRINTED, ROUND_TRIP, Check, Make

G = 9.80665
_AWG = (  # gauge, diameter mm, mohm/m at 20 degC
    (10, 2.588187, 3.27711),
    (12, 2.052525, 5.21081),
    (14, 1.627727, 8.28551),
    (16, 1.290846, 13.17448),
    (18, 1.023687, 20.94824),
    (20, 0.811821, 33.30900),
    (22, 0.643803, 52.96338),
    (24, 0.510559, 84.21508),
)
_COPPER = "CALC, 58 MS/m (IACS)"
_NEC = "READ wiresizeguide.com quoting NEC chapter 9 table 8, ohm/kft at 75 degC, stranded"
_NEC_OHM_KFT = ((14, 3.14), (12, 1.98), (10, 1.24), (8, 0.778))
_B3950 = ((0, 33620.60), (10, 20174.58), (40, 5301.47), (50, 3588.18), (60, 2486.17),
          (80, 1270.32), (100, 697.52))  # fmt: skip
_A, _B, _C = 8.802056817e-4, 2.528678842e-4, 1.853428869e-7
_NTC = "READ a maker's 10k table quoted in the Linux driver ntc_thermistor.c"
_NTC_ROWS = ((0, 27326, 0.001), (10, 17973, 0.003), (25, 10000, 0.001), (40, 5825, 0.003),
             (50, 4158, 0.001), (60, 3019, 0.007), (85, 1451, 0.061),
             (100, 973, 0.073))  # fmt: skip
_ROOM = 998.2072
_CUBE = Make("tanks.Rectangular", (1.0, 1.0, 1.0))

CHECKS = (
    *[Check("electrical.gauge_diameter_m", (n,), d, 5e-7, "CALC ASTM B258 rule", PRINTED,
            scale=1e3) for n, d, _ in _AWG],
    Check("electrical.gauge_section_m2", (12,), 3.309, 2e-4,
          "MEM handbook: 12 AWG is 3.309 mm2", PRINTED, scale=1e6),
    *[Check("electrical.conductor_ohm", (1.0, 0.25e-6 * 3.141592653589793 * d * d, 20.0), r, 3e-6,
            _COPPER, PRINTED, scale=1e3) for _, d, r in _AWG],
    *[Check("electrical.conductor_ohm",
            (304.8, 0.25 * 3.141592653589793 * (0.127e-3 * 92 ** ((36 - n) / 39)) ** 2, 75.0),
            r, 0.03, _NEC, "lay of the strands, 2 %, and the code's rounding")
      for n, r in _NEC_OHM_KFT],
    Check("electrical.copper_ratio", (80.0,), 1.2358, 1e-12, "CALC alpha 0.00393 (MEM IEC 60028)"),
    Check("electrical.copper_ratio", (80.0,), 315 / 255, 1e-3, "CALC constant 235 (MEM IEC 60034)",
          "the two standards round differently"),
    Check("electrical.winding_temperature_degC", (1.0, 1.2358, 20.0), 80.0, 1e-9, "CALC",
          ROUND_TRIP),
    Check("electrical.winding_temperature_degC", (1.0, 1.2358, 20.0), 1.2358 * 255 - 235, 2e-3,
          "CALC (R2 / R1)(235 + t1) - 235, the constant MEM IEC 60034",
          "1 / 0.00393 - 20 is 234.45, not 235: 0.55 K in 255 on a rise of a quarter"),
    Check("electrical.voltage_drop_V", (5.0, 10.0, 3.3087735e-6, 20.0), 0.521081, 1e-5,
          "CALC 5 A, 10 m of 12 AWG", PRINTED),
    Check("electrical.voltage_drop_V", (5.0, 10.0, 1.3087094e-6, 20.0), 1.317448, 2e-5,
          "CALC 5 A, 10 m of 16 AWG", PRINTED),
    Check("electrical.voltage_drop_V", (1.0, 20.0, 1.3e-6, 29.0), 0.549, 1.5e-3,
          "READ solar builder's page (doityourselfsolarenergyprojects.blogspot.com 2010-11): 1 A, "
          "20 m of 1.3 mm2, 0.01785 ohm mm2/m", "its copper is that of 29 degC, to half a degree"),
    *[Check("electrical.fuse_margin_frac", (fuse, 0.8 * fuse), 0.25, 1e-12,
            "MEM NEC 210.20(A), 240.4(D): 15, 20, 30 A protect 14, 12, 10 AWG, and carry 80 % of "
            "that for long") for fuse in (15.0, 20.0, 30.0)],
    Check("electrical.fuse_margin_frac", (5.0, 4.0), 0.25, 1e-12,
          "PRACTICE: continuous load at most 80 % of the rating"),
    Check("electrical.panel_blows_fuse", (10.0, 4.5, 1.45), False, 0.0,
          "PRACTICE: a panel does not blow its own fuse"),
    Check("electrical.contact_margin_frac", (60.0, 5.0, 40.0, 4.0), 0.25, 1e-12, "CALC by hand"),
    Check("electrical.divider_V", (33.0, 90000.0, 10000.0), 3.3, 1e-12, "CALC by hand"),
    Check("electrical.divider_source_ohm", (90000.0, 10000.0), 9000.0, 1e-12, "CALC by hand"),
    Check("electrical.shunt_ohm_for", (0.08192, 0.8192), 0.1, 1e-12,
          "READ register ranges in data sheet SBOS547: 81.92 mV"),
    *[Check("electrical.shunt_clip_A", (v, 0.1), i, 1e-12,
            "READ cdwilson.us on ranges of monitors; data sheet SBOS547")
      for v, i in ((0.32, 3.2), (0.16, 1.6), (0.08, 0.8), (0.04, 0.4), (0.08192, 0.8192))],
    Check("sensors.beta_degC", (5000.0, 10000.0, 3950.0), 41.460235, 2e-8, "CALC, pure Beta",
          PRINTED),
    *[Check("sensors.beta_degC", (r, 10000.0, 3950.0), t, 2e-4, "CALC, pure Beta", ROUND_TRIP,
            absolute=True) for t, r in _B3950],
    *[Check("sensors.steinhart_hart_degC", (r, _A, _B, _C), t, tol, _NTC,
            "the three-point fit's own error, growing outside 0 to 50 degC", absolute=True)
      for t, r, tol in _NTC_ROWS],
    *[Check("sensors.steinhart_hart_ohm", (t, _A, _B, _C), r, 0.052 * tol, _NTC,
            "the fit's error in kelvin, at 5.2 % a kelvin or less") for t, r, tol in _NTC_ROWS],
    *[Check("sensors.steinhart_hart_fit", (((0.0, 27326.0), (25.0, 10000.0), (50.0, 4158.0)),),
            value, 2e-9, "CALC exact three-point solution", PRINTED, item=item)
      for item, value in enumerate((_A, _B, _C))],
    Check("sensors.pulse_flow_m3_s", (75.0, 450.0), 10.0, 1e-12,
          "READ shop pages of half-inch hall meters: Hz = 7.5 L/min", scale=6e4),
    Check("sensors.pressure_level_m", (98066.5, 1000.0, G, 0.0), 10.0, 1e-12,
          "CALC 10 m of water is 98.0665 kPa"),
    Check("sensors.pressure_level_m", (6894.757293168361, _ROOM, G, 0.0), 0.70433231, 2e-8,
          "CALC 1 psi, psi RUN scipy.constants, density RUN iapws", PRINTED),
    Check("sensors.pressure_level_m", (98066.5, _ROOM, G, 0.0), 10.017960199044849, 1e-12,
          "RUN fluids 1.3.1 core.head_from_P"),
    Check("sensors.pressure_level_m", (101325.0, 999.972, G, 0.0), 10.3326, 1e-5,
          "MEM handbook: an atmosphere is 10.3326 m of water at 4 degC", PRINTED),
    Check("sensors.loop_frac", (12.0,), 0.5, 1e-12, "CALC live zero 4 mA, 20 mA full"),
    Check(
        "energy.energy_J", (_CUBE, 1.0, 8.5, 1000.0, 9.80665), 88259.85, 1e-12,
        "CALC 1 m3 with its centroid at 9 m, 24.5166 Wh",
    ),
    Check(
        "energy.energy_J", (_CUBE, 1.0, 8.5, 998.2072, 9.80665), 88101.62, 1e-7,
        "CALC, density RUN iapws", PRINTED,
    ),
    Check(
        "energy.energy_between_J", (_CUBE, 0.05, 0.95, 9.0, 998.2072, 9.80665), 83696.54, 1e-7,
        "CALC 998.2072 x 9.80665 x 0.9 x 9.5", PRINTED,
    ),
    Check("energy.volume_for_energy_m3", (2.4 * 3600, 9.0, _ROOM, G), 98.069, 1e-5,
          "CALC one nickel-metal hydride AA cell in litres at 9 m", PRINTED, scale=1e3),
    Check("energy.volume_for_energy_m3", (3.9 * 3600, 9.0, _ROOM, G), 159.361, 1e-5,
          "CALC one alkaline AA cell in litres at 9 m", PRINTED, scale=1e3),
    Check("energy.chain_efficiency_frac", ((0.25, 0.9, 0.94, 0.6, 0.6, 0.9),), 0.0685, 1e-3,
          "PRACTICE steps from panel to lamp, product CALC", PRINTED),
)  # fmt: skip
