"""Hazards: every element, part and test that one names exists, and every element is named."""

import ast
import functools
import re

import pytest

from forebay.docs import hardware
from forebay.docs.sheets import cards, hazards
from forebay.rig import load, remaining
from keeper import channels as ch
from keeper.protection import elements
from tests.hardware.tables import CARDS, HAZARDS, PARTS, POINTS, ROOT, build, other

ROWS = HAZARDS["hazard"]
# No element can help.
BEYOND_ANY_PROGRAM = {"H5", "H9", "H13", "H15", "H20", "H21", "H23", "H24", "H25", "H26"}


@functools.cache
def functions(path):
    tree = ast.parse((ROOT / path).read_text(encoding="utf-8"))
    return {node.name for node in ast.walk(tree) if isinstance(node, ast.FunctionDef)}


def known(name):
    """Whether `file` or `file::function` names something in this repository."""
    path, _, function = name.partition("::")
    if not (ROOT / path).is_file():
        return False
    return not function or function in functions(path)


def test_a_test_that_does_not_exist_is_found():
    assert known("tests/hardware/test_hazards.py")
    assert known("tests/hardware/test_hazards.py::test_a_test_that_does_not_exist_is_found")
    assert not known("tests/hardware/test_hazards.py::test_nothing")
    assert not known("tests/hardware/nothing.py::test_nothing")


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row["id"])
def test_every_test_that_a_hazard_names_exists(row):
    assert [name for name in row["tests"] if not known(name)] == []
    assert row["tests"] or row["remains"].startswith("all of it")


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row["id"])
def test_every_part_that_a_hazard_names_is_listed(row):
    assert set(row["hardware"]) <= {part["name"] for part in PARTS["part"]}
    assert row["hardware"]


def test_every_element_that_a_hazard_names_exists():
    ids = {row[elements.E_ID] for row in elements.ELEMENTS}
    named = {element for row in ROWS for element in (*row["elements"], *row.get("stand_ins", ()))}

    assert named - ids == set()


def test_every_element_stands_against_some_hazard():
    ids = {row[elements.E_ID] for row in elements.ELEMENTS}
    named = {element for row in ROWS for element in (*row["elements"], *row.get("stand_ins", ()))}

    assert ids - named == set()


def test_only_the_reviewed_hazards_have_no_element():
    assert {row["id"] for row in ROWS if not row["elements"]} == BEYOND_ANY_PROGRAM
    assert [row["id"] for row in ROWS] == [f"H{n}" for n in range(1, len(ROWS) + 1)]


def test_each_part_of_the_layer_without_the_board_stands_against_a_hazard():
    layer = {
        "overflow pipe", "over-full float LSHH-UP", "thermostat of the motor", "clamp",
        "discharge over the top", "hand valve", "panel isolator", "local stop", "fuse F1",
        "pump switch Q1",
    }

    assert layer - {name for row in ROWS for name in row["hardware"]} == set()


def test_what_stands_in_is_apart_from_what_every_rig_has():
    stand_ins = {element for element, _ in elements.STAND_INS}

    assert stand_ins == {element for row in ROWS for element in row.get("stand_ins", ())}
    assert not stand_ins & {element for row in ROWS for element in row["elements"]}


def test_the_page_says_how_much_later_the_smallest_rig_acts_and_what_it_leaves():
    page = hardware.drawn(ROOT)["hardware/hazards.md"]

    assert "| `air-in-pump` | 37-PMP, 8 s | 26-PMP or none, " in page
    for hazard in remaining.left_to_hardware(load(demo="orchard").plant()):
        assert f"**{hazard}**, " in page


def test_a_rigs_hazards_name_only_parts_and_elements_that_it_has():
    few, full = (hazards.page(build(demo)) for demo in ("orchard", "hillside"))

    # Without a level sensor nothing judges a level, and without a line there is no driver of one.
    assert "71H-LVL" in full
    assert "71H-LVL" not in few.partition("## With fewer")[0]
    assert "RS-485 driver" in full
    assert "RS-485 driver" not in few
    assert "none with the instruments of this rig" in few
    assert "frost thermostat B7" not in hazards.page(other("lead"))
    assert len(re.findall("^## H", few, re.MULTILINE)) == len(ROWS)


def test_a_rigs_cards_have_the_steps_of_its_own_instruments():
    few, full = (" ".join(cards.page(build(demo)).split()) for demo in ("orchard", "hillside"))

    assert "the level on the board within 5 mm" in full
    assert "a mark at the water's edge" in few
    for gone in ("level on the board", "pulses_per_litre", "level_mm", "water_mdegC", "meters"):
        assert gone in full
        assert gone not in few
    assert "B7 opens" not in cards.page(other("lead"))


def test_every_hazard_is_on_a_card_that_is_there():
    cards = {card["name"] for card in CARDS["card"]} | {"bench", "commissioning"}

    assert {row["card"] for row in ROWS} == cards


def test_what_a_card_looks_at_is_a_test_point_or_a_channel():
    known = {row["id"] for row in POINTS["test_point"]} | {row[ch.CH_NAME] for row in ch.CHANNELS}

    for card in CARDS["card"]:
        assert set(card.get("look", ())) <= known, card["name"]


@pytest.mark.parametrize("subject", [
    "live by daylight", "guard on the wheel", "drowns a child", "tools on a line", "no smell",
    "storm", "freezing", "scalds", "air out", "24 hours", "overflow", "lockout", "on trial"])
def test_the_cards_have_the_usual_cautions(subject):
    words = " ".join(" ".join((card["text"], *(line["do"] for line in card.get("line", ()))))
                     for card in CARDS["card"]).lower()

    assert subject in " ".join(words.split())
