"""Sun position, clear sky, tilted plane, cells: against published figures."""

from datetime import UTC, date, datetime, timedelta, timezone

import numpy as np
import pandas as pd
import pytest

from forebay.sun import plane, position
from forebay.sun.station import Station

GOLDEN = Station(39.742476, -105.1786, 1830.14)
SOUTH = Station(-35.0, 0.0, 0.0)


def seconds(day, clock, hours):
    moment = datetime.fromisoformat(f"{day}T{clock}")
    return moment.replace(tzinfo=timezone(timedelta(hours=hours))).timestamp()


def rise_and_set(day, station):
    events = position.rise_and_set([day], station)[0]
    assert events is not None
    return events


def test_position_is_that_of_the_worked_example_of_the_algorithm():
    # Reda and Andreas, NREL/TP-560-34302, example of 2003-10-17 12:30:30 UTC-7,
    # digits as in pvlib's tests/test_spa.py. The refraction alone depends on
    # pressure and temperature, which are standard ones here (820 hPa, 11 degC there).
    row = position.sun([seconds("2003-10-17", "12:30:30", -7)], GOLDEN).iloc[0]
    assert row["elevation"] == pytest.approx(39.872046, abs=1e-5)
    assert row["azimuth"] == pytest.approx(194.340241, abs=1e-5)
    assert row["apparent_zenith"] == pytest.approx(50.111622, abs=5e-4)


@pytest.mark.parametrize(
    ("station", "day", "hours", "sunrise", "sunset", "within_s"),
    [
        # SPA calculator of NREL, as in pvlib's tests/test_solarposition.py
        (GOLDEN, "2015-01-02", -7, "07:21:55", "16:47:43", 1.0),
        (GOLDEN, "2015-08-02", -7, "05:00:27", "19:13:58", 1.0),
        (SOUTH, "1996-07-05", 0, "07:08:15", "17:01:04", 1.0),
        (SOUTH, "2004-12-04", 0, "04:38:57", "19:02:03", 1.0),
        # US Naval Observatory, whole minutes, same file
        (GOLDEN, "2015-01-01", -7, "07:22:00", "16:47:00", 60.0),
        (GOLDEN, "2015-01-03", -7, "07:22:00", "16:49:00", 60.0),
    ],
)
def test_sunrise_and_sunset_are_the_almanacs(station, day, hours, sunrise, sunset, within_s):
    rise, set_ = rise_and_set(date.fromisoformat(day), station)
    assert rise == pytest.approx(seconds(day, sunrise, hours), abs=within_s)
    assert set_ == pytest.approx(seconds(day, sunset, hours), abs=within_s)


def test_sunrise_lies_on_the_local_day_where_the_zone_is_a_day_ahead_of_the_longitude():
    # The Line Islands keep UTC+14 at 157 W: noon there is 22:30 UTC of the day before.
    island = Station(1.87, -157.4, 3.0, utc_offset_h=14.0)
    day = date(2015, 8, 2)
    rise, set_ = rise_and_set(day, island)
    zone = timezone(timedelta(hours=14))
    assert datetime.fromtimestamp(rise, UTC).astimezone(zone).date() == day
    assert datetime.fromtimestamp(set_, UTC).astimezone(zone).date() == day


def test_no_sunrise_in_the_polar_night():
    assert position.rise_and_set([date(2016, 1, 1)], Station(78.2, 15.6, 0.0)) == [None]


@pytest.mark.parametrize(
    ("zenith_deg", "height_m", "expected"),
    [
        (30.0, 0.0, (896.7649, 916.4501, 103.0958)),
        (60.0, 0.0, (469.6223, 787.8073, 75.7186)),
        (50.11162, 1830.14, (706.9423, 946.8014, 99.7642)),
    ],
)
def test_clear_sky_is_that_of_ineichen_and_perez(zenith_deg, height_m, expected):
    # Values of pvlib.clearsky.ineichen at turbidity 3 with 1364 W/m2 outside of
    # the atmosphere; the model is linear in that, so the day's own is divided out.
    from pvlib import irradiance

    times = pd.DatetimeIndex(["2016-01-01T19:00Z"])
    sun = pd.DataFrame({"apparent_zenith": [zenith_deg]}, index=times)
    scale = 1364.0 / float(np.asarray(irradiance.get_extra_radiation(times))[0])
    got = [float(part[0]) * scale for part in plane.clear_sky(sun, times, height_m)]
    assert got == pytest.approx(expected, abs=2e-3)


def test_tilted_plane_by_hand():
    # DNI 800, GHI 600, DHI 100 W/m2, sun at zenith 50.11162, azimuth 194.34024, panel
    # 30 deg to the south, albedo 0.2: cos(incidence) = cos 50.11162 cos 30 +
    # sin 50.11162 sin 30 cos 14.34024 = 0.927071; 741.657 + 100 (1 + cos 30)/2 +
    # 600 x 0.2 (1 - cos 30)/2 = 741.657 + 93.301 + 8.038 = 842.996.
    sun = pd.DataFrame({"apparent_zenith": [50.11162], "azimuth": [194.34024]})
    got = plane.plane_of_array((600.0, 800.0, 100.0), sun, 30.0, 180.0, 0.2)
    assert float(np.asarray(got)[0]) == pytest.approx(842.996, abs=1e-3)


@pytest.mark.parametrize(
    ("poa", "air", "wind", "expected"),
    [(800, 25, 1, 50.12563), (1000, 20, 1, 51.40704), (900, 20, 5, 35.20270)],
)
def test_cells_are_as_warm_as_faimans_formula_says(poa, air, wind, expected):
    # By hand: 25 + 800 / (25 + 6.84) = 50.12563; the last is also in pvlib's
    # tests/test_temperature.py (35.203, from memory).
    assert plane.cell_degC(poa, air, wind) == pytest.approx(expected, abs=1e-5)


def test_direct_and_diffuse_from_global_alone_are_those_of_erbs():
    # pvlib's tests/test_irradiance.py, test_erbs (from memory): day 1,
    # GHI 50 and 1000 at zenith 85 and 10.
    times = pd.DatetimeIndex(["2014-01-01T12:00Z", "2014-01-01T12:01Z"])
    sun = pd.DataFrame({"zenith": [85.0, 10.0]}, index=times)
    ghi = pd.Series([50.0, 1000.0], index=times).to_numpy()
    dni, dhi = plane.decomposed(ghi, sun, times)
    assert list(dni) == pytest.approx([96.7192672, 794.205651], rel=1e-6)
    assert list(dhi) == pytest.approx([41.5703604, 217.860117], rel=1e-6)
