"""Outside values for tank shapes."""

from tests.reference.model import PRINTED, ROUND_TRIP, Check, Make

TANK = "RUN fluids 1.3.1 geometry.TANK"
QUAD = "RUN scipy 1.17 quad of the chord"
HANDBOOK = (
    "READ civilengineeringhandbook.tk, gauging a horizontal cylindrical tank: 16 % of the "
    "depth is 10.3 % of the capacity, 44 % is 42.4 %"
)
_BOX = Make("tanks.Rectangular", (1.2, 0.8, 1.0))
_DRUM = Make("tanks.UprightCylinder", (0.5715, 0.8509))
_LYING = Make("tanks.HorizontalCylinder", (1.2, 2.5))
_UNIT = Make("tanks.HorizontalCylinder", (1.0, 1.0))
_TABLE = Make("tanks.LevelTable", ((0.0, 0.2, 0.4, 0.8), (0.0, 0.066, 0.155, 0.41)))
_HALF_DISC = "CALC handbook centroid of a half disc, 4 R / (3 pi) from the diameter"

_LYING_VOLUMES = (
    (0.1, 0.112538890),
    (0.3, 0.552766364),
    (0.6, 1.413716694),
    (0.9, 2.274667024),
    (1.1, 2.714894498),
)
_DRUM_VOLUMES = ((0.2, 0.051304132), (0.4254, 0.109123889), (0.8509, 0.218273431))
_FRACTIONS = (
    (0.05, 0.01869304),
    (0.1, 0.05204402),
    (0.16, 0.10327548),
    (0.25, 0.19550111),
    (0.44, 0.42378937),
    (0.5, 0.5),
    (0.75, 0.80449889),
    (0.9, 0.94795598),
)
_SLABS = (
    (0.0, 0.3, 0.5527663643739407, 0.17698790286086027),
    (0.6, 0.9, 0.8609503297414665, 0.7465510106908142),
    (0.5, 0.500001, 2.958040314210547e-06, 0.5000005000000238),
    (0.0, 1.2, 2.8274333882308142, 0.6),
)

CHECKS = (
    Check("tanks.Rectangular", (1.2, 0.8, 1.0), 0.96, 1e-15, "CALC by hand", item="capacity_m3"),
    Check("tanks.Rectangular.volume_m3", (_BOX, 0.35), 0.336, 1e-15, "CALC by hand"),
    Check("tanks.Rectangular.level_m", (_BOX, 0.336), 0.35, 1e-15, "CALC by hand"),
    Check("tanks.Rectangular.centroid_m", (_BOX, 0.35), 0.175, 1e-15, "CALC by hand"),
    Check("tanks.Rectangular.slab", (_BOX, 0.25, 0.35), 0.096, 1e-14, "CALC by hand", item=0),
    Check("tanks.Rectangular.slab", (_BOX, 0.25, 0.35), 0.3, 1e-14, "CALC by hand", item=1),
    Check("tanks.UprightCylinder", (0.5715, 0.8509), 0.218273431, 1e-8, TANK, PRINTED,
          item="capacity_m3"),
    *[
        Check("tanks.Rectangular.volume_m3", (_DRUM, h), v, 1e-8, TANK, PRINTED)
        for h, v in _DRUM_VOLUMES
    ],
    Check("tanks.HorizontalCylinder", (1.2, 2.5), 2.8274333882, 1e-9, QUAD, PRINTED,
          item="capacity_m3"),
    *[
        Check("tanks.HorizontalCylinder.volume_m3", (_LYING, h), v, 5e-9, TANK, PRINTED)
        for h, v in _LYING_VOLUMES
    ],
    *[
        Check(
            "tanks.HorizontalCylinder.volume_m3", (_UNIT, h), f, 5e-7, TANK, PRINTED,
            scale=1.2732395447351628,
        )
        for h, f in _FRACTIONS
    ],
    Check(
        "tanks.HorizontalCylinder.volume_m3", (_UNIT, 0.16), 10.3, 0.05, HANDBOOK, PRINTED,
        absolute=True, scale=127.32395447351628,
    ),
    Check(
        "tanks.HorizontalCylinder.volume_m3", (_UNIT, 0.44), 42.4, 0.05, HANDBOOK, PRINTED,
        absolute=True, scale=127.32395447351628,
    ),
    *[
        Check("tanks.HorizontalCylinder.level_m", (_LYING, v), h, 1e-8, TANK, ROUND_TRIP)
        for h, v in _LYING_VOLUMES
    ],
    Check(
        "tanks.HorizontalCylinder.centroid_m", (_UNIT, 0.5), 0.28779340921080643, 1e-14, _HALF_DISC
    ),
    *[
        Check("tanks.HorizontalCylinder.slab", (_LYING, low, high), v, 1e-9, QUAD,
              "the integral's own error on a thin slab", item=0)
        for low, high, v, _ in _SLABS
    ],
    *[
        Check("tanks.HorizontalCylinder.slab", (_LYING, low, high), z, 1e-12, QUAD, item=1)
        for low, high, _, z in _SLABS
    ],
    Check(
        "tanks.LevelTable", ((0.0, 0.2, 0.4, 0.8), (0.0, 0.066, 0.155, 0.41)), 0.41, 0.0,
        "CALC by hand", item="capacity_m3",
    ),
    Check("tanks.LevelTable.volume_m3", (_TABLE, 0.3), 0.1105, 1e-14, "RUN numpy 2.4 interp"),
    Check("tanks.LevelTable.level_m", (_TABLE, 0.1105), 0.3, 1e-14, "RUN numpy 2.4 interp"),
    Check(
        "tanks.LevelTable.centroid_m", (_TABLE, 0.4), 0.21483870967741936, 1e-14,
        "CALC (0.066 x 0.1 + 0.089 x 0.3) / 0.155",
    ),
    Check("tanks.LevelTable.slab", (_TABLE, 0.1, 0.3), 0.0775, 1e-14, "CALC by hand", item=0),
    Check(
        "tanks.LevelTable.slab", (_TABLE, 0.1, 0.3), 0.20741935483870967, 1e-14,
        "CALC (0.033 x 0.15 + 0.0445 x 0.25) / 0.0775", item=1,
    ),
)  # fmt: skip
