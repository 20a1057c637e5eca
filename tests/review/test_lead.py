"""What matters first: in each kind of night the lead names it, ahead of all else."""

import re
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from forebay.balance.measured import Measured
from forebay.balance.ways import MEASURED
from forebay.review import review_of, summary
from forebay.review.doubts import _battery, _off
from forebay.review.finding import ACT, HAPPENED, HELD, LOCKED, LOOK, UNSURE, span_text
from forebay.review.firsts import firsts
from forebay.review.gather import _off_s
from forebay.review.words import NOTABLE
from forebay.shelf import Anchor, Rehearsed, Shelf
from forebay.shelf.local import day_bounds_s, day_of, zone_named
from keeper import channels as ch
from keeper import modes
from tests.balance import rig as plant
from tests.balance.modest import ORCHARD, evening
from tests.review.nights import MORNING_H, night


def told(review):
    """Returns what is found beyond that the rehearsal is a short one, as (gravity, text)."""
    return [(one.gravity, f"{one.what} {one.do}") for one in review.findings
            if "broken off after" not in one.what]


def said(review):
    """Returns the verdict of a review."""
    assert review.verdict
    return review.verdict


def first(review):
    return told(review)[0]


def test_a_night_with_light_as_long_as_wanted_is_good_and_nothing_is_open(good):
    assert said(good).good is True
    assert "It lasted as long as wanted" in said(good).finding.what
    assert " W, as planned" in said(good).finding.what
    assert [one for one in told(good) if one[0] <= HAPPENED] == []


def test_a_rehearsal_that_was_broken_off_says_so(good):
    assert [one.gravity for one in good.findings if "broken off after 0.9 h" in one.what] == [
        UNSURE]


def test_a_night_that_uses_its_tank_up_says_until_when_and_that_nothing_is_to_mend(folder):
    found = night(folder, "short", hours=1.0, sun_min=9)
    assert said(found).short == "tank used up"
    assert "the water lasted till 17:" in said(found).finding.what
    assert "light was wanted till dawn" in said(found).finding.what
    assert "forebay dispatch last" in said(found).finding.do


def test_a_lockout_comes_first_with_its_cause_and_its_reset(locked):
    found = locked
    gravity, text = first(found)
    assert gravity == LOCKED
    assert "It tripped 4 times" in text
    assert "tank holds about" in text
    assert "37-GEN" in text
    assert "measure along the generator's leads" in text
    assert "hold the board's button" in text
    assert "cut off" in said(found).finding.what
    assert found.first_out
    assert found.first_out.named.endswith("(37-GEN)")
    volts = {tag: value for tag, _, value in found.first_out.readings}["EI-GEN"]
    assert float(volts.split()[0]) < 1.0


def test_a_stuck_valve_says_that_water_runs_out_and_to_shut_the_hand_valve(folder):
    found = night(folder, "stuck", [(26, "valve-stuck")], dawn_min=33, hours=0.75)
    gravity, text = first(found)
    assert gravity == ACT
    assert "open at the end, though it is told to be shut" in text
    assert "L ran down after that, so it is no fault of its sensor" in text
    assert "Shut the hand valve" in text
    assert "48-VLV" in text
    # One cause, one finding: no other speaks of the valve.
    assert sum("alve" in text for gravity, text in told(found) if gravity <= HAPPENED) == 1


def test_frost_that_keeps_pump_and_light_off_is_told_and_drain_down_named(folder):
    found = night(folder, "frost", [(1, "frost")], hours=0.6, sun_min=0)
    gravity, text = first(found)
    assert gravity in (ACT, HELD)
    # What is told is the cold at the end, not that of the alarm.
    assert f"{np.nanmin(found.series.water_degC):.1f} degC at lowest" in text
    assert "ump and light" in text
    assert "forebay dispatch drain-down" in text
    is_frozen = np.nanmin(found.series.water_degC) < 0
    assert ("frozen" in text) == is_frozen
    # Headline and finding used to differ: near freezing above, frozen below.
    assert ("frozen" if is_frozen else "ipes near freezing") in said(found).finding.what


def test_an_open_panel_lead_by_day_is_no_dusk(folder):
    found = night(folder, "panel", [(10, "panel-lead-open")], hours=0.9, starts_h=MORNING_H)
    gravity, text = first(found)
    assert gravity == ACT
    assert "The panel went dark in daylight" in text
    assert "has not come back" in text
    assert "isolator, fuse and leads" in text
    assert any("went dark" in one.text and one.grave for one in found.events)
    assert "by day" in said(found).finding.what


def test_a_panel_that_is_dark_by_night_is_no_open_lead(good):
    assert not any("read dark" in text for _, text in told(good))


def test_a_lower_tank_that_emptied_by_day_is_told_with_how_long_it_held_the_pump(folder):
    found = night(folder, "dry", [(8, "lower-tank-dry")], hours=0.7)
    text = next(text for _, text in told(found) if "71L-LO" in text)
    assert "Lower tank empty" in text
    assert "inflow" in text


def test_what_a_pump_that_was_held_off_did_not_lift_is_told_and_when_it_comes_again(folder):
    found = night(folder, "dry", [(8, "lower-tank-dry")], hours=0.7)
    text = next(text for _, text in told(found) if "71L-LO" in text)
    # 20 min of sun, 8 of them pumped: the rest at the mean of these.
    lifted, lost = (float(text.split(key)[0].split()[-1]) for key in (
        " L that were", " L were not lifted"))
    assert lost == pytest.approx(lifted * 12 / 8, rel=0.3)
    assert "The pump stays off until this is over: lower tank empty (71L-LO)." in found.coming


def test_light_that_never_lasts_is_no_light(folder):
    found = night(folder, "hand", [(19, "hand-valve-shut")], hours=0.9)
    assert said(found).short == "no light"
    assert "begun 4 times" in said(found).finding.what
    assert first(found)[0] == LOCKED
    assert "Is the hand valve open?" in first(found)[1]


def test_a_float_that_the_level_belies_is_told_although_full_is_daily_work(folder):
    found = night(folder, "float", [(8, "upper-float-cut")], hours=0.6)
    gravity, text = first(found)
    assert gravity == HELD
    assert "full float of the upper tank" in text
    assert "but the level read" in text
    assert [one.weight for one in found.events if "71H-UP" in one.text][0] == NOTABLE
    assert not any("LI-UP" in text for _, text in told(found))  # the float is at fault


def test_a_cut_of_the_power_is_told_with_what_it_does_to_times(folder):
    found = night(folder, "cut", [(10, "power-cut")], hours=0.7)
    texts = [text for _, text in told(found)]
    assert any("restarted" in text and "battery" in text for text in texts)
    assert any(gravity == UNSURE and "times" in text for gravity, text in told(found))


def test_a_battery_that_is_not_charged_is_told_before_the_board_goes_dark(folder):
    found = night(folder, "charger", [(0.1, "charger-dead")], hours=0.7)
    assert not any("not charged" in text for _, text in told(found))  # 20 min of sun tell nothing


def test_page_and_text_of_a_shelf_without_any_time_say_that_no_time_is_known(tmp_path):
    with Shelf(tmp_path / "s") as shelf:
        shelf.add_rig(7)
        for number, data in plant.files_of(plant.journal_of(plant.Errors())).items():
            shelf.put_segment(7, 0, number // 16384, number % 16384, data)
        found = review_of(shelf, plant.DEMO)
    assert any(gravity == UNSURE and "No time of this record is known" in text
               for gravity, text in told(found))


def test_a_valve_open_for_light_that_gives_no_watts_is_the_verdict(tmp_path):
    journal = plant.journal_of(plant.Errors())
    for channel in (ch.GENERATOR_MA, ch.LAMP_MA):
        journal.rows.stored[channel][:] = 0
    with Shelf(tmp_path / "s") as shelf:
        plant.fill_shelf(shelf, journal)
        found = review_of(shelf, plant.DEMO)
    assert said(found).good is False
    assert said(found).short == "no watts"
    assert "Does the turbine turn?" in said(found).finding.do


@pytest.mark.parametrize(("taken_J", "told"), [(100.0, True), (4000.0, False)])
def test_a_battery_that_took_next_to_nothing_on_a_day_of_pumping_is_not_charged(taken_J, told):
    record = SimpleNamespace(balance=SimpleNamespace(
        energies={"supply_in": Measured(taken_J), "supply_out": Measured(8000.0)},
        told={key: SimpleNamespace(kind=MEASURED) for key in ("supply_in", "supply_out")},
        pump_h=3.0))
    found = list(_battery(record))
    assert bool(found) == told
    if found:
        assert "it is not charged" in found[0].what
        assert "charger, fuse and leads" in found[0].do


def test_gaps_and_a_broken_pull_are_unsure_and_say_what_to_do(tmp_path):
    with Shelf(tmp_path / "s") as shelf:
        plant.fill_shelf(shelf, plant.journal_of(plant.Errors(1), range(500, 700)))
        rig_id = shelf.only_rig()
        shelf.put_listing(rig_id, 0, 1.7e9, [(0, 99, 5000)])
        found = review_of(shelf, plant.DEMO)
    unsure = [text for gravity, text in told(found) if gravity == UNSURE]
    assert any("The pull broke off" in text and "Pull again" in text for text in unsure)
    assert any("rows are missing" in text and "forebay check" in text for text in unsure)


def test_the_smallest_rig_has_a_verdict_and_no_finding_that_it_cannot_know(tmp_path):
    with Shelf(tmp_path / "s") as shelf:
        plant.fill_shelf(shelf, evening()[0])
        found = review_of(shelf, ORCHARD)
    assert found.verdict is not None
    assert not any("panel" in text or "battery" in text for _, text in told(found))
    assert "What matters first" in summary(found)


def test_what_stood_before_the_time_still_stands_in_it(folder, locked):
    """A lockout of yesterday is the first thing to know of today."""
    with Shelf(folder / "lockout" / "shelf.sqlite", create=False) as shelf:
        from forebay.rig import load

        whole = review_of(shelf, load())
        end_s = whole.balance.end_utc_s or np.nan
        last = review_of(shelf, load(), period=(end_s - 300, end_s + 1))
    assert last.findings[0].gravity == LOCKED
    assert "37-GEN" in last.findings[0].what


def test_where_the_shelf_goes_on_the_end_of_the_time_is_not_that_of_the_record(folder):
    """Of a day till midnight it was once said to pull again in the morning."""
    night(folder, "short", hours=1.0, sun_min=9)
    with Shelf(folder / "short" / "shelf.sqlite", create=False) as shelf:
        from forebay.rig import load

        whole = review_of(shelf, load())
        begin_s, lit_s = whole.balance.begin_utc_s or np.nan, said(whole).finding.utc_s or np.nan
        lit = review_of(shelf, load(), period=(begin_s, lit_s + 120.0))
        pumping = review_of(shelf, load(), period=(begin_s, begin_s + 480.0))
    assert said(lit).short == "not over"
    assert "when this time ends" in said(lit).finding.what
    assert [text for _, text in told(pumping) if "pump was running when this time ends" in text]
    for one in (lit, pumping):
        assert "Pull again" not in " ".join(find.do for find in [said(one).finding, *one.findings])


@pytest.fixture(scope="module")
def used_up(folder):
    """Returns a function that reviews a part [s since its begin] of a night that uses its tank up.

    And when its light began and ended, in the same seconds.
    """
    whole = night(folder, "short", hours=1.0, sun_min=9)
    begin_s = whole.balance.begin_utc_s or np.nan
    states = whole.series.state == modes.RUNNING
    lit = whole.series.utc_s[states] - begin_s

    def part(from_s, to_s):
        from forebay.rig import load

        with Shelf(folder / "short" / "shelf.sqlite", create=False) as shelf:
            return review_of(shelf, load(), period=(begin_s + from_s, begin_s + to_s))

    return part, lit.min(), lit.max()


def test_a_light_that_began_before_the_time_is_told_as_on_since_then(used_up):
    """It was said to be "Light for 39 min, from 17:00" of a time that began at midnight."""
    part, first_s, last_s = used_up
    found = part(last_s - 240.0, last_s + 600.0)
    what = said(found).finding.what
    assert " of this time, on since 16:" in what or " of this time, on since 17:" in what
    assert "from 1" not in what
    whole = part(0.0, last_s + 600.0)
    assert ", from 1" in said(whole).finding.what
    assert "of this time" not in said(whole).finding.what


def test_a_time_behind_a_tank_that_was_used_up_says_when_and_points_nowhere(used_up):
    """It said "no light ... See below what to do", and below stood that all was clear."""
    part, _, last_s = used_up
    found = part(last_s + 120.0, last_s + 900.0)
    assert said(found).short == "tank used up"
    assert "the water had lasted till 17:" in said(found).finding.what
    assert "before it" in said(found).finding.what
    assert "See below" not in said(found).finding.do


def test_who_is_sent_below_finds_there_what_to_do(folder, locked, good):
    for found in (locked, good, night(folder, "hand", [(19, "hand-valve-shut")], hours=0.9),
                  night(folder, "frost", [(1, "frost")], hours=0.6, sun_min=0)):
        if "See below" in said(found).finding.do:
            assert [one for one in found.findings if one.do and one.gravity <= HAPPENED]


def test_by_day_a_rig_that_sees_no_sun_is_not_said_to_lack_a_light(folder):
    """A part of a day of the smallest rig, its tank full, was told to see to its light's setting.
    """
    found = night(folder, "shed-noon", hours=0.5, starts_h=MORNING_H, demo="orchard")
    assert said(found).short == "no night in it"
    assert "[night]" not in said(found).finding.do


def test_the_section_of_the_description_is_called_that(tmp_path):
    journal = evening()[0]
    keep = journal.rows.state != modes.RUNNING
    journal = replace(journal, rows=journal.rows.take(keep), events=journal.events[:0])
    with Shelf(tmp_path / "s") as shelf:
        plant.fill_shelf(shelf, journal)
        found = review_of(shelf, ORCHARD)
    assert said(found).short == "no light"
    assert "section [night] of the rig's description" in said(found).finding.do


def test_a_record_that_ends_while_the_pump_fills_is_no_doubt_of_itself(folder):
    """Whoever pulls by day finds it so, and the smallest rig has its pump on each morning."""
    found = night(folder, "shed-noon", hours=0.5, starts_h=MORNING_H, demo="orchard")
    assert found.series.state[-1] in (modes.TRIAL, modes.PUMPING)
    assert not any("pump was" in text for _, text in told(found))


def test_the_gravest_come_first(folder):
    found = night(folder, "lockout2", [(3, "frost"), (27, "generator-lead-open")], hours=0.8)
    gravities = [one.gravity for one in found.findings]
    assert gravities == sorted(gravities)


@pytest.mark.parametrize(("seconds", "text"), [
    (40, "40 s"), (600, "10 min"), (7200, "2.0 h"), (28800, "8.0 h")])
def test_a_length_of_time_is_told_in_the_unit_that_fits(seconds, text):
    assert span_text(seconds) == text


def test_the_coming_day_has_the_light_that_the_water_above_is_enough_for(good):
    """By the plan of the demo 900 L give 7.5 h at 0.6 W, so a litre 30 s (design, section 6)."""
    litres = 1000.0 * good.series.level_m[np.isfinite(good.series.level_m)][-1] - 50.0
    hours = float(good.coming.split("about ")[1].split()[0])
    assert hours == pytest.approx(litres * 7.5 / 900, rel=0.1, abs=0.06)
    assert [line[0] for line in firsts(good)][:2] == ["good night", "the coming day"]


def test_after_a_lockout_nothing_comes_until_a_person_was_there_and_how_to_look_is_safe(locked):
    assert locked.coming.startswith("Pump and light stay off until a person resets the lockout")
    _, text = first(locked)
    assert "shut the hand valve first, then open the isolator" in text
    assert "The water that was left would have given about" in said(locked).finding.what


def test_a_float_that_is_belied_is_no_full_tank_for_the_coming_day(folder):
    found = night(folder, "float", [(8, "upper-float-cut")], hours=0.6)
    assert "The tank is full" not in found.coming
    assert "The pump stays off until this is over: upper tank full (71H-UP)." in found.coming


def test_codes_of_elements_stand_in_brackets_at_the_end_of_what_is_said(folder, locked):
    for name, faults, hours in (("stuck", [(26, "valve-stuck")], 0.75),
                                ("dry", [(8, "lower-tank-dry")], 0.7)):
        found = night(folder, name, faults, hours=hours, dawn_min=33 if name == "stuck" else None)
        for one in [*found.findings, *locked.findings]:
            bare = re.sub(r" \([^()]*\)(?=\.?$)", "", one.what)
            assert not re.search(r"\b\d\d[A-Z]?-[A-Z]{3}\b", bare), one.what


def test_a_motor_that_drives_a_stuck_valve_is_no_meter_at_fault(folder):
    """The board's meter used to be blamed for what the motor took in vain."""
    found = night(folder, "stuck", [(26, "valve-stuck")], dawn_min=33, hours=0.75)
    assert not any("One meter explains" in text for _, text in told(found))
    assert "Hands off while water runs" in first(found)[1]
    assert found.coming.startswith("What is lifted runs down again until")


@pytest.mark.parametrize(("off_s", "text"), [
    ((300.0, 320.0), "was off for 5 min before"), ((100.0, 7300.0), "between 100 s and 2.0 h"),
    ((0.0, np.inf), "nothing tells"), ((7200.0, np.inf), "at least 2.0 h"), ((0.0, 30.0), ""),
    (None, "")])
def test_how_long_a_board_was_off_is_told_as_well_as_anchors_allow(off_s, text):
    found = _off(SimpleNamespace(off_s=off_s))
    assert text in found
    assert bool(text) == bool(found)


def test_a_cut_between_two_pulls_has_its_length_bounded(tmp_path):
    with Shelf(tmp_path / "s") as shelf:
        shelf.add_rig(7)
        one = plant.journal_of(plant.Errors(1))
        for number, data in plant.files_of(one).items():
            shelf.put_segment(7, 0, number // 16384, number % 16384, data)
        shelf.add_anchor(7, Anchor(0, 1, 0, 1.7e9, 1.0))
        rows = one.rows
        last_s = float(rows.uptime_ds[-1]) / 10.0
        start = np.zeros(1, [("generation", "u2"), ("boot", "u2"), ("uptime_ds", "u4")])
        start["boot"] = 2
        # Boot 2 was met 100 s after its start, 1000 s after the last row of boot 1.
        shelf.add_anchor(7, Anchor(0, 2, 1000, 1.7e9 + last_s + 1100.0, 1.0))
        found = _off_s(shelf.clock(7), SimpleNamespace(starts=[(start[0], 0.0)]), rows)
    assert found is not None
    # Two anchors of a second, and 3.5 h of a crystal that is off by some hundred ppm.
    assert 980 < found[0] <= 1000 <= found[1] < 1020


def test_a_leak_is_told_with_its_rate_and_since_when(folder):
    found = night(folder, "leak", [(1, "tank-leaks")], hours=0.9)
    text = next(text for _, text in told(found) if "look for water" in text)
    assert re.search(r"At rest it was \d+(\.\d+)? \+- \d+(\.\d+)? L an hour", text)
    assert re.search(r"The board noted it first at \d\d:\d\d", text)


def test_a_real_rig_is_never_said_to_be_rehearsed(tmp_path):
    with Shelf(tmp_path / "s") as shelf:
        plant.fill_shelf(shelf, plant.journal_of(plant.Errors(1)))
        assert "REHEARSAL" not in summary(review_of(shelf, plant.DEMO))
        shelf.note_rehearsal(shelf.only_rig(), Rehearsed("2016-01-01", "clear", "", 1))
        assert "REHEARSAL" in summary(review_of(shelf, plant.DEMO))


def test_a_leak_at_rest_is_a_thing_to_look_at(folder):
    found = night(folder, "leak", [(1, "tank-leaks")], hours=0.9)
    gravity, text = next((gravity, text) for gravity, text in told(found)
                         if "look for water" in text)
    assert gravity == LOOK
    # An empty tank leaks no more: that is no end of it.
    assert "let go" not in text
    assert not any("71D-UP" in other for _, other in told(found) if other != text)


@pytest.mark.parametrize(("begin", "hours"), [("2026-03-29", 23), ("2026-10-25", 25)])
def test_a_day_on_which_the_clocks_change_is_one_day_and_its_times_are_the_clocks(
        tmp_path, begin, hours):
    zone = zone_named("Europe/Madrid")
    day = day_bounds_s(day_of(begin), zone)
    assert day[1] - day[0] == hours * 3600
    with Shelf(tmp_path / "s") as shelf:
        shelf.add_rig(7)
        for number, data in plant.files_of(plant.journal_of(plant.Errors(1))).items():
            shelf.put_segment(7, 0, number // 16384, number % 16384, data)
        # The light goes on before the clocks change and is out after it.
        shelf.add_anchor(7, Anchor(0, 1, 0, day[0] + 600.0, 0.05))
        found = review_of(shelf, plant.DEMO, zone=zone, period=day)
    assert found.offset().startswith("UTC+0")
    assert ", later UTC+0" in found.offset()
    assert "What matters first" in summary(found)
    # 600 s, then FILL_S, REST_S and LIGHT_S of the journal: 3 h 37 min after midnight as it
    # was, an hour later or earlier by the new clock.
    end = found.time(found.balance.end_utc_s)
    assert end == {23: "04:43", 25: "02:43"}[hours]
