"""The page: whole, offline, readable by anybody, in any light and on paper, for any rig."""

import re
import xml.etree.ElementTree as ET

import pytest

from forebay import explain
from forebay import rig as rigs
from forebay.explain import plot
from forebay.paper import CAUTION
from tests.campaign import rigs as drawn
from tests.pages import Page, contrast

MOST_BYTES = 1_000_000
PHONE_px, LEAST_TEXT_px, REM_px = 390, 11, 16
SVG = re.compile(r'<svg viewBox="0 0 360 .*?</svg>', re.DOTALL)
RIGS = [rigs.load(demo=name) for name in rigs.DEMOS] + [
    rigs.load_text(drawn.drawn(seed)["toml"], "drawn") for seed in (68, 134, 171, 175)]


@pytest.fixture(scope="module", params=RIGS, ids=lambda rig: rig.rig.name)
def text(request):
    return explain.page(explain.facts_of(request.param))


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
    plants = [rig.plant() for rig in RIGS]
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


def test_the_drawing_is_to_scale(text):
    """A person of 1.7 m is as high as 1.7 m of the axis of heights."""
    root = drawings(text)[0]
    ticks = {float(node.text or ""): number(node, "y") - 4 for node in styled(root, "tick end")}
    (low, low_y), (high, high_y) = min(ticks.items()), max(ticks.items())
    head, limbs = styled(root, "person")[0], styled(root, "limbs")[0]
    feet_y = max(float(y) for _, y in re.findall(r"L([\d.]+) ([\d.]+)", limbs.get("d", "")))
    tall = feet_y - number(head, "cy") + number(head, "r")
    assert tall / ((low_y - high_y) / (high - low)) == pytest.approx(1.7, rel=0.02, abs=0.02)


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
    source = RIGS[0].toml_text.replace('"hillside allotment"', '"<b>hill</b> & dale"')
    text = explain.page(explain.facts_of(rigs.load_text(source, "x")))
    assert "<b>" not in text
    assert "&lt;b&gt;hill&lt;/b&gt; &amp; dale" in text


def test_the_lines_for_a_terminal_are_plain_and_narrow():
    for rig in RIGS:
        lines = explain.lines(explain.facts_of(rig))
        assert max(map(len, lines)) <= 80
        assert "".join(lines).isascii()
