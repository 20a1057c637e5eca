"""Sun, air and frost of a plant against closed forms."""

import math

import pytest

from forebay.twin.effects import apply
from forebay.twin.frost import Frost
from forebay.twin.leads import Leads
from tests.twin.ledger import plant
from tests.twin.rigs import HALF, MINUTES, run, steady


def day(*poa_W_m2, cell_degC=35.0, air_degC=14.0):
    """Returns a sun by the minute that ends in the dark."""
    rest = [0.0] * (MINUTES - len(poa_W_m2))
    return (list(poa_W_m2) + rest, [cell_degC] * MINUTES, [air_degC] * MINUTES)


def test_the_sun_goes_between_its_minutes_along_a_line():
    one = plant(day(100.0, 700.0, cell_degC=25.0), {**HALF, "supply.charge_current_A": 0.0})
    up = one.up
    for seconds, irradiance in ((15.0, 250.0), (45.0, 550.0), (90.0, 350.0)):
        while one.time_s < seconds:
            one.step(0.05)
        # At 25 degC the light current is the reference's in proportion; it is followed once a
        # second, in which the sun changes by 10 to 12 W/m2.
        assert up.light == pytest.approx(up.light_ref * irradiance / 1000.0,
                                         abs=0.013 * up.light_ref)
    run(one, 60.0)
    assert up.light == up.panel_V == up.panel_A == 0


def test_air_and_cell_follow_their_own_minutes():
    sun = ([500.0] * MINUTES, [25.0, 45.0] * 720 + [25.0], [10.0, 20.0] * 720 + [10.0])
    one = plant(sun, HALF)
    run(one, 30.2)
    assert one.air_degC == pytest.approx(15.0, abs=0.2)
    at_30_s = one.up.ideal
    run(one, 29.0)
    # a goes with the absolute temperature: (273.15 + 45) / (273.15 + 35)
    assert one.up.ideal / at_30_s == pytest.approx(318.15 / 308.15, rel=1.5e-3)


def test_a_sun_that_has_ended_stays_as_it_was_last():
    one = plant(([100.0, 300.0], [25.0, 25.0], [14.0, 14.0]), HALF)
    run(one, 200.0)
    assert one.up.light == pytest.approx(0.3 * one.up.light_ref)


def test_an_open_panel_lead_is_night_at_once():
    one = plant(steady(800.0), HALF)
    one.command(1, 0)
    run(one, 5.05)
    apply("panel-lead-open", one, Leads())
    run(one, 0.1)
    assert one.up.panel_A == one.up.pump_A == 0


def test_a_frost_replaces_the_days_air():
    one = plant(steady(0.0), HALF)
    one.freeze(-12.0)
    run(one, 1200.0)
    assert one.air_degC == -12.0
    assert one.frost.degC == pytest.approx(-12.0 + 24.0 * math.exp(-1200 / 1800), abs=0.03)


# A pipe of 1800 s, water of 12 degC, air of -12 degC.


def chilled(pipe, seconds, air_degC=-12.0, flows=False, opened=False):
    for _ in range(seconds):
        pipe.step(1.0, air_degC, 12.0, flows, opened)
    return pipe


def test_a_pipe_cools_as_a_lag_and_waits_at_nought_until_its_water_is_ice():
    pipe = Frost(12.0)
    chilled(pipe, 600)
    assert pipe.degC == pytest.approx(-12 + 24 * math.exp(-600 / 1800), rel=2e-3)
    assert pipe.ice == 0
    chilled(pipe, 1800 + 3000)
    # Nought is reached after 1800 s ln 2; then 333.4 kJ/kg go as 4.22 kJ/(kg K) x 12 K do.
    freezing = 600 + 1800 + 3000 - 1800 * math.log(2)
    assert pipe.degC == 0.0
    assert pipe.ice == pytest.approx(freezing / 1800 * 12 / (333.4 / 4.22), rel=5e-3)
    chilled(pipe, 12000)
    assert pipe.ice == 1.0
    assert pipe.degC < -1.0


def test_a_step_longer_than_the_lag_ends_at_the_airs_warmth_and_not_beyond():
    pipe = Frost(12.0)
    pipe.step(86400.0, 4.0, 12.0, False, False)
    assert pipe.degC == 4.0


def test_ice_thaws_at_nought_and_only_then_the_pipe_warms():
    pipe = Frost(0.0)
    chilled(pipe, 1800)
    ice = pipe.ice
    assert ice == pytest.approx(12 / 79.0, rel=5e-3)
    chilled(pipe, 900, air_degC=12.0)
    assert pipe.ice == pytest.approx(ice / 2, rel=1e-2)
    assert pipe.degC == 0.0
    chilled(pipe, 2700, air_degC=12.0)
    assert pipe.ice == 0
    assert pipe.degC == pytest.approx(12 * (1 - math.exp(-1.0)), rel=0.02)


def test_ice_harms_from_a_tenth_on_and_only_a_pipe_with_water():
    pipe = Frost(0.0)
    chilled(pipe, 1180)
    assert not pipe.is_harmed()
    chilled(pipe, 10)
    assert pipe.is_harmed()
    pipe.full = False
    assert not pipe.is_harmed()


def test_water_that_flows_brings_its_warmth_in_a_minute_and_takes_the_ice_away():
    pipe = chilled(Frost(0.0), 1800)
    chilled(pipe, 60, flows=True)
    assert pipe.ice == 0
    assert pipe.degC == pytest.approx(12 * (1 - math.exp(-1.0)), rel=0.01)
    pipe.step(1000.0, -12.0, 12.0, True, False)
    assert pipe.degC == 12.0


def test_an_open_pipe_runs_empty_in_five_minutes_and_then_freezes_without_ice():
    pipe = Frost(1.0)
    chilled(pipe, 200, opened=True)
    chilled(pipe, 100)
    chilled(pipe, 99, opened=True)
    assert pipe.full
    chilled(pipe, 1, opened=True)
    assert not pipe.full
    chilled(pipe, 3600, opened=True)
    assert pipe.ice == 0
    assert pipe.degC < -8.0
    chilled(pipe, 1, flows=True)
    assert pipe.full
    chilled(pipe, 299, opened=True)
    assert pipe.full


@pytest.mark.parametrize(("changes", "valve", "shut", "empties"), [
    ({"upper.start_volume_m3": 0.0}, 1000, None, True),
    ({"upper.start_volume_m3": 0.0}, 100, None, False),
    ({"upper.start_volume_m3": 0.0}, 1000, "shed_valve_open", False),
    (HALF, 1000, "tank_valve_open", True),
    (HALF, 0, "tank_valve_open", False),
    (HALF, 1000, None, False)])
def test_the_penstock_runs_empty_where_it_is_open_below_and_shut_or_dry_above(
        changes, valve, shut, empties):
    one = plant(steady(0.0), changes)
    if shut:
        setattr(one, shut, False)
        one.rewire()
    one.command(0, valve)
    run(one, 310.0)
    assert one.frost.full != empties


def test_pumping_keeps_the_coldest_pipe_at_the_waters_warmth():
    one = plant(steady(800.0, air_degC=-20.0), HALF)
    one.command(1, 0)
    run(one, 600.0)
    assert one.frost.degC == pytest.approx(12.0)
    one.command(0, 0)
    run(one, 600.0)
    assert one.frost.degC < 4.0
