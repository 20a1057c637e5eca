"""The true fault is never ruled out, more readings never leave more, and ends are told rightly."""

import tomllib

import numpy as np
import pytest
from hypothesis import Phase, given, settings
from hypothesis import strategies as some

from forebay.finding.cases import NOTHING
from forebay.finding.faults import BAD_ohm
from forebay.finding.search import (
    LEAST_FRAC,
    Reading,
    Search,
    meter_sigma_V,
    told_apart_frac,
)
from forebay.finding.symptoms import SYMPTOMS
from tests.bench import finding as bench
from tests.finding.rigs import cases, volts
from tests.hardware.tables import build

# Small ones, so that each example is solved anew in the whole circuit.
TRIED = [("orchard", "lamps"), ("orchard", "charge"), ("orchard", "pump"), ("orchard", "supply")]


# Without shrinking: each example solves the whole circuit.
@settings(max_examples=25, deadline=None, phases=[Phase.explicit, Phase.generate])
@given(some.sampled_from(TRIED), some.data())
def test_right_readings_never_rule_out_the_true_fault_nor_bring_one_back(tried, data):
    demo, symptom = tried
    one = cases(demo, symptom)
    fault = data.draw(some.integers(0, len(one.faults) - 1))
    along = data.draw(some.floats(0.0, 1.0))
    ohm = data.draw(some.floats(BAD_ohm[0], BAD_ohm[-1]))
    shown = {mode: volts(demo, symptom, one.faults[fault], mode, along, ohm)
             for mode in one.reads}
    search = Search(one)
    left = set(search.left)
    for mode, place in data.draw(some.permutations(
            [(mode, place) for mode in shown for place in range(len(one.points))]))[:6]:
        search.read(Reading(mode, place, float(shown[mode][place])))
        assert set(search.left) <= left
        left = set(search.left)
        assert fault in left


@pytest.mark.parametrize("demo", ["hillside", "orchard"])
def test_only_points_that_the_rig_has_are_asked_for(demo):
    there = {point.id for point in (*build(demo).points, *build(demo).away)}

    for symptom in SYMPTOMS:
        assert {point.id for point in cases(demo, symptom).points} <= there


def run(demo, symptom, fault, along=0.5):
    """A search to its end, by right readings; the search and the points it asked for."""
    one, search = cases(demo, symptom), Search(cases(demo, symptom))
    asked = []
    shown = {mode: volts(demo, symptom, fault, mode, along, 3.0) for mode in one.reads}
    while (option := search.next()) is not None:
        asked.append(one.points[option.place].id)
        search.read(Reading(option.mode, option.place, float(shown[option.mode][option.place])))
    return search, asked


def named(demo, symptom, name):
    return next(one for one in cases(demo, symptom).faults if one.id == name)


def test_a_whole_rig_is_told_as_nothing_open():
    search, _ = run("orchard", "lamps", NOTHING)

    assert search.nothing_is_wrong


def test_the_core_from_the_over_full_float_is_found_with_its_two_joints():
    # By hand: TP50 at the float has volts, TP4 at its terminal has none; between them lie the
    # joint at B1a 2, core 2 of W03 and the joint at X4, and no test point.
    search, asked = run("orchard", "pump", named("orchard", "pump", "W03.2-open"))

    assert {search.fault(one).id for one in search.left} == {
        "W03.2-far-open", "W03.2-open", "W03.2-near-open"}
    assert "TP4" in asked
    # 40 classes; halving would take log2 of that, 5.3.
    assert len(asked) <= 6


def test_nobody_climbs_for_what_the_box_tells():
    # A blown fuse and a dead converter are told apart in the box.
    _, asked = run("orchard", "supply", named("orchard", "supply", "U2-open"))

    assert not {"TP47", "TP49", "TP50"} & set(asked)


def test_a_point_that_is_left_out_is_not_asked_for_again():
    search = Search(cases("orchard", "pump"))
    first = search.next()
    assert first
    search.leave_out(first.mode, first.place)

    then = search.next()
    assert then
    assert (then.mode, then.place) != (first.mode, first.place)
    assert any((one.mode, one.place) == (first.mode, first.place)
               for one in search.options(left_out=True))


def test_readings_that_no_fault_gives_leave_none():
    search = Search(cases("orchard", "lamps"))
    search.read(Reading("turbine", 0, 77.0))

    assert search.left == []
    assert search.next() is None


def test_the_best_reading_halves():
    # Eight faults in a row along a lead: before the open one 12 V, behind it none.
    shown = [np.array([[12.0 if point < fault else 0.0 for point in range(8)]])
             for fault in range(8)]
    tells = told_apart_frac(shown, np.ones(8))

    # Of 64 draws of two faults 32 are told apart in the middle.
    assert tells.argmax() == 3
    assert tells[3] == pytest.approx(0.5)
    assert tells[7] < LEAST_FRAC


def test_a_reading_may_be_off_by_what_the_meter_is():
    # 0.5 % and two counts of 10 mV, a hand meter's; common practice, no source.
    for value in (0.0, 3.3, 12.8, 28.0):
        assert 3 * meter_sigma_V(np.array(value)) > 0.005 * value + 0.02


@pytest.mark.parametrize("symptom", ["lamps", "supply", "charge"])
def test_the_classes_that_the_bench_scores_by_are_still_those_of_the_rig(symptom):
    kept = tomllib.loads(bench.CLASSES.read_text(encoding="utf-8"))["orchard"][symptom]

    assert bench.classes(cases("orchard", symptom)) == kept["classes"]
