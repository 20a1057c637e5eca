"""Many days at once: the arrays are those of single days, and a year is a year."""

import json
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pvlib
import pytest

from forebay.sun import SunError, coarse, load, several
from forebay.sun.load import read
from tests.sun import weather
from tests.sun.files import PANEL, SITE, csv_rows, ghi, minutes, stamp, write_csv
from tests.sun.test_measured_days import DEMO

PACKAGED = Path(pvlib.__file__).parent / "data"  # weather years that pvlib's wheel carries
DAYS = [date(2025, month, 15) for month in (1, 4, 6, 10)]


def energy(found):
    """Light on the panel of each day [Wh/m2]."""
    return found.poa_w_m2.sum(axis=1) * found.step_s / 3600


def packaged(name):
    assert (PACKAGED / name).exists(), f"this pvlib has no {name}: write the year of another"
    return PACKAGED / name


def test_a_day_of_minutes_has_the_light_of_the_single_day():
    found = several.of_file(DEMO, SITE, **PANEL)
    track = load(DEMO, SITE, **PANEL)
    assert found.days == [track.day]
    assert found.poa_w_m2.shape == found.cell_degC.shape == found.air_degC.shape == (1, 144)
    # the sun at the middle of ten minutes, not at each: a few hundredths of a percent
    assert energy(found)[0] == pytest.approx(sum(track.poa_w_m2) / 60, rel=1e-3)
    assert found.sunrise_h[0] == pytest.approx(
        track.sunrise.hour + track.sunrise.minute / 60, abs=1 / 60)


@pytest.mark.parametrize("kind", sorted(set(weather.KINDS) - {"SRML"}))
def test_each_kind_gives_its_day(tmp_path, kind):
    found = several.of_file(weather.write(tmp_path, kind), SITE, **PANEL)
    track = load(tmp_path / f"sun{weather.KINDS[kind][2]}", SITE, date="01-01", **PANEL)
    place = found.days.index(track.day)
    assert energy(found)[place] == pytest.approx(sum(track.poa_w_m2) / 60, rel=0.01)


@pytest.mark.parametrize("name", ["703165TY.csv", "723170TYA.CSV", "12839.tm2"])
def test_a_typical_year_has_365_days_and_the_files_own_sum(name):
    path = packaged(name)
    found = several.of_file(path, SITE, tilt_deg=0.0, azimuth_deg=180.0, albedo=0.0)
    assert len(found.days) == 365
    assert found.days == sorted(found.days)
    reader = pvlib.iotools.read_tmy2 if name.endswith("tm2") else pvlib.iotools.read_tmy3
    table, meta = reader(str(path))
    sums = table["GHI" if name.endswith("tm2") else "ghi"].to_numpy().reshape(365, 24).sum(axis=1)
    # an hour may have light of the twilight, with no middle of a step in the sun
    assert energy(found) == pytest.approx(sums, rel=1e-4, abs=coarse.TWILIGHT_W_M2)
    assert found.station.latitude_deg == meta["latitude"]
    assert found.station.zone_h == meta["TZ"]


def test_a_day_of_a_typical_year_is_chosen_by_month_and_day_in_whichever_year():
    path = packaged("723170TYA.CSV")
    plain = load(path, SITE, date="03-07", **PANEL)
    dated = load(path, SITE, date="2026-03-07", **PANEL)
    assert (plain.day, dated.day) == (date(2015, 3, 7), date(2026, 3, 7))
    assert sum(dated.poa_w_m2) == pytest.approx(sum(plain.poa_w_m2), rel=0.005)
    assert [note for note in plain.notes if "3 of 1990" in note and "one of 2015" in note]
    leap = load(path, SITE, date="2024-02-28", **PANEL)
    assert leap.day == date(2024, 2, 28)
    with pytest.raises(SunError, match="no rows by day on 2024-02-29"):
        load(path, SITE, date="2024-02-29", **PANEL)


def test_each_month_of_tmy2_is_told_in_its_own_year():
    # The first and the first row of March in the file itself begin with 62 01 01 and 88 03 01.
    notes = read(packaged("12839.tm2")).notes
    assert [note for note in notes if "(1 of 1962, 2 of 1961, 3 of 1988," in note]


def test_the_panels_plane_of_a_typical_day_is_that_of_pvlibs_own_chain():
    # Hour by hour with pvlib alone: sun at the middle of the hour, SPA, isotropic sky. An
    # hour's mean is not the light of its middle: the cosine of incidence curves, by
    # 1 - sinc(7.5 deg) = 0.3 %, and hours with the sun low have another part of it up.
    path = packaged("723170TYA.CSV")
    table, meta = pvlib.iotools.read_tmy3(str(path), coerce_year=2015)
    day = table.iloc[24 * 182:24 * 183]  # 2 July
    middles = pd.DatetimeIndex(day.index) - pd.Timedelta(minutes=30)
    sun = pvlib.solarposition.get_solarposition(
        middles, meta["latitude"], meta["longitude"], meta["altitude"])
    expected = np.asarray(pvlib.irradiance.get_total_irradiance(
        30.0, 170.0, sun["apparent_zenith"], sun["azimuth"], day["dni"].to_numpy(),
        day["ghi"].to_numpy(), day["dhi"].to_numpy(), albedo=0.2)["poa_global"])
    found = several.of_file(path, SITE, tilt_deg=30.0, azimuth_deg=170.0, albedo=0.2)
    hours = found.poa_w_m2[found.days.index(date(2015, 7, 2))].reshape(24, -1).mean(axis=1)
    is_high = np.asarray(sun["apparent_zenith"]) < 70.0
    assert hours.sum() == pytest.approx(expected.sum(), rel=0.02)
    assert hours[is_high] == pytest.approx(expected[is_high], rel=0.03)


def test_pvgiss_year_begins_at_local_midnight(tmp_path):
    # Ten hours east of Greenwich the first local hours are the file's last rows.
    place = {"latitude": -35.0, "longitude": 150.0, "elevation": 10.0}
    first = minutes("2001-01-01T00:00Z", 8760, 3600)
    rows = [{"time(UTC)": f"{2010 + moment.month}{moment:%m%d:%H%M}", "T2m": 20.0,
             "G(h)": max(0.0, ghi(moment, -35.0, 150.0)), "WS10m": 1.0} for moment in first]
    path = tmp_path / "sun.json"
    path.write_text(json.dumps({
        "inputs": {"location": place}, "meta": {"inputs": {}},
        "outputs": {"months_selected": [], "tmy_hourly": rows}}))
    found = several.of_file(path, SITE, **PANEL)
    assert len(found.days) == 365
    assert found.station.zone_h == 10.0
    noon = found.poa_w_m2.argmax(axis=1) * found.step_s / 3600
    assert np.abs(noon - 12.0).max() < 1.5


def test_days_that_lack_light_are_left_out_and_said(tmp_path):
    rows = csv_rows("2016-01-01T07:00Z", 72, 3600)
    del rows[36]
    found = several.of_file(write_csv(tmp_path / "sun.csv", rows), SITE, **PANEL)
    assert found.days == [date(2016, 1, 1), date(2016, 1, 3)]
    assert [note for note in found.notes
            if note == "1 local day lacks light by day and is left out: 2016-01-02."]


def test_several_days_that_lack_light_are_told_as_several(tmp_path):
    rows = csv_rows("2016-01-01T07:00Z", 96, 3600)
    del rows[60], rows[36]
    found = several.of_file(write_csv(tmp_path / "sun.csv", rows), SITE, **PANEL)
    assert ("2 local days lack light by day and are left out: 2016-01-02, 2016-01-03."
            in found.notes)


def test_a_file_in_a_wrong_zone_is_refused(tmp_path):
    rows = [[stamp(moment - timedelta(hours=3)), f"{max(ghi(moment), 0.0)}"]
            for moment in minutes("2016-01-01T00:30-07:00", 240, 3600)]
    with pytest.raises(SunError, match="light at times without sun"):
        several.of_file(write_csv(tmp_path / "sun.csv", rows), SITE, **PANEL)


def test_a_file_without_a_whole_day_is_refused(tmp_path):
    path = write_csv(tmp_path / "sun.csv", csv_rows(count=10, step_s=3600))
    with pytest.raises(SunError, match="no complete local day"):
        several.of_file(path, SITE, **PANEL)


def test_a_modelled_clear_day_is_the_clear_day_but_for_how_it_is_split():
    # On level ground nothing is split.
    level: dict[str, Any] = {"tilt_deg": 0.0, "azimuth_deg": 180.0, "albedo": 0.0}
    found = several.modelled(SITE, [date(2016, 1, 1)], [1.0], **level)
    track = load("clear", SITE, date="2016-01-01", **level)
    assert energy(found)[0] == pytest.approx(sum(track.poa_w_m2) / 60, rel=5e-3)


@pytest.mark.parametrize("share", [0.0, 0.2, 0.5, 0.87, 1.0, 1.1])
@pytest.mark.parametrize("variability", [0, 1])
def test_a_modelled_day_has_its_share_of_the_clear_days_light(share, variability):
    level: dict[str, Any] = {"tilt_deg": 0.0, "azimuth_deg": 180.0, "albedo": 0.0}
    whole = energy(several.modelled(SITE, DAYS, 1.0, **level, variability=variability))
    found = energy(several.modelled(SITE, DAYS, share, **level, variability=variability))
    # refraction between the split and the plane leaves some tenths of a percent
    assert found == pytest.approx(share * whole, rel=0.01)


def test_a_broken_sky_has_clear_minutes_where_an_even_one_has_none():
    even = several.modelled(SITE, DAYS, 0.5, **PANEL, step_s=60)
    broken = several.modelled(SITE, DAYS, 0.5, **PANEL, variability=1)
    clear = several.modelled(SITE, DAYS, 1.0, **PANEL, step_s=60)
    assert broken.step_s == 60
    noon = slice(710, 730)
    brightest, clearest = (found.poa_w_m2[:, noon].max(axis=1) for found in (broken, clear))
    darkest, even_darkest = (found.poa_w_m2[:, noon].min(axis=1) for found in (broken, even))
    assert (brightest > 0.99 * clearest).all()
    assert (darkest < even_darkest).all()


def test_days_may_come_again_each_with_its_own_share():
    both = several.modelled(SITE, DAYS * 2, [1.0] * 4 + [0.4] * 4, **PANEL)
    again = several.modelled(SITE, DAYS, 0.4, **PANEL)
    assert both.days == DAYS * 2
    assert np.array_equal(both.poa_w_m2[4:], again.poa_w_m2)


@pytest.mark.parametrize("share", [-0.1, 1.2, float("nan")])
def test_a_share_out_of_range_is_refused(share):
    with pytest.raises(SunError, match="must be 0 to 1.1"):
        several.modelled(SITE, DAYS, share, **PANEL)


def test_the_air_is_the_stated_the_rigs_the_files_or_a_default(tmp_path):
    path = weather.write(tmp_path, "EPW")
    warm = type(SITE)(**{**vars(SITE), "air_temperature_degC": 21.0})
    for site, stated, wanted in ((SITE, None, weather.AIR_DEGC), (warm, None, 21.0),
                                 (warm, 3.0, 3.0)):
        found = several.of_file(path, site, air_temperature_degC=stated, **PANEL)
        assert found.air_degC == pytest.approx(np.full((1, 144), wanted))
    assert several.modelled(SITE, DAYS, 1.0, **PANEL).air_degC[0, 0] == 15.0


def test_cells_are_warmer_than_the_air_by_day_and_as_warm_by_night():
    found = several.modelled(SITE, DAYS, 1.0, **PANEL)
    dark = found.poa_w_m2 == 0.0
    assert np.array_equal(found.cell_degC[dark], found.air_degC[dark])
    assert (found.cell_degC[~dark] > found.air_degC[~dark]).all()


def test_readings_of_a_typical_year_go_forward_in_time():
    readings = read(packaged("703165TY.csv"), 2024)
    steps_s = np.diff(readings.times_s)
    # one day longer where the leap day is left out
    assert sorted(set(steps_s)) == [3600.0, 90000.0]
