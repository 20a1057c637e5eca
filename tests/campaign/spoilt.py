"""Keepers that give nothing, or half of what a day lets them, for tests of the judges."""

from keeper.protection.elements import number
from keeper.protection.judging import R_INDEX, R_PICKUP, R_RESET
from tests.campaign.scene import change_rows

LEVEL_HIGH = number("71H-LVL") - 1
LOW_MM = 320                    # half of what a clear day lifts


def never_lights(keeper):
    """It sees no dusk."""
    keeper.core.sequence.light.at_dusk = 0


def never_pumps(keeper):
    """No panel gives what it waits for."""
    keeper.core.sequence.start_mV = 1 << 20


def half_the_light(keeper):
    """It believes that the lamps get twice what they get."""
    keeper.core.governor.hold = lambda power, setpoint, whole=keeper.core.governor.hold: whole(
        2 * power, setpoint)


def half_the_tank(keeper):
    """Its tank is full when it is half full."""
    change_rows(keeper.core.protection, lambda row: (
        row[:R_PICKUP] + (row[R_PICKUP] - LOW_MM, row[R_RESET] - LOW_MM) + row[R_RESET + 1:]
        if row[R_INDEX] == LEVEL_HIGH else row))
