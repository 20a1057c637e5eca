"""What a day lifts: no more than there is, more sun never less, and waits only cost."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from forebay.plan import lifting, light
from tests.plan import scene

NAMES = st.sampled_from(scene.NAMES)
TOPS = st.lists(st.floats(0.0, 1200.0), min_size=1, max_size=5)
FULL_SUN = (250.0, 500.0, 750.0, 1000.0)
# "A few percent", as the plan's spread has it for the whole of its model (MODEL_LIFT_FRAC, one
# standard uncertainty): the quick table may be no worse than that.
NEAR_FRAC = 0.04
SLACK = 1e-9


def without_waits(values):
    """Returns a rig that tries again at once after too weak a start."""
    return {**values, "limits.holdoff_s": 0.0, "limits.holdoff_longest_s": 0.0}


def marched(name, tops, is_endless=False, waits=True):
    """Returns (a rig's values, what its pump lifts on half sines of sun)."""
    values = scene.values_of(name)
    found = lifting.march(values if waits else without_waits(values), [scene.quick(name)],
                          scene.half_sines(tops), is_endless)
    return values, found.of(0)


@settings(max_examples=30)
@given(NAMES, TOPS, st.booleans())
def test_a_day_lifts_what_there_is_and_room_for(name, tops, is_endless):
    values, done = marched(name, tops, is_endless)
    lit_s = (scene.half_sines(tops).poa_W_m2 > 0.0).sum(axis=1) * scene.STEP_S
    below_m3 = values["lower.full_volume_m3"] - values["lower.low_volume_m3"]
    assert (done.lifted_m3 >= 0.0).all()
    if not is_endless:
        assert (done.lifted_m3 <= light.usable_m3(values) + SLACK).all()
        step_m3 = scene.STEP_S * (scene.quick(name).flow_m3_s.max()
                                  + values["lower.inflow_m3_s"])
        flowed_m3 = values["lower.inflow_m3_s"] * 86400.0
        assert (done.lifted_m3 <= below_m3 + flowed_m3 + step_m3).all()
    free = marched(name, tops, is_endless, waits=False)[1]
    assert (free.lifted_m3 >= done.lifted_m3 - SLACK).all()
    assert (done.running_s <= lit_s).all()
    assert ((done.running_s > 0.0) == (done.lifted_m3 > 0.0)).all()
    is_full = ~np.isnan(done.full_s)
    assert (done.full_s[is_full] <= done.running_s[is_full]).all()
    assert (done.lifted_m3[is_full] >= light.usable_m3(values) - SLACK).all()


@settings(max_examples=30)
@given(NAMES, st.floats(0.0, 1000.0), st.floats(1.0, 1.5))
def test_more_sun_never_lifts_less_but_for_the_waits(name, top, more):
    _, done = marched(name, [top, top * more], True, waits=False)
    assert done.lifted_m3[1] >= done.lifted_m3[0] - SLACK


@settings(max_examples=20)
@given(st.floats(0.0, 1000.0), st.floats(1.0, 1.5))
def test_of_a_rig_that_judges_no_run_more_sun_never_lifts_less(top, more):
    # The orchard's has no meter by which to judge one.
    _, done = marched("orchard", [top, top * more], True)
    assert done.lifted_m3[1] >= done.lifted_m3[0] - SLACK
    assert done.starts[0] <= 1


@pytest.mark.parametrize("name", scene.NAMES[:6])
def test_the_quick_table_and_the_fine_one_lift_nearly_the_same(name):
    # The quick one is over the middle lift alone.
    values = scene.values_of(name)
    made = lifting.machine(values)
    middle = made._replace(flow_m3_s=np.array([made.flow_m3_s.mean(axis=0)] * 2))
    quick, fine = (lifting.march(without_waits(values), [one], scene.half_sines(FULL_SUN),
                                 True).lifted_m3[0].sum()
                   for one in (lifting.rough(values), middle))
    assert quick == pytest.approx(fine, rel=NEAR_FRAC)


@pytest.mark.parametrize("name", scene.NAMES[:4])
def test_the_pump_never_takes_more_than_the_panel_gives(name):
    values = scene.values_of(name)
    done = lifting.march(values, [lifting.machine(values)], scene.half_sines(FULL_SUN), True)
    # A straight line between points of the table may lie above the curve: by their distance.
    assert (done.drawn_J[0] <= 1.02 * done.offered_J[0]).all()
    assert (done.drawn_J[0] > 0.0).any()


def test_a_tank_that_begins_full_takes_nothing():
    values = scene.values_of("hillside")
    done = lifting.march(values, [lifting.rough(values)], scene.half_sines([900.0]), False,
                         (values["upper.full_volume_m3"], values["lower.full_volume_m3"]))
    assert done.lifted_m3[0, 0] == 0.0
    assert done.starts[0, 0] == 0


def test_a_lower_tank_that_begins_low_gives_nothing_unless_water_flows_in():
    values = scene.values_of("hillside")
    begin = (values["upper.empty_volume_m3"], values["lower.low_volume_m3"])
    sun = scene.half_sines([900.0])
    assert lifting.march(values, [lifting.rough(values)], sun, False, begin).lifted_m3 == 0.0
    wet = {**values, "lower.inflow_m3_s": 1e-5}
    lifted = lifting.march(wet, [lifting.rough(wet)], sun, False, begin).lifted_m3[0, 0]
    # Till evening, 18 h, no more can have come in; and what came by noon is long up there.
    assert 0.5 * 18 * 3600e-5 < lifted <= 18 * 3600e-5 + SLACK


def test_a_dark_day_is_no_day_without_an_answer():
    values = scene.values_of("hillside")
    done = lifting.march(values, [lifting.rough(values)], scene.half_sines([0.0]))
    assert (done.lifted_m3, done.starts, done.running_s) == (0.0, 0, 0.0)
    assert np.isnan(done.full_s).all()


def test_the_flow_by_the_hour_is_what_the_day_lifts_where_nothing_waits():
    values = scene.values_of("hillside")
    made, sun = lifting.machine(values), scene.half_sines([900.0])
    # Of the middle lift, so within half of what the lift's whole range changes.
    flow_m3 = lifting.flows_m3_s(values, made, sun).sum() * scene.STEP_S
    low, high = (lifting.march(without_waits(values), [made._replace(
        flow_m3_s=np.array([table, table]))], sun, True).lifted_m3[0, 0]
        for table in made.flow_m3_s[::-1])
    assert low <= flow_m3 <= high
