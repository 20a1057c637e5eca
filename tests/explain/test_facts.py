"""The figures of the page: laws that they must obey, and numbers from outside the project."""

import functools

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from forebay import explain
from forebay import rig as rigs
from forebay.explain import words
from forebay.explain.everyday import CELL_J, EVERYDAY
from forebay.explain.guards import DANGERS, NO_ELEMENT, guards
from forebay.explain.saying import saying
from forebay.rig import load_text, remaining
from forebay.rig.instruments import mask
from forebay.showing import METRIC
from forebay.words.protection import ELEMENTS
from tests.campaign import rigs as drawn

DEMOS = [rigs.load(demo=name) for name in rigs.DEMOS]
SEEDS = 16
SAID = saying(METRIC)


@functools.cache
def facts_of_all():
    """The facts of the demos and of some drawn rigs: worked out once, by the first who asks."""
    return [explain.facts_of(rig) for rig in (*DEMOS, *map(drawn.sound, range(SEEDS)))]


@functools.cache
def demos_facts():
    return explain.facts_of(DEMOS[0])


ANY = st.deferred(lambda: st.sampled_from(facts_of_all()))


def test_everyday_equivalents_are_those_of_the_handbooks():
    # 2000 mAh x 1.2 V = 8.64 kJ; 1 m3 of 1000 kg at 100 m and 9.80665 m/s2 = 0.27240694 kWh;
    # 10 kg lifted by 3 m = 294.19950 J.
    metric, us = EVERYDAY["metric"], EVERYDAY["us"]
    assert pytest.approx(8640.0) == CELL_J
    assert metric.reservoir_J / 3600.0 == pytest.approx(0.27240694e9, rel=2e-8)
    assert metric.bucket_J == pytest.approx(294.1995 / 3)
    # A litre from 20 to 100 degC: 80 kcal, a calorie being 4.184 J.
    assert metric.boiled_J == pytest.approx(80e3 * 4.184, rel=1e-3)
    # A foot-pound is 1.355818 J, a Btu (thermochemical) 1054.350 J, and a gallon of cold water
    # weighs 8.345 lb (NIST SP 811, appendix B, and steam tables; from memory).
    assert us.stairs_J == pytest.approx(150 * 10 * 1.355818, rel=1e-6)
    assert us.bucket_J == pytest.approx(5 * 8.345 * 3 * 1.355818, rel=1e-3)
    assert us.reservoir_J == pytest.approx(250e6 * 8.345 * 300 * 1.355818, rel=1e-3)
    assert us.boiled_J == pytest.approx(8.345 * 140 * 1054.350, rel=1e-3)


def test_everyday_things_are_about_as_large_in_either_system():
    metric, us = EVERYDAY["metric"], EVERYDAY["us"]
    assert us.tall_m == pytest.approx(metric.tall_m, rel=0.05)
    assert us.stairs_J == pytest.approx(metric.stairs_J, rel=0.05)


def test_the_demo_lights_for_the_hours_that_independent_sums_give():
    # 900 L: about 9, 7.5 and 6.5 h at 0.3, 0.6 and 1.0 W, a filling in 3 to 4 h of full sun.
    hours = [one.hours_s / 3600.0 for one in demos_facts().lights]
    assert hours == pytest.approx([9.0, 7.5, 6.5], rel=0.05)
    assert 3.0 < demos_facts().fill_s / 3600.0 < 4.0


@settings(max_examples=60, deadline=None, derandomize=True)
@given(ANY)
def test_half_the_flow_carries_an_eighth_of_the_jet_and_less_of_the_light(facts):
    assert facts.half.flow_m3_s == pytest.approx(facts.wide.flow_m3_s / 2, rel=1e-9)
    assert facts.half.jet_m_s == pytest.approx(facts.wide.jet_m_s / 2, rel=1e-9)
    assert facts.half.jet_W == pytest.approx(facts.wide.jet_W / 8, rel=1e-9)
    assert facts.half.lamp_W < facts.wide.lamp_W / 8
    assert facts.half_light.flow_m3_s > facts.wide.flow_m3_s / 2


@settings(max_examples=60, deadline=None, derandomize=True)
@given(ANY)
def test_more_light_lasts_less_and_takes_more_out_of_each_litre(facts):
    for before, after in zip(facts.hours, facts.hours[1:], strict=False):
        assert after.hours_s < before.hours_s
        assert after.J_m3 > before.J_m3
    for openings in facts.openings:
        for before, after in zip(openings, openings[1:], strict=False):
            assert after.flow_m3_s > before.flow_m3_s
            assert after.lamp_W >= before.lamp_W
    for full, empty in zip(*facts.openings, strict=True):
        assert full.lamp_W >= empty.lamp_W


@settings(max_examples=60, deadline=None, derandomize=True)
@given(ANY)
def test_the_two_chains_meet_in_the_store(facts):
    assert facts.up[-1].W_out * facts.sun_scale_s == pytest.approx(facts.store_J)
    assert facts.down[0].W_in * facts.night_scale_s == pytest.approx(facts.store_J)
    assert facts.down[-1].W_out * facts.night_scale_s == pytest.approx(facts.lamps_J, rel=1e-6)
    # The time that fills the tank is the time that turns watts of sun into its joules.
    assert facts.sun_scale_s == pytest.approx(facts.fill_s)
    assert facts.night_scale_s == pytest.approx(facts.night.hours_s, rel=1e-6)


def test_a_rig_that_tells_what_is_assumed_has_it_counted():
    telling = load_text(DEMOS[0].toml_text + '\n[assumed]\npump = ["rated_speed"]\n', "marked")
    count = len(telling.assumed)
    assert count > 0
    assert explain.facts_of(telling).assumed == count
    assert f"{count} of the description's figures" in " ".join(
        words.assumptions(explain.facts_of(telling), SAID))
    assert demos_facts().assumed is None


def test_only_elements_that_a_rig_has_stand_guard_in_it():
    for facts in facts_of_all():
        judge = remaining.fitted_elements(mask(facts.values))
        for danger, guard in zip(DANGERS, guards(facts.values, SAID), strict=True):
            named = [name for name in danger.elements if name in judge]
            assert len(guard.board) == max(len(named), 1)
            for name, line in zip(named, guard.board, strict=False):
                assert f"({name})" in line
            assert guard.hardware
            assert guard.person


def test_a_rig_without_a_thermometer_in_the_pipe_has_no_element_against_frost():
    frost = next(one for one in guards(DEMOS[1].plant(), SAID) if one.name == "The pipes freeze")
    assert frost.board == [NO_ELEMENT]
    assert any("drain" in look for look in frost.person)


def test_dangers_name_elements_that_exist_and_no_one_without_a_layer():
    known = {said.id for said in ELEMENTS.values()}
    for danger in DANGERS:
        assert set(danger.elements) <= known
    assert "over-full float LSHH-UP" in guards(DEMOS[0].plant(), SAID)[0].hardware
