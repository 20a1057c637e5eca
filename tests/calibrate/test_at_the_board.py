"""Each task at the board of a simulated rig whose figure is off: found within its error."""

import pytest

from forebay.asking import Kept
from forebay.calibrate import work
from forebay.calibrate.sitting import Sitting
from forebay.rig import load, load_text
from keeper import channels as ch
from keeper import modes
from tests.calibrate.practice import Hands
from tests.twin.rigs import PUMPING, RUNNING, steady, twin

DEMO = load()


def hands_at(folder, given, sun=900.0, changes=(), rig=DEMO):
    return Hands(twin(folder, steady(sun), {"upper.start_volume_m3": 0.5, **dict(changes)}), given)


def found(hands, folder, task, rig=DEMO):
    """Returns what a task finds."""
    return work.found(task, Sitting(rig, hands, Kept(folder / "kept.json"), hands.told.append,
                                    hands))


def test_the_level_is_put_right_by_dips(tmp_path):
    hands = hands_at(tmp_path, {"dip_reading": "2 mm", "rule_zero": "1 mm", "dips": "5"}, 0.0)
    levels = iter([0.1, 0.3, 0.5, 0.7, 0.9])
    hands.twin.sensors.level_off = 0.0
    # It reads 1.03 of the level and 20 mm more.
    hands.twin.sensors._read_slowly = _bent(hands.twin.sensors, 1.03, 20.0)

    def dip(hands, question):
        level_m = next(levels)
        hands.plant.upper.volume_m3 = level_m
        hands.plant.upper.level_m = level_m
        hands.rest(30)
        return f"{1e3 * hands.plant.upper.level_m} mm"

    hands.given.update({f"dip_{one}": None for one in ()})
    hands.given["*dip_1"] = hands.given["*dip_2"] = hands.given["*dip_3"] = dip
    hands.given["*dip_4"] = hands.given["*dip_5"] = dip
    outcome = found(hands, tmp_path, "level")
    zero, span = outcome.figures
    # By hand: true = (read - 20) / 1.03.
    assert abs(zero.value - (-20 / 1.03)) < 2 * zero.u
    assert abs(span.value - DEMO.board.level_span_mm / 1.03) < 2 * span.u
    assert outcome.doubts["sensors.level_uncertainty"][0] < 0.005


def _bent(sensors, gain, offset_mm):
    plain = type(sensors)._read_slowly

    def slowly(values, plant):
        plain(sensors, values, plant)
        level_m = max(1e-3, plant.upper.level_m)
        sensors.scale[ch.LEVEL_MM] = sensors.level_scale * gain + offset_mm / level_m
    return slowly


METER = {"meter_V_frac": "0.1 %", "meter_V_digit": "1 mV", "meter_A_frac": "0.2 %",
         "meter_A_digit": "1 mA", "*_readings": "2"}


def test_voltages_and_currents_are_put_right_by_a_hand_meter(tmp_path):
    hands = hands_at(tmp_path, METER)
    sensors = hands.twin.sensors
    for channel in (ch.PANEL_MV, ch.PANEL_MA, ch.PUMP_MA):
        sensors.scale[channel] *= 1.03 / sensors.gain[channel]
    hands.until(PUMPING)
    hands.rest(120)
    up = hands.plant.up
    hands.given.update({"*panel_V_1": lambda *_: up.panel_V, "*panel_V_2": lambda *_: up.panel_V,
                        "*panel_A_1": lambda *_: up.panel_A, "*panel_A_2": lambda *_: up.panel_A,
                        "*pump_A_1": lambda *_: up.pump_A, "*pump_A_2": lambda *_: up.pump_A})
    for node in ("generator_V", "supply_V", "generator_A", "lamp_A", "supply_A"):
        hands.given[f"{node}_ready"] = "skip no light by day"
    _skipping(hands)
    volts = found(hands, tmp_path, "voltage")
    (tmp_path / "kept.json").unlink()
    amps = found(hands, tmp_path, "current")
    factor, = volts.figures
    assert factor.place == "sensors.panel_voltage_factor"
    assert abs(factor.value - 1 / 1.03) < 2 * factor.u
    assert volts.doubts == {}
    assert any("no light by day" in one for one in volts.notes)
    for one, place in zip(amps.figures, ("panel", "pump"), strict=True):
        stood = getattr(DEMO.board, f"{place}_shunt_uohm")
        # It reads 3 % high: the shunt is larger than was stated.
        assert one.place == f"board.{place}_shunt_uohm"
        assert abs(one.value - 1.03 * stood) < 2 * one.u
        assert one.moved_u > 2


def _skipping(hands):
    """Lets answers that begin with skip be skips, as a person's are."""
    from forebay.asking.questions import read_answer

    plain = hands.to

    def to(question):
        given = hands.given.get(question.name)
        if isinstance(given, str) and given.startswith("skip "):
            hands.asked.append(question.name)
            return read_answer(question, given)
        return plain(question)
    hands.to = to


def test_thermometers_are_put_beside_ice_and_warm_water(tmp_path):
    hands = hands_at(tmp_path, {"known_thermometer": "0.1 K"}, 0.0)
    plant, motor = hands.plant, hands.plant.motor
    offset_K = {"motor": 0.0, "water": 0.0}
    errors = dict.fromkeys(offset_K, hands.twin.sensors)
    assert errors

    def hold(degC):
        def held(hands, question):
            plant.frost.degC = motor.degC = motor.felt_degC = degC
            plant.frost.step = plant._heat = lambda *_: None
            hands.rest(5)
            return ""
        return held

    for name in ("motor", "water"):
        for reference, degC in (("ice", 0.0), ("cool", 12.0), ("warm", 40.0)):
            hands.given[f"*{name}_{reference}"] = hold(degC)
            hands.given[f"{name}_{reference}_known"] = f"{degC} degC"
    outcome = found(hands, tmp_path, "temperature")
    assert outcome.figures == []
    # What they are off is counted: it is less than 1.8 u of 0.5 K (a uniform error).
    assert 0.03 < outcome.doubts["sensors.temperature_uncertainty"][0] < 0.95
    assert len(outcome.told) == 2


def test_full_strokes_tell_where_the_valve_ends(tmp_path):
    text = DEMO.toml_text
    hands = hands_at(tmp_path, {"strokes": "3"}, 0.0)
    hands.until(lambda one: one.keeper.state == modes.STANDSTILL)
    hands.rest(10)
    outcome = found(hands, tmp_path, "valve", load_text(text, "demo"))
    span = DEMO.board.valve_open_mV - DEMO.board.valve_shut_mV
    shut = next(one for one in outcome.figures if one.place == "board.valve_shut_mV")
    opened = next(one for one in outcome.figures if one.place == "board.valve_open_mV")
    # The twin's position is off by one amount at either end, and its board takes off what it
    # reads at the shut end: there nothing is left, at the open end so many parts of the span.
    off = sum(one[2] for one in hands.twin.sensors.idle) / len(hands.twin.sensors.idle) / 1000
    assert abs(off) > 0.003
    assert abs(shut.value - DEMO.board.valve_shut_mV) < 0.002 * span + 2 * shut.u
    true_mV = DEMO.board.valve_open_mV + off * span
    assert abs(opened.value - true_mV) < 0.001 * span + 2 * opened.u


def test_a_sweep_of_the_light_finds_wheel_and_valve(tmp_path):
    # The rig at hand hits 8 % less than is stated, and its valve lets more through.
    hands = hands_at(tmp_path, {}, 0.0, {
        "turbine.hit_frac": DEMO.turbine.hit_frac * 0.92, "upper.start_volume_m3": 0.8})
    sensors = hands.twin.sensors
    sensors.gain[ch.FLOW_DOWN] = 1.0
    hands.until(RUNNING, 7200)
    outcome = found(hands, tmp_path, "sweep")
    by_place = {one.place: one for one in outcome.figures}
    hit = by_place["turbine.hit_frac"]
    assert abs(hit.value - 0.92 * DEMO.turbine.hit_frac) < 2 * hit.u
    assert len([one for one, _ in outcome.told if one.startswith("at ")]) >= 3
    for one in outcome.figures:
        assert one.u <= one.before_u


@pytest.mark.parametrize("task", ["level", "flow"])
def test_a_rig_without_the_instrument_is_told_so(tmp_path, task):
    text = load(demo="orchard").toml_text
    rig = load_text(text, "orchard")
    hands = hands_at(tmp_path, {}, 0.0)
    from forebay.calibrate.sitting import CalibrateError
    with pytest.raises(CalibrateError, match="lacks"):
        found(hands, tmp_path, task, rig)
