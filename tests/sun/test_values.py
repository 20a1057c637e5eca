"""What is mended, clipped, averaged or held in the rows of a file, and said."""

from datetime import datetime, timedelta
from types import SimpleNamespace

import pytest

from forebay.sun import SunError, load
from tests.sun.files import (
    PANEL,
    SITE,
    START,
    csv_rows,
    ghi,
    index_of,
    loaded,
    noted,
    write_csv,
    write_poa,
    write_surfrad,
)


def lacking(rows, first, count, how):
    """Rows with `count` minutes from index `first` missing, empty, or left out."""
    if how == "row":
        return rows[:first] + rows[first + count :]
    return [
        [time, "" if first <= index < first + count else value]
        for index, (time, value) in enumerate(rows)
    ]


@pytest.mark.parametrize("how", ["row", "value"])
@pytest.mark.parametrize("count", [1, 9, 10])
def test_a_short_gap_by_day_is_bridged_in_a_straight_line_and_said(tmp_path, count, how):
    track = loaded(write_poa(tmp_path, lacking(csv_rows(), 1140, count, how)))
    first = index_of(track, 19)
    before, after = track.poa_w_m2[first - 1], track.poa_w_m2[first + count]
    middle = [before + (after - before) * (step + 1) / (count + 1) for step in range(count)]
    assert track.poa_w_m2[first : first + count] == pytest.approx(middle)
    lines = "1141-1142" if how == "row" else f"1141-{1142 + count}"
    assert noted(track, f"Bridged {count} min without usable poa_w_m2, 12:00 to 12:")
    assert noted(track, f"(sun.csv:{lines})")


@pytest.mark.parametrize("how", ["row", "value"])
def test_eleven_minutes_by_day_are_refused_naming_the_rows(tmp_path, how):
    path = write_poa(tmp_path, lacking(csv_rows(), 1140, 11, how))
    lines = "1141-1142" if how == "row" else "1141-1153"
    with pytest.raises(SunError, match=f"sun.csv:{lines}: no usable poa_w_m2 by day for 11 min"):
        loaded(path)


@pytest.mark.parametrize("how", ["row", "value"])
def test_an_hour_missing_by_night_does_not_matter(tmp_path, how):
    track = loaded(write_poa(tmp_path, lacking(csv_rows(), 400, 60, how)))
    assert not noted(track, "Bridged")


def test_a_flagged_stand_in_is_a_gap_not_a_value(tmp_path):
    rows = [[time, value, "0"] for time, value in csv_rows()]
    rows[1140] = [rows[1140][0], "-999", "2"]
    track = loaded(write_csv(tmp_path / "sun.csv", rows, "time,poa_w_m2,qc_poa"))
    assert track.poa_w_m2[index_of(track, 19)] == pytest.approx(ghi(START + timedelta(hours=6)), 1)
    assert noted(track, "Bridged 1 min")


def test_a_flagged_surfrad_value_is_a_gap(tmp_path):
    def flag(moment, fields):
        if moment.hour == 19 and moment.minute < 11:
            fields[13] = "2"  # direct sun suspect

    path = tmp_path / "sun.dat"
    write_surfrad(path, "  38.00 106.00 300 m version 1", 38.0, -106.0, "2016-01-01T00:00Z", flag)
    with pytest.raises(SunError, match=r"sun.dat:1142-1154: no usable dni_w_m2 by day for 11 min"):
        loaded(path)


def test_the_offset_of_the_instrument_is_clipped(tmp_path):
    rows = csv_rows()
    rows[1140][1] = "-4.9"
    track = loaded(write_poa(tmp_path, rows))
    assert min(track.poa_w_m2) == 0.0
    assert track.poa_w_m2[index_of(track, 19)] == 0.0
    assert noted(track, "values by day between -4.9 and 0 W/m2 taken as 0")


def test_a_cloud_edge_above_1000_is_never_clipped(tmp_path):
    rows = csv_rows()
    rows[1140][1] = "1404"
    track = loaded(write_poa(tmp_path, rows))
    assert track.poa_w_m2[index_of(track, 19)] == 1404.0


def test_data_finer_than_a_minute_is_averaged_and_said(tmp_path):
    rows = csv_rows(count=1440 * 6, step_s=10)
    for step in range(6):
        rows[1140 * 6 + step][1] = str(100 * step)  # mean of 0..500: 250
    track = loaded(write_poa(tmp_path, rows))
    assert track.poa_w_m2[index_of(track, 19)] == 250.0
    assert noted(track, "Rows are 10 s apart: averaged to minutes")


def test_zones_may_be_offsets_and_names_may_be_missing(tmp_path):
    rows = csv_rows()
    shifted = [
        [(datetime.fromisoformat(time) - timedelta(hours=7)).strftime("%FT%T-07:00"), value]
        for time, value in rows
    ]
    path = tmp_path / "bare.csv"
    path.write_text("# no names\n" + "\n".join(",".join(row) for row in shifted))
    bare = loaded(path)
    assert noted(bare, "names no columns: its one column of values is taken as GHI")
    assert bare.poa_w_m2 == loaded(write_csv(tmp_path / "sun.csv", rows)).poa_w_m2


@pytest.mark.parametrize("name", ["solar_w_m2", "W/m2", "irradiance", "ghi", "sun"])
def test_an_irradiance_of_no_stated_kind_is_taken_as_ghi_and_said(tmp_path, name):
    track = loaded(write_csv(tmp_path / "sun.csv", csv_rows(), f"time,{name}"))
    assert noted(track, f"'{name}' does not say which irradiance it is: taken as GHI")
    assert noted(track, "estimated from GHI alone")


def with_air(values):
    return [[time, value, air] for (time, value), air in zip(csv_rows(), values, strict=True)]


def test_air_is_held_after_the_last_row_and_said(tmp_path):
    rows = with_air([f"{index / 100}" for index in range(1440)])
    track = loaded(write_csv(tmp_path / "sun.csv", rows, "time,ghi_w_m2,air_degC"))
    assert track.air_degC[index_of(track, 19)] == 11.40
    assert set(track.air_degC[track.dark_from_index :]) == {14.39}
    assert noted(track, "held at 14.4 degC")


def test_the_rigs_air_replaces_the_files_and_that_is_said(tmp_path):
    path = write_csv(tmp_path / "sun.csv", with_air(["-20"] * 1440), "time,ghi_w_m2,air_degC")
    mild = SimpleNamespace(**{**vars(SITE), "air_temperature_degC": 14.0})
    track = load(path, mild, **PANEL)
    assert set(track.air_degC) == {14.0}
    assert noted(track, "14 degC held, the rig's, not the file's -20.0 to -20.0 degC")
    assert set(load(path, mild, **PANEL, air_temperature_degC=3.0).air_degC) == {3.0}


def test_cells_take_the_temperature_of_the_air_in_the_dark(tmp_path):
    track = loaded(write_csv(tmp_path / "sun.csv", csv_rows()))
    assert track.cell_degC[-1] == track.air_degC[-1]
    # 1 m/s assumed: poa / 31.84 above the air (Faiman 2008)
    noon = index_of(track, 19)
    rise = track.cell_degC[noon] - track.air_degC[noon]
    assert rise == pytest.approx(track.poa_w_m2[noon] / 31.84)
    assert noted(track, "Wind: 1 m/s held")
