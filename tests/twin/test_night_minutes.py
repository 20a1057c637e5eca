"""The light that the night's plan tells, against the light that the twin's water gives."""

import pytest

from forebay.rig import compiling, load
from forebay.twin.twin import Twin
from keeper import events as ev
from keeper import modes as mo
from keeper import settings as st
from keeper.channels import LEVEL_MM
from keeper.journal.opening import open_journal
from keeper.physics.tanks import HorizontalCylinder
from keeper.protection.derived import LEVEL_MEAN
from tests.twin.rigs import in_state, run_until, steady

# The reserve: twice 5 mm of level, and the minute that the plan counts by.
COVERED_M, STEP_MIN = 0.010, 1
# Of the specific output, worked out for the mean head and level: a guess, 3 %.
OUTPUT_FRAC = 0.03


def table(volume_m3, height_m, points=41):
    """A tank of any shape as a table of levels, as a person would measure it."""
    levels = [height_m * step / (points - 1) for step in range(points)]
    return {"upper.shape": "table", "upper.levels_m": levels, "upper.height_m": height_m,
            "upper.volumes_m3": [volume_m3(level) for level in levels]}


TAPER_M = 1.112            # of 0.2 m2 at its floor and 1.6 m2 at its rim: a little over 1 m3
DRUM = HorizontalCylinder(1.0, 1.275)
SHAPES = {
    "box": {},
    "taper": table(lambda level: 0.2 * level + 0.7 * level ** 2 / TAPER_M, TAPER_M),
    "drum": table(DRUM.volume_m3, 1.0),
}


def dusk(folder, shape, litres, **numbers):
    """A twin at dusk with so much water above a low float that hangs dry at 50 L."""
    rig = load()
    values = {**rig.plant(), **SHAPES[shape], "upper.start_volume_m3": litres / 1000,
              "lower.start_volume_m3": 0.3, "night.setpoint_W": 0.6}
    settings = compiling.compiled(values)
    for name, number in numbers.items():
        settings[st.index(name)] = number
    one = Twin(values, settings, steady(0.0),
               lambda: open_journal(str(folder / "board"), settings[0], st.VERSION))
    return one


def told(one, seconds):
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


@pytest.mark.parametrize("litres", [150, 600])
@pytest.mark.parametrize("shape", SHAPES)
def test_the_light_that_is_told_is_the_light_that_comes(tmp_path, shape, litres):
    """A mean surface told 329 min of the taper's 600 L, and 276 came; of 150 L 96, and 50."""
    one = dusk(tmp_path, shape, litres)
    posted = told(one, 400)
    minutes = next(event[2] for event in posted if event[:2] == (ev.LIGHT_LASTS, 0))
    level_m = one.plant.upper.level_m
    covered = one.plant.upper.shape.volume_m3(level_m) - one.plant.upper.shape.volume_m3(
        level_m - COVERED_M)
    true = lit_min(one)
    reserve_min = covered / (litres - 50) * 1000 * true + STEP_MIN
    assert true * (1 - OUTPUT_FRAC) - 2 * reserve_min <= minutes <= true * (1 + OUTPUT_FRAC)


@pytest.mark.parametrize("shape", ["box", "taper"])
def test_a_level_that_reads_8_mm_high_does_not_end_the_light_before_dawn(tmp_path, shape):
    """Twice the uncertainty of 5 mm is kept back: a night that the plan says lasts does last."""
    night_min = 140          # between what 0.6 and 0.3 W give
    one = dusk(tmp_path, shape, 300, longest_night_min=night_min)
    one.run(2000)
    high_mm = one.keeper.values[LEVEL_MEAN] - round(1000 * one.plant.upper.level_m)
    one.leads.adds(LEVEL_MM, 8 - high_mm)
    posted = told(one, 150)
    assert (ev.LIGHT_PLANNED, 1) in {event[:2] for event in posted}
    dusk_min = one.keeper.core.sequence.light.night_periods / 600
    one.run(int((night_min - dusk_min) * 600))
    assert one.keeper.state == mo.RUNNING
