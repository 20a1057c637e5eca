"""What level sensors of many rigs read too much: see tests/stories.py."""

from forebay.twin.plant import Plant
from forebay.twin.sensors import Sensors
from keeper import channels as ch
from tests.campaign.given import given
from tests.twin.rigs import steady

SECOND = 10                # scans


def errors_m(seeds, levels_m):
    """Returns for each seed what its level sensor reads too much [m] at levels [m]."""
    rig = {**given()["rig"], "sensors.level_noise_m": 0.0}
    plant = Plant(rig, steady(0.0))
    found = []
    for seed in seeds:
        sensors = Sensors(rig, plant, seed)
        values = [0] * ch.READ
        errors = []
        for level_m in levels_m:
            plant.upper.level_m = level_m
            for _ in range(SECOND):
                sensors.read(values)
            errors.append(values[ch.LEVEL_MM] / 1e3 - level_m)
        found.append(errors)
    return found
