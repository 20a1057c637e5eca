"""The page and the summary of a rig that lacks instruments: no gaps, no zeros, no empty axes."""

import re
from types import SimpleNamespace
from typing import Any

import pytest

from forebay.balance import Measured
from forebay.balance.blame import NAMED, NONE, UNEXPLAINED, Blame
from forebay.balance.leaks import LEAK, TIGHT, Leak
from forebay.balance.model import NODES, WATER
from forebay.balance.ways import BOUNDS, MEASURED, MODEL, UNKNOWN, Told
from forebay.review import page, review_of, summary
from forebay.review.figure import figure, missing
from forebay.review.figures import LEGEND
from forebay.review.figures import figure as number
from forebay.review.lacking import (
    BY_CHANCE,
    COMPARE,
    LOST,
    NO_CHANCE,
    closures,
    pump_hours,
    verdicts,
)
from forebay.shelf import Shelf
from tests.balance import rig as plant
from tests.balance.modest import ORCHARD, evening


@pytest.fixture(scope="module")
def review(tmp_path_factory):
    with Shelf(tmp_path_factory.mktemp("shelf") / "s") as shelf:
        plant.fill_shelf(shelf, evening()[0])
        return review_of(shelf, ORCHARD)


@pytest.fixture(scope="module")
def text(review):
    return summary(review)


def test_the_summary_fits_eighty_columns_without_colour(text):
    assert max(map(len, text.splitlines())) <= 80
    assert text.isascii()
    assert "\x1b" not in text


def test_what_no_meter_reads_is_neither_zero_nor_said_to_close(text):
    tables = text.partition("Does it close?")[0]
    assert not re.search(r"\b0\.0+\b", tables)
    assert "undefined" not in text
    assert "closes" not in text
    assert text.count("cannot be checked: no ") == 4


def test_figures_of_a_model_bear_a_mark_that_is_explained(text):
    assert LEGEND in text
    lines = {line.strip().rsplit("  ", 1)[0]: line for line in text.splitlines()}
    marked = [line for line in lines.values() if line.endswith(" m")]
    for label in ("let down", "released as water", "out of the generator", "used by the board"):
        assert any(label in line for line in marked), label
    assert not any("into the lamps" in line for line in marked)


def test_what_it_cannot_tell_has_a_reason_and_the_part_that_would_tell_the_most(text):
    part = text.partition("What this rig cannot tell")[2].partition("\n\n")[0]
    told = " ".join(part.split())
    for said in ("out of the panel: no meter of the panel",
                 "only within bounds: stored as water, pumped up",
                 "A level sensor in the upper tank would tell the most:", "two hours"):
        assert said in told


def test_the_page_of_a_full_rig_has_neither_mark_nor_lack(tmp_path):
    with Shelf(tmp_path / "s") as shelf:
        plant.fill_shelf(shelf, plant.journal_of(plant.Errors(1)))
        review = review_of(shelf, plant.DEMO)
    for text in (summary(review), page(review)):
        assert LEGEND not in text
        assert "cannot tell" not in text
        assert "unknown" not in text.partition("Events")[0]


def test_the_plot_has_no_row_without_a_curve_and_the_page_names_what_is_not_read(review):
    drawn = figure(review)
    assert drawn
    titles = [one["text"] for one in drawn["layout"]["annotations"] if one["text"].endswith("]")]
    assert titles == ["Light [W]", "Temperature [degC]", "Voltage [V]"]
    told = [one["name"] for one in drawn["traces"] if "lane" not in one]
    assert not any("flow" in name.lower() or "level" in name.lower() for name in told)
    assert "Level, upper tank: level" in missing(review)
    assert "Not read by this rig" in page(review)


def test_what_the_rig_did_and_its_floats_stand_for_the_level(review):
    drawn = figure(review)
    assert drawn
    bars = {one["name"]: one for one in drawn["traces"] if one["name"] in (
        "pump on", "light on", "tank full", "empty")}
    assert set(bars) == {"pump on", "light on", "tank full"}  # no such float as "empty"
    begin, end = drawn["layout"]["xaxis"]["range"]
    for bar in bars.values():
        places = [x for x in bar["x"] if x is not None]
        assert places
        assert all(begin <= x <= end for x in places)


def test_the_page_says_by_what_each_figure_is_known(review):
    text = page(review)
    for said in ("between moves of the floats", "no meter of the panel", "What this rig cannot"):
        assert said in text


@pytest.mark.parametrize(("told", "value", "shown"), [
    (Told(UNKNOWN, "no meter"), None, ("unknown", "", "")),
    (Told(MODEL, "light"), Measured(12.3).with_part("a", 0.5), ("12.3", "1.0", "m")),
    (Told(MODEL, "clamp"), Measured(0.0), ("none", "", "m")),
    (Told(MEASURED, "its meter"), Measured(0.0), ("0.00", "0.00", "")),
    (Told(MEASURED, "its meter"), None, ("undefined", "", "")),
    (Told(BOUNDS, "tank", 12.34, 56.78), None, ("12.3 to 57", "", "m")),
    (Told(BOUNDS, "tank", -12.34, 0.0), None, ("-12.4 to 0", "", "m")),
    (Told(BOUNDS, "lift", 1234.0, None), None, ("over 1230", "", "m"))])
def test_a_figure_is_shown_as_it_is_known(told, value, shown):
    assert number(value, told) == shown


def test_a_closure_that_has_both_sides_is_still_judged(tmp_path):
    with Shelf(tmp_path / "s") as shelf:
        plant.fill_shelf(shelf, plant.journal_of(plant.Errors(1)))
        found = review_of(shelf, plant.DEMO).balance
    assert [said.partition(" (")[0] for _, _, _, said in closures(found)].count("closes") >= 3


# What is to be done where it does not close ------------------------------------------------


def closing(off_u, blame=NONE, leak=TIGHT, key="panel_node", seen_u=None) -> Any:
    """A balance of which one residual is off; seen_u: likewise what the meters are blamed by."""
    nodes: dict[str, Any] = {key_: None for key_, _ in NODES}
    water: dict[str, Any] = {key_: None for key_, _ in WATER}
    (nodes if key in nodes else water)[key] = Measured(off_u, {"one": 1.0})
    told = {key_: Told(UNKNOWN, "no meter") for key_ in (*nodes, *water)}
    suspects: Any = () if blame == NONE else (SimpleNamespace(plain="EI-PV"),)
    closures_ = {"idle": Measured(off_u if seen_u is None else seen_u, {"one": 1.0})}
    return SimpleNamespace(
        nodes=nodes, water=water, told=told, blame=Blame(blame, suspects, closures_, ()),
        leak=Leak(leak, None, None, 0.0, "The tank's words."))


@pytest.mark.parametrize(("found", "verdict", "meters", "do"), [
    (closing(1.0), "closes (1.0 u)", "no more than chance", None),
    (closing(2.4), "not sure to close (2.4 u): it may be chance, see below",
     "no more than chance", BY_CHANCE),
    (closing(4.0), "does not close (4.0 u): a meter or a loss, see below",
     UNEXPLAINED, NO_CHANCE),
    (closing(4.0, NAMED), "does not close (4.0 u): a meter or a loss, see below",
     "One meter explains", COMPARE),
    # The leak explains it: what the meters are blamed by has its water taken off.
    (closing(4.0, leak=LEAK, key="fill_residual", seen_u=0.5),
     "does not close (4.0 u): a meter or a loss, see below", "no more than chance", LOST),
    (closing(4.0, leak=LEAK, seen_u=0.5), "does not close (4.0 u): a meter or a loss, see below",
     UNEXPLAINED, NO_CHANCE)])
def test_a_residual_and_the_finding_on_the_meters_agree_in_what_to_do(found, verdict, meters, do):
    """"Does not close: a meter or a loss" once stood beside "No meter stands out"."""
    assert [said for *_, left, _, said in closures(found) if left is not None] == [verdict]
    tank, said, *more = verdicts(found)
    assert tank == "The tank's words."
    assert meters in said
    assert more == ([] if do is None else [do])


# A pump whose switch alone is known --------------------------------------------------------


@pytest.mark.parametrize(("pump", "dark_h", "said", "unsaid"), [
    (UNKNOWN, 7.4, "switched on 8.9 h (7.4 h of that with the sun down", "pumping"),
    (UNKNOWN, 0.0, "switched on 8.9 h", "sun down"),
    (UNKNOWN, None, "switched on 8.9 h", "sun down"),
    (MEASURED, 7.4, "pump 8.9 h", "sun down")])
def test_hours_of_a_switch_in_the_dark_are_not_told_as_if_they_pumped(pump, dark_h, said, unsaid):
    found: Any = SimpleNamespace(light_h=6.8, pump_h=8.9, pump_sun_down_h=dark_h, told={
        "pump": Told(pump, ""), "up": Told(BOUNDS, "")})
    assert said in pump_hours(found)
    assert unsaid not in pump_hours(found)
