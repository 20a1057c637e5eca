"""A twin that stands still: the plant is what a test makes of it, and the watch looks at it."""

from keeper.channels import OUT_VALVE
from tests.campaign.given import given
from tests.campaign.limits import Limits

LIMITS = Limits(given()["rig"])
JUST_S = 0.3      # beyond or below a limit that is a time
BEYOND, BELOW = 1, -1


def looked(twin, seconds, each=None, step_s=0.1):
    """Lets the watch look for a time while the truth stands; returns the hazards' names."""
    twin.watch.step_s = step_s
    for _ in range(round(seconds / step_s)):
        twin.plant.time_s += step_s
        if each:
            each(twin.plant)
        twin.watch.check()
    return set(twin.watch.found)


def driven(twin, permille):
    """The board drives the valve there."""
    twin.keeper.outputs[OUT_VALVE] = permille


def runs_down(plant):
    plant.down.volume_m3 += 1e-5


def turns(plant, ratio=1.0):
    plant.up.pump_A, plant.up.ratio, plant.up.panel_V = 0.5, ratio, 24.0
    plant.pump_commanded = 1
