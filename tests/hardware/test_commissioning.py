"""The commissioning list: in order, whole, and nothing claimed that was not tried."""

import re

import pytest

from forebay.docs.sheets import commissioning
from keeper import channels as ch
from keeper.protection import elements
from tests.hardware.tables import COMMISSIONING, HAZARDS, POINTS, ROOT

STEPS = COMMISSIONING["step"]
STAGES = [stage["name"] for stage in COMMISSIONING["stage"]]
PAGE = commissioning.page(COMMISSIONING)


def test_the_stages_come_in_their_order():
    order = [STAGES.index(step["stage"]) for step in STEPS]

    assert STAGES == ["before water", "with water, no sun", "first sun", "first night"]
    assert order == sorted(order)
    assert set(order) == set(range(len(STAGES)))


@pytest.mark.parametrize("step", STEPS, ids=lambda step: step["do"][:30])
def test_a_step_says_what_to_expect_and_what_to_do_otherwise(step):
    points = {point["id"] for point in POINTS["test_point"]}
    channels = {row[ch.CH_NAME] for row in ch.CHANNELS}

    assert step["expect"]
    assert step["otherwise"]
    assert set(step["look"]) <= points | channels


def test_the_bench_sheet_has_what_no_test_here_can_show():
    what = " ".join(line["what"] for line in COMMISSIONING["bench"])

    for subject in ("gate levels", "flashed", "stall of the flash", "valve on loss of power",
                    "clamp at runaway"):
        assert subject in what
    assert [line["id"] for line in COMMISSIONING["bench"]] == [
        f"B{n}" for n in range(1, len(COMMISSIONING["bench"]) + 1)
    ]


def test_nothing_is_said_to_have_been_tried():
    results = re.findall(r"Result: (\S+ \S+)", re.sub(r"\s+", " ", PAGE))

    assert results == ["*not tried*."] * len(COMMISSIONING["bench"])


def test_the_gate_stands_before_the_first_step_and_in_the_readme():
    gate = "may be connected to water"

    assert PAGE.index(gate) < PAGE.index("## Bench sheet") < PAGE.index("## Before water")
    assert gate in (ROOT / "hardware" / "README.md").read_text(encoding="utf-8")


def test_the_support_is_judged_before_anything_else():
    assert "licensed" in STEPS[0]["do"]


def test_each_protection_that_needs_no_board_is_tried_with_the_board_out_or_in():
    tried = " ".join(step["do"].lower() for step in STEPS if step["proof"])

    for thing in ("float", "over-full", "thermostat", "stop", "isolator", "overflow", "plug",
                  "unplug the lamps", "hand valve"):
        assert thing in tried, thing


def test_elements_and_bench_lines_that_are_named_exist():
    ids = {row[elements.E_ID] for row in elements.ELEMENTS} | {
        element for row in HAZARDS["hazard"] for element in row["elements"]
    }
    words = set(re.findall(r"\b\d+[A-Z]*-[A-Z]{2,3}\b", PAGE))
    lines = {line["id"] for line in COMMISSIONING["bench"]}

    assert words
    assert words <= ids
    assert set(re.findall(r"\bB\d+\b", PAGE)) <= lines
