"""Files that cannot be used: one line that names the row, what is allowed, what to do."""

import re

import pytest

from forebay.errors import InputError
from forebay.sun import SunError, load
from tests.sun.files import PANEL, SITE, csv_rows, write_csv, write_surfrad

NOON = 1140  # index of 19:00 UTC, 12:00 local
MIDNIGHT = 420  # 07:00 UTC


def refusal(source, **options):
    with pytest.raises(SunError) as caught:
        load(source, SITE, **PANEL, **options)
    text = str(caught.value)
    assert "\n" not in text
    return text


def csv_with(tmp_path, index, fields, head="time,ghi_w_m2"):
    rows = csv_rows()
    rows[index] = [rows[index][0], *fields] if fields[0] != "time" else fields[1:]
    return write_csv(tmp_path / "sun.csv", rows, head)


def test_an_error_is_the_users_to_mend():
    assert issubclass(SunError, InputError)


@pytest.mark.parametrize(
    ("index", "fields", "told"),
    [
        (NOON, ["-999"], "ghi_w_m2 is -999 W/m2 and not flagged; allowed are -5 to 2000"),
        (NOON, ["-9999.9"], "ghi_w_m2 is -9999.9"),
        (NOON, ["-5.1"], "ghi_w_m2 is -5.1"),
        (NOON, ["2001"], "ghi_w_m2 is 2001"),
        (MIDNIGHT, ["-999"], "ghi_w_m2 is -999"),
        (NOON, ["bright"], "ghi_w_m2 is 'bright', which is not a number"),
        (NOON, ["inf"], "ghi_w_m2 is 'inf'"),
        (NOON, ["1", "2"], "3 fields where the file has 2 columns"),
        (NOON, ["time", "2016-01-01T19:00:00", "1"], "no zone in time '2016-01-01T19:00:00'"),
        (NOON, ["time", "1 Jan noon", "1"], "cannot read the time '1 Jan noon'"),
        (NOON, ["time", "2016-01-01T18:59:00Z", "1"], "does not come after the row before"),
        (NOON, ["time", "2016-01-01T18:00:00Z", "1"], "does not come after the row before"),
    ],
)
def test_a_bad_row_is_named_with_file_and_line(tmp_path, index, fields, told):
    text = refusal(csv_with(tmp_path, index, fields))
    assert text.startswith(f"{tmp_path / 'sun.csv'}:{index + 2}: ")
    assert told in text


@pytest.mark.parametrize(
    ("head", "row", "told"),
    [
        ("time,ghi_kw_m2", ["0.3"], "no column ghi_w_m2 or poa_w_m2"),
        ("time,a_w_m2,b_w_m2", ["1", "1"], "no column ghi_w_m2 or poa_w_m2"),
        ("time,ghi_w_m2,dni_w_m2", ["1", "1"], "dhi_w_m2 belong together and one is missing"),
        ("time,ghi_w_m2,ghi_w_m2", ["1", "1"], "named twice"),
        ("2016-01-01T00:00Z,1,1", ["1", "1"], "3 columns and no names"),
    ],
)
def test_columns_that_cannot_be_told_are_refused(tmp_path, head, row, told):
    rows = [[time, *row] for time, _ in csv_rows()]
    assert told in refusal(write_csv(tmp_path / "sun.csv", rows, head))


@pytest.mark.parametrize(
    ("content", "told"),
    [
        (b"", "no rows"),
        (b"# nothing\n", "no rows"),
        (b"time,ghi_w_m2\n", "no rows"),
        (b"time,ghi_w_m2\n2016-01-01T00:00Z,1\n", "one row is no day"),
        (b"\xff\xfe\x00\x01", "not a text file"),
    ],
)
def test_a_file_with_nothing_to_read_is_refused(tmp_path, content, told):
    path = tmp_path / "sun.csv"
    path.write_bytes(content)
    assert told in refusal(path)


@pytest.mark.parametrize("rows", [
    "{long}, {long}\n1,2\n", "time,{long},{long}\n", "2016-01-01T00:00Z,1\n{long},1\n",
    "2016-01-01T00:00Z,1\n2016-01-01T00:01Z,{long}\n", "time,ghi_w_m2,{long}\n1\n",
])
def test_of_a_file_that_is_none_of_sun_few_letters_are_quoted(tmp_path, rows):
    path = tmp_path / "sun.csv"
    path.write_text(rows.format(long="word " * 200))
    quoted = re.findall("'(.*?)'|\\((.*?)\\)", refusal(path))
    assert 30 < max(len(one) for pair in quoted for one in pair) <= 42


def test_a_missing_file_is_named(tmp_path):
    text = refusal(tmp_path / "nowhere.csv")
    assert text.endswith("nowhere.csv: cannot read the sun file (No such file or directory);"
                         " check the name")


def test_rows_more_than_an_hour_apart_are_too_coarse(tmp_path):
    path = write_csv(tmp_path / "sun.csv", csv_rows(count=13, step_s=7200))
    assert "rows are 120 min apart; allowed are 60 min or less" in refusal(path)


@pytest.mark.parametrize(
    ("station", "told"),
    [
        ("37.7", "expected latitude,longitude,height"),
        ("37.7,west,3", "expected latitude,longitude,height"),
        ("97.7,-105.9,3", "latitude_deg is 97.7; allowed are -90 to 90"),
        ("37.7,-205.9,3", "longitude_deg is -205.9; allowed are -180 to 180"),
        ("37.7,-105.9,nan", "expected latitude,longitude,height"),
    ],
)
def test_a_station_that_is_no_place_is_refused(tmp_path, station, told):
    path = write_csv(tmp_path / "sun.csv", csv_rows())
    assert told in refusal(path, station=station)


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("latitude_deg = ", "cannot read the station"),
        ("latitude_deg = 38.0\nlongitude_deg = -106.0", "height_m is missing"),
        ("lat = 38.0", "unknown key 'lat'"),
        ('latitude_deg = "38"\nlongitude_deg = -106.0\nheight_m = 3', "latitude_deg is '38'"),
    ],
)
def test_a_bad_sidecar_is_named(tmp_path, text, told):
    (tmp_path / "sun.station.toml").write_text(text)
    message = refusal(write_csv(tmp_path / "sun.csv", csv_rows()))
    assert "sun.station.toml: " in message
    assert told in message


@pytest.mark.parametrize("date", ["2016-13-01", "tomorrow"])
def test_a_date_that_is_none_is_refused(tmp_path, date):
    path = write_csv(tmp_path / "sun.csv", csv_rows())
    assert f"date '{date}': expected a local day" in refusal(path, date=date)


@pytest.mark.parametrize("date", ["0001-01-01", "1969-12-31", "2106-01-01", "9999-12-31"])
def test_a_year_out_of_range_is_refused(tmp_path, date):
    assert "the year must be 1970 to 2105" in refusal("clear", date=date)
    path = tmp_path / "sun.csv"
    path.write_text(f"time,ghi_w_m2\n{date}T12:00:00Z,100\n")
    assert f"sun.csv:2: time {date}T12:00:00+00:00: the year must be" in refusal(path)


def test_sun_at_night_betrays_a_wrong_station(tmp_path):
    path = write_csv(tmp_path / "sun.csv", csv_rows())
    assert "deg below the horizon" in refusal(path, station="38.0,106.0,300")


def test_local_time_called_utc_betrays_itself(tmp_path):
    rows = [[time.replace("Z", "-07:00"), value] for time, value in csv_rows()]
    assert "the zone of the times or the station is wrong" in refusal(
        write_csv(tmp_path / "sun.csv", rows), assume_dark=True
    )


HEADER = "   38.00  106.00 300 m version 1"


def surfrad_with(tmp_path, when, change):
    def at(moment, fields):
        if f"{moment:%H:%M}" == when:
            change(fields)

    path = tmp_path / "sun.dat"
    return write_surfrad(path, HEADER, 38.0, -106.0, "2016-01-01T00:00Z", at)


@pytest.mark.parametrize(
    ("change", "told"),
    [
        (lambda fields: fields.__setitem__(8, "-9999.9"), "ghi_w_m2 is -9999.9 W/m2 and not"),
        (lambda fields: fields.__setitem__(38, "-9999.9"), "air_degC is -9999.9 degC and not"),
        (lambda fields: fields.pop(), "47 fields where a SURFRAD row has 48"),
        (lambda fields: fields.__setitem__(3, "32"), "cannot read the time"),
        (lambda fields: fields.__setitem__(7, "-"), "solar zenith [deg] is '-'"),
    ],
)
def test_a_bad_surfrad_row_is_named_with_file_and_line(tmp_path, change, told):
    text = refusal(surfrad_with(tmp_path, "19:00", change))
    assert text.startswith(f"{tmp_path / 'sun.dat'}:1143: ")
    assert told in text


def test_a_surfrad_file_without_its_header_is_refused(tmp_path):
    path = tmp_path / "sun.dat"
    path.write_text("time,ghi\n1,2\n")
    assert "sun.dat:2: not a SURFRAD header" in refusal(path)
