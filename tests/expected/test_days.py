"""A whole day judged, by journals that the keeper wrote on the simulated rig."""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from types import SimpleNamespace

import numpy as np
import pytest

from forebay.described import Descriptions
from forebay.expected import conditions_of, expected_of, maybe_usual
from forebay.expected.asked import pair_of, pair_on
from forebay.expected.days import bounds_s, judged_days
from forebay.expected.judging import AS_EXPECTED, NOT_KNOWN, WORSE
from forebay.expected.playing import figures_of, job_of
from forebay.expected.text import html, lines
from forebay.plan import lifting
from forebay.rehearse import conditioned
from forebay.rig import load, load_text
from forebay.shelf import Anchor, Clock
from forebay.shelf.local import zone_at
from keeper import channels as ch
from keeper.journal.rows import NOT_TRUSTED
from tests.expected.played import BEGIN_S, LIT_MIN, Played

RIGS = Descriptions(load().rig_id, load())


def judged(played: Played, **others):
    """Returns the judgement of a played day."""
    return expected_of(played.journal, played.clock, played.rig, played.rig.rig_id,
                       played.period, **others)


def test_a_sound_day_is_as_expected(sound):
    found = judged(sound)

    assert found.verdict == AS_EXPECTED
    for key in ("up_L", "pump_J", "light_h", "lamps_J", "hottest_degC"):
        assert found.row(key).verdict == AS_EXPECTED


def test_what_is_expected_holds_what_was_true(sound):
    found = judged(sound)

    for key, true in (("up_L", sound.true["up"]), ("pump_J", sound.true["pump"]),
                      ("lamps_J", sound.true["lamps"])):
        expected = found.row(key).expected
        assert expected
        assert abs(expected.value - true) <= 2.0 * expected.u


def test_a_clogged_strainer_is_found_beside_the_days_before(sound, clogged):
    usual = maybe_usual([pair_of(judged(sound))] * 5)
    found = judged(clogged, usual=usual)

    assert found.verdict == WORSE
    assert found.row("lifted").verdict == WORSE
    assert any("strainer" in one for one in found.causes)
    true = (clogged.true["up"] / clogged.true["pump"]) / (sound.true["up"] / sound.true["pump"])
    beside = found.row("lifted").usual
    assert beside
    off, least = beside
    assert np.exp(off) == pytest.approx(true, abs=0.05)
    assert off < -least


def test_a_day_before_counts_by_the_same_figures_as_when_it_was_judged(sound):
    machine = lifting.machine(sound.rig.plant())
    quick = pair_on(sound.journal, sound.clock, sound.rig, sound.rig.rig_id, sound.period, machine)
    slow = pair_of(judged(sound))

    for mine, other in zip(quick, slow, strict=True):
        for key in ("up_L", "lifted", "light_h", "given"):
            assert mine[key] == pytest.approx(other[key], rel=1e-9)


def test_the_conditions_are_what_the_day_gave(sound):
    found = conditions_of(sound.journal, sound.clock, sound.rig, sound.period)

    assert found.minutes == 1440
    assert found.upper_m3
    assert found.upper_m3.value == pytest.approx(0.060, abs=3 * found.upper_m3.u)
    ran_h = float(found.ran_frac.sum()) / 60.0
    assert 3.0 < ran_h < LIT_MIN / 60.0
    (wish,) = found.wishes
    assert wish.power_W == pytest.approx(0.6, rel=0.05)
    assert wish.is_cut      # the tank ran empty before the night was over


def test_light_of_which_no_meter_can_be_trusted_is_no_wish(sound):
    """It was once "zip() argument 2 is longer than argument 1", exit code 1."""
    rows = sound.journal.rows.take(np.arange(len(sound.journal.rows)))
    rows.stored[ch.LAMP_MA] = NOT_TRUSTED
    found = conditions_of(replace(sound.journal, rows=rows), sound.clock, sound.rig, sound.period)
    assert found.wishes == ()


def test_water_that_is_above_is_not_below(sound):
    found = conditions_of(sound.journal, sound.clock, sound.rig, sound.period)
    values = sound.rig.plant()
    assert found.upper_m3

    both = found.lower_m3 + found.upper_m3.value
    assert both == pytest.approx(values["upper.start_volume_m3"]
                                 + values["lower.start_volume_m3"])


def test_the_same_conditions_go_through_the_keeper_itself(sound, tmp_path):
    # The first hour alone: a whole day is a matter of the bench.
    found = conditions_of(sound.journal, sound.clock, sound.rig,
                          (BEGIN_S, BEGIN_S + 7200.0))
    assert found.upper_m3
    job = job_of(sound.rig, found, tmp_path / "board")
    said = []
    caller = SimpleNamespace(tell=lambda **facts: said.append(facts), hear=lambda: "go on")
    conditioned.play(job, caller)

    came = said[-1]["came"]
    assert len(came["by_minute"]["level_m"]) == 120
    assert came["end_L"] == pytest.approx(1000.0 * found.upper_m3.value + came["up_L"], rel=1e-3)
    assert set(figures_of(came)) >= {"up_L", "pump_J", "light_h", "end_L"}


def test_a_rig_without_a_meter_at_the_panel_names_what_is_not_known(sound):
    text = sound.rig.toml_text.replace("[sensors]", '[sensors]\npanel_meter = "absent"', 1)
    other = load_text(text, "less")
    found = expected_of(sound.journal, sound.clock, other, other.rig_id, sound.period)

    assert found.verdict == NOT_KNOWN
    assert found.row("light_h").why == "the sun is not known"
    assert "expect --sun FILE" in " ".join(" ".join(lines(found, UTC)).split())


def test_the_text_fits_80_columns_and_says_the_verdict_first(sound, clogged):
    usual = maybe_usual([pair_of(judged(sound))] * 5)
    said = lines(judged(clogged, usual=usual), UTC)

    assert all(len(one) <= 80 for one in said)
    assert "worse than expected" in said[1]
    assert not any(one != one.rstrip() for one in said)


def test_page_and_document_say_the_same_verdict(clogged, sound):
    found = judged(clogged, usual=maybe_usual([pair_of(judged(sound))] * 5))

    assert found.as_json()["verdict"] == WORSE
    assert "worse than expected" in html(found, UTC)


def test_judged_days_follow_each_other_without_overlap():
    rig = load()
    for day in (date(2016, 3, 26), date(2016, 6, 20), date(2016, 12, 30)):
        begin_s, end_s = bounds_s(day, rig)
        assert end_s == bounds_s(day + timedelta(days=1), rig)[0]
        local = datetime.fromtimestamp(begin_s, UTC).astimezone(zone_at(rig.site))
        assert local.date() == day
        assert 3 <= local.hour <= 7


def test_a_day_of_which_too_little_is_held_is_not_judged(sound):
    whole = list(judged_days(sound.journal, sound.clock, RIGS))
    assert [one[0] for one in whole] == [date(2016, 2, 15)]
    rows = sound.journal.rows
    few = sound.journal.__class__(rows.take(rows.uptime_ds < 36000 * 6), sound.journal.events,
                                  sound.journal.totals, sound.journal.summaries,
                                  sound.journal.findings)
    assert list(judged_days(few, sound.clock, RIGS)) == []


def test_a_sun_that_is_not_the_sites_is_told_and_its_clear_sky_is_no_guide(sound):
    # The same journal, its clock twelve hours off: the panel gives by night.
    clock = Clock([Anchor(0, 1, 0, BEGIN_S + 43200.0, 0.05)])
    period = (BEGIN_S + 43200.0, BEGIN_S + 43200.0 + 86400.0)
    found = conditions_of(sound.journal, clock, sound.rig, period)

    assert any("without sun at the rig's site" in one for one in found.notes)


def test_a_level_that_nothing_reads_is_taken_as_empty_and_told(sound):
    text = sound.rig.toml_text.replace("[sensors]", '[sensors]\nlevel = "absent"', 1)
    other = load_text(text, "less")
    found = conditions_of(sound.journal, sound.clock, other, sound.period)

    assert found.upper_m3 is None
    assert any("was not read" in one for one in found.notes)
    less = expected_of(sound.journal, sound.clock, other, other.rig_id, sound.period)
    expected, with_level = less.row("up_L").expected, judged(sound).row("up_L").expected
    assert expected
    assert with_level
    assert expected.u > with_level.u
