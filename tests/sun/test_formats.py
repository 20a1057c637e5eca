"""Published kinds of weather file: known by their beginning, read as pvlib reads them."""

import gzip
from datetime import date, timedelta

import numpy as np
import pytest
from pvlib import iotools

from forebay.sun import SunError, formats, load
from forebay.sun.load import read
from tests.sun import weather
from tests.sun.files import SITE

LEVEL = {"tilt_deg": 0.0, "azimuth_deg": 180.0, "albedo": 0.0}
UNPLACED = ("SRML", "MIDC")  # kinds whose files do not say where they are from


def truth():
    """(minutes since the local midnight, light on level ground) of the smooth day."""
    minutes = np.arange(1440)
    return minutes, np.array([weather.light(weather.DAY + timedelta(minutes=float(minute)))[0]
                              for minute in minutes])


def of_day(track):
    """The track's light by minutes since the local midnight."""
    shift = 60 * track.start_utc.astimezone(weather.LOCAL).hour
    light = np.zeros(1440)
    light[shift:] = track.poa_w_m2[:1440 - shift]
    return light


def test_every_reader_of_pvlib_is_used_or_left_out_with_a_reason():
    readers = {name for name in dir(iotools) if name.startswith("read_")}
    used = {kind.reader for kind in formats.FORMATS}
    assert readers == used | set(formats.LEFT_OUT)
    assert set(weather.KINDS) == {kind.name for kind in formats.FORMATS}


@pytest.mark.parametrize("kind", weather.KINDS)
def test_a_file_is_known_by_its_beginning_whatever_its_name(tmp_path, kind):
    path = weather.write(tmp_path, kind)
    other = path.rename(tmp_path / "a file of the sun")
    assert load(other, SITE, **LEVEL).notes[0] == f"a file of the sun is read as {kind}."


@pytest.mark.parametrize("kind", weather.KINDS)
def test_the_day_has_the_light_of_the_file_at_its_time(tmp_path, kind):
    # A file that took the wrong end of its intervals would have its light half an
    # interval away, one with the wrong zone hours.
    path = weather.write(tmp_path, kind)
    minutes, expected = truth()
    light = of_day(load(path, SITE, date="01-01", **LEVEL))
    # Values of moments have no mean to keep, least with the sun low.
    is_momentary = kind in ("NSRDB", "PVGIS hourly", "PVGIS typical year")
    assert light.sum() == pytest.approx(expected.sum(), rel=0.03 if is_momentary else 0.01)
    interval = weather.KINDS[kind][1]
    centre, wanted = ((minutes * part).sum() / part.sum() for part in (light, expected))
    assert centre == pytest.approx(wanted, abs=max(interval / 4, 1.0))


@pytest.mark.parametrize("kind", weather.KINDS)
def test_the_place_is_the_heads(tmp_path, kind):
    elsewhere = type(SITE)(**{**vars(SITE), "height_m": 77.0})
    station = load(weather.write(tmp_path, kind), elsewhere, **LEVEL).station
    assert station.latitude_deg == weather.LATITUDE_DEG
    assert station.longitude_deg == weather.LONGITUDE_DEG
    assert station.zone_h == -7.0
    unknown = kind in UNPLACED or kind == "CRN"
    assert station.height_m == (77.0 if unknown else weather.HEIGHT_M)


@pytest.mark.parametrize("kind", sorted(set(weather.KINDS) - {"CAMS", "SOLRAD"}))
def test_air_is_the_files(tmp_path, kind):
    air = load(weather.write(tmp_path, kind), SITE, **LEVEL).air_degC
    # SRML rounds to whole numbers here
    assert set(np.round(air, 6)) == ({8.0} if kind == "SRML" else {weather.AIR_DEGC})


@pytest.mark.parametrize(
    ("kind", "parsed", "column"),
    [
        ("EPW", iotools.read_epw, "ghi"),
        ("TMY3", iotools.read_tmy3, "ghi"),
        ("TMY2", iotools.read_tmy2, "GHI"),
        ("NSRDB", iotools.read_nsrdb_psm4, "ghi"),
        ("BSRN", iotools.read_bsrn, "ghi"),
        ("SOLRAD", iotools.read_solrad, "ghi"),
        ("CRN", iotools.read_crn, "ghi"),
        ("SRML", iotools.read_srml, "ghi_0"),
        ("MIDC", iotools.read_midc, "Global Horizontal [W/m^2]"),
        ("CAMS", iotools.read_cams, "ghi"),
        ("SolarAnywhere", iotools.read_solaranywhere, "ghi"),
    ],
)
def test_values_and_times_are_those_of_pvlibs_own_reading(tmp_path, kind, parsed, column):
    path = weather.write(tmp_path, kind)
    found = parsed(str(path))
    table = found[0] if isinstance(found, tuple) else found
    readings = read(path)
    assert readings.columns["ghi_w_m2"] == table[column].tolist()
    assert readings.times_s == [moment.timestamp() for moment in table.index]
    lines = path.read_text().splitlines()
    assert lines[readings.lines[-1] - 1] == lines[-2 if kind == "BSRN" else -1]


def test_a_packed_file_is_read_as_the_plain_one(tmp_path):
    path = weather.write(tmp_path, "BSRN")
    packed = tmp_path / "sun.dat.gz"
    packed.write_bytes(gzip.compress(path.read_bytes()))
    assert load(packed, SITE, **LEVEL).poa_w_m2 == load(path, SITE, **LEVEL).poa_w_m2
    packed.write_bytes(packed.read_bytes()[:-100])
    with pytest.raises(SunError, match="packed by gzip, and cut or damaged"):
        load(packed, SITE, **LEVEL)


def test_a_head_in_latin_1_is_read(tmp_path):
    path = weather.write(tmp_path, "EPW")
    path.write_bytes(path.read_bytes().replace(b"Nowhere", "Höhe".encode("latin-1")))
    assert load(path, SITE, **LEVEL).station.name == "Höhe"


def test_pvgiss_epw_counts_in_utc(tmp_path):
    # Its rows are those of its CSV, hour 1 holding 00:00 UTC, though its head names a zone.
    def change(lines):
        note = "COMMENTS 2,Irradiance Time Offset (h):-0.5"
        shifted = [weather.light(weather.DAY + timedelta(hours=place - 7 + 0.5))
                   for place in range(24)]
        assert len(lines) == 32
        found = []
        for line, (g, n, d) in zip(lines[8:], shifted, strict=True):
            fields = line.split(",")
            fields[13:16] = [f"{g}", f"{n}", f"{d}"]
            found.append(",".join(fields))
        return [*lines[:6], note, lines[7], *found]

    track = load(weather.write(tmp_path, "EPW", change), SITE, assume_dark=True, **LEVEL)
    light = of_day(track)
    minutes, expected = truth()
    until = 17 * 60  # the UTC day ends
    assert light[:until].sum() == pytest.approx(expected[:until].sum(), rel=0.02)
    assert [note for note in track.notes if "its hours are UTC's" in note]


@pytest.mark.parametrize("kind", weather.KINDS)
@pytest.mark.parametrize("share", [0.02, 0.2, 0.4])
def test_a_cut_file_gets_one_line(tmp_path, kind, share):
    path = weather.write(tmp_path, kind)
    text = path.read_text()
    path.write_text(text[:int(len(text) * share)])
    with pytest.raises(SunError) as caught:
        load(path, SITE, date="2016-01-01", **LEVEL)
    assert "\n" not in str(caught.value)
    assert str(caught.value).startswith(str(path))


@pytest.mark.parametrize(("kind", "column"), [("EPW", 13), ("TMY3", 2), ("SolarAnywhere", 1)])
def test_a_stand_in_by_day_is_a_gap_with_its_rows(tmp_path, kind, column):
    def change(lines):
        fields = lines[-12].split(",")
        fields[column] = "-9999"
        return [*lines[:-12], ",".join(fields), *lines[-11:]]

    path = weather.write(tmp_path, kind, change)
    row = len(path.read_text().splitlines()) - 11
    with pytest.raises(SunError, match=f":{row - 1}-{row + 1}: no usable ghi_w_m2 by day for"
                                       " 60 min"):
        load(path, SITE, **LEVEL)


def test_a_missing_hour_by_day_is_a_gap_with_its_rows(tmp_path):
    path = weather.write(tmp_path, "EPW", lambda lines: [*lines[:-12], *lines[-11:]])
    with pytest.raises(SunError, match="no usable ghi_w_m2 by day for 60 min"):
        load(path, SITE, **LEVEL)


def test_a_zone_that_the_longitude_contradicts_is_refused(tmp_path):
    def change(lines):
        return [lines[0].replace("-106.0", "106.0"), *lines[1:]]

    path = weather.write(tmp_path, "EPW", change)
    with pytest.raises(SunError, match="longitude 106 deg and zone UTC-7 h"):
        load(path, SITE, **LEVEL)
    assert load(path, SITE, station="38,-106,321", **LEVEL).day == date(2016, 1, 1)


def test_light_that_no_sun_could_give_betrays_a_wrong_zone(tmp_path):
    def change(lines):
        return [lines[0].replace("-7.0", "-5.0"), *lines[1:]]

    with pytest.raises(SunError, match=r"the zone of\s+the times or the station is wrong"):
        load(weather.write(tmp_path, "EPW", change), SITE, **LEVEL)


def test_an_inclined_plane_of_a_file_is_told(tmp_path):
    def change(lines):
        return [line.replace("Slope: 0", "Slope: 30").replace("Azimuth: 0", "Azimuth: -45")
                for line in lines]

    track = load(weather.write(tmp_path, "PVGIS hourly", change), SITE, **LEVEL)
    assert [note for note in track.notes if "tilt 30 deg, azimuth 135 deg" in note]
    assert [note for note in track.notes if "tilt and azimuth play no part" in note]


def test_a_plane_that_follows_the_sun_is_refused(tmp_path):
    def change(lines):
        return [line for line in lines if not line.startswith(("Slope", "Azimuth"))]

    with pytest.raises(SunError, match="no fixed plane in its head"):
        load(weather.write(tmp_path, "PVGIS hourly", change), SITE, **LEVEL)


def test_nothing_is_asked_of_the_net_for_a_file_named_like_an_address(tmp_path, monkeypatch):
    # Several of pvlib's readers fetch what begins with http.
    path = weather.write(tmp_path, "SOLRAD").rename(tmp_path / "https-sun.dat")
    monkeypatch.chdir(tmp_path)
    assert load("https-sun.dat", SITE, **LEVEL).poa_w_m2 == load(path, SITE, **LEVEL).poa_w_m2
