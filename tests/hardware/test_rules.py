"""The machine checks of the circuit: green on what is drawn, each mistake found by its name."""

import functools
import re
import tomllib
from dataclasses import replace

import pytest

from forebay.docs.sheets import worst
from forebay.hardware import fitting, rules, tables
from forebay.hardware.build import Build
from forebay.rig import load, load_text
from keeper.boards import wiring
from tests.hardware.tables import COMMISSIONING, OTHERS, PARTS, ROOT, build, other


@functools.cache
def before():
    """The circuit as it was before it was opened up."""
    path = ROOT / "tests" / "hardware" / "before" / "circuit.toml"
    blocks = tomllib.loads(path.read_text(encoding="utf-8"))["circuit"]
    return Build(load(), fitting.joined(blocks))


@functools.cache
def found_before():
    """(rule, where) of everything that was wrong with it; no part of it had a rating."""
    unrated = (rules.ratings.margins, rules.ratings.cables)
    return {(one.rule, one.where) for rule in rules.RULES if rule not in unrated
            for one in rule(before())}


@pytest.mark.parametrize("demo", ["hillside", "orchard"])
def test_nothing_is_wrong_with_a_demos_circuit(demo):
    assert rules.check(build(demo)) == []


@pytest.mark.parametrize("name", OTHERS)
def test_nothing_is_wrong_with_a_circuit_that_the_demo_lacks(name):
    assert rules.check(other(name)) == []


# What was found by reading the old circuit: each is a rule, which must see it there.
FOUND_BY_READING = {
    "the leads' current had nowhere to go": [
        ("lead without a capacitor", "TP3"), ("lead without a capacitor", "TP6")],
    "the motor's current had no way round the thermostat": [
        ("no way for a load's current", "M1 when B2 opens")],
    "the clamp lay behind the shunt": [("clamp lost", "R3")],
    "VSYS or VBUS was not said": [("supplies joined", "A1")],
    "the generator's monitor was in two places": [("monitor apart from its shunt", "R3")],
    "the bus was too slow": [("bus too slow", "GP4"), ("bus too slow", "GP5")],
    "meters and thermometers had no series resistor": [
        ("no series resistor", net) for net in ("GP6", "GP7", "GP22")],
    "meters had no capacitor": [("no capacitor", "GP6"), ("no capacitor", "GP7")],
    "no line from outside had a suppressor": [
        ("no suppressor", net) for net in ("TP21", "TP23", "TP24", "TP25", "TP26", "TP27",
                                           "TP28", "TP36", "TP37", "GP6", "GP22")],
    "the relay's coil had no diode": [("no way for a load's current", "K1c when U7 opens")],
    "a relay hung on the pump's lead": [("coil on the panel", "K2")],
    "monitors had no sense leads": [("sense leads missing", f"U5{n}") for n in range(1, 6)],
    "panel, sensors and drivers had pins that hung nowhere": [
        ("open pin", pin) for pin in ("TT1 plus", "FT1 plus", "LT1 minus", "U4 supply",
                                      "U51 high")],
}


@pytest.mark.parametrize("what", FOUND_BY_READING)
def test_what_was_wrong_before_is_found_there(what):
    assert set(FOUND_BY_READING[what]) <= found_before()


def test_no_current_of_a_small_pump_is_more_than_its_panel_gives():
    # 50 W, 3.05 A at its short circuit, 125 % of it by NEC 690.8: 3.81 A. A pump of 24 W at
    # 9 V was once taken to draw 24 / 9 x (24.5 / 9)^2 = 19.8 A from it.
    values = {**build("orchard").values, "pump.rated_voltage_V": 9.0, "pump.rated_power_W": 24.0}
    found = worst.figures(values, PARTS)

    assert 24 / 9 * (found["panel_open_cold_V"] / 9) ** 2 > 19
    assert found["pump_run_A"] == pytest.approx(3.8125)
    assert found["pump_stall_A"] == pytest.approx(3.8125)


def test_a_battery_is_charged_as_its_kind_asks():
    # Four lithium iron cells of 3.65 V; six lead cells of 2.45 V, which the lithium ratio of
    # 14.6 / 12.8 once took for 13.7 V.
    assert build().figures["supply_most_V"] == pytest.approx(14.6)
    assert other("lead").figures["supply_most_V"] == pytest.approx(14.7)
    assert "B7" in build().netlist.parts
    assert "B7" not in other("lead").netlist.parts


def test_a_monitor_is_asked_for_by_what_the_driver_needs_and_not_by_a_name():
    row = next(row for row in PARTS["part"] if row["name"] == "current monitors")

    for word in ("register", "0x40 to 0x4f", "2.5 uV", "1.25 mV"):
        assert word in row["must"]
    assert "type" not in row["must"] + row["source"]


def test_every_kind_of_valve_has_a_circuit():
    kinds = {getattr(wiring, name) for name in ("SERVO", "MOTOR", "REVERSED", "SPRING")}
    drawn = {block["when"] for block in tables.sheets()["valves"]["circuit"]}

    assert set(fitting.VALVES.values()) == kinds
    assert drawn == set(fitting.VALVES)


def test_a_bench_line_that_asks_for_an_oscilloscope_tells_another_way():
    asks = [line for line in COMMISSIONING["bench"] if "scope" in line["how"]]

    assert len(asks) >= 5
    assert [line["id"] for line in asks if "without" not in line] == []


def moved(part, **pins):
    """A part of the demo with some pins on other nets."""
    one = build().netlist[part]
    return {part: replace(one, pins={**one.pins, **pins})}


def valued(part, value):
    """A part of the demo with another value."""
    return {part: replace(build().netlist[part], value=value)}


def swapped(part, one, two):
    """A part of the demo with two pins exchanged."""
    pins = build().netlist[part].pins
    return moved(part, **{one: pins[two], two: pins[one]})


# What is planted, the rule that must name it, and where.
PLANTED = {
    "no diode at the motor": ({"D4": None}, "no way for a load's current", "M1 when B2 opens"),
    "no diode at all at the motor": ({"D1": None, "D4": None}, "no way for a load's current",
                                     "M1 when S2 opens"),
    "no diode at the pump's switch": ({"D1": None}, "lead without a diode", "Q1"),
    "no diode across the relay's coil": ({"D6": None}, "no way for a load's current",
                                         "K1 when Q4 opens"),
    "clamp behind the shunt": ({"D5": None}, "clamp lost", "R3"),
    "clamp behind the lamp relay": (moved("Q3", e="lamps fed"), "clamp lost", "K1a"),
    "too little current for the clamp's base": (valued("R63", "10 kohm"), "clamp starved", "R63"),
    "sense leads swapped": ({**moved("R103", **{"1": "pump sense out"}),
                             **moved("R104", **{"1": "pump sense in"})},
                            "sense leads swapped", "U22"),
    "sense leads of another shunt": ({**moved("R107", **{"1": "panel sense in"}),
                                      **moved("R108", **{"1": "panel sense out"})},
                                     "sense leads of another shunt", "U24"),
    "a pin that its kind has not": (moved("R51", **{"3": "pump gate"}), "unknown pin", "R51 3"),
    "a pull-up that no device sinks": (valued("R48", "680 ohm"), "pull-up too strong", "GP4"),
    "a series resistor that lets a stroke in": (valued("R21", "100 ohm"),
                                                "too little series resistor", "LSH-UP"),
    "a sense lead missing": ({"R105": None}, "sense leads missing", "U23"),
    "resistors of the sense leads in the box": (
        {name: replace(build().netlist[name], at="box") for name in ("R105", "R106")},
        "monitor apart from its shunt", "U23"),
    "no clamp at all": ({"Q3": None}, "clamp lost", "V3"),
    "pull-up of a float missing": ({"R31": None}, "pull-up missing", "GP8"),
    "pull-up of the bus missing": ({"R48": None}, "pull-up missing", "GP4"),
    "bus with the usual 4.7 kohm": (valued("R49", "4.7 kohm"), "bus too slow", "GP5"),
    "two supplies joined": ({"D8": None, **moved("A1", VSYS="5 V")}, "supplies joined",
                            "A1 and U2"),
    "battery feeds the panel": (moved("U1", **{"in": "charger in"}) | {
        "D7": replace(build().netlist["D7"], kind="link", pins={"1": "panel plus",
                                                                 "2": "charger feed"}),
        "U1": replace(build().netlist["U1"], kind="link", pins={"1": "charger in",
                                                                 "2": "supply node"})},
        "supplies joined", "BT1 and PV1"),
    "suppressor turned round": (swapped("V1", "a", "k"), "short", "V1"),
    "free-wheel diode turned round": (swapped("D1", "a", "k"), "turned round", "D1"),
    "capacitor turned round": (swapped("C1", "plus", "minus"), "turned round", "C1"),
    "fuse in the box": ({"F1": replace(build().netlist["F1"], at="box")},
                        "no fuse at the battery", "BT1"),
    "pull-down of the pump's gate missing": ({"R11": None}, "pull-down missing", "GP16"),
    "pull-down of 100 kohm": (valued("R12", "100 kohm"), "pull-down too weak", "GP17"),
    "gate without its resistor": ({"R56": None}, "gate floats", "Q2"),
    "no suppressor on the level's line": ({"V43": None}, "no suppressor", "level signal"),
    "no capacitor at a meter's pin": ({"C82": None}, "no capacitor", "GP6"),
    "meter straight on its pin": ({"R82": None, **moved("FT1", out="GP6")},
                                  "no series resistor", "GP6"),
    "meter pulled up to 5 V": (moved("R46", **{"1": "5 V"}), "pin above its rail", "GP6"),
    "level not halved": ({"R44": None}, "pin above its rail", "GP26"),
    "filter of a meter too slow": (valued("C83", "10 uF"), "filter too slow", "GP7"),
    "power contact read as well": (moved("R27", **{"1": "pump feed, from the deck"}),
                                   "power contact read", "S2a"),
    "two monitors with one address": (moved("U22", a0="0 V"), "wrong address", "U22"),
    "relay on the panel": (moved("K1", **{"1": "panel plus"}), "coil on the panel", "K1"),
    "no capacitor for the deck's lead": ({"C2": None}, "lead without a capacitor", "pump plus"),
    "a capacitor that is too small": (valued("C1", "47 uF"), "capacitor too small",
                                      "panel plus"),
    "a pin forgotten": ({"U4": replace(build().netlist["U4"], pins={
        pin: net for pin, net in build().netlist["U4"].pins.items() if pin != "supply"})},
        "open pin", "U4 supply"),
    "a net misspelt": (moved("R51", **{"2": "pump gaet"}), "loose end", "pump gaet"),
    "a net that nothing drives": ({"R63": None, "R64": None}, "no driver", "clamp drive"),
    "a capacitor of too few volts": ({"C2": replace(build().netlist["C2"], rated={"V": 35})},
                                     "too little margin", "C2"),
    "a resistor that burns": ({"R87": replace(build().netlist["R87"], value="10 ohm")},
                              "too little margin", "R87"),
}


@pytest.mark.parametrize("what", PLANTED)
def test_a_planted_mistake_is_found_by_its_name(what):
    parts, rule, where = PLANTED[what]
    found = rules.check(Build(build().rig, build().netlist.changed(parts)))

    assert (rule, where) in {(one.rule, one.where) for one in found}


def named_by_the_rules():
    """Return every name that a finding may have, as it stands in the rules' sources."""
    folder = ROOT / "host" / "forebay" / "hardware" / "rules"
    return {name for path in folder.glob("*.py") for name in re.findall(
        r'Finding\(\s*"([^"]+)"', path.read_text(encoding="utf-8"))}


# Found by tests of their own: no netlist has them.
BESIDE = {"cable too thin", "more than the panel gives"}


def test_more_than_the_panel_gives_is_found():
    one = Build(build().rig, build().netlist)
    vars(one)["figures"] = {**build().figures, "pump_run_A": 9.0}

    assert ("more than the panel gives", "pump_run_A") in {
        (found.rule, found.where) for found in rules.check(one)}


def test_at_least_twenty_mistakes_are_planted_and_every_rule_meets_one():
    planted = {rule for _, rule, _ in PLANTED.values()}

    assert len(PLANTED) >= 20
    assert planted | BESIDE == named_by_the_rules()


def test_a_cable_that_is_too_thin_is_found():
    text = load().toml_text.replace("[panel]\n", '[cables]\npanel_length = "120 m"\n'
                                    'panel_section = "1.5 mm2"\n\n[panel]\n', 1)
    found = rules.check(Build.of(load_text(text, "thin")))

    assert "cable too thin" in {one.rule for one in found}
