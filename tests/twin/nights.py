"""Stories of a night's light, with a plan of it: see tests/stories.py."""

from forebay.twin.twin import Twin
from keeper import events as ev
from keeper import modes as mo
from keeper import settings as st
from keeper.channels import LEVEL_MM
from keeper.journal.opening import open_journal
from keeper.protection.derived import LEVEL_MEAN
from tests.twin.rigs import in_state, run_until, steady

# The reserve: twice 5 mm of level.
COVERED_M = 0.010


def dusk(folder, values, settings):
    """A twin of a rig at dusk."""
    return Twin(values, settings, steady(0.0),
                lambda: open_journal(f"{folder}/board", settings[0], st.VERSION))


def posted(one, seconds):
    """Steps; returns (code, argument, argument 2) of what was posted."""
    found = []
    post = one.keeper.events.post
    one.keeper.events.post = lambda *event: (found.append(event), post(*event))
    one.run(seconds * 10)
    return found


def lit_min(one, longest_min=1000):
    """Runs till the light ends; returns how long it lasted [min]."""
    run_until(one, in_state(mo.RUNNING), 400)
    began = one.periods
    run_until(one, lambda it: it.keeper.state != mo.RUNNING, longest_min * 60)
    return (one.periods - began) / 600


def told_and_true(folder, values, settings):
    """Returns (minutes that the plan tells, minutes of light, litres that the reserve covers)."""
    one = dusk(folder, values, settings)
    events = posted(one, 400)
    minutes = next(event[2] for event in events if event[:2] == (ev.LIGHT_LASTS, 0))
    tank = one.plant.upper
    level_m = tank.level_m
    covered_m3 = tank.shape.volume_m3(level_m) - tank.shape.volume_m3(level_m - COVERED_M)
    return minutes, lit_min(one), 1000 * covered_m3


def read_high(folder, values, settings, high_mm, night_min):
    """Returns (events of the plan, state at the night's end) of a level that reads high."""
    one = dusk(folder, values, settings)
    one.run(2000)
    by_mm = one.keeper.values[LEVEL_MEAN] - round(1000 * one.plant.upper.level_m)
    one.leads.adds(LEVEL_MM, high_mm - by_mm)
    events = posted(one, 150)
    dusk_min = one.keeper.core.sequence.light.night_periods / 600
    one.run(int((night_min - dusk_min) * 600))
    return events, one.keeper.state
