"""The page of a review: one file, nothing fetched, and all that it draws stands in words."""

import json
import re
from dataclasses import replace

import numpy as np
import plotly.graph_objects as go
import pytest

from forebay.balance import Measured
from forebay.balance.ways import MEASURED, UNKNOWN, Told
from forebay.paper import section
from forebay.review import page, review_of, summary
from forebay.review.bars import bars
from forebay.review.figure import LANES, Binned, figure, hour_ticks
from forebay.review.figures import J_PER_WH, pair
from forebay.review.sections import Section
from forebay.review.values import LINES
from forebay.review.words import GRAVE, WEIGHTS, Event
from forebay.shelf import Rehearsed, Shelf
from forebay.shelf.local import zone_named
from tests.balance import rig as plant
from tests.balance.modest import ORCHARD, evening
from tests.pages import Page, contrast, scripts, without_scripts

MOST_BYTES = 6_000_000
LEAST_TEXT_px, REM_px = 11, 16


@pytest.fixture(scope="module")
def review(tmp_path_factory):
    with Shelf(tmp_path_factory.mktemp("shelf") / "s") as shelf:
        plant.fill_shelf(shelf, plant.journal_of(plant.Errors(1)))
        rig_id = shelf.only_rig()
        begin_s = review_of(shelf, plant.DEMO).balance.begin_utc_s or 0.0
        shelf.add_note(rig_id, begin_s + 3600, "strainer <cleaned>")
        shelf.note_rehearsal(rig_id, Rehearsed(
            "2016-01-01", "sun.csv", "hillside", 7, ((begin_s, "jet-blocked"),),
            assumed=("Albedo 0.2.",)))
        return review_of(shelf, plant.DEMO, notes=["The night is <assumed> dark."])


@pytest.fixture(scope="module")
def text(review):
    return page(review)


@pytest.fixture(scope="module")
def drawn(review):
    return drawn_of(review)


def drawn_of(review):
    found = figure(review)
    assert found
    return found


def test_the_page_is_one_small_file_that_fetches_nothing(text):
    assert len(text.encode()) < MOST_BYTES
    found = Page(without_scripts(text))
    assert found.open == []
    tags = {tag for tag, _ in found.seen}
    assert not tags & {"link", "img", "iframe", "object", "embed"}
    assert [how for how, _ in scripts(text)] == [' type="application/json" id="figure"', "", ""]
    assert not re.search(r"https?:|url\(|@import|src=", without_scripts(text))
    assert "default-src 'none'" in text


def test_it_says_that_it_is_a_rehearsal_with_its_faults_and_assumptions(review, text):
    words = " ".join(Page(without_scripts(text)).words)
    for told in (words, " ".join(summary(review).split())):
        assert "nobody measured these figures" in told
        assert "packaged demo rig hillside" in told
        assert "jet-blocked at" in told
        assert "seed 7" in told
    assert words.index("REHEARSAL") < words.index("What matters first")
    assert "Albedo 0.2." in words
    assert "REHEARSAL: " not in page(replace(review, rehearsed=[]))   # as the banner has it


def test_page_and_terminal_name_the_same_things_first_and_in_the_same_order(review, text):
    told = " ".join(" ".join(Page(without_scripts(text)).words).split())
    said = " ".join(summary(review).split())
    last = 0
    for one in [review.verdict.finding, *review.findings]:
        assert one.what in told
        assert one.what in said
        assert told.index(one.what) > last
        last = told.index(one.what)
    assert said.index("What matters first") < said.index("Energy")


def test_every_part_of_the_page_is_there(text):
    words = " ".join(Page(without_scripts(text)).words)
    for part in ("Over time", "Events", "Energy", "Assumed, bridged or left out", "Caution",
                 "into the pump", "used by the board", "round trip", "Your notes",
                 "strainer <cleaned>", "In everyday terms", "Where the energy went",
                 "The night is <assumed> dark.", "not a safety-rated system"):
        assert part in words


def test_what_others_work_out_has_its_place_on_page_and_in_text(review):
    trend = Section(["Trend", "  The strainer clogs."], "<section>The strainer clogs.</section>")
    found = replace(review, trend=trend, expected=Section(["As expected."], "As expected."))
    for told in (page(found), summary(found)):
        assert 0 < told.index("The strainer clogs.") < told.index("As expected.")


def test_it_can_be_used_by_keyboard_and_by_ear(text):
    found = Page(without_scripts(text))
    tags = [tag for tag, _ in found.seen]
    assert tags.count("main") == tags.count("header") == tags.count("h1") == 1
    assert ("a", {"class": "skip", "href": "#first"}) in found.seen
    plot = next(attributes for tag, attributes in found.seen if attributes.get("id") == "plot")
    assert plot["role"] == "img"
    assert "Light [W]" in plot["aria-label"]
    for tag, attributes in found.seen:
        if attributes.get("class", "").startswith("scroll"):
            assert attributes["tabindex"] == "0", tag
            assert attributes["aria-label"]
    boxes = [attributes for tag, attributes in found.seen if tag == "input"]
    assert [box["data-lane"] for box in boxes] == [str(lane) for lane in range(len(LANES))]


def test_the_values_of_the_plot_stand_in_a_table(review, text):
    table = text.split("The values of the plot as a table")[1].split("</table>")[0]
    assert 10 < table.count("<tr>") <= LINES + 1
    level = review.series.level_m
    assert f"{level[-1]:.2f}" in table


def test_it_is_readable_in_dark_in_light_and_on_paper(text):
    assert "prefers-color-scheme: dark" in text
    assert "@media print" in text
    # Text against paper, both ways: at least 7:1 by WCAG 2.1, 1.4.6; what is drawn 3:1, 1.4.11.
    for ink, paper in (("#22282b", "#fbfaf6"), ("#e7e6e0", "#16191b"), ("#4a3800", "#fdf3d8"),
                       ("#f6e7b8", "#3a3117")):
        assert ink in text
        assert contrast(ink, paper) >= 7
    colours = re.findall(r"--(?:panel|pump|lamp|level|soft|grave): (#\w+)", text)
    for colour, paper in zip(colours, ["#fbfaf6"] * 6 + ["#16191b"] * 6, strict=False):
        assert contrast(colour, paper) >= 3


def test_no_text_is_smaller_than_a_phone_bears(text, drawn):
    style = text.split("<style>")[1].split("</style>")[0]
    sizes = [float(size) for size in re.findall(r"font(?:-size)?:[^;}]*?(?<![\d.])([\d.]+)rem",
                                                style)]
    assert min(sizes) * REM_px >= LEAST_TEXT_px
    fonts = [one["font"]["size"] for one in drawn["layout"]["annotations"]]
    assert min(fonts) >= LEAST_TEXT_px


def coloured(thing):
    """Returns a figure with a colour in place of each name of one, as the page's script does."""
    if isinstance(thing, list):
        return [coloured(one) for one in thing]
    if isinstance(thing, dict):
        return {key: "#123456" if key == "color" else coloured(value)
                for key, value in thing.items() if key != "lane"}
    return thing


def test_the_plot_is_valid_for_its_library_and_its_axes_share_the_time(drawn):
    go.Figure(coloured(drawn["traces"]), coloured(drawn["layout"]))
    titles = [one["text"] for one in drawn["layout"]["annotations"] if one["text"].endswith("]")]
    assert titles == ["Panel gives [W]", "Light [W]", "Flow [L/min]", "Level, upper tank [m]",
                      "Temperature [degC]", "Voltage [V]", "Valve [% open]"]
    domains = sorted(value["domain"] for key, value in drawn["layout"].items()
                     if key.startswith("yaxis"))
    assert all(one[1] < other[0] for one, other in zip(domains, domains[1:], strict=False))
    assert domains[0][0] >= 0
    assert domains[-1][1] <= 1
    assert {one.get("xaxis", "x") for one in drawn["traces"]} == {"x"}


def test_events_stand_in_the_lane_of_their_weight_and_notes_in_their_own(review):
    found = replace(review, events=[Event(review.series.utc_s[5], "Locked <out>.", GRAVE)])
    lanes = {one["name"]: one for one in drawn_of(found)["traces"] if "lane" in one}
    assert lanes[WEIGHTS[GRAVE]]["text"][0].endswith("Locked &lt;out&gt;.")
    assert [len(lanes[name]["x"]) for name in LANES] == [1, 0, 0, 1]
    assert json.dumps(figure(found), allow_nan=False)


def test_a_curve_is_broken_where_nothing_is_known():
    at_s = np.concatenate([np.arange(0.0, 3000, 60), np.arange(9000.0, 12000, 60)])
    binned = Binned(at_s)
    means = binned.means(np.ones(len(at_s)))
    gap = np.flatnonzero(np.isnan(means))
    assert len(gap) == 1
    assert 3000 < binned.at_s[gap[0]] < 9000
    assert np.all(np.diff(binned.at_s) > 0)


def test_bins_keep_the_mean_of_what_they_hold():
    draw = np.random.default_rng(3)
    at_s = np.arange(0.0, 100_000, 10)
    values = draw.normal(5, 1, len(at_s))
    values[::7] = np.nan
    binned = Binned(at_s, bins=100)
    assert np.nanmean(binned.means(values)) == pytest.approx(np.nanmean(values), abs=0.01)


@pytest.mark.parametrize(("begin", "hours", "lacks", "twice"), [
    # Clocks go forward on 29 March 2026 at 02:00, back on 25 October 2026 at 03:00.
    ("2026-03-29T00:00:00+01:00", 9, "02:00", None),
    ("2026-10-25T00:00:00+02:00", 9, None, "02:00")])
def test_where_the_clocks_change_the_hours_on_the_axis_are_those_of_the_clock(
        begin, hours, lacks, twice):
    from datetime import datetime

    begin_s = datetime.fromisoformat(begin).timestamp()
    ticks = hour_ticks(begin_s, begin_s + hours * 3600, zone_named("Europe/Madrid"))
    labels = [text for _, text in ticks]
    assert lacks not in labels
    assert labels[0] == "00:00"
    # After the change a label names what a clock there shows at that instant.
    for at_s, label in ticks:
        local = datetime.fromtimestamp(at_s, zone_named("Europe/Madrid"))
        assert f"{local:%H:%M}" == label
    assert twice is None or labels.count(twice) == 1


def found_with(review, **energies):
    told = {**review.balance.told, **{key: Told(MEASURED, "its meter") for key in energies}}
    return replace(review.balance, told=told, energies={
        **review.balance.energies,
        **{key: Measured(value).with_part("a", 0.01 * value) for key, value in energies.items()}})


def test_a_remainder_is_called_lost_only_where_it_is_a_loss(review):
    made = {bar.label: bar for bar in bars(review.balance)}
    losses = {label: [part.label for part in bar.parts if part.is_loss]
              for label, bar in made.items()}
    assert losses["out of the panel"] == []
    assert losses["out of the generator"] == []
    assert losses["into the pump"] == ["lost in motor, pump and rising main"]


def test_bars_have_one_scale_and_their_parts_fill_no_more_than_the_whole(review):
    found = bars(found_with(review, panel=1e6, pump=9e5, stored=3e5))
    by_label = {bar.label: bar for bar in found}
    assert by_label["out of the panel"].share == 1.0
    pump = by_label["into the pump"]
    assert pump.share == pytest.approx(0.9)
    # 900 kJ of which 300 are stored: 600 are lost.
    assert [part.share for part in pump.parts] == pytest.approx([0.3, 0.6])


def test_where_a_model_stands_for_a_meter_nothing_is_left_over_between_meters(tmp_path):
    """Of the smallest rig, with one meter, it was told what was left over between three."""
    with Shelf(tmp_path / "s") as shelf:
        plant.fill_shelf(shelf, evening()[0])
        found = bars(review_of(shelf, ORCHARD).balance)
    parts = [part for bar in found for part in bar.parts]
    assert "into the lamps" in [part.label for part in parts]
    assert not any("left over" in part.label for part in parts)
    assert next(part.text for part in parts if part.label == "into the clamp") == "none m"


def test_a_loss_in_the_drawing_is_the_one_of_the_table(review):
    pump = next(bar for bar in bars(review.balance) if bar.label == "into the pump")
    loss = review.balance.derived.losses["pump_set"]
    assert pump.parts[-1].text == "{} +- {} Wh".format(*pair(loss, 1 / J_PER_WH))


def parts_of(text):
    """Returns the headings of a page."""
    return re.findall(r"<h2>([^<]*)</h2>", text)


@pytest.mark.parametrize("rig", ["hillside", "orchard"])
def test_page_and_terminal_have_the_same_parts_in_the_same_order(rig, tmp_path):
    with Shelf(tmp_path / "s") as shelf:
        journal, of = (plant.journal_of(plant.Errors(1)), plant.DEMO) if rig == "hillside" else (
            evening()[0], ORCHARD)
        plant.fill_shelf(shelf, journal)
        rig_id = shelf.only_rig()
        shelf.add_note(rig_id, (review_of(shelf, of).balance.begin_utc_s or 0.0) + 60.0, "Looked.")
        found = replace(review_of(shelf, of), trend=Section(["Trend"], section("Trend", "")))
    written, told = page(found), summary(found)
    begins = [line[:52].strip() for line in told.splitlines()]
    both = [one for one in parts_of(written) if one in begins]
    assert [one for one in begins if one in parts_of(written)] == both
    # What only is drawn, and what has no heading in a terminal.
    drawn = {"Over time", "Where the energy went", "Caution"}
    assert set(parts_of(written)) - set(both) <= drawn
    for title in ("Losses", "A litre of water", "Yield", "Spilled", "In everyday terms"):
        assert title in both
    words = " ".join(Page(without_scripts(written)).words)
    assert "wheel" not in words + told   # the trade's word is turbine
    for label in ("array yield", "over the rim or the overflow", "lost in the charger",
                  "a litre let down gave to the lamps", "gaps bridged by totals"):
        assert label in words
        assert label in " ".join(told.split())


def test_a_step_that_nothing_measures_has_no_bar(review):
    told = {**review.balance.told, "generator": Told(UNKNOWN, "no meter")}
    found = replace(review.balance, told=told)
    assert "out of the generator" not in [bar.label for bar in bars(found)]
