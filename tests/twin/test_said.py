"""What the events of a twin's journal say, against what was true when they were posted."""

from forebay.review.words import sentence
from forebay.shelf import decode
from forebay.twin.effects import apply
from keeper import events as ev
from keeper import modes as mo
from keeper.protection.elements import number
from tests.twin.rigs import in_state, run_until, steady, twin


def acts_of(folder, element):
    """The sentences of the acts of an element in a twin's journal."""
    files = [path.read_bytes() for path in sorted((folder / "board").iterdir())
             if path.name.startswith("e")]
    return [sentence(event) for event in decode(files).events
            if event["code"] == ev.ACTED and event["argument"] == number(element)]


def acts(element):
    return lambda one: one.keeper.acting >> number(element) - 1 & 1


def test_a_low_float_that_hangs_dry_is_not_said_to_float(tmp_path):
    """It was said five minutes after its contact had opened, and the element 71L-UP acted."""
    one = twin(tmp_path, steady(0.0), {"upper.start_volume_m3": 0.052})
    apply("tank-leaks", one.plant, one.leads)
    run_until(one, acts("71L-UP"), 3600)
    run_until(one, acts("71L-LVL"), 3 * 3600)
    assert not one.plant.upper_wet.up
    one.run(100)
    (said,) = acts_of(tmp_path, "71L-LVL")
    assert "The contact of its low float is open as well." in said
    assert "float still floats" not in said


def test_below_its_voltage_the_clamp_is_not_said_to_carry_the_power(tmp_path):
    """59-GEN acts at 13.97 V of a clamp that begins at 15 V."""
    one = twin(tmp_path, steady(0.0), {"upper.start_volume_m3": 0.5})
    run_until(one, in_state(mo.RUNNING), 400)
    one.run(3000)
    apply("load-lost", one.plant, one.leads)
    run_until(one, acts("59-GEN"), 60)
    one.run(100)
    (said,) = acts_of(tmp_path, "59-GEN")
    assert "carries" not in said
