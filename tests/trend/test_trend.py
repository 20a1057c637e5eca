"""A trend of synthetic days with known truth, and of days that the keeper wrote."""

import json
import math
import re
from dataclasses import replace
from datetime import date, datetime, timedelta, timezone
from html import unescape

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as of

from forebay.expected.conditions import clear_W_m2
from forebay.plan import lifting
from forebay.rig import load, load_text
from forebay.shelf import Anchor, Clock
from forebay.shelf.told import Note
from forebay.trend import trend_of
from forebay.trend.changes import LEAST_DAYS
from forebay.trend.figures import BY_KEY, FOLLOWED, Day, day_figures
from forebay.trend.found import series_of
from forebay.trend.page import html
from forebay.trend.text import ALL_WELL, bars, lines
from tests.expected.played import BEGIN_S, DAY_S

FIRST = date(2026, 3, 1)
START_S = 1772341200.0
# Of a sound rig: value, scatter from day to day, u of the day's meters; ratios as logarithms.
SOUND = {"lift": (0.02, 0.012, 0.003), "nozzle": (-0.03, 0.01, 0.003),
         "full": (0.0, 0.02, 0.003), "leak": (0.0, 1.0, 2.0), "cooling": (0.05, 0.03, 0.005),
         "board": (0.2, 0.002, 0.001)}


def days_of(count=75, seed=1, **changes):
    """Returns days; changes: by figure, the change of its value by the number of the day."""
    draw = np.random.default_rng(seed)
    found = []
    for number in range(count):
        values = {}
        for key, (value, spread, u) in SOUND.items():
            noise = math.hypot(spread, u) * draw.standard_normal()
            values[key] = (value + changes.get(key, lambda at: 0.0)(number) + noise, u)
        if draw.random() < 0.4:
            values["panel"] = (changes.get("panel", lambda at: 0.0)(number)
                               + 0.06 * draw.standard_normal(), 0.05)
        why = {} if "panel" in values else {"panel": "no clear day"}
        found.append(Day(FIRST + timedelta(number), START_S + 86400.0 * number,
                         START_S + 86400.0 * (number + 1), values, why))
    return found


def note(day, text):
    """Returns a person's note at noon of the number of a day."""
    return Note(1, START_S + 86400.0 * (day + 0.25), text, "")


@pytest.mark.parametrize("seed", range(8))
def test_sound_days_raise_no_alarm(seed):
    assert trend_of("rig", days_of(seed=seed)).findings == []


@pytest.mark.parametrize(("key", "change", "size", "looks"), [
    ("lift", lambda at: math.log(0.75) * (at >= 45), -25.0, "strainer"),
    ("nozzle", lambda at: math.log(1.2) * min(1.0, max(0.0, (at - 30) / 40)), 20.0, "scale"),
    ("panel", lambda at: math.log(0.7) * (at >= 40), -30.0, "panel"),
    ("leak", lambda at: 12.0 * (at >= 60), 12.0, "leak")])
def test_what_went_wrong_is_found_with_its_size(key, change, size, looks):
    (one, *_) = trend_of("rig", days_of(**{key: change})).findings

    assert one.figure.key == key
    assert one.is_open
    assert one.size == pytest.approx(size, abs=max(3.0 * one.u, 0.12 * abs(size)))
    assert looks in one.looks_like


def test_a_cure_that_was_noted_closes_what_it_cured():
    found = trend_of("rig", days_of(lift=lambda at: -0.3 * (30 <= at < 55)),
                     [note(54, "strainer cleaned")])
    drop, cure = sorted(found.findings, key=lambda one: one.first)

    assert (drop.first - FIRST).days == 30
    assert not drop.is_open
    assert cure.change.is_cure
    assert cure.note
    assert cure.note.text == "strainer cleaned"
    said = " ".join(" ".join(lines(found)).split())
    assert "It has gone since." in said
    assert '"strainer cleaned"' in said


@pytest.mark.parametrize(("back", "is_open"), [(0.12, True), (0.3, False)])
def test_half_of_a_step_taken_back_decides_whether_it_has_gone(back, is_open):
    # 0.12 is less than half of 0.3, whatever the mean of all days behind the drop may be.
    found = trend_of("rig", days_of(lift=lambda at: -0.3 * (at >= 20) + back * (at >= 30)))
    drop, rise = sorted(found.findings, key=lambda one: one.first)

    sound = 100.0 * math.exp(SOUND["lift"][0])
    assert drop.is_open is is_open
    # Of a mean of ten days and of one of many, in percent: 5 u.
    within = 5.0 * sound * math.hypot(*SOUND["lift"][1:]) * math.sqrt(1 / 10 + 1 / 20)
    assert drop.size == pytest.approx(sound * (math.exp(-0.3) - 1.0), abs=within)
    assert rise.size == pytest.approx(sound * (math.exp(back - 0.3) - math.exp(-0.3)), abs=within)
    assert ("It has gone since." in " ".join(" ".join(lines(found)).split())) is not is_open


def test_percent_of_a_step_are_of_the_days_since_the_change_before_it():
    # A drop of three days between two notes: the rise is as many percent as the drop.
    found = trend_of("rig", days_of(lift=lambda at: -0.3 * (40 <= at < 43)),
                     [note(39, "clogged"), note(42, "cleaned")])
    drop, rise = sorted(found.findings, key=lambda one: one.first)

    size = 100.0 * math.exp(SOUND["lift"][0]) * (1.0 - math.exp(-0.3))
    within = 5.0 * 100.0 * math.hypot(*SOUND["lift"][1:]) * math.sqrt(1 / 3 + 1 / 30)
    assert drop.size == pytest.approx(-size, abs=within)
    assert rise.size == pytest.approx(size, abs=within)


JUMP_S = START_S + 86400.0 * 39.6   # of a flash in the fortieth day, which the new one reads


def described(days, came_s=JUMP_S):
    """Returns days as two descriptions read them, the second from the fortieth on."""
    return [replace(one, description_s=came_s if number >= 39 else START_S)
            for number, one in enumerate(days)]


@pytest.mark.parametrize("first", [38, 39, 40])
def test_a_jump_at_a_flash_of_another_description_is_told_with_it_and_is_no_wear(first):
    # A nozzle's figure that was corrected looked like a worn wheel from that day on.
    days = days_of(nozzle=lambda at: -0.2 * (at >= first))
    (alarm,) = trend_of("rig", days).findings
    assert alarm.is_worse
    assert "worn turbine" in alarm.looks_like
    found = trend_of("rig", described(days))
    (one,) = found.findings
    assert (one.is_worse, one.looks_like) == (False, "")
    assert one.anew == (FIRST + timedelta(39), JUMP_S)
    assert one.size == alarm.size
    said = " ".join(" ".join(lines(found)).split())
    assert "! " not in said
    assert "flashed with another description then" in said
    assert f"it reads the days from {FIRST + timedelta(39)} on" in said
    told = json.loads(json.dumps(found.as_json(), allow_nan=False))
    assert told["findings"][0]["description_utc"] == told["descriptions"][0]["utc"]
    assert told["descriptions"][0]["first_day"] == str(FIRST + timedelta(39))


def test_what_changed_apart_from_a_flash_is_the_rigs():
    for change in (lambda at: -0.3 * (at >= 50), lambda at: -0.01 * max(0, at - 30)):
        found = trend_of("rig", described(days_of(lift=change)))
        assert [one.anew for one in found.findings] == [None] * len(found.findings)
        assert found.findings[0].is_worse
        assert "strainer" in found.findings[0].looks_like


def test_a_description_takes_no_wear_back():
    # What was clogged is not cured by what is written of the rig.
    found = trend_of("rig", described(days_of(lift=lambda at: -0.3 * (12 <= at < 39))))
    drop, anew = sorted(found.findings, key=lambda one: one.first)
    assert (drop.is_open, drop.is_worse) == (True, True)
    assert anew.anew


def test_one_description_all_along_is_no_news():
    days = [replace(one, description_s=START_S) for one in days_of()]
    assert trend_of("rig", days).anew == []
    assert trend_of("rig", days).as_json()["descriptions"] == []


def test_the_page_shows_flashes_and_notes_where_they_were():
    found = trend_of("rig", described(days_of()), [note(54, "strainer <cleaned>")])
    page = html(found)
    drawn = sum(not one.why_not for one in found.lines)
    assert page.count("another description</title>") == drawn
    assert page.count("noted: strainer &lt;cleaned&gt;</title>") == drawn
    assert "Dotted lines show it." in page
    places = {name: float(re.findall(rf'x1="([0-9.]+)"[^>]*><title>[^<]*{name}', page)[0])
              for name in ("description", "noted")}
    # On the axis from the first to the last of 75 days.
    axis = 640 - 64 - 12
    assert places["description"] == pytest.approx(64 + axis * 39 / 74, abs=0.1)
    assert places["noted"] == pytest.approx(64 + axis * 54.25 / 74, abs=0.1)


def test_findings_come_first_and_the_open_ones_before_others():
    found = trend_of("rig", days_of(lift=lambda at: -0.3 * (20 <= at < 40),
                                    leak=lambda at: 15.0 * (at >= 60)))

    assert found.findings[0].figure.key == "leak"
    assert "! Lost at rest" in lines(found)[1]


def test_the_text_fits_80_columns_without_colour():
    found = trend_of("rig", days_of(lift=lambda at: -0.3 * (at >= 40)), [note(3, "x" * 200)])

    assert all(len(one) <= 80 for one in lines(found))
    assert "\x1b" not in "".join(lines(found))


def test_bars_have_a_place_for_each_day_of_few_and_none_where_nothing_is_known():
    line = trend_of("rig", [one for one in days_of(20) if (one.day - FIRST).days != 7]).lines[0]

    assert len(bars(line)) == 20
    assert bars(line)[7] == " "


def test_a_rig_with_less_names_what_is_not_known():
    days = [Day(one.day, one.begin_s, one.end_s, {"full": one.values["full"]},
                {key: f"the rig has no {key} meter" for key in BY_KEY if key != "full"})
            for one in days_of()]
    said = "\n".join(lines(trend_of("rig", days)))

    assert "light from a full tank" in said
    for one in FOLLOWED:
        if one.key != "full":
            assert f"Not known: {one.label}" in said.replace("\n  ", " ")
    assert ALL_WELL in said


def test_weeks_pool_their_days():
    found = trend_of("rig", days_of(70), by_week=True)

    assert len(found.lines[0].series.days) == 10


@given(of.sets(of.integers(0, 69), min_size=1), of.sets(of.integers(1, 69), max_size=3))
def test_no_week_is_a_mean_of_days_that_two_descriptions_read(there, flashes):
    # A day's value is the number of the description that reads it: a mean of two is no number.
    days = []
    for number, one in enumerate(days_of(70)):
        version = float(sum(at <= number for at in flashes))
        values = {"lift": (version, 0.01)} if number in there else {}
        days.append(replace(one, values=values, description_s=version))
    weeks = series_of("lift", days, FIRST, by_week=True)

    pooled = {(number // 7, days[number].description_s) for number in there}
    assert sorted(weeks.values) == sorted(version for _, version in pooled)
    assert np.all(np.diff(weeks.days) > 0)
    assert set(weeks.days) <= there


def test_a_jump_at_a_flash_in_the_middle_of_a_week_has_its_whole_size():
    # The fortieth day is the fifth of its week: neither side of it holds days of the other.
    found = trend_of("rig", described(days_of(nozzle=lambda at: -0.2 * (at >= 39))), by_week=True)
    (one,) = found.findings

    assert (one.first, one.earliest, one.latest) == (FIRST + timedelta(39),) * 3
    assert one.anew == (FIRST + timedelta(39), JUMP_S)
    sound = 100.0 * math.exp(SOUND["nozzle"][0])
    within = 5.0 * sound * math.hypot(*SOUND["nozzle"][1:]) * math.sqrt(1 / 39 + 1 / 36)
    assert one.size == pytest.approx(sound * (math.exp(-0.2) - 1.0), abs=within)


def test_the_document_is_json_and_the_page_holds_every_finding():
    found = trend_of("rig", days_of(lift=lambda at: -0.3 * (at >= 40)), [note(39, "moved")])
    document = json.loads(json.dumps(found.as_json(), allow_nan=False))

    assert document["findings"][0]["figure"] == "lift"
    assert len(document["figures"]["lift"]["days"]) == 75
    assert "Lifted a watt hour" in html(found)
    assert html(found).count("<svg") == sum(not one.why_not for one in found.lines)


def test_a_day_alone_cannot_tell_and_says_how_many_days_are_needed():
    """It once said that nothing had changed."""
    for days, held in ((1, "there is one"), (3, "there are 3")):
        found = trend_of("rig", days_of(days))
        for said in (" ".join(" ".join(lines(found)).split()), html(found)):
            assert ALL_WELL not in said
            assert f"takes {LEAST_DAYS} days with the same figure at least, and {held}" in said
    assert ALL_WELL in " ".join(lines(trend_of("rig", days_of(LEAST_DAYS))))


def test_figures_with_too_few_days_are_named_where_others_have_enough():
    days = [one if number < 3 else replace(one, values={
        key: value for key, value in one.values.items() if key != "leak"})
        for number, one in enumerate(days_of(20))]
    said = " ".join(" ".join(lines(trend_of("rig", days))).split())
    assert "lost at rest (3)" in said


def test_a_note_is_told_with_its_day():
    """In the rig's own zone: seven hours west of UTC the evening is of the day before."""
    at_s = START_S + 86400.0 * 54 + 3600.0
    zone = timezone(timedelta(hours=-7))
    day = datetime.fromtimestamp(at_s, zone).date()
    found = trend_of("rig", days_of(lift=lambda at: -0.3 * (at >= 54)),
                     [Note(1, at_s, "strainer cleaned", "")], zone=zone)
    for said in (" ".join(" ".join(lines(found)).split()), unescape(html(found))):
        assert f"Noted on {day}: strainer cleaned" in said
        assert f'It was noted on {day}: "strainer cleaned"' in said
    assert day != datetime.fromtimestamp(at_s + 25200.0, zone).date()


def test_no_day_at_all_is_told():
    assert trend_of("rig", []).days == 0


def chain(played, number):
    """Returns a played day's figures as those of another date."""
    begin_s = BEGIN_S + number * DAY_S
    clock = Clock([Anchor(0, 1, 0, begin_s, 0.05)])
    return day_figures(played.journal, clock, played.rig, played.rig.rig_id,
                       date(2016, 2, 15) + timedelta(number), (begin_s, begin_s + DAY_S),
                       lifting.machine(played.rig.plant()))


def test_days_of_the_keeper_itself_show_the_strainer_that_clogged(sound, clogged):
    # Twin, journal, balance and the quick model of the same day: the whole chain.
    days = [chain(sound, number) for number in range(9)] + [
        chain(clogged, number) for number in range(9, 14)]
    found = trend_of("rig", days)
    one = next(one for one in found.findings if one.figure.key == "lift")
    share = (clogged.true["up"] / clogged.true["pump"]) / (sound.true["up"] / sound.true["pump"])

    assert (one.first - days[0].day).days == 9
    assert one.is_open
    assert 1.0 + one.size / 100.0 == pytest.approx(share, abs=0.06)


def test_figures_of_a_sound_day_are_as_described(sound):
    found = chain(sound, 0)

    for key, within in (("lift", 0.10), ("nozzle", 0.10), ("full", 0.10), ("cooling", 0.20)):
        assert abs(found.values[key][0]) < within
    # A litre or so of rounding at either end of a day's rest.
    assert abs(found.values["leak"][0]) < 20.0


def test_a_rig_without_a_flow_meter_says_so(sound):
    text = sound.rig.toml_text.replace("[sensors]", '[sensors]\nflow_up = "absent"', 1)
    less = sound._replace(rig=load_text(text, "less"))
    found = chain(less, 0)

    assert "lift" not in found.values
    assert found.why_not["lift"].startswith("the rig has no")


def test_the_clear_sky_is_that_of_the_site():
    rig = load()
    noon_s = BEGIN_S + 6.3 * 3600.0      # local noon, 106 degrees west
    values = clear_W_m2(rig, noon_s + 3600.0 * np.arange(-12, 13, 1))

    assert 700.0 < values[12] < 1150.0   # square on a tilted panel in February; common practice
    assert values[0] == values[-1] == 0.0
