"""Values up to an hour apart: what the bridge between them keeps, and what it cannot know."""

import math
from datetime import timedelta
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from forebay.sun import SunError, coarse, csvfile, load, plane, position
from forebay.sun.bridge import Bridge, Sky
from forebay.sun.station import Station, from_sidecar
from tests.sun.files import (
    SITE,
    csv_rows,
    ghi,
    index_of,
    loaded,
    minutes,
    noted,
    stamp,
    write_csv,
    write_poa,
)
from tests.sun.test_measured_days import ARM_STATION, DEMO, SHARED

HERE = Station(38.0, -106.0, 300.0)
BEGIN_S = 1451631600  # 2016-01-01T00:00-07:00
LEVEL = {"tilt_deg": 0.0, "azimuth_deg": 180.0, "albedo": 0.0}


def sky_of_a_day():
    return Sky(BEGIN_S + 60 * np.arange(1440), HERE, (45.0, 180.0, 0.2))


SKY = sky_of_a_day()


def slots_of(step_min):
    times_s = BEGIN_S + 60 * np.arange(1440)
    return coarse.Slots(times_s, BEGIN_S, step_min * 60, 1440 // step_min)


def hourly_rows(values, name_of_time="time", step_min=60, shift_min=30):
    """CSV rows of one local day."""
    return [[stamp(moment + timedelta(minutes=shift_min)), f"{value:.4f}"]
            for moment, value in zip(minutes("2016-01-01T00:00-07:00", len(values), 60 * step_min),
                                     values, strict=True)]


steps_min = st.sampled_from([5, 10, 15, 30, 60])


@settings(max_examples=60, deadline=None)
@given(steps_min, st.data())
def test_every_interval_keeps_its_mean(step_min, data):
    slots = slots_of(step_min)
    clear = SKY.shapes()["ghi_w_m2"]
    usual = slots.means(clear)
    index = data.draw(st.lists(st.floats(0.0, 1.4), min_size=1, max_size=24))
    values = usual * np.resize(index, slots.count)
    fine = coarse.bridged(values, slots, clear)
    assert slots.means(fine) == pytest.approx(values, abs=1e-6)
    assert fine.min() >= 0.0
    assert not fine[clear <= 0.0].any()


@settings(max_examples=60, deadline=None)
@given(steps_min, st.data())
def test_direct_and_diffuse_close_to_global_at_every_minute(step_min, data):
    slots = slots_of(step_min)
    shapes = SKY.shapes()
    draw = st.lists(st.floats(0.0, 1.4), min_size=1, max_size=24)
    columns = {name: slots.means(shapes[name]) * np.resize(data.draw(draw), slots.count)
               for name in ("ghi_w_m2", "dni_w_m2", "dhi_w_m2")}
    fine = coarse.parts(columns, slots, shapes, SKY.cos_zenith)
    up = np.clip(SKY.cos_zenith, 0.0, None)
    rest = fine["ghi_w_m2"] - fine["dni_w_m2"] * up - fine["dhi_w_m2"]
    assert np.abs(rest).max() < 1e-9
    assert all(values.min() >= 0.0 for values in fine.values())
    assert slots.means(fine["ghi_w_m2"]) == pytest.approx(columns["ghi_w_m2"], abs=1e-6)


@pytest.mark.parametrize("step_min", [5, 15, 30, 60])
@pytest.mark.parametrize("share", [0.0, 0.3, 1.0])
def test_a_share_of_the_clear_day_comes_back_as_that_share(step_min, share):
    slots = slots_of(step_min)
    clear = SKY.shapes()["ghi_w_m2"]
    fine = coarse.bridged(share * slots.means(clear), slots, clear)
    assert fine == pytest.approx(share * clear, abs=1e-9)
    moments = np.interp(slots.middle_s, slots.times_s, share * clear)
    fine = coarse.bridged(moments, slots, clear, momentary=True)
    # an hour in which the sun is up for some minutes only has no moment that tells of it
    high = SKY.cos_zenith > math.cos(math.radians(80.0))
    assert fine[high] == pytest.approx((share * clear)[high], rel=0.02)


def test_more_light_than_a_clear_sky_near_the_horizon_is_spread_evenly():
    slots = slots_of(15)
    clear = SKY.shapes()["ghi_w_m2"]
    values = slots.means(clear)
    first = int(np.flatnonzero(values)[0])
    values[first] *= 3.0
    fine = coarse.bridged(values, slots, clear)
    assert slots.means(fine) == pytest.approx(values)
    of_it = fine[(slots.index == first) & (clear > 0.0)]
    assert of_it.max() == pytest.approx(of_it.min())


def test_an_interval_without_a_value_stays_without_one():
    slots = slots_of(60)
    clear = SKY.shapes()["ghi_w_m2"]
    values = slots.means(clear)
    values[12] = math.nan
    fine = coarse.bridged(values, slots, clear)
    assert np.isnan(fine[12 * 60:13 * 60]).all()
    assert np.isfinite(np.delete(fine, np.s_[12 * 60:13 * 60])).all()


@pytest.mark.parametrize(
    ("name", "shift_min"), [("time", 30), ("time_start", 0), ("time_end", 60)]
)
def test_the_name_of_the_time_says_which_end_of_the_mean_it_is(tmp_path, name, shift_min):
    values = [max(0.0, sum(ghi(moment) for moment in minutes(
        f"2016-01-01T{hour:02}:00-07:00", 60)) / 60) for hour in range(24)]
    rows = hourly_rows(values, shift_min=shift_min)
    path = write_csv(tmp_path / "sun.csv", rows, f"{name},ghi_w_m2")
    track = load(path, SITE, **LEVEL)
    for hour in range(8, 17):
        at = index_of(track, (hour + 7) % 24)
        assert sum(track.poa_w_m2[at:at + 60]) / 60 == pytest.approx(values[hour], rel=0.01)
    assert noted(track, "Hourly values, each a mean")
    assert noted(track, "no cloud's edge within the hour is in them")


def test_light_in_the_panels_plane_keeps_its_means(tmp_path):
    clear = SKY.shapes()["poa_w_m2"].reshape(24, 60).mean(axis=1) * 0.6
    track = loaded(write_poa(tmp_path, hourly_rows(clear)))
    at = index_of(track, 19)  # noon
    assert sum(track.poa_w_m2[at:at + 60]) / 60 == pytest.approx(clear[12], abs=1e-3)


def test_rows_five_minutes_apart_bridge_two_of_them_and_say_so(tmp_path):
    rows = csv_rows(count=288, step_s=300)
    del rows[228:230]  # 19:00 and 19:05 UTC
    track = loaded(write_csv(tmp_path / "sun.csv", rows))
    assert noted(track, "Bridged 10 min without usable ghi_w_m2")


def test_three_of_them_are_refused_with_their_rows(tmp_path):
    rows = csv_rows(count=288, step_s=300)
    del rows[228:231]
    with pytest.raises(SunError, match="sun.csv:229-230: no usable ghi_w_m2 by day for 15 min"):
        loaded(write_csv(tmp_path / "sun.csv", rows))


def test_a_day_that_ends_at_noon_may_be_taken_as_dark_from_there(tmp_path):
    rows = csv_rows("2016-01-01T07:30Z", 12, 3600)
    path = write_csv(tmp_path / "sun.csv", rows)
    with pytest.raises(SunError, match="no complete local daylight"):
        loaded(path)
    track = loaded(path, assume_dark=True)
    assert max(track.poa_w_m2[index_of(track, 19, 30):]) == 0.0
    assert noted(track, "taken as dark")


def test_hours_in_a_wrong_zone_are_refused(tmp_path):
    rows = [[stamp(moment - timedelta(hours=2)), f"{max(ghi(moment), 0.0)}"]
            for moment in minutes("2016-01-01T00:30-07:00", 24, 3600)]
    with pytest.raises(SunError, match="more than comes from the sun at that time"):
        loaded(write_csv(tmp_path / "sun.csv", rows))


def test_air_between_rows_is_on_the_straight_line(tmp_path):
    rows = [[*row, f"{place}.0"] for place, row in enumerate(csv_rows(count=49, step_s=1800))]
    track = loaded(write_csv(tmp_path / "sun.csv", rows, "time,ghi_w_m2,air_degC"))
    assert track.air_degC[index_of(track, 19)] == pytest.approx(38.0)
    assert track.air_degC[index_of(track, 19, 15)] == pytest.approx(38.5)


def measured_days():
    """(readings, station) of measured days of minutes."""
    yield csvfile.read(DEMO), from_sidecar(DEMO.with_name("sun-2016-01-01.station.toml"))
    if SHARED.is_dir():
        latitude, longitude, height = map(float, ARM_STATION.split(","))
        yield (csvfile.read(Path(SHARED) / "arm_sgpbrsC1_20190705.csv"),
               Station(latitude, longitude, height))


def closed(ghi_w_m2, dni_w_m2, sky):
    """The parts with ghi = dni cos z + dhi, where instruments differ by some W/m2."""
    up = np.clip(sky.cos_zenith, 0.0, None)
    dni_w_m2 = np.where(up > 0.0, np.minimum(dni_w_m2, ghi_w_m2 / np.maximum(up, 1e-9)), 0.0)
    return {"ghi_w_m2": ghi_w_m2, "dni_w_m2": dni_w_m2, "dhi_w_m2": ghi_w_m2 - dni_w_m2 * up}


@pytest.mark.parametrize(("readings", "station"), measured_days())
@pytest.mark.parametrize("step_min", [5, 15, 30, 60])
def test_a_measured_day_averaged_and_bridged_has_its_light_at_every_hour(
    readings, station, step_min
):
    # GHI is kept to rounding. In the panel's plane, what averaging loses is where within
    # the interval the light was: the sun moves 7.5 deg from the middle of an hour to its
    # end, which changes the cosine of its incidence by at most sin(7.5 deg) = 0.13, up on
    # one side and down on the other. A day's light is to be kept within a tenth of that.
    count = len(readings.times_s) // step_min * step_min
    times_s = np.array(readings.times_s[:count])
    sky = Sky(times_s, station, (45.0, 180.0, 0.2))
    ghi_w_m2, dni_w_m2 = (np.nan_to_num(np.array(readings.columns[name][:count], dtype=float))
                          for name in ("ghi_w_m2", "dni_w_m2"))
    truth = closed(np.maximum(ghi_w_m2, 0.0), np.maximum(dni_w_m2, 0.0), sky)
    means = {name: values.reshape(-1, step_min).mean(axis=1) for name, values in truth.items()}
    slots = coarse.Slots(times_s, times_s[0], step_min * 60, count // step_min)
    fine = coarse.parts(means, slots, sky.shapes(), sky.cos_zenith)
    is_sunny = slots.means((sky.shapes()["ghi_w_m2"] > 0.0).astype(float)) > 0.0
    assert slots.means(fine["ghi_w_m2"])[is_sunny] == pytest.approx(
        means["ghi_w_m2"][is_sunny], abs=1e-6)
    measured, bridged = (
        np.asarray(plane.plane_of_array(tuple(parts.values()), sky.sun, 45.0, 180.0, 0.2))
        for parts in (truth, fine))
    assert bridged.sum() == pytest.approx(measured.sum(), rel=0.013)


def test_the_low_precision_sun_is_the_precise_one_within_what_it_says():
    times_s = BEGIN_S + 977 * np.arange(32_000)
    times = position.utc_times(times_s)
    for station in (HERE, Station(-35.0, 150.0, 0.0), Station(65.0, 25.0, 100.0)):
        precise, quick = position.sun(times_s, station), position.quick(times, station)
        is_up = precise["apparent_zenith"].to_numpy() < 90.0
        for name in ("zenith", "apparent_zenith", "azimuth"):
            miss = np.abs(precise[name].to_numpy() - quick[name].to_numpy())[is_up]
            assert np.minimum(miss, 360.0 - miss).max() < 0.05, name


def test_a_bridge_names_the_row_of_a_minute(tmp_path):
    readings = csvfile.read(write_csv(tmp_path / "sun.csv", hourly_rows([0.0] * 24)))
    bridge = Bridge(readings, 3600.0, HERE, (45.0, 180.0, 0.2), [])
    assert bridge.line_at(BEGIN_S // 60 + 5 * 60 + 59) == 5 + 2
    assert (bridge.first, bridge.last) == (BEGIN_S // 60, BEGIN_S // 60 + 1439)
