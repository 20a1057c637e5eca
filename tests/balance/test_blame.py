"""A meter that is off is named where it can be, with its cure, and grouped where it cannot."""

import numpy as np
import pytest

from forebay.balance import balance_of
from forebay.balance.blame import GROUP, NAMED, NONE, UNKNOWN, blame_of, sources_of
from forebay.balance.light import flow_m3_s
from forebay.balance.measured import Measured
from forebay.rig.governing import turbine_set
from keeper import channels as ch
from tests.balance import rig as plant
from tests.bench.coverage.biased import bent, scaled

SENSORS = plant.DEMO.sensors


def left(value, **parts):
    """What is left of a closure: its parts of one u each, by tag, and 1 of noise."""
    made = {name.replace("_", "-"): part for name, part in parts.items() if name != "noise"}
    return Measured(value, made).with_noise(parts.get("noise", 1.0))


def two(fill, light):
    """A tank's closures: flow meters of 20, a level that both share, 30 up and 20 down."""
    return {"fill": left(fill, FI_UP=20.0, **{"LI_UP rim": -30.0}),
            "discharge": left(light, FI_DN=-20.0, **{"LI_UP rim": 20.0})}


def test_within_what_is_stated_no_meter_stands_out():
    found = blame_of(two(40.0, -20.0), SENSORS)
    assert (found.kind, found.suspects) == (NONE, ())
    assert found.words.startswith("No meter stands out")


def test_the_meter_of_the_one_side_that_is_off_is_named_with_its_cure():
    # 10 u of the meter upwards, 2 % each: of what it reads a fifth is not there.
    found = blame_of(two(200.0, 0.0), SENSORS)
    assert found.kind == NAMED
    (one,) = found.suspects
    assert one.tag == "FI-UP"
    assert one.off.value == pytest.approx(0.2, abs=2 * one.off.u)
    assert one.factor is not None
    assert one.factor.value == pytest.approx(1 - one.off.value)
    assert "FI-UP (flow in the rising main), whose readings times 0.8" in found.words


def test_the_meter_that_both_sides_share_is_named_where_both_are_off_as_it_would():
    found = blame_of(two(-300.0, 200.0), SENSORS)
    assert found.kind == NAMED
    assert found.suspects[0].tag == "LI-UP"
    assert found.suspects[0].off.value == pytest.approx(0.05, rel=0.1)   # 10 u of 5 mm
    assert "mm off at the rim" in found.words


def test_two_meters_that_only_one_closure_sees_cannot_be_told_apart():
    found = blame_of({"generator": left(60.0, II_GEN=10.0, II_LMP=-10.0)}, SENSORS)
    assert found.kind == GROUP
    assert {one.tag for one in found.suspects} == {"II-GEN", "II-LMP"}
    high, low = sorted(found.suspects, key=lambda one: -one.off.value)
    assert (high.tag, low.tag) == ("II-GEN", "II-LMP")      # one reads high, or the other low
    assert "Cannot tell which is off" in found.words


def test_a_description_that_is_off_itself_names_no_meter_of_a_pair():
    # Light and pair say 20 % of one of them; the wheel contradicts both by far.
    pair = left(200.0, II_GEN=10.0, II_LMP=-10.0)
    agrees = {"generator": pair, "wheel": left(0.0, II_LMP=10.0, FI_DN=-1.0)}
    assert [one.tag for one in blame_of(agrees, SENSORS).suspects] == ["II-GEN"]
    far = {"generator": pair, "wheel": left(100.0, II_LMP=10.0, FI_DN=-1.0)}
    found = blame_of(far, SENSORS)
    assert (found.kind, {one.tag for one in found.suspects}) == (GROUP, {"II-GEN", "II-LMP"})


def test_what_the_stated_errors_hide_is_not_blamed():
    # 3 u of the meter beside two others of the same size: 3 / sqrt 3 of the combined u.
    found = blame_of({"fill": left(60.0, FI_UP=20.0, FI_DN=20.0, II_PAN=20.0)}, SENSORS)
    assert found.kind == NONE


def test_a_meter_that_cancels_everywhere_is_said_to_be_unchecked():
    found = blame_of({"generator": left(0.0, II_GEN=10.0, II_LMP=-10.0, EI_GEN=0.01)}, SENSORS)
    assert found.unchecked == ("EI-GEN",)
    assert blame_of({}, SENSORS).kind == UNKNOWN


def test_the_estimate_is_that_of_generalised_least_squares():
    # By numpy's own solver over whitened closures, all other errors as stated.
    closures = two(170.0, 30.0)
    one = blame_of(closures, SENSORS).suspects[0]
    others = np.array([[30.0**2 + 1, -600.0], [-600.0, 20.0**2 + 20.0**2 + 1]])
    whiten = np.linalg.inv(np.linalg.cholesky(others))
    column, values = np.array([20.0, 0.0]), np.array([170.0, 30.0])
    found, *_ = np.linalg.lstsq((whiten @ column)[:, None], whiten @ values, rcond=None)
    assert one.tag == "FI-UP"
    assert one.off.value == pytest.approx(0.02 * found[0], rel=1e-5)
    spread = 1 / np.sqrt((whiten @ column) @ (whiten @ column))
    assert one.off.u == pytest.approx(0.02 * spread, rel=1e-5)


def test_the_document_has_the_cure_of_each_suspect():
    document = blame_of(two(200.0, 0.0), SENSORS).as_json()
    assert (document["kind"], document["suspects"][0]["tag"]) == ("named", "FI-UP")
    assert document["suspects"][0]["calibration_factor"]["value"] == pytest.approx(0.8, abs=0.04)
    assert document["suspects"][0]["off_m"] is None
    assert set(document["closures_u"]) == {"fill", "discharge"}


# A plant's whole day -----------------------------------------------------------------------

# By which meters its closures can be explained, if one of each is off.
OFF = {ch.PANEL_MA: "II-PAN", ch.PUMP_MA: "II-PMP", ch.GENERATOR_MA: "II-GEN",
       ch.LAMP_MA: "II-LMP", ch.FLOW_UP: "FI-UP", ch.FLOW_DOWN: "FI-DN"}


@pytest.fixture(scope="module")
def sound():
    """A plant whose light takes the water that its wheel needs for it."""
    wheel = turbine_set(plant.DEMO.plant())
    flow = flow_m3_s(wheel, np.array([plant.GENERATOR_V]),
                     np.array([plant.LAMP_W / plant.GENERATOR_V]))
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(plant, "DOWN_M3_S", float(flow[0]))
        return plant.journal_of(plant.Errors())


def blamed(journal):
    found = balance_of(journal, plant.clock(), plant.DEMO).blame
    assert found is not None
    return found


def test_a_sound_plant_blames_no_meter(sound):
    found = blamed(sound)
    assert found.kind == NONE
    assert {"pumping", "generator", "fill", "discharge", "wheel", "board"} <= set(found.closures)


@pytest.mark.parametrize("channel", OFF)
@pytest.mark.parametrize("factor", [0.8, 1.25])
def test_a_meter_that_is_far_off_is_among_those_named(sound, channel, factor):
    found = blamed(scaled(sound, channel, factor))
    mine = [one for one in found.suspects if one.tag == OFF[channel]]
    assert found.kind in (NAMED, GROUP)
    cure = mine[0].factor
    assert cure is not None
    assert cure.value == pytest.approx(1 / factor, abs=3 * cure.u)


def test_a_level_that_is_far_off_is_among_those_named(sound):
    found = blamed(bent(sound, "rim", 0.3, 1.1))
    assert "LI-UP" in [one.tag for one in found.suspects]


def test_every_meter_of_the_balance_is_a_source_with_its_stated_size():
    known = sources_of(SENSORS)
    assert {tag for tag, _ in known.values()} == {*OFF.values(), "EI-PAN", "EI-GEN", "EI-SUP",
                                                  "II-SUP", "LI-UP"}
    assert known["FI-UP"] == ("FI-UP", 0.02)
