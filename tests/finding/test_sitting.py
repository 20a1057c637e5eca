"""A sitting asks, keeps what was answered, goes on where it was left, and ends in plain words."""

import json
import random
import re

import pytest

from forebay.asking import AskedError, Filed, Kept, Left, Skipped
from forebay.finding import words
from forebay.finding.sitting import (
    ALIKE,
    FOUND,
    NO_FIT,
    NOTHING_OPEN,
    UNSETTLED,
    NoSuchSymptom,
    find,
)
from forebay.hardware.build import Build
from forebay.rig import load
from tests.finding.rigs import Meter

ORCHARD = load(demo="orchard")


@pytest.fixture
def kept(tmp_path):
    return Kept(tmp_path / "kept.json")


def sit(kept, fault, symptom, instead=None, live=None):
    """A sitting at the orchard with a fault; what it came to, what was told, what was asked."""
    told = []
    meter = Meter(ORCHARD, fault, random.Random(5), instead)
    found = find(ORCHARD, meter, told.append, kept, symptom=symptom, live=live)
    return found, told, meter.asked


@pytest.mark.parametrize(("fault", "symptom", "holds"), [
    ("pump-lead-open", "pump", "W06.1-open"), ("panel-lead-open", "charge", "W02.1-open"),
    ("load-lost", "lamps", "W12.1-open"), ("generator-lead-open", "lamps", "W11.1-open"),
    ("charger-dead", "charge", "U1-open"), ("F1-open", "supply", "F1-open")])
def test_faults_of_the_simulated_rig_are_found_in_its_wiring(kept, fault, symptom, holds):
    found, told, _ = sit(kept, fault, symptom)

    assert found.outcome in (FOUND, ALIKE)
    assert holds in {one.id for one in found.left}
    assert all(len(line) <= 80 for line in [*told, *found.lines()])
    assert kept.found == {}


def test_where_a_capacitor_keeps_its_volts_the_person_is_told_to_wait():
    build = Build.of(ORCHARD)
    points = {point.id: point for point in build.points}

    for name in ("TP4", "TP5", "TP6", "TP38"):  # C2 lies behind them
        assert "Wait a second" in words.waiting(points[name], "standstill")
    assert words.waiting(points["TP4"], "pump") == ""
    assert words.waiting(points["TP10"], "standstill") == ""


def test_a_search_says_for_how_long_to_wait_where_it_asks_for_the_pumps_circuit_at_rest(kept):
    _, told, asked = sit(kept, "pump-lead-open", "pump")
    _, lit, _ = sit(kept, "load-lost", "lamps")

    assert "TP38-standstill" in asked
    assert "Wait a second after a contact was opened" in " ".join(told)
    assert "Wait a second" not in " ".join(lit)


def test_a_whole_rig_is_said_to_be_whole(kept):
    found, _, _ = sit(kept, None, "lamps")

    assert found.outcome == NOTHING_OPEN
    assert "Nothing open was found" in " ".join(found.lines())


def test_what_cannot_be_told_apart_is_said_with_the_joint_to_open(kept):
    found, _, _ = sit(kept, "load-lost", "lamps")
    text = " ".join(" ".join(found.lines()).split())

    # Either core to the lamps, with two joints each: past dead lamps a meter reads nothing
    # whichever it is (so says the circuit simulator, test_best_possible.py).
    assert "One of these 6, which no reading tells apart" in text
    # Those in the box, of either core, before those out at the lamps.
    assert re.search("open the joint at X2[56],.*joint at E1", text)
    # Isolator, fuse and hand valve come before any joint is opened.
    assert text.index("Isolator open") < text.index("open the joint")


def test_alternating_volts_tell_a_rectifier_from_what_feeds_it(kept):
    # No reading of direct volts behind a rectifier tells which of ten it is.
    found, _, _ = sit(kept, "generator-lead-open", "lamps")
    text = " ".join(" ".join(found.lines()).split())

    assert found.outcome == ALIKE
    assert "alternating volts between V3 ac1 and V3 ac2" in text
    assert text.index("alternating volts") < text.index("open the joint")
    lamps, _, _ = sit(kept, "load-lost", "lamps")
    assert "alternating" not in " ".join(lamps.lines())


def test_cautions_come_before_the_first_probe(kept):
    _, told, _ = sit(kept, "pump-lead-open", "pump")
    text = " ".join(" ".join(told).split())

    assert "live in the sun" in text
    assert text.index("live in the sun") < text.index("red on")
    assert "Local codes and licensed practice" in text


def test_who_must_climb_is_told_so(kept):
    _, told, asked = sit(kept, "B1a-open", "pump")
    text = " ".join(told)

    assert {"TP49", "TP50"} & {name.split("-")[0] for name in asked}
    assert "ladder" in text


def test_points_left_out_are_not_asked_again_and_end_unsettled(kept):
    found, _, asked = sit(kept, "B1a-open", "pump", {
        "TP49": Skipped("no ladder today"), "TP50": Skipped("no ladder today")})

    assert len(set(asked)) == len(asked)
    assert found.outcome == UNSETTLED
    assert "B1a-open" in {one.id for one in found.left}
    assert any("no ladder today" in line for line in found.lines())


def test_a_sitting_goes_on_where_it_was_left(kept):
    _, _, asked = sit(kept, "W03.2-open", "pump")
    again = Kept(kept.path)
    with pytest.raises(Left):
        sit(again, "W03.2-open", "pump", {asked[-1].split("-")[0]: Left})
    later = Kept(kept.path)
    assert later.found

    found, _, rest = sit(later, "W03.2-open", "")

    assert rest[0] == asked[-1]
    assert not set(rest) & set(asked[:-1])
    assert "W03.2-open" in {one.id for one in found.left}


def test_what_the_sensors_read_spares_readings(kept):
    # The lamp meter sees no current: what shorts or crosses is out before the first probe.
    without, _, asked = sit(kept, "E1-open", "lamps")
    with_it, _, fewer = sit(kept, "E1-open", "lamps", live={"lamp_mA": 0})

    assert len(fewer) <= len(asked)
    assert {one.id for one in with_it.left} <= {one.id for one in without.left}


def test_readings_that_fit_no_fault_are_said_so(kept):
    found, _, _ = sit(kept, None, "lamps", dict.fromkeys(("TP12", "TP13", "TP15", "TP42", "TP56"),
                                                         66.0))

    assert found.outcome == NO_FIT
    assert "No single fault" in " ".join(found.lines())


def test_the_document_holds_what_a_script_wants(kept):
    found, _, _ = sit(kept, "load-lost", "lamps")
    document = json.loads(json.dumps(found.as_json()))

    assert document["outcome"] == ALIKE
    assert document["asked"] == len(document["readings"])
    assert {"id", "words", "how", "what", "place"} == set(document["left"][0])
    assert all(one["point"].startswith("TP") for one in document["readings"])


def test_a_symptom_that_is_none_is_refused_with_those_that_are(kept):
    with pytest.raises(NoSuchSymptom, match="pump, lamps, charge"):
        sit(kept, None, "gloom")


def test_the_symptom_is_asked_for_and_answers_may_stand_in_a_file(kept):
    with pytest.raises(AskedError, match=r"TP\d+-turbine"):
        find(ORCHARD, Filed({"symptom": "lamps"}, "answers.toml"), lambda line: None, kept)
