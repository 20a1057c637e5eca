"""Trend and expectation beside a review: there, in words, and no news where a cause is told."""

import pytest

from forebay.described import Descriptions
from forebay.review import page, review_of, summary, with_judgement
from forebay.review.beside import ALLOWED, ONE_DAY
from forebay.review.finding import LOOK, NOTICE
from forebay.rig import load
from forebay.shelf import Shelf
from tests.pages import without_scripts


@pytest.fixture(scope="module")
def shelf(folder, locked):
    """A shelf with a short night that ended in a lockout."""
    with Shelf(folder / "lockout" / "shelf.sqlite", create=False) as found:
        yield found


def flat(text):
    return " ".join(text.split())


def test_a_record_too_short_to_judge_says_why(shelf):
    found = with_judgement(review_of(shelf, load()), shelf,
                           Descriptions(shelf.only_rig(), load()))
    assert found.trend
    assert found.expected
    assert "Not judged: " in flat(summary(found)) or ALLOWED in flat(summary(found))
    assert max(map(len, summary(found).splitlines())) <= 80
    assert "Expected and actual" in without_scripts(page(found))


def test_a_review_without_times_has_neither(tmp_path):
    from tests.balance import rig as plant

    with Shelf(tmp_path / "s") as shelf:
        shelf.add_rig(7)
        for number, data in plant.files_of(plant.journal_of(plant.Errors())).items():
            shelf.put_segment(7, 0, number // 16384, number % 16384, data)
        before = review_of(shelf, plant.DEMO)
        found = with_judgement(before, shelf, Descriptions(7, plant.HILLSIDE))
    assert (found.trend, found.expected) == (None, None)


def test_what_is_worse_than_expected_is_no_news_where_its_cause_is_told(shelf):
    found = with_judgement(review_of(shelf, load()), shelf,
                           Descriptions(shelf.only_rig(), load()))
    worse = [one for one in found.findings if "worse than expected" in one.what]
    assert all(one.gravity == NOTICE for one in worse)
    assert [one.gravity for one in found.findings] == sorted(
        one.gravity for one in found.findings)
    assert LOOK < NOTICE


def test_one_day_alone_is_said_to_show_no_trend(shelf):
    found = with_judgement(review_of(shelf, load()), shelf,
                           Descriptions(shelf.only_rig(), load()))
    said = flat(summary(found))
    assert flat(ONE_DAY) in said or "Not followed: " in said
