"""A rehearsed day is told in the rig's own zone, where the sun is its own."""

from datetime import timedelta
from pathlib import Path

import pytest

import forebay
from forebay.rehearse import plan

DEMO = (Path(forebay.__file__).parent / "demo" / "hillside.toml").read_text()
FAULT = "upper-float-stuck@09:30"


@pytest.mark.parametrize(("day", "hours"), [("2026-06-21", -6), ("2026-12-21", -7)])
def test_a_named_zone_has_its_summer_time(tmp_path, day, hours):
    # The demo stands at 106 W: the mountain time of the United States (15 U.S.C. 260a).
    path = tmp_path / "rig.toml"
    path.write_text(DEMO.replace("[site]\n", '[site]\nzone = "America/Denver"\n'))
    named = plan(path, sun="clear", date=day, faults=[FAULT], out=tmp_path / "a")
    plain = plan(None, sun="clear", date=day, faults=[FAULT], out=tmp_path / "b")
    start = named.sun.start_utc
    assert start.astimezone(named.zone).utcoffset() == timedelta(hours=hours)
    assert start.astimezone(plain.zone).utcoffset() == timedelta(hours=-7)
    assert plain.faults[0][0] - named.faults[0][0] == 3600 * (hours + 7)


def test_the_sun_of_another_place_keeps_that_places_time(tmp_path):
    # The demo's sun is measured at Alamosa: a rig's zone elsewhere would turn day to night.
    path = tmp_path / "rig.toml"
    path.write_text(DEMO.replace("[site]\n", '[site]\nzone = "Asia/Tokyo"\n'))
    planned = plan(path, out=tmp_path / "a")
    assert planned.sun.start_utc.astimezone(planned.zone).utcoffset() == timedelta(hours=-7)
