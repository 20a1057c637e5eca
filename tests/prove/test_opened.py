"""From "volts and no current" to the search by hand meter: which symptom, and what is left."""

import functools
import random

import pytest

from forebay.asking import AskedError, Left
from forebay.finding import cases, practice, sitting, symptoms
from forebay.hardware.build import Build
from forebay.prove import found, opened
from forebay.prove.found import failed, passed
from forebay.rig import load
from tests.prove.stand import Stand


class Meter:
    """Answers for each test point that is asked, as a meter shows it with a fault."""

    def __init__(self, rig, fault):
        self.rig, self.fault = rig, fault
        self.asked = []

    def to(self, question):
        point, _, mode = question.name.partition("-")
        self.asked.append(question.name)
        return practice.meter_reading(self.rig, self.fault, mode, point, random.Random(3))


class Nobody:
    """Has no meter."""

    def to(self, question):
        raise AskedError(f"no answer to {question.name}")


class Leaves:
    """Goes home."""

    def to(self, question):
        raise Left


@pytest.fixture(autouse=True)
def worked_out_once(monkeypatch):
    """What each fault would show takes a while: once for all tests of this one rig."""
    monkeypatch.setattr(sitting.Cases, "of", _of)


_of = functools.cache(lambda build, symptom, of=cases.Cases.of: of(build, symptom))


@pytest.fixture(scope="module")
def build():
    return Build.of(load(demo="orchard"))


@pytest.fixture
def one(tmp_path, build, monkeypatch):
    monkeypatch.setattr(Build, "of", lambda rig: build)
    return Stand(tmp_path, demo="orchard")


OPEN = failed(found.LAMPS_OPEN, "Volts and no current")


def test_every_symptom_that_is_searched_is_one_of_the_search():
    assert set(opened.SYMPTOMS.values()) <= set(symptoms.SYMPTOMS)


@pytest.mark.parametrize("result", [passed("fine"), failed("reversed II-PMP", "")])
def test_what_no_meter_would_find_is_left_as_it_is(one, result):
    assert opened.searched(one.scene, result) == result


def test_a_lamps_lead_that_is_open_is_found_by_a_few_readings(one):
    one.scene.answers = meter = Meter(one.rig, "load-lost")
    result = opened.searched(one.scene, OPEN)
    assert result.finding == found.LAMPS_OPEN
    assert f"{len(meter.asked)} readings leave" in result.said
    assert "lamps plus" in result.said
    assert not [name for name in one.scene.kept.found if name.startswith("find")]


def test_without_a_meter_it_is_said_and_the_step_has_its_result(one):
    one.scene.answers = Nobody()
    result = opened.searched(one.scene, OPEN)
    assert (result.outcome, result.finding) == (OPEN.outcome, OPEN.finding)
    assert "Not searched: no answer to TP" in result.said


def test_left_in_the_search_it_can_be_gone_on_with(one):
    one.scene.answers = Leaves()
    with pytest.raises(Left):
        opened.searched(one.scene, OPEN)
    assert one.scene.kept.found["find symptom"] == "lamps"
