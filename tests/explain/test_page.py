"""The page: whole, offline, readable by anybody, in any light and on paper, for any rig."""

import re
import xml.etree.ElementTree as ET

import pytest

from forebay import explain, units
from forebay import rig as rigs
from forebay.explain import plot
from forebay.paper import CAUTION
from forebay.showing import METRIC, SYSTEMS, US
from tests.campaign import rigs as drawn
from tests.explain.questions import wide
from tests.pages import Page, contrast

MOST_BYTES = 1_000_000
PHONE_px, LEAST_TEXT_px, REM_px = 390, 11, 16
SVG = re.compile(r'<svg viewBox="0 0 360 .*?</svg>', re.DOTALL)
RIGS = [*rigs.DEMOS, 68, 134, 171, 175]     # by name, or by seed


# What a reader of US units does not have; joules and watts they have.
METRIC_ONLY = re.compile(
    r"\d\s(mm|cm|m|km|m\N{SUPERSCRIPT THREE}|mL|L|L/min|J/L|kg|t|bar|kPa|K|m/s)\b"
    r"|\N{DEGREE SIGN}C|\[(m|L/min|J/L)\]|litre")
# A constant as its standard prints it.
CITED = ("9.80665 m/s\N{SUPERSCRIPT TWO}",)
# One metre, and a litre a minute, in the units of a system (international foot, US gallon).
AXES = {METRIC.name: (1.0, 1.0), US.name: (1 / 0.3048, 1 / 3.785411784)}
MADE = [(which, system) for system in SYSTEMS.values() for which in RIGS]


def rig_of(which):
    return rigs.load(demo=which) if which in rigs.DEMOS else drawn.sound(which)


@pytest.fixture(scope="module", params=MADE, ids=lambda one: f"{one[1].name} {one[0]}")
def made(request):
    """(values, system, text of the page) of a rig."""
    which, system = request.param
    rig = rig_of(which)
    return rig.plant(), system, explain.page(explain.facts_of(rig), system)


@pytest.fixture
def text(made):
    return made[2]


def shown(text):
    """Returns all words of a page, those of its drawings too."""
    body = re.search(r"<body>(.*)</body>", text, re.DOTALL)
    assert body
    return " ".join(Page(body[1]).words)


def drawings(text):
    return [ET.fromstring(found) for found in SVG.findall(text)]


def number(node, key, default="nan"):
    return float(node.get(key, default))


def styled(root, style):
    return [node for node in root.iter() if node.get("class") == style]


def rule(text, pattern):
    """Returns the number that a rule of the style sheet has."""
    found = re.search(pattern, text)
    assert found, pattern
    return float(found[1])


def test_the_rigs_tried_reach_from_low_to_high_and_from_small_to_large():
    plants = [rig_of(which).plant() for which in RIGS]
    heads_m = [values["upper.base_height_m"] for values in plants]
    volumes_m3 = [values["upper.overflow_volume_m3"] for values in plants]
    assert min(heads_m) < 1.6
    assert max(heads_m) > 39.0
    assert min(volumes_m3) < 0.22
    assert max(volumes_m3) > 5.0


def test_the_page_is_well_formed_small_and_loads_nothing(text):
    found = Page(text)
    assert found.open == []
    assert len(text.encode()) < MOST_BYTES
    assert not {tag for tag, _ in found.seen} & {
        "script", "link", "img", "iframe", "object", "embed"}
    assert not re.search(r"https?:|url\(|@import|@font-face|src=|href=", text)


def test_headings_follow_in_order_within_landmarks(text):
    found = Page(text)
    levels = [int(tag[1]) for tag, _ in found.seen if re.fullmatch("h[1-6]", tag)]
    assert levels.count(1) == 1
    assert levels[0] == 1
    assert all(after <= before + 1 for before, after in zip(levels, levels[1:], strict=False))
    tags = [tag for tag, _ in found.seen]
    assert tags.count("main") == tags.count("header") == 1
    assert next(attrs for tag, attrs in found.seen if tag == "html")["lang"] == "en"


def test_each_drawing_has_a_name_and_a_description_of_its_own(text):
    ids = re.findall(r' id="([^"]+)"', text)
    assert len(ids) == len(set(ids))
    assert len(drawings(text)) == 5
    for root in drawings(text):
        assert root.get("role") == "img"
        title, description = root[0], root[1]
        assert (title.tag, description.tag) == ("title", "desc")
        assert root.get("aria-labelledby") == f"{title.get('id')} {description.get('id')}"
        assert len(description.text or "") > 20


def test_letters_in_drawings_can_be_read_on_a_telephone(text):
    padding = rule(text, r"max-width: 30rem\) \{ body \{ padding: 1rem ([.\d]+)rem")
    size = rule(text, r"svg text \{ font-size: (\d+)px")
    assert size == plot.TEXT
    assert size * (PHONE_px - 2 * padding * REM_px) / plot.WIDTH >= LEAST_TEXT_px


def test_everything_drawn_lies_within_its_drawing(text):
    for root in drawings(text):
        height = float(root.get("viewBox", "").split()[3])
        for node in root.iter():
            for key, most in (("x", 360), ("x1", 360), ("x2", 360), ("cx", 360), ("y", height),
                              ("y1", height), ("y2", height), ("cy", height)):
                assert 0 <= number(node, key, "0") <= most, ET.tostring(node)
            for x, y in re.findall(r"[ML]([\d.-]+) ([\d.-]+)", node.get("d", "")):
                assert 0 <= float(x) <= 360
                assert 0 <= float(y) <= height
        for left, right, _, words in map(_box, root.iter("text")):
            assert -1 <= left, words
            assert right <= plot.WIDTH + 1, words


def test_no_two_lines_of_text_of_a_drawing_lie_on_each_other(text):
    for root in drawings(text):
        boxes = [_box(node) for node in root.iter("text")]
        for place, one in enumerate(boxes):
            for other in boxes[place + 1:]:
                apart = (one[1] <= other[0] or other[1] <= one[0]
                         or abs(one[2] - other[2]) >= 0.75 * plot.TEXT)
                assert apart, (one, other)


def _box(node):
    """(left, right, y, words) of a line of text, by the mean width of a letter."""
    words, x, styles = node.text or "", number(node, "x"), node.get("class", "").split()
    wide = plot.LETTER * plot.TEXT * len(words)
    left = x - wide / 2 if "mid" in styles else x - wide if "end" in styles else x
    return left, left + wide, number(node, "y"), words


def test_the_drawing_is_to_scale(made):
    """A person of about 1.7 m is as high as that on the axis of heights."""
    _, system, text = made
    metre, _ = AXES[system.name]
    root = drawings(text)[0]
    ticks = {float(node.text or ""): number(node, "y") - 4 for node in styled(root, "tick end")}
    (low, low_y), (high, high_y) = min(ticks.items()), max(ticks.items())
    head, limbs = styled(root, "person")[0], styled(root, "limbs")[0]
    feet_y = max(float(y) for _, y in re.findall(r"L([\d.]+) ([\d.]+)", limbs.get("d", "")))
    tall = feet_y - number(head, "cy") + number(head, "r")
    read_m = tall / ((low_y - high_y) / (high - low)) / metre
    assert read_m == pytest.approx(1.7, rel=0.02, abs=0.02)


def test_the_scale_bar_is_as_long_as_it_says(made):
    values, _, text = made
    root = drawings(text)[1]
    tank, bar = styled(root, "wall")
    top, bottom = map(float, re.findall(r"[MV](?:[\d.]+ )?([\d.]+)", tank.get("d", ""))[:2])
    begin, end = map(float, re.findall(r"M([\d.]+) [\d.]+V", bar.get("d", "")))
    length_m = (end - begin) / ((bottom - top) / values["upper.height_m"])
    said = (styled(root, "tick")[0].text or "").replace("\N{NO-BREAK SPACE}", " ")
    assert units.parse(said, "length") == pytest.approx(length_m, rel=0.01)


def test_the_flow_of_the_open_valve_can_be_read_from_its_axis(made):
    values, system, text = made
    _, litre_min = AXES[system.name]
    root = next(one for one in drawings(text) if "valve" in one.get("aria-labelledby", ""))
    flow = styled(root, "curve pump")[0]
    end_y = float(flow.get("d", "").split(" ")[-1])
    title_y = next(number(one, "y") for one in styled(root, "axis")
                   if (one.text or "").startswith("flow ["))
    ticks = sorted((float(one.text or ""), number(one, "y") - 4)
                   for one in styled(root, "tick end") if 0 < number(one, "y") - title_y < 130)
    (low, low_y), (high, high_y) = ticks[0], ticks[-1]
    read = low + (end_y - low_y) / (high_y - low_y) * (high - low)
    assert read == pytest.approx(wide(values)[0] * 60e3 * litre_min, rel=0.02)


def test_no_metric_unit_stands_on_a_page_in_us_units(made):
    _, system, text = made
    words = shown(text)
    for cited in CITED:
        words = words.replace(cited, "")
    assert bool(METRIC_ONLY.search(words)) == (system is METRIC)
    assert not re.search(r"\d(US )?(gal|ft|in)\b", words)


def test_no_number_on_a_page_has_an_exponent(text):
    assert not re.search(r"\de[+-]?\d", shown(text))


def test_colours_can_be_told_from_the_paper_in_light_dark_and_print(text):
    assert "prefers-color-scheme: dark" in text
    assert "@media print" in text
    # WCAG 2.1: text 7:1 (1.4.6) for ink, 4.5:1 (1.4.3) for soft; graphics 3:1 (1.4.11).
    for paper, ink, soft in (("#fbfaf6", "#22282b", "#66706f"), ("#16191b", "#e7e6e0", "#9aa5a3"),
                             ("#fff", "#000", "#444")):
        assert f"--paper: {paper}; --ink: {ink}; --soft: {soft}" in text
        assert contrast(ink, paper) >= 7
        assert contrast(soft, paper) >= 4.5


def test_curves_differ_by_more_than_colour(text):
    for svg in SVG.findall(text):
        for curves in re.findall(r'class="curve ([\w ]+)"', svg):
            assert curves.split()[0] in ("lamp", "pump", "level", "plain")
    assert "svg path.low { stroke-dasharray" in text
    assert "svg path.plain { stroke: var(--soft); stroke-dasharray" in text


def test_cautions_stand_on_every_page(text):
    words = " ".join("".join(Page(text).words).split())
    assert CAUTION in words
    for part in ("Weight overhead", "Water and electricity", "Heat", "Children", "Freezing",
                 "local code", "licensed", "not a safety-rated system", "isolator"):
        assert part in words


def test_a_name_with_markup_stays_text():
    source = rigs.load().toml_text.replace('"hillside allotment"', '"<b>hill</b> & dale"')
    text = explain.page(explain.facts_of(rigs.load_text(source, "x")))
    assert "<b>" not in text
    assert "&lt;b&gt;hill&lt;/b&gt; &amp; dale" in text


def test_the_lines_for_a_terminal_are_plain_and_narrow():
    for which, system in MADE:
        lines = explain.lines(explain.facts_of(rig_of(which)), system)
        assert max(map(len, lines)) <= 80
        assert "".join(lines).isascii()
        assert not [line for line in lines if re.search(r"\d US$|^gal\b", line)]
