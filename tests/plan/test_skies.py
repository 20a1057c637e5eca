"""Days to plan with: their clearness is the one asked for, and each has a night."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from forebay.errors import InputError
from forebay.plan import skies
from tests.plan import scene

STATED = st.floats(0.15, 0.7)     # as `forebay plan --clearness` takes it


@settings(max_examples=200)
@given(STATED)
def test_the_tenths_of_a_month_have_the_mean_clearness(clearness):
    shares = skies.clear_shares(clearness)
    assert np.mean(shares) * skies.CLEAREST == pytest.approx(clearness, rel=0.02)
    assert len(shares) == skies.SHARES
    assert shares == sorted(shares)
    assert all(0.0 <= one <= 1.0 for one in shares)


@settings(max_examples=100)
@given(STATED, st.floats(1.0, 1.5))
def test_a_clearer_year_has_no_duller_tenth(clearness, more):
    low, high = (skies.clear_shares(min(0.7, one)) for one in (clearness, clearness * more))
    assert all(one <= other + 1e-9 for one, other in zip(low, high, strict=True))


def test_a_distribution_of_the_papers_mean_is_even_where_its_exponent_is_0():
    # Bendt (1981): for the middle between the darkest and the clearest day all are as likely.
    shares = skies.clear_shares(0.5 * (skies.DULLEST + skies.CLEAREST))
    assert np.diff(shares) == pytest.approx(np.full(skies.SHARES - 1, 0.07 / 0.75), rel=1e-3)


def test_every_month_has_every_sky_and_the_mean_days_of_the_table():
    days = skies.by_month(scene.rig_of("hillside"))
    for place, sky in enumerate(skies.SKIES):
        months = days.months[days.sky == place]
        assert set(months) == set(range(1, 13))
        assert len(months) == 12 * (len(skies.BROKEN_DAYS) if sky.is_broken else 1)


def test_a_months_days_weigh_one():
    days = skies.spread_out(scene.rig_of("hillside"), 0.5)
    for month in range(1, 13):
        assert days.weight[days.months == month].sum() == pytest.approx(1.0)


# The sunrise equation, 24 h minus 2/15 arccos(-tan phi tan delta), by hand: declination 23.1
# degrees on 11 June and -22.9 on 10 December (Cooper's formula).
@pytest.mark.parametrize(("latitude", "june_h", "december_h"), [
    ("38 deg", 9.4, 14.6), ("-38 deg", 14.6, 9.4), ("0 deg", 12.0, 12.0)])
def test_nights_are_as_long_as_the_latitude_has_them(latitude, june_h, december_h):
    days = skies.by_month(scene.variant("hillside", site__latitude=latitude))
    night_h = {month: days.night_s[days.months == month].mean() / 3600 for month in (6, 12)}
    # Refraction and the disc, 0.83 degrees at each end, shorten it by up to 10 minutes.
    assert night_h == {6: pytest.approx(june_h, abs=0.25), 12: pytest.approx(december_h, abs=0.25)}


@pytest.mark.parametrize(("latitude", "dark", "bright"), [("70 deg", 12, 6), ("-70 deg", 6, 12)])
def test_near_the_poles_a_night_is_a_whole_day_or_none(latitude, dark, bright):
    # The sun does not set at 70 degrees from late May to late July: 90 - 23.4 = 66.6.
    days = skies.by_month(scene.variant("hillside", site__latitude=latitude))
    assert np.isfinite(days.night_s).all()
    assert set(days.night_s[days.months == dark]) == {86400.0}
    assert set(days.night_s[days.months == bright]) == {0.0}


def test_a_file_without_a_whole_day_is_refused_in_a_line(tmp_path):
    path = tmp_path / "short.csv"
    path.write_text("time,ghi_w_m2\n2016-01-01 10:00,100\n2016-01-01 11:00,100\n")
    with pytest.raises(InputError) as refused:
        skies.of_file(scene.rig_of("hillside"), str(path))
    assert "\n" not in str(refused.value)
