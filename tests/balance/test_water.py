"""Levels between rows, gains of legs, and what the meters of each side moved."""

from types import SimpleNamespace

import numpy as np
import pytest

from forebay.balance.covered import row_seconds
from forebay.balance.instruments import Meters
from forebay.balance.measured import Measured
from forebay.balance.plant import Store
from forebay.balance.spans import axis_of, keys_of, spans_of
from forebay.balance.water import Water
from keeper import channels as ch
from keeper import events
from keeper.modes import CLOSING, DRAINING, PUMPING, RUNNING, STANDSTILL, TRIAL
from tests.balance import rig as plant
from tests.balance.small import changed, happened, journal, kept, rows, summed_up, totals


def level_row(boot, uptime_ds, level_mm, state=STANDSTILL, scans=100, **more):
    return (boot, uptime_ds, scans, state, {ch.LEVEL_MM: level_mm, **more.get("also", {})})


def water_of(one, rig=plant.DEMO):
    axis = axis_of(one)
    ends_s = axis.at(keys_of(one.rows), one.rows.uptime_ds)
    return Water(one.rows, ends_s, row_seconds(one.rows), spans_of(one, axis),
                 [(0, len(one.rows) - 1)], Store(rig, None), Meters(rig.sensors),
                 summed_up(one, rig)[0])


def test_a_row_is_a_mean_so_its_level_is_that_of_its_middle():
    # 1 mm/s for 40 s: the means of four rows of 10 s lie at 5, 15, 25, 35 s.
    water = water_of(journal(rows(*[level_row(1, 100 * n, 100 + 10 * n - 5)
                                    for n in (1, 2, 3, 4)])))
    for at_s, metres in ((5, 0.105), (10, 0.110), (20, 0.120), (35, 0.135), (0, 0.105),
                         (60, 0.135)):
        assert water.levels.at(at_s).value == pytest.approx(metres), at_s


def test_a_row_without_a_trusted_level_is_passed_over():
    records = [level_row(1, 100, 100), (1, 200, 100, STANDSTILL, {}), level_row(1, 300, 120)]
    assert water_of(journal(rows(*records))).levels.at(15.0).value == pytest.approx(0.110)


ROUNDED_M = 0.001 / 12**0.5     # what whole millimetres leave, a full width (GUM F.2.2.1)


def noise_of(level):
    """What is new in a level, by source."""
    return {source: part for source, part in level.parts.items() if not isinstance(source, str)}


def row_noise_m(count):
    """5 mm a reading over the root of the readings, and the rounding of their mean."""
    return np.hypot(0.005 / count**0.5, ROUNDED_M)


def test_a_level_between_two_rows_has_the_noise_of_both_by_their_weights():
    water = water_of(journal(rows(*[
        level_row(1, uptime_ds, 500, scans=count)
        for uptime_ds, count in ((100, 1), (200, 25), (300, 100))])))
    # Middles at 9.95, 15 and 25 s: a first row is as long as its scans.
    for at_s, weights in ((0.0, {1: 1}), (9.95, {1: 1}), (20, {25: 0.5, 100: 0.5}),
                          (23, {25: 0.2, 100: 0.8}), (90, {100: 1})):
        expected = sorted(weight * row_noise_m(count) for count, weight in weights.items())
        assert sorted(noise_of(water.levels.at(at_s)).values()) == pytest.approx(expected), at_s


def test_two_levels_of_one_row_share_its_noise():
    water = water_of(journal(rows(*[level_row(1, 100 * n, 500) for n in (1, 2, 3)])))
    assert (water.levels.at(5.0) - water.levels.at(5.0)).u == 0
    both = water.levels.at(10.0) - water.levels.at(15.0)
    assert sum(part**2 for part in noise_of(both).values())**0.5 == pytest.approx(
        0.5 * 2**0.5 * row_noise_m(100))


def bent(still, moving, order=1):
    """Rows of so many scans: at rest at 300 mm, then up by 5 mm a row; or the other way."""
    made = [(STANDSTILL, 300, count) for count in still] + [
        (PUMPING, 302 + 5 * n, count) for n, count in enumerate(moving)]
    uptime_ds, records = 0, []
    for state, level_mm, count in made[::order]:
        uptime_ds += count
        records.append(level_row(1, uptime_ds, level_mm, state, count))
    return water_of(journal(rows(*records)))


@pytest.mark.parametrize("order", [1, -1])
def test_where_water_begins_or_ceases_to_move_the_row_at_rest_says_the_level(order):
    # Two rows at rest, two that move: the bend lies at 20 s, where the level is still 300 mm.
    water = bent([100, 100], [100, 100], order)
    assert water.levels.at(20.0).value == pytest.approx(0.300)
    assert list(noise_of(water.levels.at(20.0)).values()) == pytest.approx([row_noise_m(100)])


def test_beside_a_row_at_rest_of_few_scans_the_moving_rows_are_drawn_on_to_the_bend():
    # The last row at rest is a single scan: rows of 302 and 307 mm at 15.1 and 25.1 s, the
    # bend at 10.1 s.
    water = bent([100, 1], [100, 100])
    level = water.levels.at(10.1)
    assert level.value == pytest.approx(0.302 - 0.005 / 2)
    # 1.5 x - 0.5 y, and half of what the line goes on, a half-width (GUM 4.3.7).
    expected = [1.5 * row_noise_m(100), -0.5 * row_noise_m(100), 0.0025 / 2 / 3**0.5]
    assert sorted(noise_of(level).values()) == pytest.approx(sorted(expected))


def test_a_short_rest_between_light_and_filling_has_one_level():
    # A scan at rest between rows that fall and rows that rise: both bends are one level.
    records = [(RUNNING, 310, 100), (RUNNING, 304, 100), (STANDSTILL, 290, 1),
               (PUMPING, 304, 50), (PUMPING, 309, 50)]
    uptime_ds, made = 0, []
    for state, level_mm, count in records:
        uptime_ds += count
        made.append(level_row(1, uptime_ds, level_mm, state, count))
    water = water_of(journal(rows(*made)))
    assert water.levels.at(20.0).value == pytest.approx(0.301)       # 304 less half of 6 mm
    assert (water.levels.at(20.0) - water.levels.at(20.1)).u == pytest.approx(0, abs=1e-12)


def test_a_single_row_that_moves_is_drawn_on_to_nothing():
    water = bent([100, 1], [100, 100])
    water.rows.state[3:] = STANDSTILL
    level = water_of(journal(water.rows)).levels.at(10.1)
    assert list(noise_of(level).values()) == pytest.approx([row_noise_m(1)])


def restarted(*scans):
    """Three boots; while the board was off the level fell by 20 and by 7 mm."""
    levels = zip((1, 2, 3), ((510, 500), (480, 484), (477, 470)), scans, strict=True)
    return water_of(journal(rows(*[
        level_row(boot, 100 * place, level_mm, scans=count)
        for boot, pair, count in levels for place, level_mm in enumerate(pair, 1)])))


def test_what_happened_while_the_board_was_off_is_a_step_at_the_restart():
    water = restarted(100, 100, 100)
    for at_s, metres in ((5.0, 0.51), (15.0, 0.5), (19.9, 0.5), (20.0, 0.5), (20.05, 0.48),
                         (25.0, 0.48), (35.0, 0.484), (39.9, 0.484), (40.0, 0.484),
                         (40.05, 0.477), (45.0, 0.477), (60.0, 0.470)):
        assert water.levels.at(at_s).value == pytest.approx(metres), at_s


def test_each_side_of_that_step_is_as_noisy_as_its_own_rows():
    # A first row of 25 or 4 scans begins so much before its end, 10 s after the restart.
    water = restarted(100, 25, 4)
    for at_s, scans in ((27.5, 100), (27.55, 25), (49.6, 25), (49.65, 4)):
        noise = list(noise_of(water.levels.at(at_s)).values())
        assert noise == pytest.approx([row_noise_m(scans)]), at_s


def test_the_length_of_a_row_is_the_time_since_the_one_before_else_its_scans():
    made = rows((1, 30, 100, 0, {}), (1, 132, 100, 0, {}), (1, 232, 98, 0, {}),
                (2, 55, 50, 0, {}), (2, 160, 100, 0, {}))
    # The first of a boot reaches back to its start at most, though it has more scans.
    assert list(row_seconds(made)) == pytest.approx([3.0, 10.2, 10.0, 5.0, 10.5])
    made.seq[2:] += 4     # rows are missing before the third
    assert list(row_seconds(made)) == pytest.approx([3.0, 10.2, 9.8, 5.0, 10.5])
    assert list(row_seconds(rows())) == []
    # A board's uptime that falls is none: no row lasts longer for it than it was scanned.
    falls = rows((1, 9000, 100, 0, {}), (1, 8000, 100, 0, {}), (1, 8100, 50, 0, {}))
    assert list(row_seconds(falls)) == pytest.approx([10.0, 10.0, 10.0])


# Fills 40 L, rests, gives light with 30 L, drains 5 L; state and level at its end [mm].
DAY = ((STANDSTILL, 100), (TRIAL, 110), (PUMPING, 140), (STANDSTILL, 140), (RUNNING, 120),
       (CLOSING, 110), (STANDSTILL, 110), (DRAINING, 105), (STANDSTILL, 105))


def day(states=DAY):
    """The journal of such states; level 1 mm a litre."""
    records, said = [], [(1, 0, events.BOOT, 0, CLOSING, totals())]
    level, up, down, place = 100, 0, 0, 0
    flow = {"up": 0, "down": 0}
    before = CLOSING
    for state, end in states:
        ten = totals(up=up, down=down)
        said.append(changed(1, place * 100, before, state, ten))
        before = state
        moved = end - level
        flow = {ch.FLOW_UP: max(0, moved) * 10, ch.FLOW_DOWN: max(0, -moved) * 10}
        # Rows of 10 s; a straight way through one row and still before and after.
        for mean in (level, (level + end) / 2, end):
            place += 1
            records.append((1, place * 100, 100, state, {ch.LEVEL_MM: round(mean), **flow}))
        up += max(0, moved) * 1_000_000 if state in (TRIAL, PUMPING) else 0
        down += max(0, -moved) * 1_000_000
        level = end
    return journal(rows(*records), happened(*said), kept((1, place * 100, totals(up, down))))


def test_water_of_trial_and_pumping_is_filling_of_running_and_closing_is_light():
    found = water_of(day()).volumes()
    assert found["up"].value == pytest.approx(40)
    assert found["down"].value == pytest.approx(30)     # the 5 L of draining are no light
    assert found["gained"].value == pytest.approx(5)
    assert found["fill_residual"].value == pytest.approx(0, abs=1e-9)
    assert found["discharge_residual"].value == pytest.approx(0, abs=1e-9)
    assert found["rest_change"].value == pytest.approx(-5)


def test_every_filling_and_every_light_of_a_period_counts():
    found = water_of(day([*DAY, (PUMPING, 125), (STANDSTILL, 125), (RUNNING, 120),
                          (STANDSTILL, 120), (PUMPING, 130), (STANDSTILL, 130)])).volumes()
    assert found["up"].value == pytest.approx(40 + 20 + 10)
    assert found["down"].value == pytest.approx(30 + 5)
    assert found["gained"].value == pytest.approx(30)
    assert found["fill_residual"].value == pytest.approx(0, abs=1e-9)
    assert found["discharge_residual"].value == pytest.approx(0, abs=1e-9)
    assert found["rest_change"].value == pytest.approx(-5)


def test_residuals_are_signed_as_their_names_say():
    # The meters count 4 L too much on the way up, 3 L too little on the way down.
    one = day()
    shift = np.zeros((10, 2), np.uint32)
    shift[ch.T_UP, 0] = 4_000_000
    for table in (one.events, one.totals):
        late = table["uptime_ds"] > 600
        table["totals"][late] += shift
    found = water_of(one).volumes()
    assert found["fill_residual"].value == pytest.approx(4)
    one = day()
    for table in (one.events, one.totals):
        late = table["uptime_ds"] >= 1500
        table["totals"][late, ch.T_DOWN, 0] -= 3_000_000
    found = water_of(one).volumes()
    assert found["discharge_residual"].value == pytest.approx(3)


def test_energy_stored_and_released_is_that_of_the_legs_alone():
    # 40 L from 0.100 to 0.140 m: mean 9.120 m above the nozzle; 30 L from 0.140 to 0.110 m:
    # mean 9.125 m; 999.50 kg/m3 at 12 degC, 9.7991 m/s2.
    found = water_of(day()).energies()
    assert found["stored"].value == pytest.approx(0.040 * 999.50 * 9.7991 * 9.120, rel=1e-4)
    assert found["released"].value == pytest.approx(0.030 * 999.50 * 9.7991 * 9.125, rel=1e-4)


def test_each_run_of_a_pump_may_hide_pulses_at_both_its_ends():
    states = [PUMPING, PUMPING, STANDSTILL, TRIAL, PUMPING, STANDSTILL]
    made = rows(*[level_row(1, 100 * (n + 1), 100, state, also={ch.FLOW_UP: 500})
                  for n, state in enumerate(states)])
    up = water_of(journal(made)).volumes()["up"]
    # Two runs, four ends, each a rectangle as wide as a pulse of 1/450 L.
    assert up.u == pytest.approx((4 / 12) ** 0.5 / 450)


def test_without_a_level_nothing_is_gained():
    water = water_of(journal(rows((1, 100, 100, PUMPING, {})), None,
                             kept((1, 0, totals()), (1, 100, totals(up=7_000_000)))))
    assert water.volumes()["gained"].value == 0
    assert water.energies()["stored"].value == 0


# The tank as a store -----------------------------------------------------------------------


def test_a_store_of_each_shape_holds_its_litres():
    shapes = [(SimpleNamespace(shape="rectangular", length_m=0.8, width_m=0.5, height_m=1.0), 120),
              (SimpleNamespace(shape="upright cylinder", diameter_m=0.6, height_m=1.0), 84.823),
              (SimpleNamespace(shape="table", levels_m=[0.0, 0.4, 1.1],
                               volumes_m3=[0.0, 0.1, 0.5]), 75)]
    for upper, litres in shapes:
        upper.base_height_m = 9.0
        held = Store(SimpleNamespace(upper=upper, site=plant.DEMO.site), None)
        assert held.litres(Measured(0.3)).value == pytest.approx(litres), upper.shape


@pytest.fixture
def widening():
    """A store that holds 0.1 m3 up to 0.4 m and 0.4 m3 over the next 0.7 m."""
    rig = SimpleNamespace(**vars(plant.DEMO))
    rig.upper = SimpleNamespace(shape="table", levels_m=[0.0, 0.4, 1.1],
                                volumes_m3=[0.0, 0.1, 0.5], base_height_m=9.0)
    return Store(rig, 12.0)


@pytest.mark.parametrize(("level_m", "m2"), [(0.2, 0.25), (0.8, 4 / 7), (0.4, (0.25 + 4 / 7) / 2),
                                             (0.0, 0.25), (1.1, 4 / 7)])
def test_an_error_of_the_level_is_one_of_the_surface_there(widening, level_m, m2):
    level = Measured(level_m).with_part("x", 0.003)
    assert widening.litres(level).parts["x"] == pytest.approx(3 * m2)
    # A slab at this height, 9 m and the level above the nozzle.
    joules = widening.joules(level)
    assert joules.parts["x"] == pytest.approx(
        0.003 * m2 * 999.50 * 9.7991 * (9 + level_m), rel=2e-3)


def test_a_reading_past_floor_or_rim_counts_as_floor_or_rim(widening):
    for level_m, litres in ((-0.01, 0), (1.3, 500)):
        assert widening.litres(Measured(level_m)).value == litres
    full = widening.joules(Measured(1.3)).value
    assert full == pytest.approx(999.50 * 9.7991 * (0.1 * 9.2 + 0.4 * 9.75), rel=1e-4)


@pytest.mark.parametrize(("degC", "density"), [(20.0, 998.2041), (-3.0, 999.84), (75.0, 983.1989),
                                               (None, 999.498)])
def test_the_water_is_as_dense_as_its_temperature_says(degC, density):
    # Kell 1975; beyond 0 to 60 degC a sensor is wrong, without one 12 degC are assumed.
    assert Store(plant.DEMO, degC).density_kg_m3 == pytest.approx(density, abs=1e-3)
