"""The three forms of a plan: they fit, they hold the same, and no figure is nonsense."""

import html.parser
import json
import re

import pytest

from forebay import units
from forebay.plan import answering, document, text
from forebay.plan.answering import Asked
from forebay.plan.answers import Column, Figure, Part, Table
from forebay.plan.page import page
from forebay.plan.planning import Plan
from forebay.plan.text import WIDTH
from forebay.showing import METRIC, SYSTEMS
from tests.plan import scene

RANDOM = ("drawn 0", "drawn 2", "drawn 4", "drawn 7", "drawn 9")
SHOWN = ("hillside", "orchard", *RANDOM)
# Keys that stand for another's value beside them, which a row's "dimension" names; plain numbers.
BESIDE = {"value", "today", "first", "second", "change_frac"}
VOID = {"meta", "br", "hr", "path", "line", "rect", "circle"}


def odd(name):
    """Returns a rig that stands elsewhere, or is larger or smaller than any drawn one."""
    return scene.variant(*ODD[name][0], **ODD[name][1])


ODD = {
    "polar, no setpoint, all stated": (("hillside",), {
        "site__latitude": "-75 deg", "night__setpoint": "0 W", "lower__inflow": "5 L/min",
        "support__tank_mass": "60 kg", "support__footprint_length": "1.2 m",
        "support__footprint_width": "1 m", "support__gust": "30 m/s", "support__bearers": 3,
        "cables__panel_length": "10 m", "cables__panel_section": "2.5 mm2",
        "cables__lamp_length": "30 m", "cables__lamp_section": "1 mm2",
        "rig__name": "W" * 60}),
    "20 L in the heat": (("orchard",), {
        "upper__diameter": "0.28 m", "upper__height": "0.4 m", "upper__start_volume": "2 L",
        "upper__empty_volume": "1.2 L", "upper__full_volume": "20 L",
        "upper__over_full_volume": "21.5 L", "upper__overflow_volume": "23 L",
        "upper__float_hysteresis": "8 mm", "upper__inlet_height": "8.45 m",
        "lower__length": "0.4 m", "lower__width": "0.3 m", "lower__height": "0.3 m",
        "lower__start_volume": "30 L", "lower__low_volume": "4 L", "lower__base_height": "-0.5 m",
        "lower__float_hysteresis": "5 mm", "site__hottest_air": "55 degC",
        "site__air_temperature": "38 degC", "site__water_temperature": "34 degC",
        "motor__trip_temperature": "90 degC", "motor__reset_temperature": "80 degC"}),
    "50 m3": (("hillside", ("upper.length", "upper.width")), {
        "upper__shape": "upright cylinder", "upper__diameter": "5.2 m", "upper__height": "2.4 m",
        "upper__start_volume": "3 m3", "upper__empty_volume": "2 m3",
        "upper__full_volume": "48 m3", "upper__over_full_volume": "49 m3",
        "upper__overflow_volume": "50 m3", "upper__inlet_height": "11.5 m",
        "lower__length": "6 m", "lower__width": "4.5 m", "lower__height": "2.1 m",
        "lower__start_volume": "52 m3", "lower__low_volume": "3 m3",
        "lower__base_height": "-3 m"}),
    "table": (("hillside", ("upper.length", "upper.width", "upper.height")), {
        "upper__shape": "table", "upper__levels": ["0 m", "0.5 m", "1.1 m"],
        "upper__volumes": ["0 L", "480 L", "1100 L"], "panel__azimuth": "0 deg",
        "panel__tilt": "90 deg"}),
}


class Reader(html.parser.HTMLParser):
    """A page's text, its tags and attributes; notes tags that do not close."""

    def __init__(self):
        super().__init__()
        self.open, self.wrong, self.words, self.attributes = [], [], [], []

    def handle_starttag(self, tag, attrs):
        self.attributes += [(tag, *one) for one in attrs]
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag, attrs):
        self.attributes += [(tag, *one) for one in attrs]

    def handle_endtag(self, tag):
        if not self.open or self.open.pop() != tag:
            self.wrong.append(tag)

    def handle_data(self, data):
        if "style" not in self.open:
            self.words.append(data)


def read(found, system=METRIC):
    """Returns (the page as HTML, what was read of it)."""
    made = page(found, system)
    reader = Reader()
    reader.feed(made)
    reader.close()
    return made, reader


def check(found):
    """What holds of every plan, whatever the rig."""
    for system in SYSTEMS.values():
        lines = text.lines(found, system)
        assert [line for line in lines if len(line) > WIDTH] == []
        assert not [line for line in lines
                    if re.search(r"\b(nan|inf|None|e[+-]\d\d)\b", line.replace("-inf", "inf"))]
    told = json.loads(json.dumps(document.document(found), allow_nan=False))
    assert [key for key in told if key not in ("rig", "assumed", "notes")] == [
        part.key for part in found.parts]
    check_page(found)


def check_page(found):
    made, reader = read(found)
    assert (reader.open, reader.wrong) == ([], [])
    words = re.sub(r"\s+", " ", " ".join(reader.words))
    for part in found.parts:
        assert part.title in words
        assert all(re.sub(r"\s+", " ", said) in words for said in (*part.says, *part.warns))
        assert all(text.shown_value(one) in words for one in part.figures)
        for table in part.tables:
            headings, rows = text.rows_of(table)
            assert all(one in words for row in (headings, *rows) for one in row)


@pytest.mark.parametrize("name", SHOWN)
def test_a_plan_fits_is_finite_and_its_page_holds_all_of_it(name):
    check(scene.plan_of(name))


@pytest.mark.parametrize("name", ODD)
def test_so_does_that_of_an_odd_rig(name):
    check(answering.answer(odd(name), Asked()))


@pytest.mark.parametrize("asked", [
    Asked(wished="3 h at 0.5 W, 8 nights of 10"), Asked(wished="3 h at 5 W, 8 nights of 10"),
    Asked(sweep="upper.base_height=1 m..30 m"), Asked(sweep="pump.shut_off_head=5 m..30 m")])
def test_so_do_other_answers(asked):
    check(answering.answer(scene.rig_of("hillside"), asked))


def test_two_rigs_beside_each_other_fit_too(tmp_path):
    path = tmp_path / "other.toml"
    path.write_text(scene.text_of("orchard", rig__name="M" * 60, lamps__steps=[
        f"{power} mW" for power in range(30, 151, 20)]))
    check(answering.answer(odd("polar, no setpoint, all stated"), Asked(other=str(path))))


def ending(dimension):
    """How a key of a dimension ends: in the unit of its numbers."""
    unit = units.DIMENSIONS[dimension].unit
    return "_" + re.sub(r"[/ ]", "_", unit) if unit else "_frac"


@pytest.mark.parametrize("name", SHOWN[:2])
def test_every_key_that_holds_a_quantity_ends_in_its_unit(name):
    for part in scene.plan_of(name).parts:
        things = [*part.figures, *(one for table in part.tables for one in table.columns)]
        wrong = [one.key for one in things
                 if one.dimension not in ("", "text", "hidden", "as said")
                 and not one.key.endswith(ending(one.dimension))]
        assert wrong == []


def test_a_value_and_its_standard_uncertainty_stand_side_by_side():
    part = Part("p", "P", [Figure("a_W", "a", 2.0, "power", 0.4), Figure("b_W", "b", 2.0, "power"),
                           Figure("c_W", "c", None, "power", 0.4)],
                [Table("t", "T", (Column("d_W", "d", "power"),), [((1.0, 0.2),), (None,)])])
    told = document.document(Plan(scene.rig_of("hillside"), [part], []))["p"]
    assert told["a_W"] == {"value": 2.0, "u": 0.2}
    assert (told["b_W"], told["c_W"]) == (2.0, None)
    assert told["t"] == [{"d_W": {"value": 1.0, "u": 0.1}}, {"d_W": None}]


def test_a_page_needs_nothing_else_and_has_light_dark_and_paper():
    made, reader = read(scene.plan_of("hillside"))
    assert not [one for one in reader.attributes if one[1] in ("src", "href", "onclick", "onload")]
    assert not re.search(r"url\(|@import|<script|https?://(?!www\.w3\.org/)", made)
    for asked in ("color-scheme: light dark", "prefers-color-scheme: dark", "@media print",
                  "width=device-width"):
        assert asked in made
    ids = [value for _, name, value in reader.attributes if name == "id"]
    assert len(ids) == len(set(ids))


def test_a_rigs_name_is_text_and_no_tag():
    part = Part("p", "<P>", [Figure("a", "<i>&", 1.0, "", note="<b>")], says=["<u>"])
    made, reader = read(Plan(scene.variant("hillside", rig__name="<script>&"), [part], ["<s>"]))
    assert "<script>" not in made
    assert (reader.open, reader.wrong) == ([], [])
    assert {"<P>", "<i>&", "<b>", "<u>", "<s>"} <= {one.strip() for one in reader.words}


def test_a_table_too_wide_takes_more_lines_and_loses_no_word():
    words = " ".join(f"word{number}" for number in range(30))
    table = Table("t", "T", (Column("a", "a", "text"), Column("b_W", "b", "power")),
                  [(words, 1.0)])
    lines = text.part_lines(Part("p", "P", tables=[table]))
    assert max(map(len, lines)) <= WIDTH
    assert all(word in " ".join(lines) for word in words.split())


@pytest.mark.parametrize(("value", "spread", "cell"), [
    (9.0, 2.0, "9.0 +- 2.0"), (1.0, 1e-9, "1.00"), (0.0, None, "0"), (None, 1.0, "-"),
    (0.5, 10.0, "0 +- 10"), (0.01234, None, "0.0123")])
def test_a_number_has_no_more_places_than_its_spread(value, spread, cell):
    column = Column("a_m", "a", "length")
    unit, cells = text.in_one_unit([(value, spread), (1.0, None)], column)
    assert (unit, cells[0]) == ("m", cell)
