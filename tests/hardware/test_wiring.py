"""The wiring: every device, pin and test point is drawn; what opens what, without the board."""

import re
import xml.etree.ElementTree as ElementTree

import pytest

from forebay.docs.sheets import circuits, drawing, text
from keeper import channels as ch
from tests.hardware.tables import PARTS, PINS, WIRING, part

DEVICES = {row["id"]: row for row in WIRING["device"]}
PATHS = {row["name"]: row["path"] for row in WIRING["circuit"]}
POINTS = {row["id"]: row for row in WIRING["test_point"]}
PLACES = {place for path in PATHS.values() for place in path}
GPIOS = {f"GP{row['gpio']}": row["name"] for row in PINS["pin"]}
SVG = "{http://www.w3.org/2000/svg}"


def drawn():
    return ElementTree.fromstring(drawing.svg(WIRING, PINS))


def test_whatever_stands_in_a_circuit_is_a_device_a_pin_a_test_point_or_a_rail():
    assert PLACES - {*DEVICES, *POINTS, *GPIOS} == {"0 V", "3.3 V"}


def test_every_device_pin_and_test_point_stands_in_a_circuit():
    assert {*DEVICES, *POINTS, *GPIOS} - PLACES == set()
    assert list(POINTS) == [f"TP{n}" for n in range(1, len(POINTS) + 1)]
    assert len(DEVICES) == len(WIRING["device"])


def test_every_device_names_a_part_that_is_listed():
    names = {row["name"] for row in PARTS["part"]}

    assert {row["part"] for row in DEVICES.values() if "part" in row} <= names


def test_a_pin_leads_to_nothing_else_than_its_own_circuit():
    # Two pins in one path would be drawn as one wire.
    for name, path in PATHS.items():
        assert sum(place in GPIOS for place in path) <= 1, name
    for gpio in GPIOS:
        assert sum(gpio in path for path in PATHS.values()) == 1, gpio


@pytest.mark.parametrize("name", ["pump_switch", "lamps_off", "dump_switch", "valve_open",
                                  "valve_close", "valve_pwm", "uart_de"])
def test_a_pull_down_hangs_between_a_driving_pin_and_what_it_drives(name):
    gpio = next(gpio for gpio, pin in GPIOS.items() if pin == name)
    path = next(path for path in PATHS.values() if gpio in path)

    assert path[0] == gpio
    assert DEVICES[path[1]]["kind"] == "down"


def test_four_things_open_the_pumps_lead_without_the_board():
    closed = [DEVICES[place].get("part") for place in PATHS["panel"] + PATHS["pump"]
              if place in DEVICES and DEVICES[place]["kind"] == "closed"]

    assert closed == ["panel isolator", "over-full float LSHH-UP", "local stop",
                      "thermostat of the motor"]


def test_the_stop_acts_on_pump_and_valve_without_the_board():
    poles = {name for name, path in PATHS.items()
             if any(DEVICES.get(place, {}).get("part") == "local stop" for place in path)}

    assert poles == {"pump", "valve", "valve, from the stop", "stop, read back"}
    assert "poles" in part("local stop")["must"]
    # Its pole in the pump's lead and its changeover share no wire with a pin.
    assert not any(place in GPIOS for name in ("pump", "valve", "valve, from the stop")
                   for place in PATHS[name])


def test_nothing_that_can_open_lies_between_generator_and_clamp():
    before = PATHS["generator"][: PATHS["generator"].index("TP13")]
    kinds = {DEVICES[place]["kind"] for place in before if place in DEVICES}

    assert PATHS["clamp"] == ["TP13", "Z1", "0 V"]
    assert kinds == {"round", "diode", "resistor"}


def test_the_float_that_breaks_the_pumps_lead_has_another_contact_for_the_board():
    power = [name for name, path in PATHS.items() if "B1a" in path]
    board = {gpio for path in PATHS.values() if {"B1b", "B1c"} & set(path)
             for gpio in path if gpio in GPIOS}

    assert power == ["pump"]
    assert {GPIOS[gpio] for gpio in board} == {"contact_71hh_up", "adc_loop"}


def test_only_the_battery_has_a_fuse_and_it_is_next_to_it():
    fuses = [name for name, row in DEVICES.items() if row["kind"] == "fuse"]
    path = PATHS["charging"]

    assert fuses == ["F1"]
    assert path[path.index("F1") + 1] == "BT1"


def test_the_shunts_are_drawn_with_their_values():
    values = {"panel": "R1", "pump": "R2", "generator": "R3", "lamp": "R4", "supply": "R5"}

    for row in PARTS["monitor"]:
        assert DEVICES[values[row["name"]]]["label"] == f"{row['shunt_mohm']:g} mohm"


@pytest.mark.parametrize("point", WIRING["test_point"], ids=lambda point: point["id"])
def test_a_test_point_has_a_window_in_each_mode_and_says_what_is_wrong(point):
    for mode in circuits.MODES:
        low, high = point[mode]
        assert low < high
    assert len(point["otherwise"]) > 20
    assert len(point["at"]) <= 36
    assert point.get("channel") in {None, *(row[0] for row in ch.CHANNELS)}


def test_the_loops_window_is_the_test_points_window():
    hanging = next(row for row in PARTS["loop"]["window"] if row["name"] == "hanging")

    for mode in circuits.MODES:
        assert POINTS["TP22"][mode] == [hanging["low_V"], hanging["high_V"]]


def test_the_drawing_has_every_device_pin_and_test_point():
    words = {element.text for element in drawn().iter(f"{SVG}text")}
    numbers = {name.removeprefix("TP") for name in POINTS}

    assert {*DEVICES, *GPIOS, *GPIOS.values(), *numbers, *PATHS} <= words


def test_the_drawing_needs_nothing_from_elsewhere():
    body = drawing.svg(WIRING, PINS)

    assert re.findall(r"href|url\(|@import|<script|<image|font-face", body) == []
    assert re.findall(r"https?://\S+?(?=\")", body) == ["http://www.w3.org/2000/svg"]


def test_nothing_of_the_drawing_lies_outside_its_sheet_or_over_another_circuit():
    sheet = drawn()
    width, height = int(sheet.attrib["width"]), int(sheet.attrib["height"])
    boxes = []
    for group in sheet.iter(f"{SVG}g"):
        found = re.match(r"translate\((\d+),(\d+)\)", group.attrib["transform"])
        assert found
        left, top = int(found[1]), int(found[2])
        right = left + max(float(e.attrib["x"]) for e in group.iter(f"{SVG}text")) + 40
        boxes.append((left, top, right, top + 118))
        assert right <= width
        assert top + 118 <= height
    for index, (left, top, right, bottom) in enumerate(boxes):
        for other in boxes[index + 1:]:
            apart = right <= other[0] or other[2] <= left or bottom <= other[1] or other[3] <= top
            assert apart
    assert len(boxes) == len(PATHS)


def test_the_page_reads_on_a_terminal_of_eighty_columns():
    body = circuits.page(WIRING, PINS)
    wide = [line for line in body.splitlines() if len(line) > text.WIDTH + 1]

    assert [line for line in wide if not line.startswith(("|", "Drawn from"))] == []
