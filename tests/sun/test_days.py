"""Which day is shown, whose sun it is, and what is assumed of the night."""

import math
import subprocess
import sys
from datetime import UTC, date, datetime, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from forebay.sun import Station, SunError
from forebay.sun.track import POINTS
from tests.sun.files import (
    START,
    csv_rows,
    ghi,
    index_of,
    loaded,
    minutes,
    noted,
    stamp,
    write_csv,
    write_surfrad,
)


def test_the_track_is_a_day_and_the_night_after_it(tmp_path):
    track = loaded(write_csv(tmp_path / "sun.csv", csv_rows()))
    assert track.start_utc == START
    assert track.day == date(2016, 1, 1)
    assert track.sunrise.isoformat().startswith("2016-01-01T07:20")
    assert track.sunrise - track.start_utc >= timedelta(minutes=30)
    assert all(value == 0.0 for value in track.poa_w_m2[:80])
    # the low winter sun shines steeper on the tilted panel than on level ground
    assert max(track.poa_w_m2[80:655]) > max(ghi(time) for time in minutes(START.isoformat(), 600))
    assert all(value == 0.0 for value in track.poa_w_m2[660:])
    for values in (track.poa_w_m2, track.cell_degC, track.air_degC):
        assert len(values) == POINTS == 1441
        assert {type(value) for value in values} == {float}


def test_the_night_after_the_file_is_assumed_and_said(tmp_path):
    track = loaded(write_csv(tmp_path / "sun.csv", csv_rows()))
    assert track.dark_from_index == index_of(track, 23, 59) + 1
    assert noted(track, "The file ends at 16:59 local: the night that follows is assumed")


def test_nothing_is_assumed_where_the_file_holds_the_night(tmp_path):
    track = loaded(write_csv(tmp_path / "sun.csv", csv_rows(count=2880)), date="2016-01-01")
    assert track.dark_from_index == POINTS
    assert not noted(track, "assumed")


@pytest.mark.parametrize(("header", "longitude"), [("105.92", -105.92), ("-77.93", -77.93)])
def test_the_side_of_the_earth_comes_from_the_zenith_not_from_the_header(
    tmp_path, header, longitude
):
    # Two stations of one network write degrees west with opposite signs.
    path = tmp_path / "sun.dat"
    write_surfrad(path, f"  39.00  {header} 300 m version 1", 39.0, longitude, "2016-01-01T00:00Z")
    track = loaded(path)
    assert track.station.longitude_deg == longitude
    assert track.sunrise.hour == 7
    assert noted(track, "sign of the longitude by the file's solar zenith")


def test_a_station_east_of_greenwich_is_found_as_well(tmp_path):
    path = tmp_path / "sun.dat"
    write_surfrad(path, "  39.00  105.92 300 m version 1", 39.0, 105.92, "2016-01-01T16:00Z")
    assert loaded(path).station.longitude_deg == 105.92


def test_a_header_that_fits_on_neither_side_is_refused(tmp_path):
    path = tmp_path / "sun.dat"
    write_surfrad(path, "  37.00  105.92 300 m version 1", 39.0, -105.92, "2016-01-01T00:00Z")
    with pytest.raises(SunError, match="does not fit the solar zenith"):
        loaded(path)


def test_a_stated_station_is_checked_against_the_zenith(tmp_path):
    path = tmp_path / "sun.dat"
    write_surfrad(path, "  39.00  105.92 300 m version 1", 39.0, -105.92, "2016-01-01T00:00Z")
    assert loaded(path, station="39.0,-105.92,300").station == Station(39.0, -105.92, 300.0)
    in_words = "39 deg, -105.92 deg, 0.3 km"
    assert loaded(path, station=in_words).station == Station(39.0, -105.92, 300.0)
    with pytest.raises(SunError, match="does not fit the solar zenith"):
        loaded(path, station="39.0,105.92,300")


def test_a_sidecar_states_place_and_zone(tmp_path):
    (tmp_path / "sun.station.toml").write_text(
        "latitude_deg = 38.0\nlongitude_deg = -106.0\nheight_m = 2000\nutc_offset_h = -6.5\n"
    )
    track = loaded(write_csv(tmp_path / "sun.csv", csv_rows()))
    assert track.utc_offset_h == -6.5
    assert track.start_utc == datetime(2016, 1, 1, 13, 30, tzinfo=UTC)  # 07:00 local
    assert track.sunrise.isoformat().startswith("2016-01-01T07:50")


def test_without_a_station_the_rigs_site_is_used_and_said(tmp_path):
    track = loaded(write_csv(tmp_path / "sun.csv", csv_rows()))
    assert noted(track, "38.00 N 106.00 W, 300 m (the rig's site, for the file states none)")


def evening_first(count=1440):
    """A UTC day in summer: it starts with one evening and lacks the end of the next."""
    return csv_rows("2019-07-05T00:00Z", count)


def test_a_file_without_a_whole_daylight_is_refused_with_what_is_missing(tmp_path):
    path = write_csv(tmp_path / "sun.csv", evening_first())
    with pytest.raises(SunError) as caught:
        loaded(path)
    text = str(caught.value)
    assert "2019-07-04 lacks 04:4" in text
    assert "2019-07-05 lacks 17:00 to 19:30" in text
    assert "--assume-dark" in text


def test_assume_dark_takes_the_day_with_most_data_and_says_what_is_dark(tmp_path):
    path = write_csv(tmp_path / "sun.csv", evening_first())
    track = loaded(path, assume_dark=True)
    assert track.day == date(2019, 7, 5)
    assert noted(track, "No rows by day from 17:00 to 19:30 local: taken as dark")
    last = track.dark_from_index - 1
    assert track.poa_w_m2[last] > 0
    assert set(track.poa_w_m2[last + 1 :]) == {0.0}


def test_assume_dark_obeys_the_date(tmp_path):
    path = write_csv(tmp_path / "sun.csv", evening_first())
    track = loaded(path, assume_dark=True, date=date(2019, 7, 4))
    assert track.day == date(2019, 7, 4)
    assert noted(track, "to 16:59 local: taken as dark")


def test_date_picks_one_of_several_days(tmp_path):
    path = write_csv(tmp_path / "sun.csv", csv_rows(count=3 * 1440))
    assert loaded(path, date="2016-01-02").day == date(2016, 1, 2)
    assert noted(loaded(path), "3 local days of the file are complete: the first is shown")
    with pytest.raises(SunError, match="no rows on 2016-02-01"):
        loaded(path, date="2016-02-01")


def test_a_clear_day_is_modelled_at_the_rigs_site():
    track = loaded("clear")
    assert track.day == date(2016, 1, 1)
    assert noted(track, "modelled, not measured: clear sky (Ineichen, Linke turbidity 3)")
    assert noted(track, "the default day")
    assert track.dark_from_index == POINTS
    noon = max(track.poa_w_m2)
    assert track.poa_w_m2.index(noon) == pytest.approx(index_of(track, 19, 8), abs=15)
    summer = loaded("clear", date="2016-06-21", tilt_deg=0.0)
    assert sum(summer.poa_w_m2) > 2 * sum(loaded("clear", tilt_deg=0.0).poa_w_m2)


def test_no_clear_day_in_the_polar_night():
    with pytest.raises(SunError, match="does not rise and set"):
        loaded("clear", station="78.2,15.6,0")


@settings(max_examples=25)
@given(
    blocks=st.lists(st.floats(-5.0, 1900.0), min_size=48, max_size=48),
    tilt_deg=st.floats(0.0, 90.0),
    azimuth_deg=st.floats(0.0, 360.0),
    albedo=st.floats(0.0, 1.0),
)
def test_whatever_the_sky_the_track_is_finite_and_whole(
    tmp_path_factory, blocks, tilt_deg, azimuth_deg, albedo
):
    times = [time for time, _ in csv_rows()]
    rows = [
        [time, f"{blocks[index // 30]:.2f}" if 860 <= index else "0"]
        for index, time in enumerate(times)
    ]
    path = write_csv(tmp_path_factory.mktemp("sky") / "sun.csv", rows)
    track = loaded(path, tilt_deg=tilt_deg, azimuth_deg=azimuth_deg, albedo=albedo)
    for values in (track.poa_w_m2, track.cell_degC, track.air_degC):
        assert len(values) == POINTS
        assert all(math.isfinite(value) for value in values)
    assert min(track.poa_w_m2) >= 0.0


def test_importing_the_package_loads_neither_pvlib_nor_anything_of_the_board():
    code = (
        "import sys, forebay.sun;"
        "print([m for m in ('pvlib', 'pandas', 'machine', 'keeper') if m in sys.modules])"
    )
    found = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, timeout=60
    )
    assert found.stdout.strip() == "[]"


def test_stamps_of_the_test_files_are_what_the_documentation_shows():
    assert stamp(START) == "2016-01-01T13:00:00Z"
