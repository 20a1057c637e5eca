"""A span's own conditions through the unmodified keeper: its sun, its wishes for light.

Runs in the process of `stage`, for any Python from 3.9: the twin, the keeper, the standard
library.  What was wished for is given as orders; dusk and clock start no light of their own.
"""

from forebay.rehearse.stage import L_PER_M3, STOP, journal_of

MINUTE_PERIODS = 600     # of 0.1 s
S_PER_MIN, MW = 60.0, 1000.0
TOLD_EVERY_MIN = 10
LEAST_MIN = 1            # an order is for a minute at least


def play(job, caller):
    """Play a job's span through, tell how far it is, and what came of it."""
    from forebay.twin.twin import Twin
    from keeper import settings as st

    settings = list(job["settings"])
    settings[st.index("at_dusk")] = 0
    settings[st.index("clock_on_min")] = settings[st.index("clock_off_min")] = -1
    twin = Twin(job["rig"], settings, job["sun"], lambda: journal_of(job),
                [(at_s, name) for at_s, name in job["faults"]], job["seed"])
    course = _Course(twin)
    wishes = [tuple(one) for one in job["wishes"]]
    for minute in range(job["minutes"]):
        while wishes and wishes[0][0] <= minute * S_PER_MIN:
            _order(twin, wishes.pop(0), minute)
        twin.run(MINUTE_PERIODS)
        course.see()
        if minute % TOLD_EVERY_MIN == 0:
            caller.tell(periods=twin.periods)
            if caller.hear() == STOP:
                break
    caller.tell(came=course.came())


def _order(twin, wish, minute):
    """Order a light: (from, to [s], power [W]); only a keeper that runs hears it."""
    from keeper.operation import orders

    _, end_s, power_W = wish
    lasts = int(end_s / S_PER_MIN) - minute
    if twin.powered and lasts >= LEAST_MIN:
        twin.keeper.order(orders.LIGHT, round(power_W * MW), min(lasts, orders.DAY_MIN))


class _Course:
    """What a twin did, by the minute and in all."""

    def __init__(self, twin):
        self.twin = twin
        self.up_L, self.level_m, self.motor_degC, self.lamps_J = [], [], [], []

    def see(self):
        """Look at the end of a minute."""
        plant = self.twin.plant
        self.up_L.append(round(plant.up.volume_m3 * L_PER_M3, 3))
        self.level_m.append(round(plant.upper.level_m, 5))
        self.motor_degC.append(round(plant.motor.degC, 3))
        self.lamps_J.append(round(plant.down.lamp_J, 3))

    def came(self):
        """Return it as plain data."""
        from forebay.rehearse.stage import totals

        plant, keeper = self.twin.plant, self.twin.keeper
        bank = totals(keeper)
        return {"by_minute": {"up_L": self.up_L, "level_m": self.level_m,
                              "motor_degC": self.motor_degC, "lamps_J": self.lamps_J},
                "up_L": plant.up.volume_m3 * L_PER_M3, "pump_J": plant.up.pump_J,
                "lamps_J": plant.down.lamp_J, "down_L": plant.down.volume_m3 * L_PER_M3,
                "end_L": plant.upper.volume_m3 * L_PER_M3,
                "light_h": bank["light_ms"] / 3.6e6, "pump_h": bank["pump_ms"] / 3.6e6,
                "hottest_degC": max(self.motor_degC, default=float("nan")),
                "totals": bank, "lockouts": keeper.lockouts}


