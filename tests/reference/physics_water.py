"""Outside values for water, gravity, and the functions that all of the physics uses."""

from tests.reference.model import PRINTED, Check

IAPWS = "RUN iapws 1.5.5 IAPWS95 and CoolProp 8.0.0, which agree"
KELL = "CALC Kell 1975 with the coefficients of Jones and Harris 1992 (READ PMC4909168)"
VISCOSITY = "SR6-08 is a fit to the 2008 viscosity release; good to 1e-4 here"
AIR = "Kell and IAPWS-95 differ by less than 0.004 kg/m3 from 0 to 60 degC"

_DENSITY = (
    (0.01, 999.8438, 999.8402),
    (4.0, 999.9749, 999.9720),
    (10.0, 999.7025, 999.6996),
    (20.0, 998.2072, 998.2041),
    (25.0, 997.0476, 997.0449),
    (30.0, 995.6495, 995.6473),
    (40.0, 992.2164, 992.2158),
    (60.0, 983.1958, 983.1989),
)
_VISCOSITY_mPa_s = (
    (5.0, 1.518173),
    (10.0, 1.305900),
    (15.0, 1.137568),
    (20.0, 1.001596),
    (25.0, 0.8900225),
    (30.0, 0.7972218),
    (40.0, 0.6527287),
)
_VAPOUR_Pa = (
    (0.01, 611.655),
    (5.0, 872.575),
    (10.0, 1228.199),
    (20.0, 2339.318),
    (25.0, 3169.929),
    (30.0, 4246.971),
    (40.0, 7384.938),
)
_WGS84 = "CALC Somigliana; constants READ in a copy of the encyclopaedia article on it"
_SOMIGLIANA = (
    (0, 9.7803253),
    (30, 9.7932473),
    (40, 9.8016969),
    (45, 9.8061978),
    (52, 9.8124741),
    (60, 9.8191770),
    (90, 9.8321849),
)
_HEIGHT = (
    (45, 100, 9.8058892),
    (45, 1000, 9.8031129),
    (40, 1600, 9.7967612),
    (35.04, 1619, 9.7923752),
    (39.742476, 1830.14, 9.7958224),
)
_ATMOSPHERE_Pa = (
    (0, 101325.0),
    (500, 95461.29),
    (1000, 89876.29),
    (1500, 84559.68),
    (2000, 79501.42),
    (3000, 70121.16),
)
_TR8350 = "CALC second-order height term of TR8350.2 (form READ hpmuseum.org thread 17495)"

CHECKS = (
    *[
        Check("water.density_kg_m3", (t,), iapws, 0.004, IAPWS, AIR, absolute=True)
        for t, iapws, _ in _DENSITY
    ],
    *[
        Check("water.density_kg_m3", (t,), kell, 1e-4, KELL, PRINTED, absolute=True)
        for t, _, kell in _DENSITY
    ],
    *[
        Check("water.dynamic_viscosity_Pa_s", (t,), mu, 1e-4, IAPWS, VISCOSITY, scale=1e3)
        for t, mu in _VISCOSITY_mPa_s
    ],
    Check("water.kinematic_viscosity_m2_s", (20.0,), 1.0034e-6, 1e-4, IAPWS, VISCOSITY),
    *[
        Check(
            "water.vapour_pressure_Pa",
            (t,),
            p,
            1e-4,
            "RUN CoolProp 8.0.0",
            "the 1993 equation and IAPWS-95 agree within 6e-5",
        )
        for t, p in _VAPOUR_Pa
    ],
    Check("water.freezing_margin_K", (4.0, 0.5, 2.0), 1.5, 0.0, "CALC by hand"),
    *[
        Check("gravity.normal_m_s2", (lat, 0.0), g, 6e-8, _WGS84, PRINTED, absolute=True)
        for lat, g in _SOMIGLIANA
    ],
    *[
        Check(
            "gravity.normal_m_s2",
            (lat, 0.0),
            g,
            6e-11,
            "MEM TR8350.2, normal gravity",
            PRINTED,
            absolute=True,
        )
        for lat, g in ((0.0, 9.7803253359), (90.0, 9.8321849378))
    ],
    *[
        Check("gravity.normal_m_s2", (lat, h), g, 6e-8, _TR8350, PRINTED, absolute=True)
        for lat, h, g in _HEIGHT
    ],
    *[
        Check(
            "gravity.air_pressure_Pa",
            (h,),
            p,
            0.01,
            "RUN fluids 1.3.1 atmosphere.ATMOSPHERE_1976",
            PRINTED,
            absolute=True,
        )
        for h, p in _ATMOSPHERE_Pa
    ],
    Check("checks.number_text", (1.25,), "1.25", 0.0, "RUN CPython '%g'"),
    Check("checks.number_text", (-0.00012345678,), "-0.000123457", 0.0, "RUN CPython '%g'"),
    Check("checks.number_text", (999999.6,), "1e6", 0.0, "RUN CPython '%g', exponent unpadded"),
    Check("table.row_below", (2.5, (0.0, 1.0, 2.0, 3.0)), 2, 0.0, "RUN numpy searchsorted - 1"),
    Check(
        "table.interpolate",
        (2.5, (1.0, 2.0, 4.0), (10.0, 20.0, 0.0)),
        15.0,
        1e-15,
        "RUN numpy 2.4 interp",
    ),
)
