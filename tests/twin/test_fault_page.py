"""The page of faults is drawn from the catalogue, and the catalogue from the elements."""

from pathlib import Path

import pytest

from forebay.docs import faults as drawn
from forebay.twin import faults
from forebay.twin.effects import apply
from keeper.protection.elements import E_ID, ELEMENTS
from tests.twin.rigs import steady, twin

PAGE = Path(__file__).parents[2] / "host" / "docs" / "faults.md"
IDS = {row[E_ID] for row in ELEMENTS}


def test_the_page_is_current():
    assert PAGE.read_text(encoding="utf-8") == drawn.page(), (
        "run: python -m forebay.docs.faults > host/docs/faults.md")


def test_names_are_unique_and_first_elements_exist():
    assert len(set(faults.NAMES)) == len(faults.FAULTS) >= 60
    for row in faults.FAULTS:
        first = row[faults.F_FIRST]
        assert first == "" or first in IDS, row
        assert (float(row[faults.F_WITHIN_S]) > 0) == bool(first), row


@pytest.mark.parametrize("name", faults.NAMES)
def test_every_fault_of_the_catalogue_changes_something(tmp_path, name):
    one = twin(tmp_path, steady(0.0))
    before = _all(one)
    if name == "power-cut":
        one.cut()
    else:
        apply(name, one.plant, one.leads)
    assert _all(one) != before


def _all(one):
    plant = one.plant
    return [list(one.leads.odd), *map(_state, (
        plant, plant.up, plant.down, plant.down.drive, plant.lower))]


def _state(thing):
    """What a part holds, as far as it is plain."""
    return {key: value for key, value in vars(thing).items()
            if isinstance(value, (int, float, bool, type(None))) or callable(value)}


def test_an_unknown_fault_is_refused(tmp_path):
    one = twin(tmp_path, steady(0.0))
    with pytest.raises(ValueError, match="moon-eclipse"):
        apply("moon-eclipse", one.plant, one.leads)
