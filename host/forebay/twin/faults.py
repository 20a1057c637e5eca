"""The catalogue of faults: what sticks, in which mode, which element must act, how soon.

A fault is a name in this table; `apply` changes the plant or the wiring, never
the keeper.  What it changes stays so until the run ends.
"""

from keeper.elements import PUMP_MODE, TURBINE_MODE

ANY_MODE = -1
CUT_S = 600.0                      # how long the board's supply stays off
EDGE_S, FULL_S, SHADE_S = 2.0, 60.0, 120.0
FULL_W_M2, SHADE_W_M2 = 1000.0, 150.0

# name, what sticks, mode it needs, first element ("" = none), at most [s] after
# the condition (plus one flash stall), what a person sees
FAULTS = (
    ("upper-float-stuck", "71H-UP never lifts", PUMP_MODE, "71HH-UP", 0.5,
     "the second float stops the pump, in hardware and in firmware"),
    ("upper-float-cut", "the loop of 71H-UP opens", PUMP_MODE, "71H-UP", 0.5,
     "a cut wire reads as a full tank and stops the pump"),
    ("lower-tank-dry", "inflow and water of the lower tank are gone", PUMP_MODE, "71L-LO", 1.0,
     "the low float stops the pump before it runs dry"),
    ("jacket-blocked", "cooling of the motor falls to still air", PUMP_MODE, "26-MOT", 0.0,
     "the motor's sensor stops the pump; its limit is passed by 3 K at most"),
    ("load-lost", "the lamps' lead opens", TURBINE_MODE, "59-GEN", 0.3,
     "the clamp holds the voltage, the keeper records it and shuts the valve"),
    ("cloud-edge", "1000, 150, 1000 W/m2, each edge in 2 s", PUMP_MODE, "", 0.0,
     "nothing trips; the pump may pause"),
    ("power-cut", "the board's supply is off for 10 min", ANY_MODE, "", 0.0,
     "a new boot, a whole journal; the valve stays where it was, as the rig states"),
)
F_NAME, F_WHAT, F_MODE, F_FIRST, F_WITHIN_S, F_SEEN = range(6)
NAMES = tuple([row[F_NAME] for row in FAULTS])


class Wiring:
    """What lies between the floats and the board: loops that can stick or be cut."""

    def __init__(self):
        self.full_stuck = False
        self.full_cut = False


def cloud_from(start_s):
    """Return the irradiance of a cloud's edges as a function of time [s] -> [W/m2] or None."""
    def irradiance(time_s):
        since = time_s - start_s
        for length, begin, end in ((FULL_S, FULL_W_M2, FULL_W_M2), (EDGE_S, FULL_W_M2, SHADE_W_M2),
                                   (SHADE_S, SHADE_W_M2, SHADE_W_M2),
                                   (EDGE_S, SHADE_W_M2, FULL_W_M2),
                                   (FULL_S, FULL_W_M2, FULL_W_M2)):
            if since < length:
                return begin + (end - begin) * since / length
            since -= length
        return None
    return irradiance


def apply(name, plant, wiring):
    """Bring a fault of the catalogue on; `power-cut` is the run's own business."""
    if name == "upper-float-stuck":
        wiring.full_stuck = True
    elif name == "upper-float-cut":
        wiring.full_cut = True
    elif name == "lower-tank-dry":
        plant.drain_lower()
    elif name == "jacket-blocked":
        plant.jacket_blocked = True
    elif name == "load-lost":
        plant.down.lamps_connected = False
    elif name == "cloud-edge":
        plant.cloud = cloud_from(plant.time_s)
        plant.next_sun_s = plant.time_s
    elif name != "power-cut":
        raise ValueError("no fault " + name)
