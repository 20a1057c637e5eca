"""Twins for tests: the demo rig with a few figures changed, under plain suns."""

from forebay.twin.twin import Twin
from keeper import modes
from keeper import settings as st
from keeper.journal.opening import open_journal
from tests.campaign.given import given

MINUTES = 1441
HALF = {"upper.start_volume_m3": 0.5}


def steady(irradiance_W_m2, cell_degC=35.0, air_degC=14.0):
    """Returns a sun that stands still."""
    return ([irradiance_W_m2] * MINUTES, [cell_degC] * MINUTES, [air_degC] * MINUTES)


def twin(folder, sun, changes=(), faults=(), substeps=1, unfitted=(), **more):
    """Returns a twin of the demo rig with `changes` {"section.key_unit": value}.

    unfitted: channels that this rig does not have; more: see `Twin`.
    """
    plant = {**given()["rig"], **dict(changes)}
    settings = list(given()["settings"])
    for channel in unfitted:
        settings[st.index("fitted")] &= ~(1 << channel)
    return Twin(plant, settings, sun,
                lambda: open_journal(f"{folder}/board", settings[st.index("rig_id")], st.VERSION),
                faults, substeps=substeps, **more)


def run_until(one, seen, longest_s):
    """Steps a twin until `seen(twin)`; returns the time [s]; fails after `longest_s` [s]."""
    for _ in range(int(longest_s * 10)):
        if seen(one):
            return one.periods / 10
        one.step()
    raise AssertionError(f"not seen within {longest_s} s")


def in_state(state):
    """Returns a condition: the keeper is in this state."""
    return lambda one: one.powered and one.keeper.state == state


PUMPING = in_state(modes.PUMPING)
RUNNING = in_state(modes.RUNNING)


def run(plant, seconds, dt_s=0.1):
    """Lets a plant without a board go on; returns it."""
    for _ in range(round(seconds / dt_s)):
        plant.step(dt_s)
    return plant
