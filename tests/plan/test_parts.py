"""Filling, supply, mounting and limits of a plan: each says what it must and no more."""

from typing import Any

import pytest

from forebay.plan import document, filling, limits, mounting, supply
from forebay.rig import machines
from keeper.physics import of_rig
from keeper.physics.solar_pump import SolarPump
from tests.plan import scene


def figures(part) -> Any:
    return {one.key: one for one in part.figures}


def table(part, key):
    return next(one for one in part.tables if one.key == key)


@pytest.mark.parametrize("name", scene.NAMES[:6])
def test_every_float_is_where_its_volume_is_and_moves_back_on_the_right_side(name):
    values = scene.values_of(name)
    rows = table(mounting.part(values), "floats").rows
    assert [row[0] for row in rows] == ["LSL-UP", "LSH-UP", "LSHH-UP", "LSL-LO", "LSH-LO", "-"]
    for tag, _, volume_m3, level_m, _, back_m, _ in rows[:-1]:
        shape = of_rig.tank(values, "upper." if tag.endswith("UP") else "lower.")
        assert shape.volume_m3(level_m) == pytest.approx(volume_m3)
        assert (back_m > level_m) == tag.startswith("LSL")
    upper_m = [row[3] for row in (rows[0], rows[1], rows[2], rows[5])]
    assert upper_m == sorted(upper_m)


def test_an_absent_float_is_not_read_and_the_one_in_the_supply_is_hardware():
    read = {row[0]: row[-1] for row in table(
        mounting.part(scene.values_of("orchard")), "floats").rows}
    assert (read["LSL-UP"], read["LSH-UP"], read["LSHH-UP"]) == ("absent", "fitted", "hardware")


@pytest.mark.parametrize("name", scene.NAMES[:4])
def test_changes_are_ranked_and_a_larger_tank_loses_nothing(name):
    plan = scene.plan_of(name)
    part = next(one for one in plan.parts if one.key == "limits")
    gains = [row[1][0] for row in table(part, "changes").rows if row[1]]
    assert gains == sorted(gains, reverse=True)
    by_name = {row[0]: row[1] for row in table(part, "changes").rows}
    assert len(by_name) == len(limits.CHANGES)
    for change in ("tank half as large again", "bearings of half the friction",
                   "panel half as large again"):
        assert by_name[change][0] >= -0.01 * figures(part)["mean_night_J"].value


@pytest.mark.parametrize("name", scene.NAMES[:4])
def test_where_the_power_goes_adds_up_to_all_of_it(name):
    part = next(one for one in scene.plan_of(name).parts if one.key == "limits")
    for way in ("up", "down"):
        shares = [row[3] for row in table(part, "losses").rows if row[0] == way]
        assert sum(shares) == pytest.approx(1.0)


def test_the_board_lives_on_its_battery_as_long_as_by_hand():
    # 80 % of 6 Ah at 12.8 V is 61.4 Wh; 0.2 W take 4.8 Wh a day: 12.8 days.
    found = figures(supply.part(scene.values_of("hillside"), 14.0, 4.0))
    assert found["dull_days"].value == pytest.approx(12.8)
    assert found["board_J"].value == pytest.approx(4.8 * 3600)
    assert found["board_night_J"].value == pytest.approx(14.0 * 0.2 * 3600)


def test_a_battery_for_a_day_is_a_warning_and_frost_is_told_where_it_comes():
    small = scene.variant("hillside", supply__capacity="0.5 Ah").plant()
    assert [said for said in supply.part(small, 12.0, 4.0).warns if "27-SUP" in said]
    assert [said for said in supply.part(small, 12.0, 4.0).says if "frost" in said]
    mild = {**small, "site.coldest_cell_degC": 12.0}
    assert not supply.part(mild, 12.0, 4.0).says


def test_leads_that_are_not_stated_have_no_figure():
    keys = figures(supply.part(scene.values_of("hillside"), 12.0, 4.0))
    assert "panel_drop_V" not in keys
    assert "lamp_drop_V" not in keys


@pytest.mark.parametrize("name", scene.NAMES[:4])
def test_the_sun_from_which_it_lifts_is_that_of_the_useful_flow(name):
    values = scene.values_of(name)
    sun_W_m2 = filling.start_sun_W_m2(values, 15.0)
    assert sun_W_m2
    pump = SolarPump(*of_rig.solar_pump(values, *of_rig.water(values)))
    flows = [pump.steady(share * sun_W_m2, 15.0 + share * sun_W_m2 / machines.STILL_AIR_W_M2_K,
                         machines.longest_lift_m(values))[0] for share in (0.99, 1.0, 1.01)]
    useful_m3_s = values["limits.useful_flow_m3_s"]
    assert flows[0] < useful_m3_s < flows[2]
    assert flows[1] == pytest.approx(useful_m3_s, rel=1e-3)


def test_a_pump_that_lifts_in_no_sun_starts_at_none():
    weak = {**scene.values_of("hillside"), "limits.useful_flow_m3_s": 1.0}
    assert filling.start_sun_W_m2(weak, 15.0) is None


def test_a_plan_counts_what_is_assumed():
    told = document.document(scene.plan_of("hillside"))
    assert "marks no figure as assumed" in told["known"]["says"][0]
    assert {row["known"] for row in told["known"]["matters"]} <= {"stated", "assumed"}
