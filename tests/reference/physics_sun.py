"""Outside values for the panel, the motor behind it and their heat."""

from tests.reference.model import PRINTED, ROUND_TRIP, Check, Make

PVLIB = "RUN pvlib 0.16.1"
DESOTO = f"{PVLIB} calcparams_desoto, the 36-cell 130 W record of its CEC table"
SINGLE = f"{PVLIB} singlediode"
_CONDITIONS = (  # W/m2, degC, I_L, I_0, Rsh, a, Pmp
    (1000.0, 25.0, 8.039044, 9.011866e-10, 86.929924, 0.957177, 130.06397),
    (800.0, 45.0, 6.5082272, 2.116744233299031e-08, 108.662405, 1.021384747777964, 94.524696),
    (500.0, 35.0, 4.043582, 4.5898519497904355e-09, 173.859848, 0.9892808738889821, 62.275472),
    (200.0, 25.0, 1.6078088, 9.011866e-10, 434.64962, 0.957177, 25.601545),
    (1000.0, 60.0, 8.207464, 1.7743524664929813e-07, 86.929924, 1.069540558611437, 107.976165),
)
_SERIES = 0.20642
_UNIT = (7.0, 6e-7, 0.5, 0.1, 20.0)
_WARM = (6.5082272, 2.116744233299031e-08, 1.021384747777964, _SERIES, 108.662405)
_NAMEPLATE = (29.0, 4.5, 23.8, 4.2, 5e-4, -3.2e-3)
_PLATE = (21.9, 8.02, 17.6, 7.39, 0.00318 / 8.02, -0.0821 / 21.9)
_BATZELIS = f"{PVLIB} ivtools.sdm.fit_desoto_batzelis, which takes 50.1 too"
_TEXTBOOK = "READ homeworksource.com 1085257: 0.5 ohm, 120 V, 20 rev/s, 40 A: 800 W lost of 4800 W"
_HEAT = "CALC; formula READ in two makers' relay manuals"
_COLD = ((1.05, 600.0, 1.5, 404.006732), (1.05, 600.0, 2.0, 193.467639),
         (1.05, 600.0, 6.0, 18.662247), (1.0, 1800.0, 2.0, 517.827730),
         (1.05, 300.0, 1.2, 435.249865), (1.1, 120.0, 3.0, 17.326046))  # fmt: skip
_HOT = ((0.9, 1.5, 136.234470), (0.9, 2.0, 57.703572), (0.9, 6.0, 5.008055),
        (1.0, 1.5, 51.334733), (1.0, 2.0, 20.858395), (1.0, 6.0, 1.759721))  # fmt: skip
_NTU = "RUN ht 1.2.0 hx.effectiveness_from_NTU(Cr=0) x stream"

CHECKS = (
    *[Check("panel.light_current_A", (8.039044, 0.004812, s, t), light, 1e-12, DESOTO)
      for s, t, light, *_ in _CONDITIONS],
    *[Check("panel.saturation_current_A", (9.011866e-10, t), dark, 2e-9, DESOTO,
            "pvlib's Boltzmann constant has nine digits, in an exponent of 40")
      for _, t, _, dark, *_ in _CONDITIONS],
    *[Check("panel.modified_ideality_V", (0.957177, t), a, 1e-12, DESOTO)
      for _, t, _, _, _, a, _ in _CONDITIONS],
    *[Check("panel.shunt_resistance_ohm", (86.929924, s), shunt, 1e-12, DESOTO)
      for s, _, _, _, shunt, *_ in _CONDITIONS],
    *[Check("panel.max_power_point", (light, dark, a, _SERIES, shunt), power, 2e-8,
            DESOTO + " and singlediode", PRINTED, item=2)
      for _, _, light, dark, shunt, a, power in _CONDITIONS],
    Check("panel.max_power_point", _UNIT, 6.224339, 5e-7, SINGLE, PRINTED, item=0),
    Check("panel.max_power_point", _UNIT, 6.136267, 5e-7, SINGLE, PRINTED, item=1),
    Check("panel.max_power_point", _UNIT, 38.194211, 5e-8, SINGLE, PRINTED, item=2),
    Check("panel.open_circuit_V", _UNIT, 8.106300, 1e-7, SINGLE, PRINTED),
    Check("panel.open_circuit_V", _WARM, 19.932608, 1e-7, SINGLE, PRINTED),
    Check("panel.terminal_current_A", (0.0, *_UNIT), 6.965172, 1e-7, SINGLE, PRINTED),
    Check("panel.terminal_current_A", (6.0, *_UNIT), 6.322563176365112, 1e-12,
          f"{PVLIB} i_from_v"),
    Check("panel.terminal_current_A", (15.897089, *_WARM), 5.946038, 1e-7, SINGLE, PRINTED),
    Check("panel.current_at_junction_A", (7.5, 7.0, 6e-7, 0.5, 20.0), 4.663590176516734, 1e-12,
          f"{PVLIB} singlediode.bishop88"),
    *[Check("panel.fit_nameplate", _PLATE, value, 1e-12, _BATZELIS, item=item)
      for item, value in enumerate((8.041297319346828, 4.521168896067741e-10, 0.9279004097859769,
                                    0.19645020459704593, 73.97788497278444))],
    Check("panel.ideality_factor", (0.957177, 36.0, 25.0), 1.0348, 1e-4,
          "CALC a q / (36 k T) with scipy.constants", PRINTED),
    Check("motor.constant_from_no_load_V_s", (50.0, 1.25, 219.911486, 1.03), 0.22, 0.01,
          "MEM textbook example of a 1.03 ohm motor at 50 V, 2100 rpm, 1.25 A: 0.22", PRINTED),
    Check("motor.constant_from_no_load_V_s", (120.0, 40.0, 125.66370614, 0.5), 0.795774715, 1e-8,
          "CALC from " + _TEXTBOOK),
    Check("motor.stall_current_A", (5.0, 0.5), 10.0, 1e-15,
          "READ physicsforums.com 796644, locked rotor: 5 V, 10 A, 0.5 ohm"),
    *[Check("heat.rise_frac", (x,), f, 1e-9, "CALC; first-order step, any control handbook",
            PRINTED) for x, f in ((1.0, 0.632120559), (3.0, 0.950212932), (5.0, 0.993262053))],
    Check("heat.rise_frac", (1e-4,), 9.99950001666625e-05, 1e-14, "RUN CPython math.expm1"),
    Check("heat.steady_temperature_degC", (8.0, 25.0, 5.0), 65.0, 1e-15, "CALC by hand"),
    Check("heat.next_temperature_degC", (25.0, 8.0, 25.0, 5.0, 900.0, 600.0), 44.463315, 1e-8,
          "CALC 25 + 40 (1 - exp(-2/3))", PRINTED),
    Check("heat.time_to_temperature_s", (25.0, 44.463315, 65.0, 900.0), 600.0, 1e-7,
          "CALC as above", ROUND_TRIP),
    *[Check("heat.cold_trip_time_s", (i, k, tau), t, 5e-8, _HEAT, PRINTED)
      for k, tau, i, t in _COLD],
    *[Check("heat.hot_trip_time_s", (i, p, 1.05, 600.0), t, 3e-7, _HEAT, PRINTED)
      for p, i, t in _HOT],
    *[Check("heat.next_thermal_level", (0.0, i, k, tau, t), 1.0, 1e-8, _HEAT, ROUND_TRIP)
      for k, tau, i, t in _COLD],
    Check("heat.jacket_conductance_W_K", (1e-5, 2.0, 1000.0, 4184.0), 1.9529514870579379, 1e-12,
          _NTU),
    Check("heat.jacket_conductance_W_K", (1e-5, 62.76, 1000.0, 4184.0), 32.5042340993897, 1e-12,
          _NTU),
    Check("heat.cooling_resistance_K_W", (1e-5, 2.0, 5.0, 1000.0, 4184.0), 0.46447865, 1e-7,
          "CALC 1 / (1.9529515 + 0.2)", PRINTED),
    Check("heat.trapped_water_rate_K_s", (30.0, 50e-6, 998.2072, 4184.1), 0.143, 6e-3,
          "CALC 30 W into 50 mL", PRINTED),
    Check("panel.Panel", (_NAMEPLATE,), 4.5073706, 2e-7, "RUN pvlib 0.16.1 "
          "ivtools.sdm.fit_desoto_batzelis", PRINTED, item="light_ref"),
    Check("panel.Panel.shine", (Make("panel.Panel", (_NAMEPLATE,)), 500.0, 25.0), 2.2536853, 2e-7,
          "RUN pvlib 0.16.1 calcparams_desoto", PRINTED),
    Check("panel.Panel.load_A", (Make("panel.Panel", (_NAMEPLATE,)), 0.1, 0.0), 0.0, 0.0,
          "CALC: dark"),
)  # fmt: skip
