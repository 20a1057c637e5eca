"""What a person's hands do at a simulated rig shows in what its board reads, and ends."""

import pytest

from forebay.twin import miswired
from forebay.twin.hands import FLOATS, VERBS, Hands, HandsError, parsed
from keeper import channels as ch
from tests.twin.rigs import HALF, steady, twin

SUN = steady(800.0)
CONTACT = {"LSH-UP": ch.C_71H_UP, "LSHH-UP": ch.C_71HH_UP, "LSL-UP": ch.C_71L_UP,
           "LSL-LO": ch.C_71L_LO, "LSH-LO": ch.C_71H_LO}
CLOSED_WHEN_UP = ("LSL-UP", "LSL-LO")


@pytest.fixture
def rig(tmp_path):
    one = twin(tmp_path, SUN, {**HALF, "lower.start_volume_m3": 0.8})
    one.run(20)
    return one


def run(one, hands, scans):
    said = []
    for _ in range(scans):
        said += hands.step()
        one.run(1)
    return said


@pytest.mark.parametrize("name", FLOATS)
def test_a_float_is_held_where_the_hand_holds_it_and_then_follows_the_water(rig, name):
    hands, place = Hands(rig), CONTACT[name]
    before = rig.keeper.values[place]
    for verb, up in (("lift", True), ("lower", False), ("lift", True)):
        hands.do(verb, name)
        run(rig, hands, 3)
        assert rig.keeper.values[place] == int(up == (name in CLOSED_WHEN_UP))
    hands.do("leave", name)
    run(rig, hands, 3)
    assert rig.keeper.values[place] == before


def test_the_over_full_float_in_the_hand_stops_the_pump_in_hardware_too(rig):
    rig.keeper.core.sequence.unlock()
    Hands(rig).do("lift", "LSHH-UP")
    rig.plant.command(1, 0)
    rig.plant.step(0.1)
    assert rig.plant.up.pump_A == 0.0


def test_a_thermometer_warms_in_the_hand_alone_and_is_let_go(rig):
    hands = Hands(rig)
    before = list(rig.keeper.values)
    hands.do("warm", "TI-WTR", 33.0, 60.0)
    run(rig, hands, 400)
    assert rig.keeper.values[ch.WATER_MDEGC] > 30000
    assert abs(rig.keeper.values[ch.MOTOR_MDEGC] - before[ch.MOTOR_MDEGC]) < 1000
    run(rig, hands, 220)
    assert abs(rig.keeper.values[ch.WATER_MDEGC] - before[ch.WATER_MDEGC]) < 1000


def test_the_button_is_let_go_by_itself(rig):
    hands = Hands(rig)
    hands.do("press", "HS-1", 0.5)
    run(rig, hands, 3)
    assert rig.keeper.values[ch.BUTTON] == 1
    run(rig, hands, 4)
    assert rig.keeper.values[ch.BUTTON] == 0


def test_stop_hand_valve_isolator_thermostat_and_lamps(rig):
    hands, plant = Hands(rig), rig.plant
    for verb, there, back, seen in (
            ("stop", "press", "release", lambda: plant.stop_pressed),
            ("hand-valve", "shut", "open", lambda: not plant.penstock_open),
            ("isolator", "open", "close", lambda: plant.panel_lead_open),
            ("thermostat", "open", "close", lambda: not plant.pump_path),
            ("lamps", "unplug", "plug", lambda: not plant.down.lamps_connected)):
        hands.do(verb, there)
        assert seen(), verb
        hands.do(verb, back)
        assert not seen(), verb


def test_a_bucket_tells_the_true_litres_and_a_stick_the_true_level(rig):
    hands = Hands(rig)
    assert hands.do("dip") == f"dip: {rig.plant.upper.level_m * 1000:.0f} mm"
    hands.do("bucket", "up", 0.5)
    rig.plant.up.volume_m3 += 4e-4
    assert run(rig, hands, 1) == []
    rig.plant.up.volume_m3 += 2e-4
    assert run(rig, hands, 1) == ["bucket up: 0.600 L in 0.1 s"]
    hands.do("bucket", "down", 0.0)
    rig.plant.down.volume_m3 += 3e-3
    assert hands.do("bucket", "down", 0.0).startswith("bucket down: 3.000 L")
    assert not hands.buckets


@pytest.mark.parametrize("line", [
    "lift", "lift LSH", "warm TI-MOT", "warm TI-MOT 300", "press HS-1 0", "press HS-2",
    "stop", "bucket", "bucket left", "bucket up 1000", "dip twice", "miswire nothing", "wave"])
def test_what_cannot_be_done_is_said_with_what_can(line):
    with pytest.raises(HandsError, match=r"none of|must be|could not"):
        parsed(line)


def test_every_verb_is_read_by_its_example():
    for line in ("lift LSH-UP", "lower LSL-UP", "leave LSH-LO", "warm TI-MOT 35 for 120",
                 "press HS-1 2", "stop press", "lamps unplug", "hand-valve shut",
                 "isolator open", "thermostat open", "bucket up 10", "dip",
                 "volts panel", "amps lamps", "felt TI-WTR", "miswire meters-swapped"):
        assert parsed(line)[0] == line.split()[0]
    assert set(VERBS) == {
        "lift", "lower", "leave", "warm", "press", "stop", "lamps", "hand-valve", "isolator",
        "thermostat", "bucket", "dip", "volts", "amps", "felt", "miswire"}


@pytest.mark.parametrize("name", miswired.NAMES)
def test_every_mistake_can_be_made(rig, name):
    hands = Hands(rig)
    hands.do("miswire", name)
    run(rig, hands, 20)
    with pytest.raises(ValueError, match="no such mistake"):
        miswired.apply(name + "x", rig.plant, rig.leads)


def test_a_hand_meter_reads_what_passes_and_the_board_reads_it_within_its_own_error(rig):
    # A meter of the search stood there before: 4.6 % off the moment's volts.
    hands = Hands(rig)
    board = {"panel": ch.PANEL_MV, "supply": ch.SUPPLY_MV}
    run(rig, hands, 50)
    for name, place in board.items():
        volts = float(hands.do("volts", name).split()[1])
        assert rig.keeper.values[place] / 1000.0 == pytest.approx(volts, rel=0.01, abs=0.1)
    assert hands.do("amps", "lamps") == "lamps: 0.000 A"
    felt = float(hands.do("felt", "TI-WTR").split()[1])
    assert rig.keeper.values[ch.WATER_MDEGC] / 1000.0 == pytest.approx(felt, abs=1.5)
