"""What remains in place of what is not fitted: every element and every hazard has an answer."""

import itertools
import random
import tomllib
from pathlib import Path

import pytest

from forebay.rig import RigError, instruments, load, remaining
from keeper.protection import elements
from tests.campaign import hazards
from tests.rig.less import NAMES, without

PARTS = Path(__file__).parents[2] / "hardware" / "parts.toml"
FULL = load()
ORCHARD = load(demo="orchard")
SUBSETS = 40


def values(rig):
    return rig.plant()


def subsets():
    """Yields rigs with random instruments taken away, as many as load."""
    draw = random.Random("subsets")
    for _ in range(SUBSETS):
        names = draw.sample(NAMES, draw.randint(2, len(NAMES) - 3))
        try:
            yield without(*names)
        except RigError:
            continue


def rigs():
    return [ORCHARD, *(without(name) for name in NAMES), *subsets()]


def test_a_rig_with_everything_leaves_nothing():
    assert remaining.absent(values(FULL)) == []
    assert remaining.not_fitted(instruments.mask(values(FULL))) == {}
    assert remaining.left_to_hardware(values(FULL)) == {}


def test_each_element_that_is_not_fitted_has_something_in_its_place():
    for rig in rigs():
        fitted = instruments.mask(values(rig))
        judge = remaining.fitted_elements(fitted)
        for element, remains in remaining.not_fitted(fitted).items():
            assert element not in judge
            assert remains.texts, element
            assert set(remains.by) <= judge


def test_a_board_that_says_it_has_nothing_is_answered_too():
    for fitted in (0, 1 << 31):
        found = remaining.not_fitted(fitted)
        assert all(one.texts for one in found.values())
        assert remaining.lefts(fitted)


def test_every_element_has_its_answer_or_stands_in_for_another():
    stand_ins = {element for one in remaining.REMAINS.values() for element in one.by}
    unanswered = {row[elements.E_ID] for row in elements.ELEMENTS} - set(remaining.REMAINS)

    # Besides those that are always there, and a reading's own.
    always = {"66-PMP", "3-HHU", *remaining.WATCHED}
    own = {row[elements.E_ID] for row in elements.ELEMENTS if row[elements.E_SENSE] == "?"}
    assert unanswered - stand_ins - always - own == set()


def test_every_element_that_is_named_exists():
    ids = {row[elements.E_ID] for row in elements.ELEMENTS}

    named = set(remaining.REMAINS)
    for one in remaining.REMAINS.values():
        named |= set(one.by)
    for row in remaining.LEFT:
        named |= set(row.by)
    assert named - ids == set()


def test_every_part_that_is_named_is_in_the_list_of_parts():
    parts = {part["name"] for part in tomllib.loads(PARTS.read_text("utf-8"))["part"]}

    named = {name for one in remaining.REMAINS.values() for name in one.hardware}
    assert named - parts == set()


def test_the_hazards_are_those_of_the_campaign():
    assert set(remaining.HAZARDS) == set(hazards.NAMES)
    assert not {row.hazard for row in remaining.LEFT} & set(remaining.BY_LAYOUT)


def test_every_row_of_the_hazards_names_instruments_and_can_be_left():
    for row in remaining.LEFT:
        assert {name for cover in row.covers for name in cover} <= set(NAMES)
        assert not any(set(one) < set(other)
                       for one, other in itertools.permutations(row.covers, 2))
        assert all(row.covers), row


@pytest.mark.parametrize(("name", "hazard"), [
    ("pump_meter", "dry"), ("flow_up", "dead-head"), ("motor_temperature", "hot"),
    ("lower_full_float", "flood"), ("supply_meter", "flat"), ("water_temperature", "frozen"),
    ("local_stop", "held"), ("local_stop", "dark"), ("valve_position", "start"),
])
def test_a_hazard_is_left_with_the_instrument_that_alone_covers_it(name, hazard):
    assert hazard in remaining.left_to_hardware(values(without(name)))


@pytest.mark.parametrize("name", ["panel_meter", "generator_meter", "flow_down"])
def test_what_a_second_reading_covers_is_not_left(name):
    assert remaining.left_to_hardware(values(without(name))) == {}


def test_the_boards_setting_gives_the_instruments_again():
    for rig in rigs():
        gone = set(NAMES) - instruments.names_of(instruments.mask(values(rig)))
        assert gone == set(remaining.absent(values(rig)))


def test_the_orchards_own_instruments_are_not_told_as_absent():
    gone = set(remaining.absent(values(ORCHARD)))

    assert gone == set(NAMES) - {"lamp_meter", "motor_temperature", "full_float",
                                 "lower_empty_float"}
