"""When it was night: by the panel's voltage where a meter reads it, else by the sun."""

from datetime import UTC, date, datetime
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from forebay.balance import by, nights
from forebay.balance.spans import Axis, Course
from forebay.shelf import Anchor, Clock, Shelf
from forebay.sun import Station, position
from keeper.modes import PUMPING, STANDSTILL
from tests.balance import rig as plant
from tests.balance.modest import ORCHARD, evening, with_instruments
from tests.export.shelves import MADRID

DAY_S = 86400.0


def at(latitude_deg, longitude_deg, sensors=ORCHARD.sensors):
    site = SimpleNamespace(latitude_deg=latitude_deg, longitude_deg=longitude_deg, height_m=0.0)
    return SimpleNamespace(site=site, sensors=sensors)


def westward():
    """The orchard where the sun sets in the middle of its pumping."""
    return SimpleNamespace(**{**vars(with_instruments(ORCHARD, {})),
                              "site": at(38.0, -120.0).site})


def utc_s(*when):
    return datetime(*when, tzinfo=UTC).timestamp()


def test_the_suns_nights_are_those_of_a_printed_almanac():
    """Greenwich at the equinox of 2024, 51.5 N 0.0 E: sunset 18:14, sunrise 06:01 UTC on 21
    March; from memory of almanacs, which print whole minutes."""
    (down_s, up_s), = nights.sun_down(at(51.5, 0.0), utc_s(2024, 3, 20, 12),
                                      utc_s(2024, 3, 21, 12))
    assert down_s == pytest.approx(utc_s(2024, 3, 20, 18, 14), abs=120)
    assert up_s == pytest.approx(utc_s(2024, 3, 21, 6, 1), abs=120)


@pytest.mark.parametrize("longitude_deg", [-179.0, -106.0, 0.0, 15.0, 179.0])
def test_it_is_night_where_the_other_formulae_have_the_sun_below_the_horizon(longitude_deg):
    """The almanac's low-precision formulae through pvlib, beside NREL's SPA for rise and set."""
    begin_s = utc_s(2025, 6, 1)
    found = nights.sun_down(at(38.0, longitude_deg), begin_s, begin_s + 3 * DAY_S)
    asked_s = begin_s + np.arange(0, 3 * DAY_S, 600)
    high_deg = position.quick(position.utc_times(asked_s),
                              Station(38.0, longitude_deg, 0.0))["elevation"].to_numpy()
    is_down = np.any([(low_s <= asked_s) & (asked_s < up_s) for low_s, up_s in found], axis=0)
    clear = np.abs(high_deg + 0.833) > 0.3
    assert (is_down == (high_deg < -0.833))[clear].all()


@pytest.mark.parametrize(("month", "is_down"), [(12, True), (6, False)])
def test_where_the_sun_does_not_rise_or_set_it_is_one_night_or_none(month, is_down):
    begin_s = utc_s(2025, month, 20)
    found = nights.sun_down(at(78.2, 15.6), begin_s, begin_s + 3 * DAY_S)
    assert len(found) == int(is_down)
    assert all(low_s <= begin_s and up_s >= begin_s + 3 * DAY_S for low_s, up_s in found)


def test_a_pump_that_went_off_by_day_begins_no_night(tmp_path):
    """The full tank stops it in the morning; that was told as dusk where no panel was read."""
    journal, _ = evening(hours=8.0)
    rig = westward()
    with Shelf(tmp_path / "s") as shelf:
        plant.fill_shelf(shelf, journal)
        (span,) = list(by.spans_of(shelf, lambda _: rig, 7, MADRID, by.NIGHT))
        whole: Any = by.reach(by.Reader(shelf, 7))
    station = Station(38.0, -120.0, 0.0)
    days: Any = position.rise_and_set([date(2017, 7, 13), date(2017, 7, 14)], station)
    set_s, rise_s = days[0][1], days[1][0]
    begin_s, end_s = whole
    assert begin_s < set_s < end_s
    assert span.begin_s == pytest.approx(set_s, abs=1.0)
    assert span.end_s == pytest.approx(min(rise_s, end_s), abs=1.0)


def test_by_what_a_night_is_told_is_said():
    assert "no meter reads the panel's voltage" in nights.how_told(ORCHARD)
    assert "by the panel's voltage" in nights.how_told(plant.DEMO)


def test_a_time_with_rows_and_no_night_is_told_as_such(tmp_path):
    journal, _ = evening(hours=3.0)
    rig = westward()
    with Shelf(tmp_path / "s") as shelf:
        plant.fill_shelf(shelf, journal)
        asked = (1.5e9, 1.5e9 + 1200)  # before sunset
        assert list(by.spans_of(shelf, lambda _: rig, 7, MADRID, by.NIGHT, asked)) == []
        why, gone = (str(by.no_span(shelf, rig, 7, MADRID, by.NIGHT, one))
                     for one in (asked, (1.4e9, 1.4e9 + 1200)))
    assert why.startswith("no night lies in that time")
    assert "holds no rows" in gone


def course(*pieces):
    state, begin_s, end_s = (np.array(one) for one in zip(*pieces, strict=True))
    return Course(begin_s.astype(float), end_s.astype(float), np.ones(len(state), np.int64),
                  state, np.zeros(len(state)))


def test_how_long_the_pump_was_switched_on_in_the_dark_is_known_by_its_place():
    rig = at(51.5, 0.0)
    begin_s = utc_s(2024, 3, 20, 12)
    axis, clock = Axis({1: 0.0}), Clock([Anchor(0, 1, 0, begin_s, 0.05)])
    (down_s, up_s), = nights.sun_down(rig, begin_s, begin_s + DAY_S)
    low_s, high_s = down_s - begin_s, up_s - begin_s
    found = nights.maybe_pump_sun_down_h(course(
        (PUMPING, 0, low_s - 60), (STANDSTILL, low_s - 60, low_s + 600),
        (PUMPING, low_s + 600, low_s + 4200), (PUMPING, high_s - 100, high_s + 900)),
        axis, clock, rig)
    assert found == pytest.approx(3700 / 3600, abs=1e-3)
    assert nights.maybe_pump_sun_down_h(course((STANDSTILL, 0, 10)), axis, clock, rig) == 0
    assert nights.maybe_pump_sun_down_h(course((PUMPING, 0, 10)), axis, Clock([]), rig) is None
    # A meter of the panel knows its sun better.
    read = at(51.5, 0.0, plant.DEMO.sensors)
    assert nights.maybe_pump_sun_down_h(course((PUMPING, 0, 10)), axis, clock, read) is None
