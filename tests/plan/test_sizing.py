"""Backwards from a wish: what is proposed keeps it, more is never less, nonsense is one line."""

import functools
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from forebay.errors import InputError
from forebay.plan import lifting, light, limits, sizing
from forebay.rig import governing
from tests.plan import scene

LIGHT_FRAC, LIFT_FRAC = 0.2, 0.15
DOUBTS = sizing.Doubts(0.0, LIGHT_FRAC, LIFT_FRAC)
TOPS_W_M2 = tuple(np.linspace(60.0, 1050.0, 20))     # a year's days, dull to clear
HOUR_S = 3600.0


def nights():
    count = len(TOPS_W_M2)
    return limits.Nights(scene.half_sines(TOPS_W_M2), np.full(count, 12 * HOUR_S),
                         np.full(count, 1 / count))


@functools.cache
def proposed(name, time_h, power_frac, share) -> Any:
    """Returns (the wish of a share of the brightest step, what is proposed)."""
    values = scene.values_of(name)
    power_W = power_frac * max(values["lamps.steps_W"])
    wanted = sizing.Wish(time_h * HOUR_S, power_W, share)
    return wanted, sizing.proposed(values, wanted, nights(), DOUBTS)


WISHES = [(name, *one) for name in ("hillside", "orchard", "drawn 1") for one in (
    (2.0, 0.4, 0.8), (5.0, 0.7, 0.5))]


@pytest.mark.parametrize("asked", WISHES)
def test_what_is_proposed_keeps_the_wish_in_its_own_terms(asked):
    wanted, found = proposed(*asked)
    assert found is not None
    rig = found.values
    # So much water for so long at that light, both as bad as their spread ...
    flow_m3_s = governing.turbine_set(rig).flow_for_lamps_m3_s(wanted.power_W)
    assert found.water_m3 == pytest.approx(wanted.time_s * flow_m3_s * (1 + LIGHT_FRAC))
    # ... which the tank holds and the panel lifts on enough days, and the nozzle gives the light.
    assert light.usable_m3(rig) >= found.water_m3 * (1 - 1e-9)
    days = nights()
    lifted = lifting.march(rig, [lifting.rough(rig)], days.sun, True).lifted_m3[0]
    kept = float((days.weight * (lifted / (1 + LIFT_FRAC) >= found.water_m3)).sum())
    assert kept == pytest.approx(found.share)
    assert found.share >= wanted.share
    assert light.brightest_W(rig, governing.lowest_head_m(rig)) >= wanted.power_W


@pytest.mark.parametrize("name", ["hillside", "orchard"])
@pytest.mark.parametrize(("low", "high"), [
    ((2.0, 0.4, 0.5), (2.0, 0.4, 0.85)), ((1.0, 0.4, 0.6), (6.0, 0.4, 0.6)),
    ((2.0, 0.3, 0.6), (2.0, 0.8, 0.6))])
def test_a_greater_wish_never_takes_less(name, low, high):
    (_, less), (_, more) = proposed(name, *low), proposed(name, *high)
    assert more.water_m3 >= less.water_m3
    assert (more.pump, more.panel) >= (less.pump, less.panel)
    assert more.tank >= less.tank
    assert more.nozzle >= less.nozzle


def test_the_least_factor_is_the_one_that_a_search_of_all_finds():
    asked = ("hillside", 2.0, 0.4, 0.7)
    wanted, found = proposed(*asked)
    assert (found.tank, found.nozzle, found.pump) == (1.0, 1.0, 1.0)
    values, days = scene.values_of("hillside"), nights()
    assert found.panel == next(
        factor for factor in sizing.FACTORS if sizing._kept(
            sizing._parallel(values, factor, 1.0), days, found.water_m3,
            LIFT_FRAC) >= wanted.share)


def answered(values, wanted):
    return sizing.part(values, wanted, nights(), sizing.Doubts(
        LIGHT_FRAC, LIGHT_FRAC, LIFT_FRAC), False)[0]


def test_a_wish_beyond_the_generator_or_the_head_is_a_sentence():
    values = scene.values_of("hillside")
    for power_W, said in ((3.0, "rated 1.5 W"), (1.5, "too little light")):
        low = {**values, "upper.base_height_m": 4.0}
        part = answered(low, sizing.Wish(HOUR_S, power_W, 0.5))
        assert len(part.warns) == 1
        assert said in part.warns[0]
        assert not part.tables


def test_more_water_than_any_panel_lifts_is_a_sentence():
    part = answered(scene.values_of("hillside"), sizing.Wish(24 * HOUR_S, 1.0, 1.0))
    assert len(part.warns) == 1
    assert "ask for fewer" in part.warns[0]


@pytest.mark.parametrize(("text", "wanted"), [
    ("3 h at 0.6 W, 9 nights of 10", (10800.0, 0.6, 0.9)),
    ("90min at 150mW,1 night in 2", (5400.0, 0.15, 0.5)),
    ("  1 h  at  1 W ,  365 nights of 365 ", (3600.0, 1.0, 1.0)),
])
def test_a_wish_is_read_as_people_write_it(text, wanted):
    assert sizing.wish(text) == pytest.approx(wanted)


@pytest.mark.parametrize("text", [
    "", " ", "3 h", "3 h at 0.6 W", "3 h at 0.6 W, 9 of 10", "3 h at 0.6 W, 11 nights of 10",
    "3 h at 0.6 W, 0 nights of 10", "3 h at 0.6 W, 0 nights of 0", "0 h at 1 W, 1 nights of 2",
    "25 h at 1 W, 1 nights of 2", "3 h at 0 W, 1 nights of 2", "3 h at -1 W, 1 nights of 2",
    "-3 h at 1 W, 1 nights of 2", "nan h at 1 W, 1 nights of 2", "inf h at 1 W, 1 nights of 2",
    "3 h at inf W, 1 nights of 2", "1e400 h at 1 W, 1 nights of 2", "3 kg at 1 W, 1 nights of 2",
    "3 h at 1 kg, 1 nights of 2", "3 h at 1 W, 1e1 nights of 20", "3 h at 1 W, -1 nights of 2",
    "\N{ARABIC-INDIC DIGIT THREE} h at 1 W, 1 nights of 2", "3 h at 1 W, 1 nights of 2; rm",
    "at at at, 1 nights of 1", "3 h at 1 W, 9999 nights of 9999"])
def test_a_wish_that_cannot_be_is_one_line_with_an_example_or_a_range(text):
    with pytest.raises(InputError) as refused:
        sizing.wish(text)
    said = str(refused.value)
    assert said.startswith(f"--for {text!r}")
    assert "\n" not in said
    assert "such as" in said or "must be" in said


NUMBER = st.text("0123456789.eE+-", max_size=6)
UNIT = st.sampled_from(("h", "min", "s", "W", "mW", ""))
COUNT = st.text("0123456789", max_size=4)


@settings(max_examples=200)
@given(st.text(max_size=60) | st.builds("{} {} at {} {}, {} nights of {}".format, NUMBER, UNIT,
                                        NUMBER, UNIT, COUNT, COUNT))
def test_any_text_is_a_wish_or_one_line(text):
    try:
        found = sizing.wish(text)
    except InputError as refused:
        said, found = str(refused), None
    if found is None:
        assert len(said.splitlines()) == 1
    else:
        assert 0 < found.time_s <= sizing.LONGEST_s
        assert 0 < found.power_W < float("inf")
        assert 0 < found.share <= 1
